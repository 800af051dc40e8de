"""What each run is taken to be: size, length, insulation; said where it had to be assumed."""

from __future__ import annotations

from dataclasses import dataclass

from startwright.car.routes import distance_m
from startwright.records.job import WholeJob
from startwright.records.wiring import Run, Wiring

DEFAULT_SIZE_MM2 = 1.0
DEFAULT_LENGTH_M = 1.0
DEFAULT_INSULATION_C = 105.0


@dataclass(frozen=True)
class Built:
    """One run as it is reckoned."""

    run: Run
    size_mm2: float
    length_m: float
    insulation_C: float


def _place(job: WholeJob, wiring: Wiring, terminal: str) -> str | None:
    owner, _, rest = terminal.partition(".")
    if owner == "vehicle":
        circuit = rest.partition(".")[0]
        return next((c.place for c in job.vehicle.circuits if c.id == circuit), None)
    if owner == "unit":
        return job.places_allowed[0] if job.places_allowed else None
    if owner == "ground":
        return None
    return next((p.place for p in wiring.parts if p.id == owner), None)


def way_m(job: WholeJob, one: str | None, other: str | None) -> float | None:
    """Give the length of the usual way between two places of the vehicle.

    Parameters
    ----------
    job : WholeJob
    one, other : str or None
        Names of places as the vehicle record has them.

    Returns
    -------
    float or None
        Metres; None where either place or the way is not known. The same place counts 0.3 m.

    Source: the vehicle record's `places`; shortest way by Dijkstra's algorithm.
    """
    if one is None or other is None:
        return None
    if one == other:
        return 0.3
    return distance_m(job.vehicle, one, other)


def _size_mm2(job: WholeJob, run: Run) -> tuple[float, str]:
    for end in run.ends:
        owner, _, rest = end.partition(".")
        if owner == "unit":
            size = job.unit.lead(rest).size_mm2
            if size is not None:
                return size, f"the lead {rest}"
    for end in run.ends:
        owner, _, rest = end.partition(".")
        if owner == "vehicle":
            size = job.vehicle.circuit(rest.partition(".")[0]).size_mm2
            if size is not None:
                return size, f"the circuit {rest}"
    return DEFAULT_SIZE_MM2, "the package's default"


def _insulation_C(job: WholeJob, size_mm2: float) -> float:
    found = []
    for part in job.stock.parts:
        if part.kind != "wire" or part.insulation_C is None:
            continue
        sizes = part.size_mm2 if isinstance(part.size_mm2, list) else [part.size_mm2]
        if size_mm2 in sizes:
            found.append(part.insulation_C)
    return min(found) if found else DEFAULT_INSULATION_C


def as_built(job: WholeJob, wiring: Wiring) -> tuple[list[Built], list[str]]:
    """Give every run with its size, length and insulation, and what was assumed.

    Parameters
    ----------
    job : WholeJob
    wiring : Wiring

    Returns
    -------
    list of Built, list of str
        In the order of the wiring; notes in words.

    Source: none, the records; defaults of this package (1 m, 1.0 mm², 105 °C) where they are
    silent.
    """
    out, assumed_size, assumed_length = [], [], []
    for run in wiring.runs:
        size = run.size_mm2
        if size is None:
            size, taken = _size_mm2(job, run)
            assumed_size.append(f"{run.id} {size:g} mm² as {taken}")
        length = run.length_m
        if length is None:
            ends = [_place(job, wiring, end) for end in run.ends]
            length = way_m(job, ends[0], ends[1]) or DEFAULT_LENGTH_M
            assumed_length.append(f"{run.id} {length:g} m")
        out.append(Built(run, size, length, _insulation_C(job, size)))
    notes = []
    if assumed_size:
        notes.append("no size given, taken: " + ", ".join(assumed_size))
    if assumed_length:
        notes.append("no length given, taken by the places or 1 m: " + ", ".join(assumed_length))
    return out, notes
