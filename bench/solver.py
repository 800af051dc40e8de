"""The network solver beside its peers, in one run, by processor time: ratios, not times.

    python bench/solver.py

40 nodes, 12 contacts, 6 diodes, 1000 contact states; then the growth with the nodes. The peers are
ngspice in this process (alter what changed, op, read every node) and a stacked dense matrix (on a
part of the states). The kernel is compiled beforehand: its start-up is not counted.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from network import dense
from network.nets import HELD_V, random_network
from outside import spice

from startwright.network import paths, states
from startwright.network.elements import Network
from startwright.network.solve import solve

STATES = 1000
CONTACTS = 12
TOLERANCE = "reltol=1e-6 abstol=1e-12 vntol=1e-9 itl1=1000"


def best(work: Callable[[], object], times: int) -> float:
    """Least processor seconds of several runs, after one that is not counted.

    Not the clock's: on a busy machine a short run may slip through where a long one is held up,
    which would flatter the quicker way.
    """
    work()
    least = np.inf
    for _ in range(times):
        start = time.process_time()
        work()
        least = min(least, time.process_time() - start)
    return float(least)


def simulate(net: Network, closed: np.ndarray, held_V: np.ndarray) -> np.ndarray:
    """All states by ngspice within this process, in the order that alters fewest contacts."""
    simulator = spice.InProcess.only()
    out = np.empty((len(closed), len(net.names)))
    now = np.zeros(len(net.contacts), dtype=bool)
    simulator.load(spice.lines(net, now, held_V, switched=True, options=TOLERANCE))
    for done, s in enumerate(np.lexsort(closed.T)):
        for c in np.flatnonzero(closed[s] != now):
            ohm = net.contacts[c].ohm if closed[s, c] else 1e12
            simulator.command(f"alter Rk{c} = {ohm}")
        now = closed[s]
        simulator.operate()
        out[s] = simulator.volts(net)
        if done % 50 == 49:
            simulator.forget()
    return out


def strictly(net: Network, closed: np.ndarray, held_V: np.ndarray) -> np.ndarray:
    """The same at ngspice's tightest tolerance, a netlist for each state without open contacts."""
    simulator = spice.InProcess.only()
    out = np.empty((len(closed), len(net.names)))
    for s in range(len(closed)):
        simulator.load(spice.lines(net, closed[s], held_V))
        simulator.operate()
        out[s] = simulator.volts(net)
    return out


def case(nodes: int) -> tuple[Network, np.ndarray, np.ndarray]:
    """The network of that size, its contact states, its held voltages."""
    rng = np.random.default_rng(11)
    net = random_network(rng, nodes, CONTACTS, 6, held=3, loose=0.0)
    every = (np.arange(2**CONTACTS)[:, None] >> np.arange(CONTACTS)) & 1
    return net, rng.permutation(every)[:STATES].astype(bool), HELD_V[:3]


def main() -> None:
    have_kernel = states.kernel() is not None
    have_spice = spice.PROGRAM is not None
    print(f"{STATES} contact states, {CONTACTS} contacts, 6 diodes; solves a second, and ratios\n")
    print("nodes    numpy  compiled    dense  ngspice | numpy/dense numpy/ngspice compiled/ngspice")
    first = None
    for nodes in (40, 80, 160, 320):
        net, closed, held = case(nodes)
        every = np.repeat(held[None], STATES, axis=0)
        few = slice(0, max(20, 200 * 40 // nodes))
        times = 3 if nodes == 40 else 1
        idle = paths.floating(net, closed)
        plain = STATES / best(lambda n=net, c=closed, h=held: solve(n, c, h, compiled=False), times)
        quick = (
            STATES / best(lambda n=net, c=closed, h=held: solve(n, c, h, compiled=True), times)
            if have_kernel
            else np.nan
        )
        stacked = len(closed[few]) / best(
            lambda n=net, c=closed[few], e=every[few], i=idle[few]: dense.node_volts(
                n, c, e, 0.0, np.zeros(len(c)), i
            ),
            times,
        )
        peer = np.nan
        if have_spice:
            peer = STATES / best(lambda n=net, c=closed, h=held: simulate(n, c, h), times)
        print(
            f"{nodes:5d} {plain:8.0f} {quick:9.0f} {stacked:8.0f} {peer:8.0f} |"
            f" {plain / stacked:11.1f} {plain / peer:13.1f} {quick / peer:16.1f}"
        )
        if first is None:
            first = (plain, quick, stacked, peer)
            if have_spice:
                ours = solve(net, closed[few], held).node_V
                peer_V = strictly(net, closed[few], held)
                off = np.abs(ours - peer_V) / np.maximum(np.abs(peer_V), 1.0)
                print(
                    f"      furthest from ngspice at its tightest tolerance, {len(ours)} states: "
                    f"{off.max():.1e} of a node's volts (of 1 V where less)"
                )
        else:
            slower = [a / b for a, b in zip(first, (plain, quick, stacked, peer), strict=True)]
            print(
                f"      x {nodes // 40} nodes costs numpy x {slower[0]:.1f}, compiled x "
                f"{slower[1]:.1f}, dense x {slower[2]:.1f}, ngspice x {slower[3]:.1f}"
            )


if __name__ == "__main__":
    main()
