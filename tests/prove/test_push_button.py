"""Push-button starts: fed past the button, or with the driver's foot and press imitated."""

import itertools

import pytest
from prove.base import Case
from prove.push_button import SPOILT, imitating

from startwright.car.build import wire_up
from startwright.car.start_control import ACCESSORY, MODES, OFF, OWN, RUN, START, pressed
from startwright.prove import play, prove
from startwright.prove.faults import fault_named, faulty_model
from startwright.prove.model import Model
from startwright.records.words import KEY_POSITIONS

KEY = {name: k for k, name in enumerate(KEY_POSITIONS)}


def test_an_imitated_start_can_be_proven() -> None:
    report = prove(imitating().job(), imitating().wiring())
    assert report.verdict == "proven"
    assert all(r.exercised for r in report.rules if r.holds is not None)


def test_a_unit_may_feed_the_circuits_past_the_button() -> None:
    case = Case()
    case.vehicle["start"] = "push_button"
    assert prove(case.job(), case.wiring()).verdict == "proven"


@pytest.mark.parametrize("name", SPOILT)
def test_spoilt_imitations_are_breached_and_their_lines_replay(name: str) -> None:
    rule, make = SPOILT[name]
    case = make()
    report = prove(case.job(), case.wiring())
    broken = {r.rule: r for r in report.rules if r.holds is False}
    assert report.verdict == "breached"
    assert rule in broken
    if rule in ("hood-ends", "brake-ends", "start-ends"):
        assert "r_button" in broken[rule].runs
    for result in broken.values():
        if result.trace is not None and result.kind != "works":
            _, met = play(case.job(), case.wiring(), result.trace)
            assert all(met), (result.rule, result.trace)


def test_what_a_press_does() -> None:
    out, off, run = KEY["out"], KEY["off"], KEY["run"]
    steps = [OWN]
    for _ in range(3):
        steps.append(pressed(steps[-1], off, engine=False, brake=False, valid=True))
    assert steps == [OWN, ACCESSORY, RUN, OWN]
    assert pressed(OWN, off, engine=False, brake=True, valid=True) == START
    assert pressed(RUN, off, engine=False, brake=True, valid=True) == START
    assert pressed(RUN, out, engine=True, brake=True, valid=False) == OWN
    assert pressed(OWN, run, engine=True, brake=False, valid=True) == OFF
    for mode, key, brake in itertools.product(range(len(MODES)), (out, off), (False, True)):
        after = pressed(mode, key, engine=False, brake=brake, valid=False)
        assert after in (mode, OWN), "without a key nothing is turned on"


def test_a_driver_cranks_with_his_foot_on_the_brake_alone() -> None:
    case = imitating()
    _, met = play(case.job(), case.wiring(), "key insert · brake press · key start → starter on")
    assert met == [True]
    with pytest.raises(Exception, match="brake"):
        play(case.job(), case.wiring(), "key insert · key start → starter on")


def test_the_driver_turns_an_imitated_start_off_by_one_press() -> None:
    case = imitating()
    line = "command start · wait 4 s · start_button press · wait 2 s → ignition off, unit idle"
    _, met = play(case.job(), case.wiring(), line)
    assert met == [True, True]


def test_a_unit_without_ground_drives_nothing() -> None:
    case = imitating()
    healthy = Model(wire_up(case.job(), case.wiring()))
    fault = fault_named(healthy.car, "r_gnd open")
    assert fault is not None
    dead = faulty_model(healthy, fault)
    assert dead.car.alive is False
    assert not any(v.startswith("out.") for t in dead.feedback for v in t.over)


def test_the_car_s_own_control_cranks_through_its_own_switch() -> None:
    """A starter wire past the lever's switch is fed by the control, through that switch."""
    case = imitating()
    case.circuit("starter", interlock="upstream")
    assert prove(case.job(), case.wiring()).verdict == "proven"
    case.lead("extra", way="out", does=["ignition_signal"], active="battery", limit_A=25)
    case.run("r_past", "unit.extra", "vehicle.starter")
    report = prove(case.job(), case.wiring())
    past = next(r for r in report.rules if r.rule == "start-through-interlock")
    assert past.holds is False
    assert past.trace is not None
    assert "shift drive" in past.trace
