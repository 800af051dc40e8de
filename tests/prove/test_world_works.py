"""The world, clause by clause: each rule of what was wanted, with and without its run."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from prove.base import Case
from prove.sound import SOUND
from prove.test_world_car import told
from prove.test_world_rules import broken, driven_in, latched, started


def comfort(function: str) -> Case:
    """A unit that switches seat heater or rear defogger on while it runs."""
    case = Case()
    case.wants += [{"seat_heater": "seat_heat", "rear_defogger": "rear_defog"}[function]]
    case.circuit("warm", function=function, rest="open", active="ground", load_A=0.2)
    case.lead("warm", way="out", does=[function], active="ground", limit_A=0.5)
    case.run("r_warm", "unit.warm", "vehicle.warm")
    return driven_in(case, function, "run")


WANTED: dict[str, tuple[Callable[[], Case], str]] = {
    "can-start": (Case, "r_ign"),
    "runs": (Case, "r_ign"),
    "can-stop": (Case, "r_ign"),
    "locks": (Case, "r_lock"),
    "unlocks-all": (Case, "r_unlock"),
    "unlocks-driver": (SOUND["separate_driver_unlock"], "r_driver"),
    "opens-trunk": (SOUND["trunk_too"], "r_trunk"),
    "flashes": (Case, "r_lamps"),
    "sounds": (Case, "r_horn"),
    "panics": (SOUND["panic_too"], "r_horn r_lamps"),
    "heats-seat": (lambda: comfort("seat_heater"), "r_warm"),
    "defogs": (lambda: comfort("rear_defogger"), "r_warm"),
    "cuts-starter": (SOUND["starter_cut_when_armed"], "k_85"),
    "shows-armed": (SOUND["starter_cut_when_armed"], "k_85"),
}
"""For each rule of what was wanted a wiring in which it works, and the runs without which not."""


@pytest.mark.parametrize("slug", WANTED)
def test_each_want_works_and_without_its_run_does_not(slug: str) -> None:
    make, runs = WANTED[slug]
    result = told(make())[slug]
    assert (result.kind, result.holds, result.exercised) == ("works", True, True)
    missing = make()
    assert all(run in missing.runs for run in runs.split())
    assert told(missing.without(*runs.split()))[slug].holds is False


def test_every_rule_of_what_was_wanted_is_here() -> None:
    searched = {"as-under-the-key", "can-be-tried"}
    assert {s for s, r in told(Case()).items() if r.kind == "works"} - searched == set(WANTED)


def test_a_run_that_does_not_last_and_a_stop_that_does_not_stop() -> None:
    short = Case()
    short.unit["sequence"] = started(run={"drives": ["accessory"]})
    assert "runs" in broken(short)
    assert "can-stop" in broken(latched())
    assert "can-start" not in broken(latched())


@pytest.mark.parametrize(("function", "slug"), [("lock", "locks"), ("unlock", "unlocks-all")])
def test_doors_by_side_want_each_side(function: str, slug: str) -> None:
    case = Case().without(function, f"r_{function}")
    for k, side in enumerate(("left", "right")):
        wire = f"{function}_{side}"
        level = {"style": "pulse", "rest": "battery", "active": "ground"}
        case.circuit(wire, function=function, side=side, **level, pulse_s=0.5, load_A=0.1)
        case.parts[f"D{k}"] = "diode"
        case.run(f"a{k}", f"vehicle.{wire}", f"D{k}.anode")
        case.run(f"b{k}", f"D{k}.cathode", f"unit.{function}")
    assert told(case)[slug].holds is True
    assert told(case.without("a1"))[slug].holds is False
