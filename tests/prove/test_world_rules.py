"""The world, clause by clause: what each rule says, at its edges."""

from __future__ import annotations

from typing import Any

import prove.sabotage_hostile
import pytest
from prove.base import Case
from prove.sabotage import SPOILT
from prove.sound import SOUND
from prove.test_world_car import told
from prove.test_world_more import holds

from startwright.car.control_unit import ControlUnit, Event, Reads, Start
from startwright.prove import play, prove
from startwright.prove.model import RUNNING
from startwright.records.unit import DEFAULT_SEQUENCE


def broken(case: Case) -> set[str]:
    return {slug for slug, r in told(case).items() if r.holds is False}


def started(*first: dict[str, Any], **changes: dict[str, Any]) -> list[dict[str, Any]]:
    """The usual steps without the lights, some before them, with changes by step."""
    on = ["ignition", "accessory"]
    crank = {"drives": ["ignition", "starter"], "like": "start", "until": "engine_running"}
    steps: list[dict[str, Any]] = [
        *first,
        {"step": "settle", "drives": on, "like": "run", "for_s": 2},
        {"step": "crank", **crank, "at_most_s": 4, "on_timeout": "retry"},
        {"step": "run", "drives": on, "like": "run", "at_most_s": 1200},
    ]
    return [
        {k: v for k, v in {**s, **changes.get(s["step"], {})}.items() if v is not None}
        for s in steps
    ]


def driven_in(case: Case, function: str, *steps: str) -> Case:
    """The package's own steps, some of them with one function more."""
    made = [s.model_dump(exclude_none=True) for s in DEFAULT_SEQUENCE]
    for step in made:
        if step["step"] in steps:
            step["drives"] = [*step["drives"], function]
    case.unit["sequence"] = made
    return case


# ---- hazards ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("for_s", "by_itself"), [(0.5, False), (0.6, True)])
def test_a_crank_may_go_on_for_half_a_second_once_the_engine_runs(
    for_s: float, by_itself: bool
) -> None:
    """A unit that hears nothing: what is left at 0.5 s needs a driver who starts by key himself."""
    case = Case().without("r_tach")
    case.settings["engine_sense"] = "timed"
    case.unit["sequence"] = started(crank={"until": None, "at_most_s": None, "for_s": for_s})
    trace = told(case)["no-crank-into-running"].trace
    assert trace is not None
    assert ("key start" not in trace) is by_itself
    clock, met = play(case.job(), case.wiring(), trace)
    assert all(met)
    assert clock.motion == RUNNING


@pytest.mark.parametrize(
    ("step", "changes", "holds"),
    [
        ("run", {"at_most_s": 1800}, True),
        ("run", {"at_most_s": 1801}, False),
        ("crank", {"at_most_s": 15}, True),
        ("crank", {"at_most_s": 16}, False),
    ],
)
def test_a_start_ends_in_thirty_minutes_and_a_try_in_fifteen_seconds(
    step: str, changes: dict[str, Any], holds: bool
) -> None:
    case = Case()
    case.unit["sequence"] = started(**{step: changes})
    assert told(case)["start-ends"].holds is holds


@pytest.mark.parametrize(("tries", "holds"), [(5, True), (6, False)])
def test_five_tries_are_the_most(tries: int, holds: bool) -> None:
    case = Case()
    case.unit["tries"] = tries
    assert told(case)["start-ends"].holds is holds


def after_key(**changes: Any) -> Case:
    """A unit that takes a command while the engine runs by key, and goes on after key off."""
    case = Case()
    case.unit |= {"refuses": ["service"], **changes}
    return case


def test_only_a_declared_unit_may_hold_the_engine_after_the_key() -> None:
    assert "key-has-last-word" in broken(after_key())
    declared = after_key(holds_after_key=True)
    assert "key-has-last-word" not in broken(declared)
    said = "the unit may hold the engine running after key off"
    assert any(a.startswith(said) for a in prove(declared.job(), declared.wiring()).assumes)
    assert not any(a.startswith(said) for a in prove(Case().job(), Case().wiring()).assumes)


def test_no_unit_starts_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """A unit that began its steps unasked, hood open or shut, would be found."""
    case = Case()
    asked = ControlUnit.move

    def unasked(self: ControlUnit, start: Start, reads: Reads, event: Event) -> Start:
        idle = start.mode == "idle" and event == "none" and reads.service
        if idle:
            return asked(self, start, reads._replace(service=False), "start")
        return asked(self, start, reads, event)

    monkeypatch.setattr(ControlUnit, "move", unasked)
    result = told(case)["start-ends"]
    assert result.holds is False
    assert result.trace is not None
    assert "command" not in result.trace


def test_a_command_that_cranks_a_car_under_its_key_is_found() -> None:
    case = SPOILT["unlock_button_turns_the_starter"][1]()
    assert {"key-has-last-word", "no-crank-into-running"} <= broken(case)


