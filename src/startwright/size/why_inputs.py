"""The record lines that went into a row of `size`: runs, leads, parts, articles, circuits."""

from __future__ import annotations

from typing import Any

from startwright.records.job import WholeJob
from startwright.records.lines import Lines, Point
from startwright.records.unit import Lead
from startwright.records.wiring import Wiring


def _run_says(wiring: Wiring, id: str) -> str:
    run = next(r for r in wiring.runs if r.id == id)
    size = f"{run.size_mm2:g} mm²" if run.size_mm2 else "no size given"
    length = f"{run.length_m:g} m" if run.length_m else "no length given"
    return f"{run.from_} → {run.to}, {size}, {length}"


def run_inputs(job: WholeJob, wiring: Wiring, row: dict[str, Any], lines: Lines) -> list[Point]:
    """Give what went into the row of a run.

    Source: none, the records.
    """
    id = str(row["id"])
    out: list[Point | None] = [
        Point(f"run {id}", _run_says(wiring, id), lines.run(wiring, id)),
        _wire_input(job, row, lines),
    ]
    for end in (str(row["from"]), str(row["to"])):
        out += _end_inputs(job, wiring, end, lines)
    fed = row.get("feeds")
    if fed is not None:
        out.append(_load_input(job, str(fed), lines))
    if row["fuse"] is not None:
        out.append(_fuse_input(job, wiring, str(row["fuse"]), lines))
    once: dict[str, Point] = {}
    for point in out:
        if point is not None:
            once.setdefault(point.what, point)
    return list(once.values())


def _wire_input(job: WholeJob, row: dict[str, Any], lines: Lines) -> Point:
    """The wire on the shelf whose insulation was taken."""
    for part in job.stock.parts:
        sizes = part.size_mm2 if isinstance(part.size_mm2, list) else [part.size_mm2]
        if (
            part.kind == "wire"
            and row["size_mm2"] in sizes
            and part.insulation_C == row["insulation_C"]
        ):
            says = f"insulation stands {part.insulation_C:g} °C"
            return Point(f"article {part.id}", says, lines.article(job, part.id))
    says = f"no wire of {row['size_mm2']:g} mm² says its insulation: 105 °C taken"
    return Point("wire", says, lines.where("stock", "parts"), missing=True)


def _end_inputs(job: WholeJob, wiring: Wiring, end: str, lines: Lines) -> list[Point | None]:
    owner, _, rest = end.partition(".")
    if owner == "vehicle":
        return [_load_input(job, rest.partition(".")[0], lines)]
    if owner == "unit":
        lead = job.unit.lead(rest)
        limit = _limit(lead)
        fuse = f", fuse {lead.fuse_A:g} A" if lead.fuse_A is not None else ""
        return [Point(f"lead {rest}", f"{lead.way}{limit}{fuse}", lines.lead(job, rest))]
    fitted = next((p for p in wiring.parts if p.id == owner), None)
    if fitted is None:
        return []
    return [Point(f"part {owner}", fitted.of, lines.part(wiring, owner))]


def _limit(lead: Lead) -> str:
    if lead.limit_A is None:
        return ""
    if isinstance(lead.limit_A, dict):
        return ", limit " + ", ".join(f"{a:g} A at {level}" for level, a in lead.limit_A.items())
    return f", limit {lead.limit_A:g} A"


def _load_input(job: WholeJob, id: str, lines: Lines) -> Point | None:
    circuit = job.vehicle.circuit(id)
    where = lines.circuit(job, id)
    how = f" ({circuit.known.how})" if circuit.known is not None else ""
    if circuit.load_A is not None:
        return Point(f"circuit {id}", f"load {circuit.load_A:g} A{how}", where)
    if circuit.fuse_A is not None:
        return Point(f"circuit {id}", f"the car's fuse {circuit.fuse_A:g} A{how}", where)
    return Point(f"circuit {id}", f"{circuit.function}, no load recorded{how}", where)


def fuse_inputs(job: WholeJob, wiring: Wiring, row: dict[str, Any], lines: Lines) -> list[Point]:
    """Give what went into the row of a fuse: it, and the runs that hang on it.

    Source: none, the records.
    """
    runs = [Point(f"run {r}", _run_says(wiring, r), lines.run(wiring, r)) for r in row["runs"]]
    fuse = _fuse_input(job, wiring, str(row["id"]), lines)
    return runs if fuse is None else [fuse, *runs]


def _fuse_input(job: WholeJob, wiring: Wiring, name: str, lines: Lines) -> Point | None:
    if name.startswith("unit."):
        id = name.removeprefix("unit.")
        lead = job.unit.lead(id)
        return Point(f"lead {id}", f"fuse {lead.fuse_A or 0:g} A", lines.lead(job, id))
    if name.startswith("the car's fuse of "):
        return _load_input(job, name.removeprefix("the car's fuse of "), lines)
    fitted = next((p for p in wiring.parts if p.id == name), None)
    if fitted is None:
        return None
    return Point(f"part {name}", fitted.of, lines.part(wiring, name))


def contact_inputs(job: WholeJob, wiring: Wiring, id: str, lines: Lines) -> list[Point]:
    """Give what went into the row of a lead, a contact or a part.

    Source: none, the records.
    """
    owner = id.partition(".")[0]
    out: list[Point | None] = []
    if owner == "unit":
        out += _end_inputs(job, wiring, id, lines)
    fitted = next((p for p in wiring.parts if p.id == owner), None)
    if fitted is not None:
        out.append(Point(f"part {owner}", fitted.of, lines.part(wiring, owner)))
        out.append(Point(f"article {fitted.of}", "its ratings", lines.article(job, fitted.of)))
    for run in wiring.runs:
        if id in run.ends or (owner != "unit" and any(e.startswith(f"{owner}.") for e in run.ends)):
            out.append(Point(f"run {run.id}", _run_says(wiring, run.id), lines.run(wiring, run.id)))
    return [p for p in out if p is not None]
