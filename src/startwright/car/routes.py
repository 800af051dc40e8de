"""Ways through the wiring: from a circuit back to the unit, and from place to place in the car."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from startwright.car.build import Car
from startwright.records.vehicle import Vehicle


def guilty_runs(car: Car, name: str) -> tuple[list[str], list[str]]:
    """The runs, and the parts between, on the shortest way from a circuit or part to the unit.

    Parameters
    ----------
    name : str
        A circuit's id, a part's name, ``run <id>`` or ``unit.<lead>``.

    Returns
    -------
    runs, parts : list of str
        In order from the circuit; empty where nothing is connected.
    """
    if name.startswith("run "):
        return [name.removeprefix("run ")], []
    starts = [
        t
        for t in (f"vehicle.{name}", f"vehicle.{name}.load", f"vehicle.{name}.source", name)
        if t in car.number
    ]
    if name in car.parts:
        starts = [f"{name}.{pin}" for pin in car.parts[name].pin_names]
    links: dict[str, list[tuple[str, str]]] = {}
    for wire in car.wiring.runs:
        a, b = wire.ends
        links.setdefault(a, []).append((b, wire.id))
        links.setdefault(b, []).append((a, wire.id))
    came: dict[str, tuple[str, str] | None] = dict.fromkeys(starts)
    todo = deque(starts)
    outs = {f"unit.{lead.id}" for lead in car.unit.out_leads}
    last = next((t for t in starts if t in outs), None)
    while todo and last is None:
        at = todo.popleft()
        onward = list(links.get(at, ()))
        owner, _, pin = at.partition(".")
        if owner in car.parts:
            pins = sorted(car.parts[owner].pin_names, key=lambda p: (p == "87a", p in ("85", "86")))
            onward += [(f"{owner}.{p}", "") for p in pins if p != pin]
        for to, run in onward:
            if to in came or to.startswith("ground."):
                continue
            came[to] = (at, run)
            if to in outs:
                last = to
                break
            todo.append(to)
    if last is None:
        direct = [r.id for r in car.wiring.runs if any(e in starts for e in r.ends)]
        return direct, []
    runs: list[str] = []
    parts: list[str] = []
    at = last
    while (step := came[at]) is not None:
        before, run = step
        if run:
            runs.append(run)
        for end in (before, at):
            owner = end.partition(".")[0]
            if owner in car.parts and owner not in parts:
                parts.append(owner)
        at = before
    return runs[::-1], parts[::-1]


def distance_m(vehicle: Vehicle, start: str, end: str) -> float | None:
    """Length along the usual way between two places, m; None where no way is known."""
    way = shortest_way(vehicle, start, end)
    return None if way is None else sum(length for _, length in way)


def shortest_way(vehicle: Vehicle, start: str, end: str) -> list[tuple[str, float]] | None:
    """The places passed after `start` and the length to each, along the shortest way (Dijkstra)."""
    best: dict[str, tuple[float, str]] = {start: (0.0, "")}
    open_: set[str] = {start}
    while open_:
        at = min(open_, key=lambda p: (best[p][0], p))
        if at == end:
            break
        open_.remove(at)
        for to, length in _next_to(vehicle, at):
            total = best[at][0] + length
            if to not in best or total < best[to][0] - 1e-12:
                best[to] = (total, at)
                open_.add(to)
    if end not in best:
        return None
    out = []
    at = end
    while at != start:
        total, before = best[at]
        out.append((at, total - best[before][0]))
        at = before
    return out[::-1]


def _next_to(vehicle: Vehicle, place: str) -> Iterable[tuple[str, float]]:
    for way in vehicle.places:
        if way.from_ == place:
            yield way.to, way.length_m
        elif way.to == place:
            yield way.from_, way.length_m
