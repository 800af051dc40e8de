"""What is joined to ground without a load, by the state of the contacts on the way."""

from __future__ import annotations

import numpy as np

from startwright.car.fitted import is_wire
from startwright.prove.tables import Array, Solved, Table, Tabulated, constant


def without_load(tabulated: Tabulated, node: int) -> Table:
    """Whether a node reaches ground through runs, fuses and closed contacts alone.

    A diode is no ground: it leaves the node a volt above.

    Parameters
    ----------
    tabulated : Tabulated
    node : int
        Of its network.
    """
    if node in tabulated.held_at:
        return constant(tabulated.held_at[node] == "ground")
    solved, local = tabulated.island_of(node)
    key = ("without load", local)
    return solved.once(key, lambda: solved.table(_grounded(solved, tabulated.held_at, local)))


def _grounded(solved: Solved, held_at: dict[int, str], local: int) -> Array:
    part = solved.island.network
    reach = np.zeros((len(solved.rail_V), len(part.names)), dtype=bool)
    rails = set(part.held)
    for held in part.held:
        reach[:, held] = held_at[solved.island.nodes[held]] == "ground"
    links: list[tuple[int, int, Array | bool]] = [
        (r.a, r.b, True) for r in part.resistors if is_wire(r)
    ]
    links += [(c.a, c.b, solved.closed[:, k]) for k, c in enumerate(part.contacts)]
    while True:
        before = reach.copy()
        for a, b, on in links:
            for one, other in ((a, b), (b, a)):
                if other not in rails:
                    reach[:, other] |= reach[:, one] & on
        if (before == reach).all():
            return reach[:, local]
