"""One row a lead, contact, coil, diode, resistor: its load against its limit."""

from __future__ import annotations

from typing import Any

import numpy as np

from startwright.car.build import Car
from startwright.car.fitted import node_of
from startwright.car.terminals import Joined
from startwright.physics.relay import (
    COLD_COIL_C,
    HOT_COIL_C,
    Suppression,
    coil_A,
    contact_limit_A,
    pull_in_at_V,
    release_ms,
)
from startwright.records.stock import Part
from startwright.records.unit import Lead
from startwright.size.amps import Floats, Solved

MAKE_TIMES = 3.0
"""A relay contact makes this many times its rating (common practice, no source)."""
RESTED_V = 12.6
REST_LOW_V = 11.8
"""The battery at which a relay must still pull in before the starter turns."""
HOT_V = 14.4


def _row(
    id: str,
    kind: str,
    amps: float,
    state: str,
    limit: float | None,
    inrush: float,
    says: list[str],
    **more: Any,
) -> dict[str, Any]:
    share = amps / limit if limit else None
    ok = not says
    if ok:
        says = [f"{amps:.2f} A of {limit:g} A" if limit else f"{amps:.2f} A, no limit recorded"]
    return {
        "id": id,
        "kind": kind,
        "amps_A": round(amps, 3),
        "state": state,
        "limit_A": limit,
        "inrush_A": round(inrush, 2),
        "share": None if share is None else round(share, 4),
        "holds": ok,
        "says": "; ".join(says),
        **more,
    }


def at_lead(solved: Solved, lead: Lead) -> Floats:
    """Give the amps that cross a lead in every state, shape (S,).

    Source: Kirchhoff's current law at the lead's terminal.
    """
    name = f"unit.{lead.id}"
    total = np.zeros(len(solved.states))
    for run in solved.car.wiring.runs:
        if run.to == name:
            total += solved.column(f"run.{run.id}")
        if run.from_ == name:
            total -= solved.column(f"run.{run.id}")
    return np.abs(total)


def _rush_at(solved: Solved, lead: Lead, steady: float) -> tuple[float, float | None]:
    name = f"out.{lead.id}"
    if lead.way == "out":
        return solved.rush_A.get(name, steady), solved.listed_rush_A.get(name)
    runs = [r.id for r in solved.car.wiring.runs if f"unit.{lead.id}" in r.ends]
    return max((solved.rush_A.get(f"run.{r}", 0.0) for r in runs), default=steady), None


def lead_row(solved: Solved, lead: Lead) -> dict[str, Any]:
    """Judge one lead of the unit: feeds and grounds by their total, outputs by their contact.

    Source: limits of the unit's record; coil currents cold at 14.4 V (copper's line, FAA AC
    43.13-1B par. 11-66); making at three times the rating is common practice, no source.
    """
    car = solved.car
    amps = at_lead(solved, lead)
    if lead.way == "out" and f"out.{lead.id}" in solved.amps:
        amps = np.maximum(amps, np.abs(solved.column(f"out.{lead.id}")))
    peak = solved.worst(amps)
    limit = car.unit.limit_A(lead)
    value = peak.value
    rush, listed = _rush_at(solved, lead, value)
    says: list[str] = []
    coils = _coils_on(car, lead)
    transistor = lead.way == "out" and car.unit.is_transistor(lead)
    if transistor and coils:
        value = max(value, value * coil_A(1.0, 1.0, COLD_COIL_C))
    if limit is not None and value > limit + 1e-9:
        words = " with its coil cold" if transistor and coils and peak.value <= limit else ""
        says.append(
            f"{lead.id} carries {value:.2f} A{words}, {limit:g} A is its limit: "
            + ("put a relay between" if lead.way == "out" else "take a load off it")
        )
    if limit is not None and listed is not None and listed > MAKE_TIMES * limit and not transistor:
        says.append(f"{lead.id} makes {listed:.0f} A on switching on, its contact {limit:g} A")
    if limit is not None and listed is not None and transistor and listed > limit + 1e-9:
        says.append(f"{lead.id} gives {listed:.2f} A on switching on, {limit:g} A is its limit")
    if transistor and not lead.suppressed:
        bare = [n for n, part in coils if not part.suppressed and not _clamped(car, n)]
        if bare:
            says.append(
                f"{lead.id} is a transistor without suppressor and works the coil of "
                f"{', '.join(bare)}, which has none: a diode across the coil, cathode to the "
                "positive end"
            )
    kind = {"feed": "feed lead", "ground": "ground lead", "out": "output", "in": "input"}[lead.way]
    return _row(
        f"unit.{lead.id}",
        kind,
        value,
        peak.state,
        limit,
        max(rush, value),
        says,
        source="limits of the unit's record",
    )


def _release_ms(car: Car, name: str, part: Part) -> float | None:
    """How long it holds on after its coil is switched off, with the suppressor it has."""
    assert part.coil_ohm is not None
    assert part.drop_out_V is not None
    if part.drop_out_V >= RESTED_V:
        return None
    kind: Suppression = "diode" if part.suppressed or _clamped(car, name) else "none"
    return round(release_ms(RESTED_V, part.coil_ohm, part.drop_out_V, kind), 1)


def _clamped(car: Car, relay: str) -> bool:
    """Whether a diode, or a resistor of up to ten times its ohms, lies across a relay's coil."""
    wires = [(node_of(r.from_), node_of(r.to)) for r in car.wiring.runs]
    wires += [(f"{n}.a", f"{n}.b") for n, p in car.parts.items() if p.kind == "fuse"]
    joined = Joined(wires)
    most = 10 * (car.parts[relay].coil_ohm or 0.0)
    for name, part in car.parts.items():
        if part.kind == "diode":
            ends = (f"{name}.anode", f"{name}.cathode")
        elif part.kind == "resistor" and (part.ohm or 0.0) <= most:
            ends = (f"{name}.a", f"{name}.b")
        else:
            continue
        for one, other in (ends, ends[::-1]):
            if joined.together(one, f"{relay}.85") and joined.together(other, f"{relay}.86"):
                return True
    return False


