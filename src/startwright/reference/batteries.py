"""Starter batteries as published: voltage to charge, temperature, load test, cold cranking."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

from startwright.reference.tables import rows


def along(points: tuple[tuple[float, float], ...], x: float, carry_on: bool = False) -> float:
    """Read a table of rising x between its rows by line.

    Outside the table the end value stands, or with `carry_on` the last line is carried on.

    Source: none, linear interpolation.

    >>> along(((0.0, 1.0), (2.0, 3.0)), 1.0), along(((0.0, 1.0), (2.0, 3.0)), 5.0)
    (2.0, 3.0)
    """
    if not carry_on:
        x = min(max(x, points[0][0]), points[-1][0])
    pairs = list(pairwise(points))
    (x0, y0), (x1, y1) = next((p for p in pairs if x <= p[1][0]), pairs[-1])
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


@cache
def column(table: str, x: str, y: str) -> tuple[tuple[float, float], ...]:
    """Give two columns of a table as points of rising x.

    Raises `ValueError` where there is no such table, `KeyError` where no such column.

    Source: the row's own; see the table's `source` column.

    >>> column("battery_charge", "charge", "open_circuit_V")[-1]
    (1.0, 12.65)
    """
    return tuple(sorted((float(r[x]), float(r[y])) for r in rows(table)))


@cache
def practice(quantity: str) -> float:
    """Give a number of battery practice.

    Raises `ValueError` for an unknown quantity.

    Source: the row's own: workshop practice, handbook rules from memory.

    >>> practice("key_off_most")
    50.0
    """
    for r in rows("battery_practice"):
        if r["quantity"] == quantity:
            return float(r["value"])
    raise ValueError(f"no battery practice {quantity!r}")
