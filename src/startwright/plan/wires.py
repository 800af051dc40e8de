"""Which wire a run is made of: thick enough for its load and its fuse, from the shelf."""

from __future__ import annotations

from dataclasses import dataclass

from startwright.physics.wire import ampacity_A, resistance_ohm
from startwright.records.stock import Part, Stock
from startwright.records.unit import Lead

USUAL_MM2 = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0)
"""Sizes taken where the shelf holds no wire (ISO 6722 nominal sizes)."""
USUAL_C = 105.0
AROUND_C = 30.0
"""Air around a run, as `size` takes it; hotter places show there and come back as a mend."""
TOGETHER = 5
"""Loaded wires taken to lie in one bundle at the unit (assumed)."""
DROP_V = 0.36
"""Largest drop in one run: 3 % of 12 V (ABYC E-11, critical circuits)."""


@dataclass(frozen=True)
class Wire:
    """What a run is made of, and the reason."""

    size_mm2: float
    colour: str | None
    why: str


def choose_wire(
    stock: Stock,
    amps: float,
    fuse_A: float | None,
    length_m: float,
    least_mm2: float,
    purpose: str,
    lead: Lead | None = None,
) -> Wire:
    """Choose the wire of a run.

    Parameters
    ----------
    stock : Stock
        The shelf.
    amps : float
        What the run carries, A.
    fuse_A : float or None
        Rating of the fuse before it; the wire must carry that for good.
    length_m : float
        Its length.
    least_mm2 : float
        The least size asked for from elsewhere.
    purpose : str
        ``battery``, ``ground`` or ``signal``: which colour to look for first.
    lead : Lead, optional
        The unit's lead at one end: its own wire is taken where that is enough.

    Returns
    -------
    Wire

    Source: ampacity by 33 CFR 183.425 Table 5 (`startwright.physics.wire`); drop by ABYC E-11.
    """
    need = max(least_mm2, _least_for(amps, fuse_A or 0.0, length_m))
    held = f"carries {amps:g} A" if amps >= 1 else "is enough"
    if fuse_A and fuse_A > amps:
        held = f"is enough for the {fuse_A:g} A fuse before it"
    if lead is not None and lead.size_mm2 is not None and lead.size_mm2 >= need:
        return Wire(lead.size_mm2, lead.colour, f"the lead's own {lead.size_mm2:g} mm² {held}")
    fit = sorted(
        (
            (size, p)
            for p in stock.parts
            if p.kind == "wire" and p.count > 0
            for size in _sizes(p)
            if size >= need - 1e-9
        ),
        key=lambda sp: (sp[0], _shade(sp[1], purpose, lead), sp[1].id),
    )
    if fit:
        size, part = fit[0]
        same = [p for s, p in fit if s == size]
        part = min(same, key=lambda p: (_shade(p, purpose, lead), p.id))
        return Wire(size, part.colour, f"{size:g} mm² {held} (33 CFR 183.425)")
    size = next((s for s in USUAL_MM2 if s >= need - 1e-9), need)
    return Wire(size, None, f"{size:g} mm² {held}; the shelf has no such wire")


def _least_for(amps: float, fuse_A: float, length_m: float) -> float:
    for size in USUAL_MM2:
        if (
            ampacity_A(size, USUAL_C, AROUND_C, TOGETHER) >= amps
            and ampacity_A(size, USUAL_C, AROUND_C) >= fuse_A
            and amps * resistance_ohm(size, length_m) <= DROP_V
        ):
            return size
    return USUAL_MM2[-1]


def _sizes(part: Part) -> list[float]:
    if part.size_mm2 is None:
        return []
    return list(part.size_mm2) if isinstance(part.size_mm2, list) else [part.size_mm2]


def _shade(part: Part, purpose: str, lead: Lead | None) -> int:
    """How well a colour suits: the lead's own first, red for battery, black for ground."""
    if lead is not None and lead.colour == part.colour:
        return 0
    base = (part.colour or "").split("/")[0]
    usual = {"battery": "RD", "ground": "BK"}.get(purpose)
    if usual is not None:
        return 1 if base == usual else 2
    return 3 if base in ("RD", "BK") else 1
