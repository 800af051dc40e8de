"""Newton's method on the nodes that diodes touch, many states at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from startwright.network.junction import Junctions

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

ROUNDS = 200


def settle(
    g: Floats, known_V: Floats, ends: Ints, diodes: Junctions
) -> tuple[Floats, Floats, Floats, Bools]:
    """Node volts, junction volts, amps of the diodes, and which states settled.

    Parameters
    ----------
    g : (nodes, nodes + known, S)
        Conductances from each node that diodes touch to the others and to nodes of known volts.
    known_V : (known, S)
    ends : (diodes, 2)
        Columns of `g` for anode and cathode.

    Returns
    -------
    (nodes, S), (diodes, S), (diodes, S), (S,) of bool
    """
    nodes, states = g.shape[0], g.shape[2]
    volts = np.zeros((nodes, states))
    junction = np.repeat(diodes.critical_V, states, axis=1)
    amps = np.zeros_like(junction)
    done = np.zeros(states, dtype=bool)
    among = g[:, :nodes]
    tied = g[:, nodes:].sum(axis=1)
    fed = np.einsum("ikS,kS->iS", g[:, nodes:], known_V)
    at = np.arange(states)
    old = junction
    for _ in range(ROUNDS):
        slope, source = diodes.companion(old)
        g_now, tied_now, fed_now = among.copy(), tied.copy(), fed.copy()
        for d, (a, b) in enumerate(ends):
            if a == b:
                continue
            for x, y, sign in ((a, b, 1.0), (b, a, -1.0)):
                if x < nodes:
                    fed_now[x] -= sign * source[d]
                    if y < nodes:
                        g_now[x, y] += slope[d]
                    else:
                        tied_now[x] += slope[d]
                        fed_now[x] += slope[d] * known_V[y - nodes]
        solved = star_mesh(g_now, tied_now, fed_now)
        every = np.concatenate([solved, known_V])
        across = every[ends[:, 0]] - every[ends[:, 1]]
        linear = slope * across + source
        wanted = across - diodes.series_ohm * linear
        over = diodes.settled(wanted, old, linear)
        if over.any():
            ready = at[over]
            volts[:, ready] = solved[:, over]
            junction[:, ready] = wanted[:, over]
            amps[:, ready] = linear[:, over]
            done[ready] = True
            if over.all():
                break
            go = ~over
            at, known_V = at[go], known_V[:, go]
            among, tied, fed = among[:, :, go], tied[:, go], fed[:, go]
            old, wanted = old[:, go], wanted[:, go]
        old = diodes.limited(wanted, old)
    return volts, junction, amps, done


def star_mesh(g: Floats, tied: Floats, fed: Floats) -> Floats:
    """Volts of nodes joined by `g`, tied down by `tied`, fed with amps `fed`; all are used up.

    Parameters
    ----------
    g : (nodes, nodes, S)
    tied, fed : (nodes, S)

    Returns
    -------
    (nodes, S)
    """
    nodes = g.shape[0]
    totals = []
    for k in range(nodes):
        total = g[k, k + 1 :].sum(axis=0) + tied[k]
        total = np.where(total > 0.0, total, np.inf)
        totals.append(total)
        share = g[k + 1 :, k] / total
        g[k + 1 :, k + 1 :] += share[:, None] * g[k, k + 1 :]
        tied[k + 1 :] += share * tied[k]
        fed[k + 1 :] += share * fed[k]
    volts = np.zeros_like(fed)
    for k in range(nodes - 1, -1, -1):
        volts[k] = (fed[k] + (g[k, k + 1 :] * volts[k + 1 :]).sum(axis=0)) / totals[k]
    return volts
