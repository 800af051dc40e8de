"""The quick way: all that no contact and no diode touches is reduced away once.

Three stages, each the same step (Rosen's star-mesh transformation): a node with conductances
g_1..g_n to its neighbours is taken away, and these are joined pairwise by g_i * g_j / sum(g).

1. once for a network: the nodes that neither a contact nor a diode touches;
2. once for every beginning of a contact pattern: nodes that contacts touch, each as soon as its
   contacts are decided, so that patterns which begin alike share the work;
3. in every round of Newton's method: the nodes that diodes touch.

Nothing is ever subtracted, so no digit is lost, whatever lies between a wire of a milliohm and a
leak of a gigaohm; and a node without conductance is seen to float, exactly.

Sources: A. Rosen, A new network theorem, Journal of the IEE 62 (1924), 916-918, for the step;
W. K. Grassmann, M. I. Taksar, D. P. Heyman, Operations Research 33 (1985), 1107-1116, for
elimination without subtraction; F. Doerfler, F. Bullo, Kron reduction of graphs with applications
to electrical networks, IEEE Trans. Circuits and Systems I 60 (2013), 150-163, for the whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from startwright.network.elements import Network

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

LEAST_OHM = 1e-8
"""A wire or contact given as less than this is taken as this, so that its current is known."""


@dataclass(frozen=True)
class Step:
    """Contacts to decide (place, row, column, conductance), then the first row to take away."""

    contacts: tuple[tuple[int, int, int, float], ...]
    node: int


@dataclass(frozen=True)
class Reduced:
    """A network without the nodes that neither a contact nor a diode touches.

    Rows and columns of `base` are the nodes of `steps` in their order, then `diode_nodes`; further
    columns are the held nodes and last the leak. All entries are conductances, the diagonal unused.

    Attributes
    ----------
    order : the sequence in which contacts are decided
    steps : nodes that contacts touch, with the contacts decided before each is taken away
    last : contacts decided after all steps
    base : (ports, ports + held + 1)
    inner : the nodes reduced away
    weights : (inner, ports + held + 1), their volts as means of the volts of the columns
    diode_ends : (diodes, 2), columns of anode and cathode counted from the first diode node
    """

    order: Ints
    steps: tuple[Step, ...]
    last: tuple[tuple[int, int, int, float], ...]
    diode_nodes: Ints
    base: Floats
    inner: Ints
    weights: Floats
    diode_ends: Ints


def eliminate_first(g: Floats) -> tuple[Floats, Floats]:
    """Take the first node away: what is left, and the weights of its neighbours in its volts.

    Parameters
    ----------
    g : (rows, columns, ...) of float
        Conductances; row 0 and column 0 are the node taken away.

    Returns
    -------
    (rows - 1, columns - 1, ...), (columns - 1, ...)

    Source: Rosen 1924; Grassmann, Taksar, Heyman 1985.
    """
    total = g[0, 1:].sum(axis=0)
    weights = g[0, 1:] / np.where(total > 0.0, total, 1.0)
    rest = g[1:, :1] * weights
    rest += g[1:, 1:]
    return rest, weights


@lru_cache(maxsize=256)
def reduce(network: Network, leak_S: float) -> Reduced:
    """Stage one, and the order of the others. Kept for the networks asked about last.

    Source: Doerfler, Bullo 2013.
    """
    free = [n for n in range(len(network.names)) if n not in set(network.held)]
    diode_at = {n for d in network.diodes for n in (d.anode, d.cathode)}
    contact_at = {n for k in network.contacts for n in (k.a, k.b)}
    diode_nodes = [n for n in free if n in diode_at]
    switched = [n for n in free if n in contact_at and n not in diode_at]
    plain = [n for n in free if n not in contact_at and n not in diode_at]
    taken, order, decided = _sequence(network, switched)

    near: dict[int, set[int]] = {n: set() for n in free}
    for r in network.resistors:
        for a, b in ((r.a, r.b), (r.b, r.a)):
            if a in near and a != b:
                near[a].add(b)
    inner: list[int] = []
    left = set(plain)
    while left:
        n = min(left, key=lambda m: (len(near[m]), m))
        left.remove(n)
        inner.append(n)
        for a in near[n]:
            if a in near:
                near[a] |= near[n] - {a}
                near[a].discard(n)

    rows = inner + taken + diode_nodes
    columns = [*rows, *network.held]
    at = {n: i for i, n in enumerate(columns)}
    g = np.zeros((len(rows), len(columns) + 1))
    for r in network.resistors:
        for a, b in ((at[r.a], at[r.b]), (at[r.b], at[r.a])):
            if a < len(rows) and a != b:
                g[a, b] += 1.0 / max(r.ohm, LEAST_OHM)
    g[:, -1] = leak_S
    rows_of: list[Floats] = []
    for _ in inner:
        g, w = eliminate_first(g)
        rows_of.append(w)
    weights = np.zeros((len(inner), g.shape[1]))
    for i in range(len(inner) - 1, -1, -1):
        later = len(inner) - 1 - i
        weights[i] = rows_of[i][later:] + rows_of[i][:later] @ weights[i + 1 :]

    off = len(inner)
    port = {n: i - off for n, i in at.items()}

    def joints(places: list[int]) -> tuple[tuple[int, int, int, float], ...]:
        out = []
        for c in places:
            k = network.contacts[c]
            for a, b in ((port[k.a], port[k.b]), (port[k.b], port[k.a])):
                if a < len(rows) - off and a != b:
                    out.append((c, a, b, 1.0 / max(k.ohm, LEAST_OHM)))
        return tuple(out)

    steps = tuple(Step(joints(decided[i]), n) for i, n in enumerate(taken))
    ends = [[port[d.anode] - len(taken), port[d.cathode] - len(taken)] for d in network.diodes]
    return Reduced(
        np.array(order, dtype=np.intp),
        steps,
        joints(decided[len(taken)]),
        np.array(diode_nodes, dtype=np.intp),
        g,
        np.array(inner, dtype=np.intp),
        weights,
        np.array(ends, dtype=np.intp).reshape(-1, 2),
    )


def _sequence(
    network: Network, switched: list[int]
) -> tuple[list[int], list[int], list[list[int]]]:
    """Nodes in the order they go, contacts in the order they are decided, and which before which.

    Next goes the node that needs the fewest contacts decided.
    """
    touching = {n: {c for c, k in enumerate(network.contacts) if n in (k.a, k.b)} for n in switched}
    taken: list[int] = []
    order: list[int] = []
    decided: list[list[int]] = []
    while touching:
        n = min(touching, key=lambda m: (len(touching[m] - set(order)), m))
        new = sorted(touching.pop(n) - set(order))
        taken.append(n)
        order += new
        decided.append(new)
    rest = [c for c in range(len(network.contacts)) if c not in set(order)]
    return taken, order + rest, [*decided, rest]


@dataclass(frozen=True)
class Switched:
    """The network at the nodes that diodes touch, for contact patterns sorted by `Reduced.order`.

    Attributes
    ----------
    g : (diode nodes, diode nodes + held + 1, patterns)
    back : for each node of the steps its weights (later columns, groups) and the group of each
        pattern
    """

    g: Floats
    back: tuple[tuple[Floats, Ints], ...]


def switch(reduced: Reduced, closed: Bools) -> Switched:
    """Stage two.

    Source: Rosen 1924; that like beginnings share the work is our own.

    Parameters
    ----------
    closed : (patterns, contacts) of bool
        Different patterns, sorted by the contacts in `reduced.order`.
    """
    patterns = closed.shape[0]
    columns = np.ascontiguousarray(closed.T)
    differs = np.zeros(patterns, dtype=bool)
    differs[:1] = True
    group = np.zeros(patterns, dtype=np.intp)
    first = np.zeros(min(patterns, 1), dtype=np.intp)
    g = reduced.base[:, :, None]
    if not patterns:
        return Switched(
            np.zeros((len(reduced.diode_nodes), g.shape[1] - len(reduced.steps), 0)), ()
        )
    back: list[tuple[Floats, Ints]] = []
    gone = 0
    for step in (*reduced.steps, None):
        joints = reduced.last if step is None else step.contacts
        for c in {j[0] for j in joints}:
            differs[1:] |= columns[c, 1:] != columns[c, :-1]
        if joints:
            new_first = np.flatnonzero(differs)
            if len(new_first) > len(first):
                g = np.take(g, group[new_first], axis=2)
                first, group = new_first, np.cumsum(differs) - 1
            elif gone == 0:
                g = g.copy()
            for c, a, b, conductance in joints:
                g[a - gone, b - gone] += conductance * columns[c, first]
        if step is not None:
            g, weights = eliminate_first(g)
            back.append((weights, group))
            gone += 1
    return Switched(np.take(g, group, axis=2), tuple(back))
