"""Vacuum locks: the pump's wire is cut and switched over for as long as the record says."""

from __future__ import annotations

from typing import Any

import pytest
from plan.cars import commands, job, pump, small, unit, vehicle
from plan.working import joined, kinds, part, reasons, safe

WANTS = ("remote_start", "lock_unlock")


def pumped(pulse_s: float = 3.0) -> dict[str, Any]:
    """Unlocked by battery and locked by ground, from opposite rests."""
    return vehicle(pump("unlock", "ground", "battery", pulse_s),
                   pump("lock", "battery", "ground", pulse_s))  # fmt: skip


def works(*settings: dict[str, Any], **keys: Any) -> dict[str, Any]:
    box = unit(small("lock", "lock", suppressed=True), small("unlock", "unlock"), **keys)
    box["settings"] += settings
    return box


def test_each_pump_wire_is_cut_and_switched_to_its_own_level():
    p = safe(job(pumped(), works(commands=commands(3.5, 3.5)), wants=WANTS))
    assert set(p.wiring.cuts) == {"lock", "unlock"}
    for id in ("lock", "unlock"):
        relay = part(p, f"vehicle.{id}.load", "30")
        assert joined(p, f"vehicle.{id}.source", f"{relay}.87a")
        worked = next(
            e for r in p.wiring.runs for e in r.ends
            if f"{relay}.87" in r.ends and e != f"{relay}.87"
        )  # fmt: skip
        assert worked.startswith("ground." if id == "lock" else "F")


@pytest.mark.parametrize("pulse_s", [3.0, 5.5])
def test_a_pulse_that_is_too_short_is_no_plan(pulse_s: float):
    said = reasons(job(pumped(pulse_s), works(), wants=WANTS))
    assert f"its pulse of 0.8 s is shorter than the {pulse_s:g} s that lock takes" in said
    assert f"whose lock command drives lock for {pulse_s:g} s or more" in said


def test_a_setting_makes_the_pulse_long_enough():
    ranged = {"id": "lock_time", "values": {"min": 0.8, "max": 4.0, "step": 0.4, "unit": "s"},
              "default": 0.8, "sets": "commands.lock.pulse_s"}  # fmt: skip
    named = {"id": "unlock_time", "values": ["0.8", "3.5", "6"], "default": "0.8",
             "sets": "commands.unlock.pulse_s"}  # fmt: skip
    p = safe(job(pumped(), works(ranged, named), wants=WANTS))
    assert p.wiring.settings["lock_time"] == 3.2
    assert p.wiring.settings["unlock_time"] == "3.5"
    said = reasons(job(pumped(4.5), works(ranged, named), wants=WANTS))
    assert "its pulse of 0.8 s is shorter than the 4.5 s that lock takes" in said
    assert "unlock: its pulse" not in said


def test_a_setting_is_left_alone_where_the_pulse_is_long_enough():
    ranged = {"id": "lock_time", "values": {"min": 0.8, "max": 4.0, "step": 0.4, "unit": "s"},
              "default": 3.6, "sets": "commands.lock.pulse_s"}  # fmt: skip
    p = safe(job(pumped(), works(ranged, commands=commands(0.8, 3.5)), wants=WANTS))
    assert "lock_time" not in p.wiring.settings


def test_a_pump_that_does_not_say_both_levels_is_no_plan():
    lock = pump("lock", "battery", "ground")
    del lock["rest"]
    said = reasons(job(vehicle(lock), works(commands=commands(3.5, 3.5)), wants=WANTS))
    assert "measure both and enter `rest` and `active`" in said


def test_a_wire_takes_as_many_pulses_as_it_says():
    car = vehicle({"id": "lock", "function": "lock", "rest": "open", "active": "ground",
                   "style": "pulse", "pulse_s": 0.5, "presses": 2, "load_A": 0.2,
                   "place": "kick panel"})  # fmt: skip
    said = reasons(job(car, works(), wants=WANTS))
    assert "its commands give 1 pulse long enough, and lock takes 2" in said
    assert "drives lock 2 times for 0.5 s or more" in said
    twice = commands()
    twice["lock"] *= 2
    assert kinds(safe(job(car, works(commands=twice), wants=WANTS))) == []
