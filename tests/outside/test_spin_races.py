"""SPIN follows relays that race, chatter or hang on one another, in every order, by itself.

Source: SPIN 6.5 (Debian package `spin`; G. J. Holzmann, The SPIN Model Checker, 2004). Beside our
states and the first one it stores each moment at which relays race, and tells how many.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from outside.spin import both, disagreements
from prove.base import Case

from startwright.prove import export, races, reaction
from startwright.prove.promela_settle import MOST_TIED
from startwright.records.errors import RecordError


def chain(count: int, lead: str = "run_sig", *, upset: bool = False) -> Case:
    """Each relay's working contact feeds the next coil; `upset` turns one contact round."""
    case, before = Case(), f"unit.{lead}"
    for k in range(1, count + 1):
        case.parts[f"K{k}"] = "relay"
        case.run(f"k{k}_86", before, f"K{k}.86")
        case.run(f"k{k}_85", f"K{k}.85", "vehicle.batt")
        case.run(f"k{k}_30", f"K{k}.30", "ground.body")
        before = f"K{k}.87a" if upset and k == count // 2 else f"K{k}.87"
    return case


def ring(count: int, lead: str = "run_sig", name: str = "K") -> Case:
    """Each resting contact feeds the next coil, round: an even ring rests in two ways."""
    return with_ring(Case(), count, lead, name)


def with_ring(case: Case, count: int, lead: str, name: str) -> Case:
    for k in range(1, count + 1):
        case.parts[f"{name}{k}"] = "relay"
        case.run(f"{name}{k}_30", f"unit.{lead}", f"{name}{k}.30")
        case.run(f"{name}{k}_87a", f"{name}{k}.87a", f"{name}{k % count + 1}.86")
        case.run(f"{name}{k}_85", f"{name}{k}.85", "vehicle.batt")
    return case


def two_pairs() -> Case:
    """Two pairs race for themselves, on the same lead."""
    return with_ring(ring(2), 2, "run_sig", "L")


def race_for_the_hood() -> Case:
    """One of the racing relays takes the hood away from its input: in one order."""
    case = ring(2).without("r_hood")
    case.run("hood_1", "vehicle.hood", "K2b.30")
    case.run("hood_2", "K2b.87a", "unit.hood_in")
    case.parts["K2b"] = "relay"
    case.run("k2b_86", "K2.86", "K2b.86")
    case.run("k2b_85", "K2b.85", "vehicle.batt")
    return case


RACES: dict[str, tuple[Callable[[], Case], set[str]]] = {
    "a chain of eight": (lambda: chain(8), set()),
    "a chain of twelve": (lambda: chain(12), set()),
    "a chain of ten, one contact turned": (lambda: chain(10, upset=True), set()),
    "two that race": (lambda: ring(2), {"settles"}),
    "eight that race": (lambda: ring(8), {"settles", "within-limits"}),
    "three that chatter": (lambda: ring(3), {"settles"}),
    "two pairs": (two_pairs, {"settles"}),
    "a race for the hood": (
        race_for_the_hood,
        {"settles", "hood-ends", "crank-only-when-safe"},
    ),
}


@pytest.mark.parametrize("name", RACES)
def test_spin_agrees(name: str, tmp_path: Path) -> None:
    make, broken = RACES[name]
    case = make()
    model, done, spun = both(case.job(), case.wiring(), tmp_path)
    assert disagreements(model, done, spun) == []
    assert spun.broken == broken
    assert bool(spun.waits) == bool(broken)


SPOILT: dict[str, Callable[[races.Outcomes], races.Outcomes]] = {
    "one order alone is followed": lambda found: (found[0][:1], *found[1:]),
    "the last is left out": lambda found: (found[0][:-1] or found[0], *found[1:]),
    "nobody is told": lambda found: (found[0], False, False),
}


@pytest.mark.parametrize("name", SPOILT)
def test_spin_sees_a_spoilt_explorer(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spoil = SPOILT[name]
    monkeypatch.setattr(reaction, "outcomes", lambda onward: spoil(races.outcomes(onward)))
    case = race_for_the_hood()
    model, done, spun = both(case.job(), case.wiring(), tmp_path)
    assert disagreements(model, done, spun)


def test_too_many_that_hang_together_are_refused_with_the_reason() -> None:
    case = chain(MOST_TIED + 1)
    with pytest.raises(RecordError, match=rf"{MOST_TIED + 1} relays|variables"):
        export(case.job(), case.wiring())
