"""Blade fuses as published: gates of opening time, ratings, colours, cold resistance."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Literal

from startwright.reference.tables import number, rows

Kind = Literal["blade", "maxi"]
BREAKING_A = 1000.0
"""Breaking capacity that ISO 8820-3 asks of blade fuses (scope, 2015 edition)."""


@dataclass(frozen=True)
class Gate:
    """One gate: at `percent` of the rating the fuse opens no sooner and no later than this.

    `max_s` is None where the standard promises no opening.
    """

    percent: float
    min_s: float
    max_s: float | None
    source: str


@dataclass(frozen=True)
class FuseRating:
    """One rating: its colour and, where known, cold resistance and drop at rated current."""

    kind: str
    rating_A: float
    colour: str
    cold_mohm: float | None
    drop_mV: float | None


@cache
def gates(kind: Kind) -> tuple[Gate, ...]:
    """Give the opening-time gates of a kind of blade fuse, rising in current.

    Where sheets disagree the earliest minimum and the latest read maximum stand.

    Raises `ValueError` for another kind.

    Source: ISO 8820-3:2015, operating-time ratings, types C and F (blade) and E (maxi), as printed
    in data sheets; rows marked from memory in the data file.

    >>> [g.percent for g in gates("blade")]
    [110.0, 135.0, 160.0, 200.0, 350.0, 600.0]
    """
    found = tuple(
        Gate(float(r["percent"]), float(r["min_s"]), number(r["max_s"]), r["source"])
        for r in rows("fuse_gates")
        if r["kind"] == kind
    )
    if not found:
        raise ValueError(f"no gates for a fuse of kind {kind!r}; blade or maxi")
    return found


@cache
def ratings(kind: Kind | None = None) -> tuple[FuseRating, ...]:
    """Give the standard ratings, rising; of one kind, or blades and above them the maxis.

    Source: ISO 8820-3 / SAE J1284 / SAE J2077 (blade), ISO 8820-3 type E / SAE J1888 (maxi);
    cold resistances from blade-fuse data sheets.

    >>> [f.rating_A for f in ratings()][-5:]
    [40.0, 50.0, 60.0, 70.0, 80.0]
    """
    all_ = tuple(
        FuseRating(
            r["kind"],
            float(r["rating_A"]),
            r["colour"],
            number(r["cold_mohm"]),
            number(r["drop_mV"]),
        )
        for r in rows("fuse_ratings")
    )
    if kind is not None:
        return tuple(f for f in all_ if f.kind == kind)
    blades = tuple(f for f in all_ if f.kind == "blade")
    top = blades[-1].rating_A
    return blades + tuple(f for f in all_ if f.kind == "maxi" and f.rating_A > top)


@cache
def colour(rating_A: float, kind: Kind = "blade") -> str:
    """Give the body colour of a fuse. Read the number too: kinds share colours.

    Raises `ValueError` for a rating that is not made.

    Source: ISO 8820-3 / SAE J1284 / SAE J2077 (blade), ISO 8820-3 type E / SAE J1888 (maxi).

    >>> colour(10), colour(50, "maxi")
    ('red', 'red')
    """
    for f in ratings(kind):
        if f.rating_A == rating_A:
            return f.colour
    raise ValueError(f"no {kind} fuse of {rating_A:g} A; {[f.rating_A for f in ratings(kind)]}")


@cache
def cold_ohm(rating_A: float) -> float:
    """Give the cold resistance of a blade fuse, in between by power law in the rating.

    Parameters
    ----------
    rating_A : float
        1 to 100 A.

    Returns
    -------
    float
        Ohms. Hot it is 40-50 % more; outside the listed ratings the law is carried on.

    Raises
    ------
    ValueError
        Outside 1 to 100 A.

    Source: blade-fuse data-sheet values (2, 4, 10 A), tolerance 10 %.

    >>> round(cold_ohm(10) * 1000, 2)
    7.7
    """
    from math import exp, log

    if not 1 <= rating_A <= 100:
        raise ValueError(f"blade fuses are made from 1 to 100 A, not {rating_A:g}")
    known = [(log(f.rating_A), log(f.cold_mohm)) for f in ratings("blade") if f.cold_mohm]
    x = log(rating_A)
    pairs = list(pairwise(known))
    (x0, y0), (x1, y1) = next((p for p in pairs if x <= p[1][0]), pairs[-1])
    return exp(y0 + (y1 - y0) * (x - x0) / (x1 - x0)) / 1000
