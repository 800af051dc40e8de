"""The answer of `size`: every run, fuse and contact, starting and parked, worst first."""

from __future__ import annotations

from typing import Any

from startwright.car.build import Car, wire_up
from startwright.records.job import WholeJob
from startwright.records.reports import SizeReport
from startwright.records.wiring import Wiring
from startwright.size.amps import Solved, solve_all
from startwright.size.built import Built, as_built
from startwright.size.contacts import contact_rows
from startwright.size.fuses import Behind, behind, fuse_row
from startwright.size.loads import fed_loads
from startwright.size.parked import parked
from startwright.size.protect import Feeds, Guard
from startwright.size.runs import Carried, carried, run_row, warm_C
from startwright.size.starting import starting


def size(
    job: WholeJob,
    wiring: Wiring,
    *,
    ambient_C: float = 30.0,
    battery_C: float = -18.0,
    charge: float = 1.0,
) -> SizeReport:
    """Will it hold: every run, fuse and contact in its worst state.

    Parameters
    ----------
    job : WholeJob
    wiring : Wiring
        From whatever hand.
    ambient_C : float
        Air around the harness, °C.
    battery_C : float
        Battery and engine while cranking, -40 to 60 °C.
    charge : float
        State of charge, 0 to 1.

    Returns
    -------
    SizeReport
        `fails` where any row does; `worst` says what to change, worst first.

    Raises
    ------
    RecordError
        For a wiring that names what is not there.

    Source: docs/size.md; each row cites its own.
    """
    car = wire_up(job, wiring, hold=False)
    built, notes = as_built(job, wiring)
    solved, one = _warm(car, built, ambient_C)
    feeds = Feeds(car, solved.network)
    guards = {b.run.id: feeds.guard(b.run.id, _ohm(solved, b)) for b in built}
    loads = fed_loads(solved)
    runs = [
        run_row(solved, one[b.run.id], guards[b.run.id], loads, ambient_C, _unfused(b, guards, job))
        for b in built
    ]
    fuses = _fuses(solved, built, one, guards, ambient_C, battery_C)
    contacts = contact_rows(solved)
    begin = starting(solved, battery_C, charge)
    stand = parked(solved, battery_C, charge)
    if solved.chatters:
        notes.append("a relay does not come to rest; its amps are those of the last round")
    worst = _worst(runs, fuses, contacts, begin, stand)
    return SizeReport(
        verdict="fails" if worst else "holds",
        runs=sorted(runs, key=lambda r: (r["holds"], -r["loading"])),
        fuses=sorted(fuses, key=lambda r: (r["holds"], -r["share"])),
        contacts=sorted(contacts, key=lambda r: (r["holds"], -(r["share"] or 0.0))),
        starting=begin,
        parked=stand,
        worst=worst,
        notes=notes,
    )


def _warm(car: Car, built: list[Built], ambient_C: float) -> tuple[Solved, dict[str, Carried]]:
    """Solved with every run at the temperature its own current gives it."""
    first = carried(solve_all(car, built), built)
    hot = {run: warm_C(c, ambient_C)[0] for run, c in first.items()}
    temperatures = {b.run.id: min(hot[b.run.id] or b.insulation_C, b.insulation_C) for b in built}
    solved = solve_all(car, built, temperatures)
    return solved, carried(solved, built)


def _ohm(solved: Solved, b: Built) -> float:
    return next(r.ohm for r in solved.network.resistors if r.name == f"run.{b.run.id}")


def _unfused(b: Built, guards: dict[str, Guard | None], job: WholeJob) -> bool:
    """Whether a run is tapped from a battery circuit before which no fuse is known."""
    guard = guards[b.run.id]
    if guard is None or guard.fused:
        return False
    taps = {f"vehicle.{c.id}" for c in job.vehicle.of("battery")}
    return any(end.removesuffix(".source").removesuffix(".load") in taps for end in b.run.ends)


def _fuses(
    solved: Solved,
    built: list[Built],
    one: dict[str, Carried],
    guards: dict[str, Guard | None],
    ambient_C: float,
    battery_C: float,
) -> list[dict[str, Any]]:
    hanging: dict[tuple[str, float], list[Behind]] = {}
    for b in built:
        guard = guards[b.run.id]
        if guard is None or not guard.fused:
            continue
        found = behind(solved, one[b.run.id], guard, ambient_C, battery_C)
        hanging.setdefault((guard.name, guard.rating_A), []).append(found)
    for name, part in solved.car.parts.items():
        if part.kind == "fuse" and part.rating_A is not None:
            hanging.setdefault((name, part.rating_A), [])
    for lead in solved.car.job.unit.leads:
        if lead.way == "feed" and lead.fuse_A is not None and lead.id in solved.car.unit.wired:
            hanging.setdefault((f"unit.{lead.id}", lead.fuse_A), [])
    return [
        fuse_row(solved, name, rating, runs, name.startswith("the car's fuse"), ambient_C)
        for (name, rating), runs in hanging.items()
    ]


def _worst(
    runs: list[dict[str, Any]],
    fuses: list[dict[str, Any]],
    contacts: list[dict[str, Any]],
    begin: dict[str, Any],
    stand: dict[str, Any],
) -> list[str]:
    """What fails and what to change, the worst first."""
    said: list[tuple[float, str]] = []
    said += [(r["loading"], f"run {r['id']}: {r['says']}") for r in runs if not r["holds"]]
    said += [(r["share"], f"fuse {r['what']}: {r['says']}") for r in fuses if not r["holds"]]
    said += [
        (r["share"] or 1.0, f"{r['kind']} {r['id']}: {r['says']}")
        for r in contacts
        if not r["holds"]
    ]
    if not begin["holds"]:
        said.append((1.0, begin["says"]))
    if not stand["holds"]:
        said.append((0.5, stand["says"]))
    return [text for _, text in sorted(said, key=lambda s: -s[0])]
