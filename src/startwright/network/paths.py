"""What can be said of a contact state without a number: which nodes float, what is shorted."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from startwright.network.elements import Network

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


def floating(network: Network, closed: Bools) -> Bools:
    """Which nodes have no path over closed contacts, resistors, diodes to a held node.

    Parameters
    ----------
    closed : (S, contacts) of bool

    Returns
    -------
    (S, nodes) of bool

    Source: none; the graph's connected components.
    """
    group = list(range(len(network.names)))

    def root(n: int) -> int:
        while group[n] != n:
            group[n] = group[group[n]]
            n = group[n]
        return n

    joints = [(r.a, r.b) for r in network.resistors]
    joints += [(d.anode, d.cathode) for d in network.diodes]
    for a, b in joints:
        group[root(a)] = root(b)
    at = np.array([root(n) for n in range(len(group))], dtype=np.intp)

    tied = np.zeros((len(group), closed.shape[0]), dtype=bool)
    tied[at[list(network.held)]] = True
    links = [(c, at[k.a], at[k.b]) for c, k in enumerate(network.contacts) if at[k.a] != at[k.b]]
    columns = np.ascontiguousarray(closed.T)
    moved = True
    while moved:
        moved = False
        for c, a, b in links:
            both = columns[c] & (tied[a] ^ tied[b])
            if both.any():
                tied[a] |= both
                tied[b] |= both
                moved = True
    return np.ascontiguousarray(~tied[at].T)


def shorted(network: Network, closed: Bools, held_V: Floats, limit_ohm: float = 0.1) -> Bools:
    """Which states join two held nodes of different voltage by less than `limit_ohm`.

    A path runs over closed contacts and resistors either way and over diodes forward, from the
    higher held voltage to the lower; its ohms are added up.

    Parameters
    ----------
    closed : (S, contacts) of bool
    held_V : (S, held) of float

    Returns
    -------
    (S,) of bool

    Source: R. Bellman, On a routing problem, Quarterly of Applied Mathematics 16 (1958), 87-90
    (from memory), for the least ohms by relaxation; the limit is a choice of ours.
    """
    out = np.zeros(closed.shape[0], dtype=bool)
    steps = _low_ways(network, limit_ohm)
    columns = np.ascontiguousarray(closed.T)
    ends = {w.end for w in steps}
    for h, source in enumerate(network.held):
        if all(w.start != source for w in steps):
            continue
        far = {n: np.full(closed.shape[0], np.inf) for n in ends | {source}}
        far[source][:] = 0.0
        moved = True
        while moved:
            moved = False
            for w in steps:
                if w.start not in far or w.end == source:
                    continue
                via = far[w.start] + w.ohm
                better = (via < far[w.end]) & (via < limit_ohm)
                if w.contact >= 0:
                    better &= columns[w.contact]
                if better.any():
                    far[w.end] = np.where(better, via, far[w.end])
                    moved = True
        for j, sink in enumerate(network.held):
            if sink != source and sink in far:
                out |= np.isfinite(far[sink]) & (held_V[:, h] > held_V[:, j])
    return out


class _Way(NamedTuple):
    start: int
    end: int
    ohm: float
    contact: int


@lru_cache(maxsize=256)
def _low_ways(network: Network, limit_ohm: float) -> tuple[_Way, ...]:
    """Elements of less than the limit, each way they conduct, without those that lead nowhere."""
    ways = []
    for r in network.resistors:
        ways += [_Way(r.a, r.b, r.ohm, -1), _Way(r.b, r.a, r.ohm, -1)]
    for c, k in enumerate(network.contacts):
        ways += [_Way(k.a, k.b, k.ohm, c), _Way(k.b, k.a, k.ohm, c)]
    ways += [_Way(d.anode, d.cathode, d.series_ohm, -1) for d in network.diodes]
    ways = [w for w in ways if w.ohm < limit_ohm and w.start != w.end]
    held = set(network.held)
    while True:
        # A node is passed only if one comes from and goes on to different neighbours.
        near: dict[int, set[int]] = {}
        for w in ways:
            near.setdefault(w.start, set()).add(w.end)
            near.setdefault(w.end, set()).add(w.start)
        kept = [w for w in ways if all(n in held or len(near[n]) > 1 for n in (w.start, w.end))]
        if len(kept) == len(ways):
            return tuple(kept)
        ways = kept
