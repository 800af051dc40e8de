"""Random networks such as cars hold: wires, loads, contacts, diodes both ways, floating parts."""

from __future__ import annotations

import numpy as np

from startwright.network.elements import Contact, Diode, Network, Resistor


def random_network(
    rng: np.random.Generator,
    nodes: int,
    contacts: int,
    diodes: int,
    *,
    held: int = 3,
    zero_wires: int = 0,
    loose: float = 0.1,
) -> Network:
    """A network of `nodes` nodes: a tree of wires with some cut, loads to the rails, the rest.

    `loose` is the share of nodes that no wire of the tree holds.
    """
    held = min(held, nodes)

    def two() -> tuple[int, int]:
        a, b = rng.choice(nodes, 2, replace=False)
        return int(a), int(b)

    resistors = []
    for n in range(held, nodes):
        if rng.random() >= loose:
            ohm = float(10.0 ** rng.uniform(-2.5, 4.5))
            resistors.append(Resistor(f"wire{n}", int(rng.integers(n)), n, ohm))
    for n in range(nodes // 3):
        a, b = two()
        resistors.append(Resistor(f"load{n}", a, b, float(10.0 ** rng.uniform(0.0, 3.0))))
    for n in range(zero_wires):
        a, b = (int(x) for x in rng.choice(np.arange(held - 1, nodes), 2, replace=False))
        resistors.append(Resistor(f"none{n}", a, b, 0.0))
    switches = []
    for n in range(contacts):
        a, b = two()
        ohm = float(10.0 ** rng.uniform(-3.0, -1.0))
        switches.append(Contact(f"K{n}", a, b, f"k{n}", (False, True), ohm))
    valves = []
    for n in range(diodes):
        a, b = two()
        valves.append(
            Diode(
                f"D{n}",
                a,
                b,
                float(10.0 ** rng.uniform(-12.0, -7.0)),
                float(rng.uniform(1.0, 2.0)),
                float(10.0 ** rng.uniform(-3.0, 0.0)),
            )
        )
    return Network(
        tuple(f"n{n}" for n in range(nodes)),
        tuple(range(held)),
        tuple(resistors),
        tuple(switches),
        tuple(valves),
    )


def random_states(rng: np.random.Generator, network: Network, states: int) -> np.ndarray:
    """Contact states of every kind, from none closed to all."""
    share = rng.random((states, 1))
    return rng.random((states, len(network.contacts))) < share


HELD_V = np.array([12.6, 0.0, 14.4, 9.0, 5.0])
