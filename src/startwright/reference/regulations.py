"""Rules of law and of caution that touch an installation, and bus levels to keep away from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from startwright.reference.tables import citation, number, rows


@dataclass(frozen=True)
class Regulation:
    """One rule: where it stands, what it says, its number where it has one, how it was read."""

    rule: str
    where: str
    says: str
    number: float | None
    unit: str | None
    from_memory: bool


@cache
def regulation(rule: str) -> Regulation:
    """Give one rule by its slug.

    Parameters
    ----------
    rule : str
        Such as ``starter-interlock``, ``make-inoperative``; `slugs` lists them.

    Returns
    -------
    Regulation

    Raises
    ------
    ValueError
        For an unknown slug.

    Source: the rule's own: 49 CFR 571, 49 U.S.C. 30122, UN Regulation 100, 46 CFR, 33 CFR. Not
    legal advice; most texts are dated editions.

    >>> regulation("starter-interlock").where
    '49 CFR 571.102, S3.1.3'
    """
    for r in rows("regulations"):
        if r["rule"] == rule:
            return Regulation(
                rule,
                f"{citation(r['source'])}, {r['paragraph']}",
                r["says"],
                number(r["number"]),
                r["unit"] or None,
                r["how"] == "memory",
            )
    raise ValueError(f"no rule {rule!r}; there are {', '.join(slugs())}")


@cache
def slugs() -> tuple[str, ...]:
    """List the rules there are.

    Source: as `regulation`.

    >>> "make-inoperative" in slugs()
    True
    """
    return tuple(r["rule"] for r in rows("regulations"))


@cache
def bus_level(bus: str, quantity: str) -> tuple[float, float]:
    """Give a level of a data bus, low and high (the same twice where it is one number).

    Parameters
    ----------
    bus : str
        ``can``, ``can_fault_tolerant`` or ``lin``.
    quantity : str
        Such as ``recessive``, ``reads_dominant_above``, ``rate``.

    Returns
    -------
    tuple of float
        In the unit of the table's row.

    Raises
    ------
    ValueError
        For an unknown bus or quantity.

    Source: ISO 11898-2, ISO 11898-3, ISO 17987-4.

    >>> bus_level("lin", "reads_recessive_above")
    (0.6, 0.6)
    """
    for r in rows("bus_levels"):
        if r["bus"] == bus and r["quantity"] == quantity:
            return float(r["low"]), float(r["high"])
    raise ValueError(f"no level {quantity!r} of bus {bus!r}")