def test_an_engine_that_goes_on_in_accessory_is_found() -> None:
    """A relay on the accessory wire holds the ignition: gone only with the key at off."""
    case = Case()
    case.parts["K1"] = "relay"
    case.run("k_86", "vehicle.acc", "K1.86")
    case.run("k_85", "K1.85", "ground.body")
    case.run("k_30", "vehicle.batt", "K1.30")
    case.run("k_87", "K1.87", "vehicle.ign")
    assert "key-has-last-word" in broken(case)
    assert holds(case, "key start · engine starts · key run · key off → engine stands")


def latched() -> Case:
    """A relay that the ignition holds itself."""
    case = Case()
    case.parts["K1"] = "relay"
    case.run("k_86", "vehicle.ign", "K1.86")
    case.run("k_85", "K1.85", "ground.body")
    case.run("k_30", "vehicle.batt", "K1.30")
    case.run("k_87", "K1.87", "vehicle.ign")
    return case


def test_an_engine_that_no_key_off_stops_is_found() -> None:
    """A relay that holds the ignition up once the key has pulled it in."""
    case = latched()
    trace = told(case)["key-has-last-word"].trace
    assert trace is not None
    assert holds(case, "key start · engine starts · key run · key remove → engine runs")


def test_a_takeover_that_gaps_is_found() -> None:
    """The ignition is cut by a relay that the brake works: pressing it, the key has nothing."""
    case = Case()
    case.cuts = ["ign"]
    case.parts["K1"] = "relay"
    case.run("r_ign", "unit.ign", "vehicle.ign.load")
    case.run("k_86", "vehicle.brake", "K1.86")
    case.run("k_85", "K1.85", "ground.body")
    case.run("k_30", "K1.30", "vehicle.ign.source")
    case.run("k_87a", "K1.87a", "vehicle.ign.load")
    result = told(case)["key-has-last-word"]
    assert result.holds is False
    assert result.trace is not None
    assert "key run" in result.trace
    assert "brake press" in result.trace


def swapped(name: str) -> Case:
    """A sound wiring with the leads of lock and unlock exchanged."""
    case = SOUND[name]()
    other = {"unit.lock": "unit.unlock", "unit.unlock": "unit.lock"}
    case.runs = {k: (other.get(a, a), other.get(b, b)) for k, (a, b) in case.runs.items()}
    return case


def driver_door_with_the_lock() -> Case:
    case = SOUND["separate_driver_unlock"]()
    lead = next(r[0] for r in case.runs.values() if "vehicle.lock" in r and "unit." in r[0])
    driver = next(c["id"] for c in case.vehicle["circuits"] if c["function"] == "driver_unlock")
    case.run("r_wrong", lead, f"vehicle.{driver}")
    return case


@pytest.mark.parametrize("name", ["plain", "reversing_locks_with_two_relays", "coded_lock_switch"])
def test_a_lock_that_nothing_drives_is_found_whatever_its_style(name: str) -> None:
    result = told(swapped(name))["locks-on-command"]
    assert result.holds is False
    assert result.trace is not None
    assert result.trace.startswith("command ")


def test_the_drivers_door_is_a_lock_of_its_own() -> None:
    result = told(driver_door_with_the_lock())["locks-on-command"]
    assert result.holds is False


def test_locks_move_with_a_step_that_drives_them() -> None:
    """A unit that unlocks as it starts: driven by its step, it is on command."""
    case = Case()
    opens = {"step": "open", "drives": ["unlock"], "like": "off", "for_s": 1}
    case.unit["sequence"] = started(opens)
    result = told(case)["locks-on-command"]
    assert result.holds is False  # a lock command during that step drives both at once
    assert result.trace is not None
    assert "command lock" in result.trace
    case.unit["commands"] = {"unlock": [{"drives": ["unlock"], "pulse_s": 0.8}]}
    case.wants = ["remote_start", "lock_unlock"]
    assert told(case)["locks-on-command"].holds is True


@pytest.mark.parametrize(("interlock", "bad"), [("upstream", True), ("downstream", False)])
def test_a_start_signal_past_the_cars_switch(interlock: str, bad: bool) -> None:
    case = Case()
    case.circuit("starter", interlock=interlock)
    assert ("start-through-interlock" in broken(case)) is bad


@pytest.mark.parametrize("interlock", ["none", "mechanical", None])
def test_a_car_without_a_switch_is_sensed(interlock: str | None) -> None:
    case = Case()
    case.circuit("starter", interlock=interlock)
    assert "start-through-interlock" not in broken(case)
    case.run("r_lever", "ground.body", "unit.lever_in")
    assert "start-through-interlock" in broken(case)


# ---- damage -------------------------------------------------------------------------------------


@pytest.mark.parametrize("function", ["srs", "high_voltage"])
def test_hands_off(function: str) -> None:
    case = Case()
    case.circuit("airbag", function=function)
    assert "hands-off" not in broken(case)
    case.cuts = ["airbag"]
    assert "hands-off" in broken(case)
    case.cuts = []
    case.run("r_bad", "vehicle.airbag", "unit.horn")
    assert "hands-off" in broken(case)


