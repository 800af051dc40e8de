"""Where things sit and how long the runs between them are, along the usual way."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from startwright.car.routes import distance_m
from startwright.records.job import WholeJob
from startwright.records.vehicle import Vehicle

LOOP_M = 0.15
"""Service loop of a run that goes to the car (common practice, no source)."""
BENCH_M = 0.3
"""A run between the unit and a part mounted beside it (common practice, no source)."""
FUSE_M = 0.15
"""From a battery wire to the fuse that protects what follows (near it: ABYC E-11 says 7 in)."""
UNKNOWN_M = 1.5
"""A run whose way is not on record (assumed)."""


def way_m(vehicle: Vehicle, a: str | None, b: str | None) -> float:
    """Length of the usual way between two places; `UNKNOWN_M` where none is on record."""
    if a is None or b is None:
        return UNKNOWN_M
    far = distance_m(vehicle, a, b)
    return UNKNOWN_M if far is None else far


def unit_place(job: WholeJob, circuits: Iterable[str]) -> str | None:
    """Where the unit is best mounted: the allowed place from which all runs together are shortest.

    Parameters
    ----------
    job : WholeJob
        Its vehicle's places, and the places it allows.
    circuits : iterable of str
        The circuits that are connected, once for each run.
    """
    v = job.vehicle
    named = dict.fromkeys(p for w in v.places for p in (w.from_, w.to))
    candidates = [p for p in named if job.places_allowed is None or p in job.places_allowed]
    wanted = Counter(p for c in circuits if (p := v.circuit(c).place) is not None)
    if not candidates:
        return next(iter(wanted), None)
    inside = [p for p in candidates if not in_engine_bay(p)] or candidates

    def total(place: str) -> float:
        return sum(n * way_m(v, place, p) for p, n in wanted.items())

    return min(inside, key=lambda p: (round(total(p), 6), p))


def in_engine_bay(place: str) -> bool:
    """Whether a place, by its name, lies in the engine bay."""
    return any(word in place.lower() for word in ("engine", "hood", "bulkhead"))


def switch_place(job: WholeJob, sense: str, unit_at: str | None) -> str | None:
    """Where a switch of its own is mounted: a hood switch in the engine bay, others by the unit."""
    if sense == "hood":
        named = dict.fromkeys(p for w in job.vehicle.places for p in (w.from_, w.to))
        return next((p for p in named if in_engine_bay(p)), unit_at)
    return unit_at
