"""The answer of `size`: every run, fuse and contact, starting and parked, worst first."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from startwright.car.build import Car, wire_up
from startwright.car.circuits import is_feed
from startwright.car.terminals import check_terminals
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.reports import SizeReport
from startwright.records.wiring import Wiring
from startwright.size.amps import Solved, solve_all
from startwright.size.built import Built, as_built
from startwright.size.contacts import contact_rows
from startwright.size.fuses import Behind, behind, fuse_row
from startwright.size.loads import fed_loads, unrecorded
from startwright.size.parked import parked
from startwright.size.protect import Feeds, Guard
from startwright.size.runs import UNFUSED_MOST_M, Carried, carried, run_row, warm_C
from startwright.size.single import INSULATION_C
from startwright.size.starting import starting

AMBIENT_C = (-40.0, 100.0)
BATTERY_C = (-40.0, 60.0)
SIZE_MM2 = (0.1, 107.0)


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
        Air around the harness, -40 to 100 °C (50 in an engine space).
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
        For a wiring that names what is not there, or a value outside its range.

    Source: docs/size.md; each row cites its own.
    """
    for name, value, (low, high) in (
        ("ambient_C", ambient_C, AMBIENT_C),
        ("battery_C", battery_C, BATTERY_C),
        ("charge", charge, (0.0, 1.0)),
    ):
        if not low <= value <= high:
            raise RecordError(f"{name} is {value:g}", name, f"a number from {low:g} to {high:g}")
    check_terminals(job, wiring)
    built, notes = as_built(job, wiring)
    whole = _whole(job, wiring, built, ambient_C)
    built = [replace(b, run=r) for b, r in zip(built, whole.runs, strict=True)]
    car = wire_up(job, whole, hold=False)
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
    notes += _notes(solved, guards, ambient_C)
    begin = starting(solved, battery_C, charge)
    stand = parked(solved, battery_C, charge)
    worst = _shorts(solved) + _worst(runs, fuses, contacts, begin, stand)
    return SizeReport(
        verdict="fails" if worst else "holds",
        runs=sorted(
            runs, key=lambda r: (r["holds"], r["id"] not in solved.shorted_by, -r["loading"])
        ),
        fuses=sorted(fuses, key=lambda r: (r["holds"], -r["share"])),
        contacts=sorted(contacts, key=lambda r: (r["holds"], -(r["share"] or 0.0))),
        starting=begin,
        parked=stand,
        worst=worst,
        notes=notes,
    )


def _whole(job: WholeJob, wiring: Wiring, built: list[Built], ambient_C: float) -> Wiring:
    """The wiring with every size and length filled in, each within what is reckoned.

    Raises `RecordError` for a size that is no wire, or insulation that the place is too hot for.
    """
    low, high = SIZE_MM2
    for k, b in enumerate(built):
        where = f"runs[{k}].size_mm2 ({b.run.id})"
        if not low <= b.size_mm2 <= high:
            raise RecordError(
                f"{b.size_mm2:g} mm² is no wire size", where, f"{low:g} to {high:g} mm²"
            )
        if not INSULATION_C[0] <= b.insulation_C <= INSULATION_C[1]:
            raise RecordError(
                f"wire of {b.size_mm2:g} mm² rated {b.insulation_C:g} °C",
                f"stock {job.stock.id!r}, insulation_C",
                "60 to 250 °C",
            )
        if b.insulation_C <= ambient_C:
            raise RecordError(
                f"at {ambient_C:g} °C around it, insulation of {b.insulation_C:g} °C carries "
                "nothing",
                f"run {b.run.id}",
                f"a place below {b.insulation_C:g} °C, or hotter insulation",
            )
    runs = [
        b.run.model_copy(update={"size_mm2": b.size_mm2, "length_m": b.length_m}) for b in built
    ]
    return wiring.model_copy(update={"runs": runs})


def _notes(solved: Solved, guards: dict[str, Guard | None], ambient_C: float) -> list[str]:
    """What was taken for granted, and what the answer cannot know."""
    notes = [
        f"amps at 14.4 V with {ambient_C:g} °C around the wires; wires of the unit that carry an "
        "ampere or more at once count as one bundle",
        "between battery and tap 2 m of the tap's size are taken, and 5 mΩ on the way back",
    ]
    unknown = sorted(i for i, g in guards.items() if g is not None and not g.fused)
    if unknown:
        notes.append(
            f"no fuse is recorded before {', '.join(unknown)}: find the car's fuse and write it "
            "into the vehicle (`fuse_A`)"
        )
    usual, none = unrecorded(solved)
    if usual:
        notes.append(
            f"no load is recorded for {', '.join(usual)}: a usual one is taken; measure it with a "
            "clamp meter, engine running (`load_A`)"
        )
    if none:
        notes.append(
            f"no load is recorded for {', '.join(none)}: its amps are not reckoned; measure them "
            "(`load_A`)"
        )
    if solved.answer.shorted.any():
        notes.append(
            f"{int(solved.answer.shorted.sum())} of {len(solved.states)} states are a dead short: "
            "no amps are given for them"
        )
    if solved.chatters:
        notes.append("a relay does not come to rest; its amps are those of the last round")
    return notes


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
    taps = {f"vehicle.{c.id}" for c in job.vehicle.of("battery") if is_feed(c)}
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
        if guard is None or not guard.fused or _short_tap(solved.car, b):
            continue
        if b.run.id in solved.shorted_by:  # to be parted: no fuse or size makes it right
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


def _short_tap(car: Car, b: Built) -> bool:
    """Whether a run is the short lead from a tap to the fuse that protects what follows.

    ABYC E-11: a fuse within 7 in of the tap (from memory).
    """
    fused = any(
        (part := car.parts.get(end.partition(".")[0])) is not None and part.kind == "fuse"
        for end in b.run.ends
    )
    taps = any(end.startswith("vehicle.") for end in b.run.ends)
    return fused and taps and b.length_m <= UNFUSED_MOST_M


def _shorts(solved: Solved) -> list[str]:
    """The dead short, before all that can be sized."""
    if not solved.answer.shorted.any():
        return []
    at = int(solved.answer.shorted.argmax())
    ways = ", ".join(solved.shorted_by)
    return [
        f"battery and ground are joined without a load ({solved.states.says[at]})"
        + (f" by {ways}" if ways else "")
        + ": disconnect the battery and find it; nothing is reckoned for such a state"
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
