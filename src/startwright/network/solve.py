"""Volts and amps of a network in many contact states at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from startwright.network import paths, ports
from startwright.network import states as batch
from startwright.network.elements import Contact, Network, Resistor

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

CHUNK_BYTES = 32_000_000


class SolveError(ArithmeticError):
    """A state that has no trustworthy answer, or a question that is not one."""


@dataclass(frozen=True)
class Solution:
    """Volts and amps of S states; a node that floats has no volts (`nan`) unless it may leak.

    Attributes
    ----------
    node_V : (S, nodes) of float
    resistor_A, contact_A, diode_A : (S, elements) of float
        From `a` to `b`, from anode to cathode. Between nodes that float: 0.
    floating : (S, nodes) of bool
        Nodes without a path over closed contacts, resistors and diodes to a held node.
    shorted : (S,) of bool
        Two held nodes of different voltage are joined by less than the limit.
    """

    node_V: Floats
    resistor_A: Floats
    contact_A: Floats
    diode_A: Floats
    floating: Bools
    shorted: Bools


def closed_by(network: Network, controls: Mapping[str, ArrayLike]) -> Bools:
    """Which contacts are closed, from the value of every control variable.

    Parameters
    ----------
    controls : mapping of str to (S,) of int
        A single int stands for the same value in every state.

    Returns
    -------
    (S, contacts) of bool

    Raises
    ------
    SolveError
        A control of the network is missing, or a value is out of its range.

    Source: none; a table look-up.
    """
    values = {name: np.atleast_1d(np.asarray(v)).astype(np.intp) for name, v in controls.items()}
    states = max((v.size for v in values.values()), default=1)
    out = np.zeros((states, len(network.contacts)), dtype=bool)
    for c, contact in enumerate(network.contacts):
        if contact.control not in values:
            raise SolveError(
                f"contact {contact.name!r}: control {contact.control!r} has no value; "
                f"give one of 0..{len(contact.closed) - 1} for every state"
            )
        value = values[contact.control]
        if value.size and (value.min() < 0 or value.max() >= len(contact.closed)):
            raise SolveError(
                f"control {contact.control!r}: values {value.min()}..{value.max()} given, "
                f"0..{len(contact.closed) - 1} would be right"
            )
        out[:, c] = np.array(contact.closed, dtype=bool)[value]
    return out


def solve(
    network: Network,
    closed: ArrayLike,
    held_V: ArrayLike,
    *,
    leak_S: float = 0.0,
    leak_to_V: ArrayLike | None = None,
    short_ohm: float = 0.1,
    compiled: bool | None = None,
) -> Solution:
    """Node voltages and element currents in every state.

    Nodal analysis with Newton's method on the diodes. Equal states are solved once; memory stays
    bounded whatever the number of states.

    Parameters
    ----------
    closed : (S, contacts) of bool
    held_V : (S, held) or (held,) of float
        Volts of the held nodes, in the order of `network.held`.
    leak_S : float
        Conductance from every node that is not held to `leak_to_V`; 0 leaves floating nodes without
        a voltage.
    leak_to_V : (S,) or float, optional
        By default half of the highest held voltage.
    short_ohm : float
        Limit of `Solution.shorted`, in ohm.
    compiled : bool, optional
        By the compiled kernel, where numba is installed; by default for very large batches only,
        since its start-up costs more than it saves on others. The answers agree to 1e-9.

    Raises
    ------
    SolveError
        Shapes or values do not fit, or a state does not converge; the state is named.

    Source: C.-W. Ho, A. E. Ruehli, P. A. Brennan, The modified nodal approach to network analysis,
    IEEE Trans. Circuits and Systems 22 (1975), 504-509; L. W. Nagel, SPICE2, memorandum ERL-M520,
    University of California, Berkeley (1975).
    """
    shut, held, to = _arguments(network, closed, held_V, leak_S, leak_to_V)
    states = len(shut)
    first, back = _different(shut, held, to)
    if len(first) < states:
        shut, held, to = shut[first], held[first], to[first]
    idle = paths.floating(network, shut)
    short = paths.shorted(network, shut, held, short_ohm)
    nodes = len(network.names)
    volts = np.empty((len(first), nodes))
    diode_A = np.empty((len(first), len(network.diodes)))
    fast = len(first) >= batch.COMPILED_STATES if compiled is None else compiled
    fast = fast and batch.kernel() is not None
    size = max(1, CHUNK_BYTES // (8 * max(nodes, 1) ** 2))
    for lo in range(0, len(first), size):
        part = slice(lo, lo + size)
        volts[part], diode_A[part], done = batch.node_volts(
            network, shut[part], held[part], leak_S, to[part], fast
        )
        if not done.all():
            at = lo + int(np.flatnonzero(~done)[0])
            raise SolveError(_named(network, shut[at], held[at]))
    solution = _currents(network, shut, volts, diode_A, idle, short)
    if leak_S == 0.0:
        solution.node_V[idle] = np.nan
    if len(first) == states:
        return solution
    return Solution(
        solution.node_V[back],
        solution.resistor_A[back],
        solution.contact_A[back],
        solution.diode_A[back],
        solution.floating[back],
        solution.shorted[back],
    )


def _different(closed: Bools, held_V: Floats, leak_to_V: Floats) -> tuple[Ints, Ints]:
    """One of each of the different states, and for each state which of these it equals.

    Where all differ, they stay in their order.
    """
    states = len(closed)
    if not states:
        return np.arange(0), np.arange(0)
    parts = [np.packbits(closed, axis=1)]
    volts = np.column_stack([held_V, leak_to_V])
    if (volts != volts[0]).any():
        parts.append(np.ascontiguousarray(volts).view(np.uint8))
    key = np.concatenate(parts, axis=1)
    marks: NDArray[np.uint64] | NDArray[np.void]
    if key.shape[1] <= 8:
        wide = np.zeros((states, 8), dtype=np.uint8)
        wide[:, : key.shape[1]] = key
        marks = wide.view(np.uint64).ravel()
    else:
        marks = key.view(np.dtype((np.void, key.shape[1]))).ravel()
    _, first, back = np.unique(marks, return_index=True, return_inverse=True)
    if len(first) == states:
        return np.arange(states), np.arange(states)
    return first, back


def _arguments(
    network: Network, closed: ArrayLike, held_V: ArrayLike, leak_S: float, leak_to: ArrayLike | None
) -> tuple[Bools, Floats, Floats]:
    shut = np.asarray(closed, dtype=bool)
    if shut.ndim != 2 or shut.shape[1] != len(network.contacts):
        raise SolveError(
            f"closed has shape {shut.shape}; (states, {len(network.contacts)}) would be right"
        )
    states = shut.shape[0]
    held = np.asarray(held_V, dtype=float)
    if held.shape not in ((len(network.held),), (states, len(network.held))):
        raise SolveError(
            f"held_V has shape {held.shape}; ({len(network.held)},) or "
            f"({states}, {len(network.held)}) would be right"
        )
    if not np.isfinite(held).all():
        raise SolveError("held_V holds a value that is no number; every held node needs its volts")
    if not (np.isfinite(leak_S) and leak_S >= 0.0):
        raise SolveError(f"leak_S is {leak_S}; 0 or a positive conductance would be right")
    held = np.ascontiguousarray(np.broadcast_to(held, (states, len(network.held)))) + 0.0
    if leak_to is None:
        to = held.max(axis=1) / 2.0 if held.shape[1] else np.zeros(states)
    else:
        to = np.ascontiguousarray(np.broadcast_to(np.asarray(leak_to, dtype=float), (states,)))
    return shut, held, to


def _currents(
    network: Network, closed: Bools, volts: Floats, diode_A: Floats, idle: Bools, short: Bools
) -> Solution:
    resistor_A = _between(volts, network.resistors)
    contact_A = np.where(closed, _between(volts, network.contacts), 0.0)
    return Solution(volts, resistor_A, contact_A, diode_A, idle, short)


def _between(volts: Floats, elements: Sequence[Resistor] | Sequence[Contact]) -> Floats:
    """Amps from `a` to `b` of each element, were it closed: (S, elements)."""
    a = np.array([e.a for e in elements], dtype=np.intp)
    b = np.array([e.b for e in elements], dtype=np.intp)
    siemens = np.array([1.0 / max(e.ohm, ports.LEAST_OHM) for e in elements], dtype=float)
    across = volts[:, a]
    across -= volts[:, b]
    across *= siemens
    return across


def _named(network: Network, closed: Bools, held_V: Floats) -> str:
    shut = [k.name for c, k in enumerate(network.contacts) if closed[c]]
    volts = ", ".join(
        f"{network.names[n]} {v:g} V" for n, v in zip(network.held, held_V, strict=True)
    )
    return (
        f"the state with closed contacts {shut or 'none'} and {volts} did not settle; "
        "no answer is given for it"
    )
