"""Push-button starts: fed past the button, or with the driver's foot and press imitated."""

import itertools

import pytest
from prove.base import Case
from prove.naive_button import NaiveButton
from prove.push_button import SPOILT, imitating

from startwright.car.build import wire_up
from startwright.car.start_control import ACCESSORY, MODES, OFF, OWN, RUN, START, pressed
from startwright.prove import play, prove
from startwright.prove.explore import Space, explore
from startwright.prove.model import ENGINE, Model
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


def test_a_naive_explorer_reaches_the_same_states() -> None:
    case = SPOILT["foot_in_the_way"][1]()
    small = ("acc", "hood", "lights", "horn", "lock", "unlock", "tach", "airbag", "bus")
    case.without(*small, *(f"r_{n}" for n in ("lamps", "hood", "horn", "lock", "unlock", "tach")))
    case.settings = {"engine_sense": "volts"}
    case.unit["commands"] = {}
    case.unit["refuses"] = ["ignition_on"]
    case.unit["sequence"] = case.unit["sequence"][1:]
    car = wire_up(case.job(), case.wiring())
    model = Model(car)
    columns = Space(model).unpack(explore(model).packed)
    kept = [n for n in columns if n not in ("motion", "start", "press")]
    ours = {
        (
            *(int(columns[n][k]) for n in kept),
            ENGINE[columns["motion"][k]],
            model.starts[columns["start"][k]],
        )
        for k in range(len(columns["key"]))
    }
    names = {"car.mode": "mode", "car.button": "line"}
    words = [names.get(n, n.removeprefix("coil.").removeprefix("in.")) for n in kept]
    theirs = {
        (
            *(MODES.index(s[n]) if n == "mode" else int(s[n]) for n in words),
            s["motion"],
            s["start"],
        )
        for s in map(dict, NaiveButton(car).reachable())
    }
    assert ours == theirs
