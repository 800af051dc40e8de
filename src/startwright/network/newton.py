"""Newton's method on the nodes that diodes touch, many states at once.

Every round puts a tangent in place of each diode's law and solves the linear network. Newton's own
next tangent would go down an exponential by only one nVt a round. But the last two rounds also give
two points of the load line that each diode looks into, and where that line meets the law is quickly
found: the next tangent is laid there. Whatever the line, a settled point stays where it is, so only
the way is shortened. It never goes higher than SPICE's limit on junction steps, nor lower than any
voltage that the held nodes can give, and after `LOAD_LINE_ROUNDS` it is left to these limits alone.
What goes round in circles among blocking diodes is brought home from `EASED_FROM` on as in SPICE:
the leak of the junctions starts large and shrinks to what it is.

Sources: C. W. Ho, A. E. Ruehli, P. A. Brennan, The modified nodal approach to network analysis,
IEEE Trans. Circuits and Systems 22 (1975), 504-509; L. W. Nagel, SPICE2, memorandum ERL-M520,
Berkeley 1975, for the limit on junction steps; star-mesh as in `ports`.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from startwright.network.junction import LEAK_S, Junctions

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

ROUNDS = 200
LOAD_LINE_ROUNDS = 12
EASED_FROM, EASED_TO = 40, 120


def leak_S(turn: int) -> float:
    """The leak of every junction in this round: `LEAK_S`, and more while the way is eased.

    Source: Nagel 1975 (GMIN stepping; the course of the steps is our own).
    """
    if EASED_FROM <= turn < EASED_TO:
        return float(max(1e-3 * 0.7 ** (turn - EASED_FROM), LEAK_S))
    return LEAK_S


@lru_cache(maxsize=1)
def leaks_S() -> Floats:
    """`leak_S` of every round.

    Source: as of `leak_S`.
    """
    return np.array([leak_S(turn) for turn in range(ROUNDS)])


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

    Source: Ho, Ruehli, Brennan 1975; Nagel 1975; the load line is our own.
    """
    nodes, states = g.shape[0], g.shape[2]
    volts = np.zeros((nodes, states))
    junction = np.zeros((len(ends), states))
    amps = np.zeros_like(junction)
    done = np.zeros(states, dtype=bool)
    among = g[:, :nodes]
    tied = g[:, nodes:].sum(axis=1)
    fed = np.einsum("ikS,kS->iS", g[:, nodes:], known_V)
    at = np.arange(states)
    old = junction
    before = (old, old)
    lowest = known_V.min(axis=0) - known_V.max(axis=0)
    for turn in range(ROUNDS):
        leak = leak_S(turn)
        slope, source = diodes.companion(old, leak)
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
        over = diodes.settled(wanted, old, linear) & (leak == LEAK_S)
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
            lowest = lowest[go]
            among, tied, fed = among[:, :, go], tied[:, go], fed[:, go]
            old, wanted, linear = old[:, go], wanted[:, go], linear[:, go]
            before = (before[0][:, go], before[1][:, go])
        if turn == 0:
            old = np.minimum(wanted, diodes.critical_V)
        elif turn < LOAD_LINE_ROUNDS:
            old = _on_load_line(diodes, wanted, linear, before, old)
        else:
            old = diodes.limited(wanted, old)
        old = np.maximum(old, lowest)
        before = (wanted, linear)
    return volts, junction, amps, done


def _on_load_line(
    diodes: Junctions, wanted: Floats, linear: Floats, before: tuple[Floats, Floats], old: Floats
) -> Floats:
    """Where the line through the last two solved points meets the law; all (diodes, S)."""
    limited = diodes.limited(wanted, old)
    fall = linear - before[1]
    moved = np.abs(wanted - old) > 0.3 * diodes.slope_V
    ohm = np.divide(before[0] - wanted, fall, out=np.zeros_like(fall), where=moved & (fall != 0.0))
    good = (ohm > 0.0) & np.isfinite(ohm)
    if not good.any():
        return limited
    ohm = np.where(good, ohm, 1.0)
    open_V = wanted + ohm * linear
    most = diodes.slope_V * np.log1p(np.maximum(open_V, 0.0) / (ohm * diodes.saturation_A))
    v = np.where(open_V > 0.0, np.minimum(open_V, most), open_V)
    for _ in range(2):
        i, g = diodes.current(v)
        v = v - (v + ohm * i - open_V) / (1.0 + ohm * g)
    return np.where(good, np.minimum(v, limited), limited)


def star_mesh(g: Floats, tied: Floats, fed: Floats) -> Floats:
    """Volts of nodes joined by `g`, tied down by `tied`, fed with amps `fed`; all are used up.

    Parameters
    ----------
    g : (nodes, nodes, S)
    tied, fed : (nodes, S)

    Returns
    -------
    (nodes, S)

    Source: Rosen 1924; Grassmann, Taksar, Heyman 1985, as in `ports`.
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