def test_a_pulse_that_moves_more_than_it_drives_is_found_in_a_step_too() -> None:
    """The horn hangs on the lock lead; a step that sounds the horn does not excuse the lock."""
    case = Case()
    case.run("r_horn", "unit.lock", "vehicle.horn")
    result = told(case)["only-what-is-called"]
    assert result.holds is False
    assert result.trace is not None
    assert result.trace.startswith("command lock")


def test_a_circuit_that_the_step_is_like_counts_as_called() -> None:
    """The accessory on the ignition lead: in run as the key has it, in the crank not."""
    case = Case()
    case.run("r_acc", "unit.ign", "vehicle.acc")
    assert {"only-what-is-called", "car-unchanged"} <= broken(case)
    assert told(SOUND["accessory_live_in_start_too"]())["only-what-is-called"].holds is True


# ---- as under the key ---------------------------------------------------------------------------


def window_feed(**changes: Any) -> Case:
    """A window feed of its own lead, driven in steps of choice."""
    case = Case()
    case.circuit("win", function="accessory", live=["run"], load_A=5, **changes)
    case.lead("win", way="out", does=["dome_light"], active="battery", limit_A=20)
    case.run("r_win", "unit.win", "vehicle.win")
    return case


RUN = ("settle", "run")


@pytest.mark.parametrize(
    ("changes", "steps", "holds"),
    [
        ({}, RUN, True),
        ({}, (), False),
        ({}, (*RUN, "crank"), False),
        ({"may_hold_in_crank": True}, (*RUN, "crank"), True),
        ({"may_hold_in_crank": True}, ("crank",), False),
        ({"may_hold_in_crank": True}, (*RUN, "acknowledge"), False),
        ({"leave_dead": True}, (), True),
        ({"leave_dead": True}, RUN, True),
        ({"leave_dead": True}, (*RUN, "crank"), False),
        ({"leave_dead": True}, ("acknowledge",), False),
    ],
)
def test_what_may_be_held_or_left_dead(
    changes: dict[str, Any], steps: tuple[str, ...], holds: bool
) -> None:
    assert (
        told(driven_in(window_feed(**changes), "dome_light", *steps))["as-under-the-key"].holds
        is holds
    )


@pytest.mark.parametrize(
    ("changes", "steps", "bad"),
    [
        ({}, RUN, False),
        ({}, (*RUN, "crank"), True),
        ({}, (*RUN, "acknowledge"), True),
        ({"may_hold_in_crank": True}, (*RUN, "crank"), False),
        ({"may_hold_in_crank": True}, (*RUN, "acknowledge"), True),
    ],
)
def test_what_the_key_would_not_feed_is_uncalled(
    changes: dict[str, Any], steps: tuple[str, ...], bad: bool
) -> None:
    case = driven_in(window_feed(**changes), "dome_light", *steps)
    assert ("only-what-is-called" in broken(case)) is bad


def test_a_circuit_stands_as_under_the_key_with_the_key_in_off_too() -> None:
    """A relay on the key-sense wire takes the accessory away once the key is in the lock."""
    case = key_sensed()
    case.parts["K1"] = "relay"
    case.run("k_86", "vehicle.key", "K1.86")
    case.run("k_85", "K1.85", "ground.body")
    case.run("r_acc", "unit.acc", "K1.30")
    case.run("k_87a", "K1.87a", "vehicle.acc")
    trace = told(case)["as-under-the-key"].trace
    assert trace is not None
    assert "key insert" in trace


def test_a_circuit_live_in_start_is_fed_in_the_crank_though_it_may_be_held() -> None:
    case = driven_in(window_feed(may_hold_in_crank=True), "dome_light", *RUN)
    case.circuit("win", live=["run", "start"])
    assert told(case)["as-under-the-key"].holds is False


def key_sensed() -> Case:
    case = Case()
    live = ["off", "accessory", "run", "start"]
    case.circuit("key", function="key_sense", live=live, load_A=0.1)
    return case


def test_key_sense_is_left_aside_and_not_fed_by_the_way() -> None:
    """Nobody calls for it: a diode from the ignition lead makes the car believe in a key."""
    assert told(key_sensed())["as-under-the-key"].holds is True
    case = key_sensed()
    case.parts["D1"] = "diode"
    case.run("d1", "unit.ign", "D1.anode")
    case.run("d2", "D1.cathode", "vehicle.key")
    assert told(case)["as-under-the-key"].holds is True
    assert broken(case) == {"only-what-is-called"}


@pytest.mark.parametrize(
    ("live", "lead", "holds"),
    [
        (["run", "start"], "ign", True),
        (["run", "start"], None, False),
        (["accessory", "run"], "acc", True),
        (["out", "off", "accessory", "run", "start"], None, True),
    ],
)
def test_a_battery_wire_that_the_key_switches_is_fed_as_the_key_does_it(
    live: list[str], lead: str | None, holds: bool
) -> None:
    case = Case()
    case.circuit("kept", function="battery", live=live, load_A=3)
    if lead:
        case.run("r_kept", f"unit.{lead}", "vehicle.kept")
    assert told(case)["as-under-the-key"].holds is holds
