"""Floating and shorted, against a plain search of every state."""

from __future__ import annotations

import heapq

import numpy as np
import pytest
from network.nets import HELD_V, random_network, random_states

from startwright.network import paths
from startwright.network.elements import Network


def cheapest(net: Network, closed: np.ndarray, source: int) -> dict[int, float]:
    """Dijkstra's shortest ways in ohms from `source`."""
    ways: dict[int, list[tuple[int, float]]] = {}
    both = [(r.a, r.b, r.ohm) for r in net.resistors]
    both += [(k.a, k.b, k.ohm) for c, k in enumerate(net.contacts) if closed[c]]
    for a, b, ohm in both:
        ways.setdefault(a, []).append((b, ohm))
        ways.setdefault(b, []).append((a, ohm))
    for d in net.diodes:
        ways.setdefault(d.anode, []).append((d.cathode, d.series_ohm))
    best: dict[int, float] = {}
    heap = [(0.0, source)]
    while heap:
        ohm, n = heapq.heappop(heap)
        if n not in best:
            best[n] = ohm
            for m, more in ways.get(n, []):
                heapq.heappush(heap, (ohm + more, m))
    return best


@pytest.mark.parametrize("seed", range(20))
def test_shorts_are_found_as_by_dijkstra(seed: int) -> None:
    rng = np.random.default_rng(seed)
    net = random_network(rng, 14, 14, 6, held=5, zero_wires=2, loose=0.2)
    closed = random_states(rng, net, 60)
    held = rng.choice(HELD_V, (60, 5))
    got = paths.shorted(net, closed, held, 0.12)
    for s in range(60):
        want = False
        for h, source in enumerate(net.held):
            ohms = cheapest(net, closed[s], source)
            want |= any(
                ohms.get(sink, 1.0) < 0.12 and held[s, h] > held[s, j]
                for j, sink in enumerate(net.held)
            )
        assert got[s] == want
    if seed == 0:
        assert 0 < got.sum() < 60


@pytest.mark.parametrize("seed", range(10))
def test_what_floats_is_found_as_by_a_search(seed: int) -> None:
    rng = np.random.default_rng(seed)
    net = random_network(rng, 30, 12, 3, held=2, loose=0.6)
    closed = random_states(rng, net, 30)
    got = paths.floating(net, closed)
    assert 0 < got.sum() < got.size
    for s in range(30):
        joined: dict[int, set[int]] = {n: set() for n in range(30)}
        pairs = [(r.a, r.b) for r in net.resistors] + [(d.anode, d.cathode) for d in net.diodes]
        pairs += [(k.a, k.b) for c, k in enumerate(net.contacts) if closed[s, c]]
        for a, b in pairs:
            joined[a].add(b)
            joined[b].add(a)
        seen, todo = set(net.held), list(net.held)
        while todo:
            for m in joined[todo.pop()] - seen:
                seen.add(m)
                todo.append(m)
        assert set(np.flatnonzero(~got[s]).tolist()) == seen
