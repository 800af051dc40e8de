"""Abstractions that once let something through: each with the smallest wiring that showed it."""

from __future__ import annotations

from typing import Any

import pytest
from prove.base import Case

from startwright.prove import prove
from startwright.records.reports import RuleResult


def rule(case: Case, slug: str) -> RuleResult:
    """One rule's result."""
    report = prove(case.job(), case.wiring())
    return next(r for r in report.rules if r.rule == slug)


def trunk_behind_a_fuse(*pulses: dict[str, Any]) -> Case:
    """A trunk motor of 18 A behind a fuse of 15 A, which carries that for a moment."""
    case = Case()
    case.wants = ["remote_start", "trunk_release"]
    case.circuit("trunk", function="trunk_release", rest="ground", active="battery", load_A=18)
    case.lead("trunk", way="out", does=["trunk_release"], active="battery", limit_A=30)
    case.parts["F1"] = "fuse-15"
    case.run("r_t1", "unit.trunk", "F1.a")
    case.run("r_t2", "F1.b", "vehicle.trunk")
    step = {"step": "wake", "drives": ["ignition"], "like": "run", "for_s": 2}
    case.unit["sequence"] = [step]
    case.unit["commands"] = {"trunk": [{"drives": ["trunk_release"], **p} for p in pulses]}
    return case


@pytest.mark.parametrize(
    ("pulses", "holds"),
    [
        ([{"pulse_s": 0.8}], True),
        ([{"pulse_s": 15}], True),
        ([{"pulse_s": 60}], False),
        ([{"pulse_s": 10}, {"pulse_s": 10}], False),
        ([{"pulse_s": 0.5, "repeat_s": 30}], True),
        ([{"pulse_s": 20, "repeat_s": 60}], False),
    ],
)
def test_a_long_pulse_is_held_to_what_things_carry_for_long(
    pulses: list[dict[str, Any]], holds: bool
) -> None:
    assert rule(trunk_behind_a_fuse(*pulses), "within-limits").holds is holds


def accessory_in_short_steps(count: int, **first: Any) -> Case:
    """19 A behind a fuse of 15 A in steps of five seconds: it carries that for one or for three."""
    case = Case().without("r_lock", "r_unlock", "r_horn", "r_lamps", "r_tach")
    case.wants = ["remote_start"]
    case.circuit("acc", load_A=19, leave_dead="for the test")
    case.parts["F1"] = "fuse-15"
    case.run("r_acc", "unit.acc", "F1.a")
    case.run("r_fused", "F1.b", "vehicle.acc")
    warm = {"drives": ["ignition", "accessory"], "like": "run", "for_s": 5}
    steps = [{"step": f"warm-{k}", **warm} for k in range(count)]
    steps[0] |= first
    case.unit["sequence"] = steps
    case.circuit("glow", function="wait_to_start", rest="open", active="ground", load_A=0.1)
    case.lead("glow_in", way="in", senses="wait_to_start", active="ground", pull="up")
    return case


@pytest.mark.parametrize(("count", "holds"), [(1, True), (3, True), (4, False), (12, False)])
def test_short_steps_in_a_row_are_added(count: int, holds: bool) -> None:
    assert rule(accessory_in_short_steps(count), "within-limits").holds is holds


def test_a_step_that_a_lamp_holds_on_is_not_short() -> None:
    case = accessory_in_short_steps(1, or_until="wait_over")
    assert rule(case, "within-limits").holds is True
    case.run("r_glow", "vehicle.glow", "unit.glow_in")
    assert rule(case, "within-limits").holds is False


def ignition_that_a_turned_key_drops() -> Case:
    """A relay in the ignition wire opens when the key comes to run while the unit runs the car.

    Its coil hangs between a wire that the key alone feeds and the unit's running signal.
    """
    case = Case().without("r_lock", "r_unlock", "r_horn")
    case.wants = ["remote_start"]
    case.circuit("blower", function="accessory", live=["run"], load_A=5, leave_dead=True)
    case.cuts = ["ign"]
    case.parts["K1"] = "relay"
    case.run("r_source", "vehicle.ign.source", "K1.87a")
    case.run("r_ign", "unit.ign", "K1.87a")
    case.run("r_load", "K1.30", "vehicle.ign.load")
    case.run("r_86", "vehicle.blower", "K1.86")
    case.run("r_85", "K1.85", "unit.run_sig")
    return case


def test_the_ignition_gaps_neither_at_the_brake_nor_before() -> None:
    case = ignition_that_a_turned_key_drops()
    found = rule(case, "key-has-last-word")
    assert found.holds is False
    assert found.trace is not None
    assert found.trace.endswith("key run → engine stands")
    assert rule(case.without("r_86"), "key-has-last-word").holds
