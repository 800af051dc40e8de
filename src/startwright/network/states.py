"""Node voltages of many states: sorted so that like beginnings follow each other, then either way.

Plain numpy does all states side by side. The compiled kernel does one after another, some three
times as fast, but costs a second of start-up (and several the first time on a machine): it is taken
for large batches only, and where numba is installed.
"""

from __future__ import annotations

from functools import lru_cache
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from startwright.network import junction, newton
from startwright.network.elements import Network
from startwright.network.junction import Junctions
from startwright.network.ports import Reduced, reduce, switch

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

COMPILED_STATES = 200_000
"""Different states in one call from which on the compiled kernel is taken."""


def node_volts(
    network: Network,
    closed: Bools,
    held_V: Floats,
    leak_S: float,
    leak_to_V: Floats,
    compiled: bool = False,
) -> tuple[Floats, Floats, Bools]:
    """Node voltages, diode currents, and which states settled; a node that floats is at 0 V.

    Parameters
    ----------
    closed : (S, contacts) of bool
    held_V : (S, held) of float
    leak_to_V : (S,) of float
    compiled : by the kernel, which must be there (`kernel()`)

    Returns
    -------
    (S, nodes), (S, diodes), (S,) of bool

    Source: as of `ports` and `newton`, to which it hands on.
    """
    reduced = reduce(network, leak_S)
    states = closed.shape[0]
    sort, first_change = _sorted(closed, reduced.order)
    known = np.concatenate([held_V, leak_to_V[:, None]], axis=1)[sort]
    way = _one_by_one if compiled else _side_by_side
    columns, amps, done = way(network, reduced, closed[sort], first_change, known)

    at = np.empty(states, dtype=np.intp)
    at[sort] = np.arange(states)
    columns = columns[at]
    volts = np.empty((states, len(network.names)))
    taken = [step.node for step in reduced.steps]
    volts[:, [*taken, *reduced.diode_nodes, *network.held]] = columns[:, :-1]
    volts[:, reduced.inner] = columns @ reduced.weights.T
    return volts, amps[at], done[at]


def _sorted(closed: Bools, order: Ints) -> tuple[Ints, Ints]:
    """Sorting of the states by their contacts in `order`, and where each leaves the one before.

    The first leaves at -1; a state that does not differ, at the number of contacts.
    """
    states, contacts = closed.shape
    bits = np.packbits(closed[:, order], axis=1)
    sort = np.lexsort(bits.T[::-1]) if contacts else np.arange(states)
    ordered = closed[sort][:, order]
    change = np.full(states, contacts, dtype=np.intp)
    differs = ordered[1:] != ordered[:-1]
    any_differs = differs.any(axis=1)
    if any_differs.any():
        change[1:][any_differs] = differs[any_differs].argmax(axis=1)
    change[:1] = -1
    return sort, change


def _side_by_side(
    network: Network, reduced: Reduced, closed: Bools, first_change: Ints, known: Floats
) -> tuple[Floats, Floats, Bools]:
    steps, ports = len(reduced.steps), reduced.base.shape[0]
    new = first_change < closed.shape[1]
    of_state = np.cumsum(new) - 1
    switched = switch(reduced, closed[new])
    g = switched.g if new.all() else np.take(switched.g, of_state, axis=2)
    known = np.ascontiguousarray(known.T)
    below, _, amps, done = newton.settle(g, known, reduced.diode_ends, Junctions.of(network.diodes))
    columns = np.empty((ports + len(known), len(closed)))
    columns[ports:] = known
    columns[steps:ports] = below
    for k in range(steps - 1, -1, -1):
        weights, group = switched.back[k]
        w = np.take(weights, group[of_state], axis=1)
        columns[k] = np.einsum("cS,cS->S", w, columns[k + 1 :])
    return columns.T, amps.T, done


@lru_cache(maxsize=1)
def kernel() -> ModuleType | None:
    """The compiled kernel, or None where numba is not installed or has no place for its cache.

    Source: none; nothing is computed.
    """
    try:
        from startwright.network import kernel as module
    except (ImportError, RuntimeError):
        return None
    return module


def _one_by_one(
    network: Network, reduced: Reduced, closed: Bools, first_change: Ints, known: Floats
) -> tuple[Floats, Floats, Bools]:
    joints: list[tuple[int, int, int]] = []
    conductance: list[float] = []
    starts = [0]
    step_of = np.full(closed.shape[1] + 1, len(reduced.steps), dtype=np.int64)
    step_of[-1] += 1
    place = {int(c): i for i, c in enumerate(reduced.order)}
    for k, of_step in enumerate((*(s.contacts for s in reduced.steps), reduced.last)):
        for c, a, b, siemens in of_step:
            step_of[place[c]] = k
            if a < b:
                joints.append((c, a, b))
                conductance.append(siemens)
        starts.append(len(joints))
    resume = step_of[first_change]
    resume[:1] = 0
    diodes = Junctions.of(network.diodes)
    law = np.concatenate(
        [diodes.saturation_A, diodes.slope_V, diodes.critical_V, diodes.series_ohm], axis=1
    ).T
    states = len(closed)
    columns = np.empty((states, reduced.base.shape[1]))
    amps = np.empty((states, len(network.diodes)))
    done = np.zeros(states, dtype=bool)
    module = kernel()
    assert module is not None
    module.run(
        reduced.base,
        np.array(joints, dtype=np.int64).reshape(-1, 3),
        np.array(conductance, dtype=float),
        np.array(starts, dtype=np.int64),
        np.ascontiguousarray(closed).view(np.uint8),
        resume,
        np.ascontiguousarray(known),
        reduced.diode_ends.astype(np.int64),
        np.ascontiguousarray(law),
        newton.LOAD_LINE_ROUNDS,
        newton.leaks_S(),
        junction.STEP_V,
        columns,
        amps,
        done,
    )
    return columns, amps, done
