"""Terminals, crimps, looms, supports: what the trade's documents ask of the work."""

from __future__ import annotations

from functools import cache
from typing import Literal

from startwright.reference.conductors import awg_number
from startwright.reference.tables import number, rows

NEWTON_PER_LBF = 4.4482216


@cache
def terminal(number_: str) -> str:
    """Say what a terminal number means.

    Raises `ValueError` for a number the standard (as carried here) does not have.

    Source: DIN 72552.

    >>> terminal("87a")
    'relay contact, normally closed'
    """
    for r in rows("terminals"):
        if r["terminal"] == number_:
            return r["meaning"]
    raise ValueError(f"no terminal {number_!r} in DIN 72552 as carried here")


@cache
def pull_out_lbf(
    awg: str | int, table: Literal["commercial", "strict", "space"] = "commercial"
) -> float:
    """Give the least pull a crimp must stand.

    Parameters
    ----------
    awg : str or int
        Wire size.
    table : str
        ``commercial``, ``strict`` or ``space``.

    Returns
    -------
    float
        Pounds-force.

    Raises
    ------
    ValueError
        For a size the table does not list.

    Source: UL 486A (commercial) / MIL-T-7928 (strict), as printed by terminal makers;
    NASA-STD-8739.4 Table 13-1 (space).

    >>> pull_out_lbf(18), pull_out_lbf(18, "strict")
    (20.0, 38.0)
    """
    column = "strict_lbf" if table == "strict" else "lbf"
    kind = "space" if table == "space" else "commercial"
    for r in rows("crimp_pull"):
        if r["table"] == kind and awg_number(r["awg"]) == awg_number(awg):
            value = number(r[column])
            if value is not None:
                return value
    raise ValueError(f"the {table} table does not list AWG {awg}")


def pull_out_N(
    awg: str | int, table: Literal["commercial", "strict", "space"] = "commercial"
) -> float:
    """Give the least pull a crimp must stand, in newtons.

    Arguments, errors and source as `pull_out_lbf`.

    Source: as `pull_out_lbf`, times 4.448.

    >>> round(pull_out_N(18))
    89
    """
    return pull_out_lbf(awg, table) * NEWTON_PER_LBF


def breaking_lbf(area_mm2: float) -> float:
    """Give the force that breaks a soft copper conductor.

    Raises `ValueError` for an area not above 0.

    Source: tensile strength of annealed copper (37 000 psi) times area.

    >>> round(breaking_lbf(1.309))
    75
    """
    if area_mm2 <= 0:
        raise ValueError("an area is above zero")
    return area_mm2 / 645.16 * asked("copper_tensile")


@cache
def asked(quantity: str) -> float:
    """Give a number that a document asks of the work (`workmanship` table).

    Raises `ValueError` for an unknown quantity.

    Source: the row's own (NASA-STD-8739.4, FAA AC 43.13-1B, UL 486A, a conduit maker's table).

    >>> asked("clamp_spacing_most")
    24.0
    """
    for r in rows("workmanship"):
        if r["quantity"] == quantity:
            return float(r["value"])
    raise ValueError(f"nothing is asked under {quantity!r}")


@cache
def loom_sizes_mm() -> dict[str, float]:
    """Give the nominal inside diameter of convoluted tubing by size number.

    Source: conduit maker's table (size number = 1/32 in); fill to 70 % at most.

    >>> loom_sizes_mm()["12"]
    9.5
    """
    return {r["size"]: float(r["inside_mm"]) for r in rows("loom")}


@cache
def packing_factor(wires: int) -> float | None:
    """Give bundle over wire diameter of the densest known packing of equal wires; None above 20.

    Raises `ValueError` below one wire.

    Source: circle packing in a circle, proved optimal up to 14 and for 19, else best known.

    >>> packing_factor(7)
    3.0
    """
    if wires < 1:
        raise ValueError("a bundle has at least one wire")
    for r in rows("packing"):
        if int(r["wires"]) == wires:
            return float(r["factor"])
    return None


@cache
def proved(wires: int) -> bool:
    """Say whether the packing of that many equal wires is proved the smallest.

    Source: circle packing in a circle.

    >>> proved(13), proved(15)
    (True, False)
    """
    return any(int(r["wires"]) == wires and r["proved"] == "yes" for r in rows("packing"))


@cache
def sizing_factor(wires: int) -> float:
    """Give the practical bundle factor: bundle over average wire diameter, between rows by line.

    Raises `ValueError` below 3 and above 100 wires.

    Source: conduit maker's sizing table; its entry for 6 lies below the proved optimum and is
    left out.

    >>> sizing_factor(30)
    6.7
    """
    points = [(int(r["wires"]), float(r["factor"])) for r in rows("bundle_sizing")]
    if not points[0][0] <= wires <= points[-1][0]:
        raise ValueError(f"the sizing table goes from 3 to 100 wires, not {wires}")
    below = max(p for p in points if p[0] <= wires)
    above = min(p for p in points if p[0] >= wires)
    if below == above:
        return below[1]
    return below[1] + (above[1] - below[1]) * (wires - below[0]) / (above[0] - below[0])
