"""What can be said of a contact state without a number: which nodes float, what is shorted."""

from __future__ import annotations

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
    """
    states = closed.shape[0]
    out = np.zeros(states, dtype=bool)
    steps: list[tuple[int, int, float, int]] = []
    for r in network.resistors:
        if r.ohm < limit_ohm:
            steps += [(r.a, r.b, r.ohm, -1), (r.b, r.a, r.ohm, -1)]
    for c, k in enumerate(network.contacts):
        if k.ohm < limit_ohm:
            steps += [(k.a, k.b, k.ohm, c), (k.b, k.a, k.ohm, c)]
    steps += [(d.anode, d.cathode, d.series_ohm, -1) for d in network.diodes]
    steps = [s for s in steps if s[2] < limit_ohm and s[0] != s[1]]
    starts = {a for a, _, _, _ in steps}
    ends = {b for _, b, _, _ in steps}
    columns = np.ascontiguousarray(closed.T)
    for h, source in enumerate(network.held):
        if source not in starts or not any(n in ends for n in network.held if n != source):
            continue
        far = np.full((len(network.names), states), np.inf)
        far[source] = 0.0
        moved = True
        while moved:
            moved = False
            for a, b, ohm, c in steps:
                via = far[a] + ohm
                if c >= 0:
                    via = np.where(columns[c], via, np.inf)
                better = (via < far[b]) & (via < limit_ohm)
                if better.any():
                    far[b] = np.where(better, via, far[b])
                    moved = True
        for j, sink in enumerate(network.held):
            if sink != source:
                out |= np.isfinite(far[sink]) & (held_V[:, h] > held_V[:, j])
    return out
