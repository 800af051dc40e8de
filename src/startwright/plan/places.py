"""Where things sit and how long the runs between them are, along the usual way."""

from __future__ import annotations

import heapq
from collections.abc import Iterable

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


def shortest_m(vehicle: Vehicle, start: str) -> dict[str, float]:
    """Shortest way from a place to every place that can be reached from it, in metres.

    Parameters
    ----------
    vehicle : Vehicle
        Its `places` are ways in both directions.
    start : str
        The place to start from.
    """
    ways: dict[str, list[tuple[str, float]]] = {}
    for w in vehicle.places:
        ways.setdefault(w.from_, []).append((w.to, w.length_m))
        ways.setdefault(w.to, []).append((w.from_, w.length_m))
    done: dict[str, float] = {}
    heap = [(0.0, start)]
    while heap:
        far, place = heapq.heappop(heap)
        if place in done:
            continue
        done[place] = far
        for to, length_m in ways.get(place, []):
            if to not in done:
                heapq.heappush(heap, (far + length_m, to))
    return done


def way_m(vehicle: Vehicle, a: str | None, b: str | None) -> float:
    """Length of the usual way between two places; `UNKNOWN_M` where none is on record."""
    if a is None or b is None:
        return UNKNOWN_M
    return shortest_m(vehicle, a).get(b, UNKNOWN_M)


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
    wanted = [v.circuit(c).place for c in circuits]
    if not candidates:
        return next((p for p in wanted if p is not None), None)
    inside = [p for p in candidates if not in_engine_bay(p)] or candidates

    def total(place: str) -> float:
        far = shortest_m(v, place)
        return sum(far.get(p, UNKNOWN_M) for p in wanted if p is not None)

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
