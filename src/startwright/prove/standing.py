"""How the wires stand in the settled states of a played line: volts from the network, a level.

The networks and corner voltages are those of the proof's tables, solved for these states alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np

from startwright.car.build import Car, with_fault
from startwright.car.faults import Fault
from startwright.car.fitted import node_of
from startwright.network.elements import Network
from startwright.network.solve import closed_by, solve
from startwright.prove.clocked import Moment
from startwright.prove.faults import fault_named
from startwright.prove.tables import LEAK_S, RAIL_V, Array
from startwright.records.wiring import Run

Level = Literal["battery", "ground", "between", "open", "broken"]
LEVELS: tuple[Level, ...] = get_args(Level)
"""At battery, at ground, held in between, held by nothing, and (of a run) its two ends apart."""
PULLED_SHARE = 0.2
"""A node that a 10 megohm meter pulls about by more than this share of the rail is held by nothing.

Common practice, no source.
"""
APART_V = 0.5
"""Ends of a run that stand further apart than this are not joined by it (assumed, no source)."""


@dataclass(frozen=True)
class Standing:
    """How every node stands in some settled states, row by row.

    Attributes
    ----------
    rail_V : (M,) of float
    node_V : (M, nodes) of float
        As in the proof's tables: a node that nothing holds stands at half the rail.
    loose : (M, nodes) of bool
        Nodes that nothing holds.
    """

    car: Car
    rows: Sequence[dict[str, int]]
    rail_V: Array
    node_V: Array
    loose: Array

    def volts(self, terminal: str) -> list[float | None]:
        """Volts of a terminal in each state; None where nothing holds it."""
        node = self.car.number[node_of(terminal)]
        return [
            None if loose else float(volts)
            for volts, loose in zip(self.node_V[:, node], self.loose[:, node], strict=True)
        ]

    def across(self, a: int, b: int) -> list[float]:
        """Volts from node `a` to node `b` in each state."""
        return [float(v) for v in self.node_V[:, a] - self.node_V[:, b]]

    def levels(self, terminal: str) -> list[Level]:
        """How a terminal stands in each state."""
        return [
            level_of(volts, float(rail))
            for volts, rail in zip(self.volts(terminal), self.rail_V, strict=True)
        ]

    def run_volts(self, run: Run) -> list[float | None]:
        """Volts of a run in each state, at its first end."""
        return self.volts(run.from_)

    def run_levels(self, run: Run) -> list[Level]:
        """How a run stands in each state; `broken` where its two ends stand apart."""
        ends = zip(self.volts(run.from_), self.volts(run.to), self.rail_V, strict=True)
        return [
            "broken" if _apart(one, other) else level_of(one, float(rail))
            for one, other, rail in ends
        ]


def level_of(volts_V: float | None, rail_V: float) -> Level:
    """The level of a voltage: `battery` above 60 % of the rail, `ground` below 40 %.

    >>> level_of(8.9, 9.0), level_of(0.2, 9.0), level_of(4.5, 9.0), level_of(None, 9.0)
    ('battery', 'ground', 'between', 'open')
    """
    if volts_V is None:
        return "open"
    if rail_V <= 0:
        return "ground"
    share = volts_V / rail_V
    return "battery" if share > 0.6 else "ground" if share < 0.4 else "between"


def _apart(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is not other
    return abs(one - other) > APART_V


def rail_of(row: dict[str, int], cranking_V: float | None = None) -> float:
    """Volts of the battery rail in a state.

    Parameters
    ----------
    row : dict
        A settled state with `power` and `battery`.
    cranking_V : float, optional
        What the rail sags to while the starter turns; by default the proof's corner voltages. With
        the battery low the lower of the two counts.
    """
    corner = float(RAIL_V[row["power"], row.get("battery", 0)])
    if cranking_V is None or row["power"] != 1:
        return corner
    return min(corner, cranking_V) if row.get("battery", 0) else cranking_V


def stand(car: Car, rows: Sequence[dict[str, int]], cranking_V: float | None = None) -> Standing:
    """Solve a car's network in settled states.

    Parameters
    ----------
    car : Car
    rows : sequence of dict
        Settled states, free surroundings and derived columns with them (`Clock.row`).
    cranking_V : float, optional
        As `rail_of`.
    """
    network = car.network
    rail_V = np.array([rail_of(row, cranking_V) for row in rows])
    controls = {name: np.array([row[name] for row in rows]) for name in network.controls()}
    closed = closed_by(network, controls)
    if len(closed) != len(rows):
        closed = np.broadcast_to(closed, (len(rows), closed.shape[1]))
    held_V = np.zeros((len(rows), len(network.held)))
    for k, node in enumerate(network.held):
        if car.held_at[node] == "battery":
            held_V[:, k] = rail_V
    node_V, low, high = (
        _leaking(network, closed, held_V, share * rail_V) for share in (0.5, 0.0, 1.0)
    )
    loose = (high - low) > PULLED_SHARE * np.maximum(rail_V, 1e-6)[:, None]
    return Standing(car, rows, rail_V, node_V, loose)


def _leaking(network: Network, closed: Array, held_V: Array, to_V: Array) -> Array:
    """Node volts with every free node leaking to a voltage, as through a digital meter."""
    return solve(network, closed, held_V, leak_S=LEAK_S, leak_to_V=to_V).node_V


def stand_through(
    car: Car, log: Sequence[Moment], cranking_V: float | None = None
) -> list[Standing]:
    """Solve a played line: one part for the car as built, one from each fault on.

    Parameters
    ----------
    car : Car
        As built.
    log : sequence of Moment
        Of a `Clock`; a moment called ``fault …`` is the first of a faulty car.
    cranking_V : float, optional
        As `rail_of`.
    """
    out: list[Standing] = []
    rows: list[dict[str, int]] = []
    now = car
    fault: Fault | None = None
    for moment in log:
        if moment.what.startswith("fault "):
            out.append(stand(now, rows, cranking_V))
            rows = []
            new = fault_named(car, moment.what.removeprefix("fault "))
            assert new is not None
            fault = replace(new, also=fault)
            now = with_fault(car, fault)
        rows.append(moment.row)
    out.append(stand(now, rows, cranking_V))
    return out