def _coils_on(car: Car, lead: Lead) -> list[tuple[str, Part]]:
    """Relays whose coil hangs on an output through runs alone."""
    reach, todo = {f"unit.{lead.id}"}, [f"unit.{lead.id}"]
    while todo:
        at = todo.pop()
        for run in car.wiring.runs:
            if at in run.ends:
                other = run.to if run.from_ == at else run.from_
                if other not in reach and not other.startswith(("ground.", "vehicle.")):
                    reach.add(other)
                    todo.append(other)
    return [
        (n, p)
        for n, p in car.parts.items()
        if p.kind == "relay" and ({f"{n}.85", f"{n}.86"} & reach)
    ]


def relay_rows(solved: Solved, name: str, part: Part) -> list[dict[str, Any]]:
    """Judge a relay: both contacts, and the coil hot on a low battery.

    Source: ratings of the stock record; resting contact three quarters (relay application note);
    hot coil by copper's line, FAA AC 43.13-1B par. 11-66.
    """
    assert part.contact_A is not None
    assert part.coil_ohm is not None
    assert part.pull_in_V is not None
    out = []
    for pin in ("87", "87a"):
        peak = solved.peak(f"{name}.{pin}")
        if peak.value < 1e-6:
            continue
        limit = contact_limit_A(part.contact_A, pin)
        rush = max(solved.rush_A.get(f"{name}.{pin}", 0.0), peak.value)
        listed = solved.listed_rush_A.get(f"{name}.{pin}", 0.0)
        says = []
        if peak.value > limit:
            says.append(
                f"contact {name}.{pin} carries {peak.value:.1f} A, {limit:g} A is its limit: a "
                "larger relay, or two"
            )
        if listed > MAKE_TIMES * limit:
            says.append(f"contact {name}.{pin} makes {listed:.0f} A on switching on")
        out.append(
            _row(
                f"{name}.{pin}",
                "relay contact",
                peak.value,
                peak.state,
                limit,
                rush,
                says,
                source="relay application note (87a: three quarters of 87)",
            )
        )
    coil = next(c for c in solved.car.coils if c.part == name)
    volts = np.abs(solved.across_V(coil.a, coil.b))
    worst = solved.worst(volts)
    at_low = worst.value * REST_LOW_V / HOT_V
    wanted = pull_in_at_V(part.pull_in_V, HOT_COIL_C)
    says = []
    if worst.value >= 1.0 and at_low < wanted:
        says.append(
            f"{name} hot wants {wanted:.1f} V to pull in and gets {at_low:.1f} V from a battery at "
            f"{REST_LOW_V:g} V: thicker or shorter coil wires, or a relay that pulls in lower"
        )
    amps = coil_A(part.coil_ohm, worst.value, COLD_COIL_C)
    row = _row(
        f"{name}.coil",
        "coil",
        amps,
        worst.state,
        None,
        amps,
        says,
        volts_V=round(at_low, 2),
        release_ms=_release_ms(solved.car, name, part),
        pull_in_V=round(wanted, 2),
        source="copper's line, FAA AC 43.13-1B par. 11-66",
    )
    if not says and worst.value >= 1.0:
        row["says"] = f"hot it wants {wanted:.1f} V and has {at_low:.1f} V"
    if worst.value < 1.0:
        row["says"] = "never energised in any step, command or key position"
    out.append(row)
    return out


def part_rows(solved: Solved, name: str, part: Part) -> list[dict[str, Any]]:
    """Judge a diode, a resistor or an interface of the wiring.

    Source: ratings of the stock record; a diode works at three quarters of its rating at most
    (common practice, no source).
    """
    if part.kind == "diode":
        peak = solved.peak(f"{name}.diode")
        assert part.forward_A is not None
        rush = max(solved.rush_A.get(f"{name}.diode", 0.0), peak.value)
        says = []
        if peak.value > part.forward_A:
            says.append(
                f"diode {name} carries {peak.value:.2f} A, {part.forward_A:g} A is its limit"
            )
        return [
            _row(
                name,
                "diode",
                peak.value,
                peak.state,
                part.forward_A,
                rush,
                says,
                source="the stock record",
            )
        ]
    if part.kind == "resistor" and part.watt is not None and part.ohm:
        peak = solved.peak(f"{name}.resistor")
        limit = float((part.watt / part.ohm) ** 0.5)
        says = []
        if peak.value > limit:
            says.append(
                f"resistor {name} turns {peak.value**2 * part.ohm:.2f} W into heat, "
                f"{part.watt:g} W is its limit"
            )
        return [
            _row(
                name,
                "resistor",
                peak.value,
                peak.state,
                round(limit, 4),
                peak.value,
                says,
                source="the stock record, I²R",
            )
        ]
    return []


def contact_rows(solved: Solved) -> list[dict[str, Any]]:
    """Judge every connected lead of the unit and every part of the wiring.

    Source: see `lead_row`, `relay_rows`, `part_rows`.
    """
    car = solved.car
    wired = {e.removeprefix("unit.") for r in car.wiring.runs for e in r.ends if e[:5] == "unit."}
    out = [
        lead_row(solved, lead)
        for lead in car.job.unit.leads
        if lead.id in wired and lead.way != "in"
    ]
    for name, part in car.parts.items():
        out += (
            relay_rows(solved, name, part)
            if part.kind == "relay"
            else part_rows(solved, name, part)
        )
    return out
