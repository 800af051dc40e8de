"""Volts of random networks against ngspice, an independent circuit simulator.

To 0.1 % on every node over 1 V and 10 mV below, in batch (`ngspice -b`) and within the process. The
peer is run at tight tolerances: its own default, reltol 1e-3, is off by up to a millivolt.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from network.laws import assert_laws
from network.nets import HELD_V, random_network, random_states
from outside import spice

from startwright.network.elements import Contact, Diode, Network, Resistor
from startwright.network.solve import Solution, solve

pytestmark = pytest.mark.skipif(spice.PROGRAM is None, reason="ngspice is not installed")


def judged(
    network: Network,
    closed: np.ndarray,
    held_V: np.ndarray,
    leave_out: np.ndarray,
    where: Path | None = None,
    leak_S: float = 0.0,
    leak_to_V: float = 0.0,
) -> np.ndarray:
    """Volts of one state by ngspice, at the tightest tolerance it can reach."""
    for tolerance in spice.TOLERANCES:
        netlist = spice.lines(
            network,
            closed,
            held_V,
            leave_out=leave_out,
            options=tolerance,
            leak_S=leak_S,
            leak_to_V=leak_to_V,
        )
        try:
            if where is not None:
                return spice.batch(netlist, network, where)
            simulator = spice.InProcess.only()
            simulator.load(netlist)
            simulator.operate()
            return simulator.volts(network, leave_out)
        except spice.SpiceError as error:
            last = error
    raise last


def held_by_more_than_leakage(network: Network, closed: np.ndarray, got: Solution, s: int):  # type: ignore[no-untyped-def]
    """Nodes that a wire, a contact or a conducting diode joins to a held node.

    A node that hangs on blocking diodes alone is placed by nanoamperes, for which ngspice has a law
    of its own (a cube in place of the exponential); there the two need not agree.
    """
    joints = [(r.a, r.b) for r in network.resistors]
    joints += [(k.a, k.b) for c, k in enumerate(network.contacts) if closed[c]]
    joints += [
        (d.anode, d.cathode) for i, d in enumerate(network.diodes) if got.diode_A[s, i] > 1e-6
    ]
    firm = np.zeros(len(network.names), dtype=bool)
    firm[list(network.held)] = True
    moved = True
    while moved:
        moved = False
        for a, b in joints:
            if firm[a] != firm[b]:
                firm[a] = firm[b] = moved = True
    return firm


def assert_agrees(network: Network, got: Solution, closed: np.ndarray, s: int, peer) -> int:  # type: ignore[no-untyped-def]
    """Fail where a node is off by 0.1 % over 1 V or 10 mV below; how many were compared."""
    firm = held_by_more_than_leakage(network, closed, got, s) & ~got.floating[s]
    ours = got.node_V[s]
    limit = np.where(np.abs(peer) > 1.0, 1e-3 * np.abs(peer), 1e-2)
    off = firm & ~(np.abs(ours - peer) <= limit)
    assert not off.any(), [
        (network.names[n], ours[n], peer[n]) for n in np.flatnonzero(off).tolist()
    ]
    return int(firm.sum())


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    nodes=st.integers(6, 80),
    contacts=st.integers(0, 14),
    diodes=st.integers(0, 12),
    zero_wires=st.integers(0, 3),
    loose=st.sampled_from([0.0, 0.1, 0.3, 0.6]),
)
def test_random_networks_in_process(seed, nodes, contacts, diodes, zero_wires, loose) -> None:  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(seed)
    net = random_network(rng, nodes, contacts, diodes, held=5, zero_wires=zero_wires, loose=loose)
    closed = random_states(rng, net, 4)
    got = solve(net, closed, HELD_V)
    assert_laws(net, closed, HELD_V, got)
    for s in range(2):
        peer = judged(net, closed[s], HELD_V, got.floating[s])
        assert assert_agrees(net, got, closed[s], s, peer) >= 5


@st.composite
def tangles(draw: st.DrawFn) -> tuple[Network, np.ndarray, np.ndarray]:
    """Small networks of anything: doubled parts, parts with both ends on one node, lone nodes."""
    nodes = draw(st.integers(3, 9))
    held = draw(st.integers(1, 3))
    node = st.integers(0, nodes - 1)
    ohm = st.sampled_from([0.001, 0.02, 0.5, 6.0, 80.0, 1000.0, 1e5])
    resistors = [
        Resistor(f"R{i}", *ends, draw(ohm))
        for i, ends in enumerate(draw(st.lists(st.tuples(node, node), max_size=10)))
    ]
    contacts = [
        Contact(f"K{i}", *ends, f"k{i}", (False, True), draw(st.sampled_from([0.001, 0.005, 0.1])))
        for i, ends in enumerate(draw(st.lists(st.tuples(node, node), max_size=5)))
    ]
    diodes = [
        Diode(f"D{i}", *ends, draw(st.sampled_from([1e-12, 1e-9, 1e-7])))
        for i, ends in enumerate(draw(st.lists(st.tuples(node, node), max_size=6)))
    ]
    net = Network(
        tuple(f"n{n}" for n in range(nodes)),
        tuple(range(held)),
        tuple(resistors),
        tuple(contacts),
        tuple(diodes),
    )
    closed = draw(
        st.lists(
            st.lists(st.booleans(), min_size=len(contacts), max_size=len(contacts)),
            min_size=1,
            max_size=3,
        )
    )
    volts = draw(
        st.lists(st.sampled_from([0.0, 5.0, 9.0, 12.6, 14.4]), min_size=held, max_size=held)
    )
    return net, np.array(closed, dtype=bool).reshape(len(closed), -1), np.array(volts)


@settings(max_examples=80, derandomize=True, deadline=None)
@given(tangles())
def test_tangles_in_process(tangle) -> None:  # type: ignore[no-untyped-def]
    net, closed, volts = tangle
    got = solve(net, closed, volts)
    assert_laws(net, closed, volts, got)
    peer = judged(net, closed[0], volts, got.floating[0])
    assert_agrees(net, got, closed[0], 0, peer)


@pytest.mark.parametrize("seed", range(12))
def test_random_networks_in_batch(seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(1000 + seed)
    net = random_network(rng, 10 + 6 * seed, 10, 8, held=5, zero_wires=seed % 3, loose=0.2)
    closed = random_states(rng, net, 1)
    got = solve(net, closed, HELD_V)
    assert_laws(net, closed, HELD_V, got)
    peer = judged(net, closed[0], HELD_V, got.floating[0], tmp_path)
    assert assert_agrees(net, got, closed[0], 0, peer) > 5


@pytest.mark.parametrize("seed", range(6))
def test_what_floats_settles_where_the_leak_ends(seed: int) -> None:
    rng = np.random.default_rng(50 + seed)
    net = random_network(rng, 30, 6, 5, held=4, loose=0.5)
    closed = random_states(rng, net, 3)
    held = HELD_V[:4]
    got = solve(net, closed, held, leak_S=1e-7, leak_to_V=6.3)
    assert_laws(net, closed, held, got, leak_S=1e-7, leak_to_V=6.3)
    assert got.floating.any()
    nothing = np.zeros(30, dtype=bool)
    for s in range(3):
        peer = judged(net, closed[s], held, nothing, leak_S=1e-7, leak_to_V=6.3)
        np.testing.assert_allclose(got.node_V[s], peer, rtol=1e-3, atol=1e-2)


def test_what_we_call_floating_ngspice_calls_singular(tmp_path: Path) -> None:
    net = Network(
        ("battery", "ground", "a", "b", "c"),
        (0, 1),
        (
            Resistor("load", 0, 2, 5.0),
            Resistor("loose", 3, 4, 5.0),
            Resistor("to ground", 2, 1, 5.0),
        ),
        (Contact("K", 2, 3, "k", (False, True)),),
    )
    closed = np.array([[False], [True]])
    volts = np.array([12.0, 0.0])
    got = solve(net, closed, volts)
    assert_laws(net, closed, volts, got)
    assert got.floating.tolist() == [[False, False, False, True, True], [False] * 5]
    with pytest.raises(spice.SpiceError, match=r"(?i)singular matrix"):
        spice.batch(spice.lines(net, closed[0], volts), net, tmp_path)
    peer = spice.batch(spice.lines(net, closed[1], volts), net, tmp_path)
    np.testing.assert_allclose(got.node_V[1], peer, rtol=1e-9)


def test_a_short_through_no_ohms_is_a_loop_of_sources_to_ngspice(tmp_path: Path) -> None:
    net = Network(("battery", "ground"), (0, 1), (Resistor("none", 0, 1, 0.0),))
    closed = np.zeros((1, 0), dtype=bool)
    volts = np.array([12.0, 0.0])
    got = solve(net, closed, volts)
    assert_laws(net, closed, volts, got)
    assert got.shorted.tolist() == [True]
    with pytest.raises(spice.SpiceError, match=r"(?i)singular matrix"):
        spice.batch(spice.lines(net, closed[0], volts), net, tmp_path)


def test_to_nine_digits_where_the_peer_reaches_them() -> None:
    rng = np.random.default_rng(7)
    net = random_network(rng, 40, 12, 6, held=2, loose=0.0)
    closed = random_states(rng, net, 40)
    volts = np.array([12.6, 0.0])
    got = solve(net, closed, volts)
    assert_laws(net, closed, volts, got)
    simulator = spice.InProcess.only()
    for s in range(40):
        simulator.load(spice.lines(net, closed[s], volts))
        simulator.operate()
        np.testing.assert_allclose(got.node_V[s], simulator.volts(net), rtol=1e-9, atol=1e-9)
    assert ((got.diode_A > 0.1).any(axis=0)).sum() >= 2
