"""Which fuse a run hangs on, and what a dead short in it draws."""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from startwright.car.build import Car
from startwright.car.circuits import BATTERY, GROUND
from startwright.network.elements import Network
from startwright.physics.wire import resistance_ohm

CAR_WIRE_M = 2.0
"""Car wiring taken between battery and the tapped circuit (assumed, no source)."""
LIMITING_OHM = 1.0
"""Resistors of an ohm and more limit what a short can draw: nothing hard comes through them."""


@dataclass(frozen=True)
class Guard:
    """The fuse that a run hangs on: its rating (inf where unfused), its name, the way's ohms."""

    rating_A: float
    name: str
    near_ohm: float
    far_ohm: float

    @property
    def fused(self) -> bool:
        """Whether any fuse stands before the run."""
        return self.rating_A < inf


@dataclass(frozen=True)
class _Edge:
    to: int
    ohm: float
    cap_A: float
    cap_name: str
    run: str | None


class Feeds:
    """The ways along which hard current can reach a node: runs, fuses, contacts, diodes forward.

    An output of the unit is passed from its feed to its lead alone: what comes back through it has
    a fuse of its own.

    Source: none, graph of the network; ratings from the records.
    """

    def __init__(self, car: Car, network: Network) -> None:
        self.car = car
        self._node_cap: dict[int, tuple[float, str]] = {}
        for lead in car.job.unit.leads:
            if lead.way == "feed" and lead.fuse_A is not None:
                at = car.number.get(f"unit.{lead.id}")
                if at is not None:
                    self._node_cap[at] = (lead.fuse_A, f"unit.{lead.id}")
        self._ground = car.number[GROUND]
        self._battery = car.number[BATTERY]
        self._circuit = {c.id: c for c in car.job.vehicle.circuits}
        self._out: dict[int, list[_Edge]] = {}
        self._ends: dict[str, tuple[int, int]] = {}
        for r in network.resistors:
            cap, name, ohm, run = inf, "", r.ohm, None
            if r.name.startswith("run."):
                run = r.name[4:]
                self._ends[run] = (r.a, r.b)
            elif r.name.endswith(".fuse"):
                part = r.name[:-5]
                cap, name = car.parts[part].rating_A or inf, part
            elif r.name.startswith("vehicle.") and r.name.endswith("#feed"):
                cap, name = self._car_fuse(r.name)
                ohm = self._car_ohm(r.name)
            elif r.ohm >= LIMITING_OHM or r.name.startswith(("coil.", "vehicle.")):
                continue
            self._join(r.a, r.b, ohm, cap, name, run)
        for c in network.contacts:
            cap, name, ohm = inf, "", c.ohm
            if c.name.startswith("vehicle."):
                cap, name = self._car_fuse(c.name)
                ohm += self._car_ohm(c.name)
            if c.name.startswith("out."):
                self._out.setdefault(c.a, []).append(_Edge(c.b, ohm, cap, name, None))
            else:
                self._join(c.a, c.b, ohm, cap, name, None)
        for d in network.diodes:
            self._out.setdefault(d.anode, []).append(
                _Edge(d.cathode, max(d.series_ohm, 0.02), inf, "", None)
            )

    def _join(self, a: int, b: int, ohm: float, cap: float, name: str, run: str | None) -> None:
        self._out.setdefault(a, []).append(_Edge(b, ohm, cap, name, run))
        self._out.setdefault(b, []).append(_Edge(a, ohm, cap, name, run))

    def _of(self, element: str) -> str:
        return element.removeprefix("vehicle.").partition("#")[0]

    def _car_fuse(self, element: str) -> tuple[float, str]:
        circuit = self._circuit.get(self._of(element))
        if circuit is None or circuit.fuse_A is None:
            return inf, ""
        return circuit.fuse_A, f"the car's fuse of {circuit.id}"

    def _car_ohm(self, element: str) -> float:
        circuit = self._circuit.get(self._of(element))
        size = circuit.size_mm2 if circuit is not None and circuit.size_mm2 else 4.0
        return resistance_ohm(min(max(size, 0.1), 107.0), CAR_WIRE_M)

    def _reach(self, without: str) -> tuple[Mapping[int, tuple[float, str]], Mapping[int, float]]:
        """Largest fuse that lets current to each node, and least ohms to it, without one run."""
        caps: dict[int, tuple[float, str]] = {}
        heap: list[tuple[float, str, int]] = [(-inf, "", self._battery)]
        while heap:
            negative, name, at = heapq.heappop(heap)
            cap = -negative
            if at in self._node_cap and self._node_cap[at][0] < cap:
                cap, name = self._node_cap[at]
            if at in caps:
                continue
            caps[at] = (cap, name)
            if at == self._ground:
                continue
            for e in self._out.get(at, ()):
                if e.run == without or e.to in caps:
                    continue
                low = e.cap_A <= cap and e.cap_A < inf
                heapq.heappush(
                    heap, (-(e.cap_A if low else cap), e.cap_name if low else name, e.to)
                )
        ohms: dict[int, float] = {}
        queue: list[tuple[float, int]] = [(0.0, self._battery)]
        while queue:
            ohm, at = heapq.heappop(queue)
            if at in ohms:
                continue
            ohms[at] = ohm
            if at == self._ground:
                continue
            for e in self._out.get(at, ()):
                if e.run != without and e.to not in ohms:
                    heapq.heappush(queue, (ohm + e.ohm, e.to))
        return caps, ohms

    def guard(self, run: str, run_ohm: float) -> Guard | None:
        """Give the fuse that a run hangs on and the ohms before it.

        None where no hard current can reach either end (ground wires, signals behind a pull-up).
        The fuse of a feed lead protects the run that ends at it.

        Source: none, the network's graph.
        """
        a, b = self._ends[run]
        caps, ohms = self._reach(run)
        best: Guard | None = None
        for near, far in ((a, b), (b, a)):
            if near == self._ground or near not in caps:
                continue
            cap, name = caps[near]
            if far in self._node_cap and self._node_cap[far][0] < cap:
                cap, name = self._node_cap[far]
            if near in self._node_cap and self._node_cap[near][0] < cap:
                cap, name = self._node_cap[near]
            found = Guard(cap, name, ohms[near], ohms[near] + run_ohm)
            if best is None or found.rating_A > best.rating_A:
                best = found
        return best
