"""Push-button starts: fed past the button, or with the driver's foot and press imitated."""

import itertools

import pytest
from prove.base import Case
from prove.push_button import SPOILT, imitating

from startwright.car.build import wire_up
from startwright.car.start_control import ACCESSORY, MODES, OFF, OWN, RUN, START, pressed
from startwright.prove import play, prove
from startwright.prove.faults import fault_named
from startwright.prove.faulty import faulty_model
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


def test_a_starter_cut_is_tried_with_the_foot_on_the_brake() -> None:
    case = Case()
    case.vehicle["start"] = "push_button"
    case.wants.append("starter_cut")
    case.cuts = ["starter"]
    case.parts = {"K1": "relay", "F1": "fuse-15"}
    case.run("c_fused", "F1.b", "vehicle.batt")
    case.run("c_key", "vehicle.starter.source", "K1.87a")
    case.run("c_motor", "K1.30", "vehicle.starter.load")
    case.run("c_coil", "K1.86", "F1.a")
    case.run("c_armed", "K1.85", "unit.armed")
    case.run("r_start", "unit.start", "vehicle.starter.load")
    report = prove(case.job(), case.wiring())
    cut = next(r for r in report.rules if r.rule == "cuts-starter")
    assert cut.holds
    assert cut.trace == "command lock · brake press · key start → starter off"
    case.without("c_armed")
    report = prove(case.job(), case.wiring())
    assert next(r for r in report.rules if r.rule == "cuts-starter").holds is False


def test_a_mode_is_no_key_in_the_lock() -> None:
    """A line on which a key is measured sees the key alone, whatever mode a press has made."""
    case = imitating()
    case.vehicle["immobilizer"] = {"kind": "resistor_key", "key_ohm": 1130}
    case.circuit("key_1", function="immobilizer")
    case.stock["parts"].append({"id": "r-1130", "kind": "resistor", "ohm": 1130, "watt": 0.5})
    case.unit["sequence"][2]["drives"].append("running_signal")
    case.parts |= {"K3": "relay", "R1": "r-1130"}
    case.cuts.append("key_1")
    case.run("k_86", "F1.a", "K3.86")
    case.run("k_85", "K3.85", "unit.run_sig")
    case.run("k_30", "K3.30", "vehicle.key_1.load")
    case.run("k_87a", "K3.87a", "vehicle.key_1.source")
    case.run("k_87", "K3.87", "R1.a")
    case.run("k_r", "R1.b", "ground.body")
    report = prove(case.job(), case.wiring())
    assert report.verdict == "proven", [r.says for r in report.rules if r.holds is False]
    case.run("k_85", "K3.85", "ground.body")
    broken = {r.rule for r in prove(case.job(), case.wiring()).rules if r.holds is False}
    assert {"immobilizer-only-while-starting", "car-unchanged"} <= broken
