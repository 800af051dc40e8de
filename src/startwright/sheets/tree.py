"""The way the harness lies in the car: a tree of places that grows from the unit."""

from __future__ import annotations

import heapq
from collections.abc import Iterable
from dataclasses import dataclass, field

from startwright.records import Vehicle, WholeJob, Wiring

NOWHERE = "place not known"


@dataclass(frozen=True)
class Leg:
    """One leg of the tree: from a place to the next one farther from the unit."""

    parent: str | None
    length_m: float | None
    via: tuple[str, ...] = ()


@dataclass
class PlaceTree:
    """The places that a wiring uses, as a tree from the unit's own place.

    Attributes
    ----------
    root : str
        The unit's place.
    legs : dict
        For each place its leg; the root's has no parent and length 0.
    children : dict
        For each place the next ones, nearest first.
    """

    root: str
    legs: dict[str, Leg]
    children: dict[str, list[str]] = field(default_factory=dict)

    def path(self, place: str) -> list[str]:
        """From the root to `place`, both included."""
        out = [place]
        while (parent := self.legs[out[-1]].parent) is not None:
            out.append(parent)
        return out[::-1]

    def distance_m(self, place: str) -> float | None:
        """Metres from the unit along the harness; `None` where a leg's length is not known."""
        total = 0.0
        for step in self.path(place):
            length = self.legs[step].length_m
            if length is None:
                return None
            total += length
        return total


def _graph(vehicle: Vehicle) -> dict[str, dict[str, float]]:
    graph: dict[str, dict[str, float]] = {}
    for way in vehicle.places:
        if way.from_ == way.to:
            continue
        for a, b in ((way.from_, way.to), (way.to, way.from_)):
            best = graph.setdefault(a, {}).get(b)
            graph[a][b] = way.length_m if best is None else min(best, way.length_m)
    return graph


def _shortest(graph: dict[str, dict[str, float]], start: str) -> dict[str, tuple[float, str]]:
    """Distance and previous place for every place that can be reached (Dijkstra)."""
    found: dict[str, tuple[float, str]] = {}
    heap: list[tuple[float, str, str]] = [(0.0, start, "")]
    while heap:
        far, place, before = heapq.heappop(heap)
        if place in found:
            continue
        found[place] = (far, before)
        for other, length in sorted(graph.get(place, {}).items()):
            if other not in found:
                heapq.heappush(heap, (round(far + length, 9), other, place))
    return found


def unit_place(job: WholeJob, wiring: Wiring) -> str:
    """Where the unit sits: by the planner's own rule, from the circuits this wiring connects."""
    from startwright.plan.places import unit_place as planned  # late: it brings the planner along

    known = {c.id for c in job.vehicle.circuits}
    touched = [
        circuit
        for run in wiring.runs
        for terminal in run.ends
        if terminal.startswith("vehicle.") and (circuit := terminal.split(".")[1]) in known
    ]
    return planned(job, touched) or NOWHERE


def place_tree(vehicle: Vehicle, root: str, used: Iterable[str]) -> PlaceTree:
    """The shortest-path tree from `root` that reaches every place used, and no other.

    A place that nothing ends at and that only hands on to one other is folded into the leg and
    named there (`via`). A place without a way to it hangs at the root by a leg of unknown length.
    """
    found = _shortest(_graph(vehicle), root)
    used_list = list(dict.fromkeys(used))
    wanted = set(used_list) | {root}
    parent: dict[str, str] = {}
    length: dict[str, float | None] = {root: 0.0}
    for place in used_list:
        if place not in found:
            if place != root:
                parent[place], length[place] = root, None
            continue
        step = place
        while step != root and step not in parent:
            far, before = found[step]
            parent[step] = before
            length[step] = round(far - found[before][0], 6)
            step = before
    children: dict[str, list[str]] = {}
    for place, before in parent.items():
        children.setdefault(before, []).append(place)
    via: dict[str, tuple[str, ...]] = {}
    for place in [p for p in parent if p not in wanted]:
        if len(children.get(place, [])) == 1:
            (child,) = children.pop(place)
            before = parent.pop(place)
            parent[child] = before
            here, there = length.pop(place), length[child]
            length[child] = None if here is None or there is None else round(here + there, 6)
            via[child] = (*via.pop(place, ()), place, *via.get(child, ()))
            children[before] = [child if c == place else c for c in children[before]]
    legs = {root: Leg(None, 0.0)}
    for place, before in parent.items():
        legs[place] = Leg(before, length[place], via.get(place, ()))
    tree = PlaceTree(root, legs)
    for before, below in children.items():
        tree.children[before] = sorted(
            below, key=lambda p: (legs[p].length_m is None, legs[p].length_m or 0.0, p)
        )
    return tree
