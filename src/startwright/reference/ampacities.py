"""Allowable amperes of insulated copper wire and the factors on them, as published."""

from __future__ import annotations

from bisect import bisect_right
from functools import cache
from itertools import pairwise
from typing import Literal

from startwright.reference.conductors import awg_number
from startwright.reference.tables import rows

COLUMNS_C = (60, 75, 80, 90, 105, 125, 200)
"""Insulation ratings of the ampacity table, °C."""


@cache
def table_ampacity_A(awg: str | int, insulation_C: int) -> float:
    """Give the allowable amperage of a stranded insulated copper conductor at 30 °C.

    Parameters
    ----------
    awg : str or int
        18 to 4/0.
    insulation_C : int
        60, 75, 80, 90, 105, 125 or 200.

    Returns
    -------
    float
        Amperes.

    Raises
    ------
    ValueError
        For a size or insulation that the table does not list.

    Source: 33 CFR 183.425, Table 5 (same numbers as ABYC E-11 below 50 V); rows 14 and 12 from
    memory, confirmed by the bundled table.

    >>> table_ampacity_A(10, 105)
    60.0
    """
    if insulation_C not in COLUMNS_C:
        raise ValueError(f"Table 5 lists insulation of {COLUMNS_C} °C, not {insulation_C}")
    for r in rows("ampacity"):
        if awg_number(r["awg"]) == awg_number(awg):
            return float(r[str(insulation_C)])
    raise ValueError(f"Table 5 goes from AWG 18 to 4/0; {awg} lies outside")


@cache
def ampacity_sizes() -> tuple[int, ...]:
    """List the gauge numbers of the ampacity table, thin to thick.

    Source: 33 CFR 183.425, Table 5.

    >>> ampacity_sizes()[0], ampacity_sizes()[-1]
    (18, -3)
    """
    return tuple(sorted((awg_number(r["awg"]) for r in rows("ampacity")), reverse=True))


@cache
def engine_space_factor(insulation_C: float) -> float:
    """Give the ampacity factor in an engine space (50 °C), between columns by line.

    Raises `ValueError` below 60 and above 200 °C insulation.

    Source: 33 CFR 183.425, Table 5, note 1 (only the 105 °C value was read; the rest from memory).

    >>> engine_space_factor(105)
    0.85
    """
    points = [(float(r["insulation_C"]), float(r["factor"])) for r in rows("engine_space")]
    if not points[0][0] <= insulation_C <= points[-1][0]:
        raise ValueError(f"note 1 covers insulation of 60 to 200 °C, not {insulation_C}")
    for (x0, y0), (x1, y1) in pairwise(points):
        if x0 <= insulation_C <= x1:
            return y0 + (y1 - y0) * (insulation_C - x0) / (x1 - x0)
    return points[-1][1]


@cache
def bundle_factor(wires: int, table: Literal["cautious", "nec"] = "cautious") -> float:
    """Give the ampacity factor for current-carrying wires lying in one bundle.

    Parameters
    ----------
    wires : int
        Current-carrying wires in the bundle, at least 1.
    table : str
        ``cautious`` (33 CFR / ABYC, ruling here) or ``nec``.

    Returns
    -------
    float
        0.4 to 1.

    Raises
    ------
    ValueError
        Below one wire, or for another table.

    Source: 33 CFR 183.425, Table 5, note 2 / ABYC E-11 (binding from 50 V, 33 CFR 183.435(b): good
    practice below); NFPA 70 (NEC) Table 310.15(B)(3)(a).

    >>> bundle_factor(3), bundle_factor(3, "nec")
    (0.7, 1.0)
    """
    if wires < 1:
        raise ValueError(f"a bundle has at least one wire, not {wires}")
    steps = [
        (int(r["at_least"]), float(r["factor"]))
        for r in rows("bundle_factor")
        if r["table"] == table
    ]
    if not steps:
        raise ValueError(f"no bundle table {table!r}; cautious or nec")
    return steps[bisect_right([s[0] for s in steps], wires) - 1][1]
