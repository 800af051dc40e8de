"""Resistors of the shelf that make up a value: one, or a few in series."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations_with_replacement

from startwright.plan.way import Bench, Link
from startwright.records.stock import Part

MOST_IN_SERIES = 3
OFFERED = 3
"""Combinations offered, the nearest first."""
UNSTATED_W = 0.25
"""Power of a resistor whose record states none, W (the smallest common size)."""


def in_series(
    bench: Bench, ohm: float, amps: float, near: Callable[[float], bool]
) -> list[tuple[Part, ...]]:
    """The fewest resistors in series that will do, the nearest to the value first.

    Parameters
    ----------
    bench : Bench
        Whose shelf is looked at.
    ohm : float
        The value wanted, ohm.
    amps : float
        What flows, A: each must bear its share of the heat.
    near : callable
        Whether a sum, ohm, is near enough.

    Returns
    -------
    list of tuple of Part
        Empty where none will do.
    """
    parts = [
        p
        for p in bench.of("resistor")
        if p.ohm is not None and amps**2 * p.ohm <= (p.watt or UNSTATED_W)
    ]
    for count in range(1, MOST_IN_SERIES + 1):
        fit = [
            (abs(total_ohm(chosen) - ohm), chosen)
            for chosen in combinations_with_replacement(parts, count)
            if near(total_ohm(chosen)) and all(_there(p, chosen) for p in chosen)
        ]
        if fit:
            fit.sort(key=lambda f: (f[0], [p.id for p in f[1]]))
            return [chosen for _, chosen in fit[:OFFERED]]
    return []


def _there(part: Part, chosen: tuple[Part, ...]) -> bool:
    """Whether the shelf holds as many of an article as are chosen; a wish is not held yet."""
    return part.id.startswith("wished-") or sum(p.id == part.id for p in chosen) <= part.count


def total_ohm(chosen: tuple[Part, ...]) -> float:
    """Their sum, ohm."""
    return sum(p.ohm or 0.0 for p in chosen)


def roles(chosen: tuple[Part, ...]) -> tuple[tuple[str, Part], ...]:
    """The resistors with the names they have in a way."""
    return tuple((f"R{k}", p) for k, p in enumerate(chosen))


def chain(chosen: tuple[Part, ...], amps: float) -> tuple[str, tuple[Link, ...], str]:
    """The first end, the links between one and the next, and the last end."""
    links = tuple(
        Link(f"@R{k}.b", f"@R{k + 1}.a", amps, "car", "one resistor after the other makes it up")
        for k in range(len(chosen) - 1)
    )
    return "@R0.a", links, f"@R{len(chosen) - 1}.b"
