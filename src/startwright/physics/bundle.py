"""Diameter of a bundle of round wires: never below the proved packing."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from startwright.reference.workmanship import packing_factor, proved, sizing_factor

RULE_K = 1.2


def least_mm(diameters_mm: Sequence[float]) -> float:
    """Give a diameter below which no packing of these wires exists.

    Any k of the wires are at least as large as k equal ones of the smallest among them; two wires
    need the sum of their diameters; the areas must fit.

    Parameters
    ----------
    diameters_mm : sequence of float
        Outside diameters, each above 0; any order; at least one.

    Returns
    -------
    float
        Millimetres, a lower bound (equal to the optimum for up to 14, and 19, equal wires).

    Raises
    ------
    ValueError
        For no wires or a diameter not above 0.

    Source: circle packing in a circle, proved optima.

    >>> round(least_mm([2.0] * 7), 6)
    6.0
    """
    sizes = sorted(diameters_mm, reverse=True)
    if not sizes or sizes[-1] <= 0:
        raise ValueError("a bundle has at least one wire, each of a diameter above zero")
    least = max(sizes[0], sqrt(sum(d * d for d in sizes)))
    if len(sizes) > 1:
        least = max(least, sizes[0] + sizes[1])
    for k in range(1, len(sizes) + 1):
        factor = packing_factor(k)
        if factor is not None and proved(k):
            least = max(least, factor * sizes[k - 1])
    return least


def diameter_mm(diameters_mm: Sequence[float]) -> float:
    """Give the diameter a hand-laid bundle of wires takes.

    Parameters
    ----------
    diameters_mm : sequence of float
        Outside diameters, each above 0; any order; at least one, at most 500.

    Returns
    -------
    float
        Millimetres: the largest of 1.2 √Σd², the maker's factor on the root-mean-square diameter
        (3 to 100 wires), and the least that any packing needs.

    Raises
    ------
    ValueError
        For no wires, too many, or a diameter not above 0.

    Source: harness rule D = 1.2 √Σ(n d²); conduit maker's sizing table, with the mean of squares
    where the table's average would be unsafe for mixed sizes; circle packing as lower bound.

    >>> round(diameter_mm([2.0] * 24), 2)
    12.0
    """
    least = least_mm(diameters_mm)
    n = len(diameters_mm)
    if n > 500:
        raise ValueError(f"{n} wires in one bundle; at most 500")
    squares = sum(d * d for d in diameters_mm)
    rule = RULE_K * sqrt(squares)
    table = sizing_factor(n) * sqrt(squares / n) if 3 <= n <= 100 else 0.0
    return max(least, table, diameters_mm[0] if n == 1 else rule)


def rule_mm(diameters_mm: Sequence[float]) -> float:
    """Give the bundle diameter by the harness rule alone; too small for two wires.

    Raises `ValueError` for no wires.

    Source: harness rule D = 1.2 √Σ(n d²).

    >>> round(rule_mm([2.0] * 24), 2)
    11.76
    """
    if not diameters_mm:
        raise ValueError("a bundle has at least one wire")
    return RULE_K * sqrt(sum(d * d for d in diameters_mm))
