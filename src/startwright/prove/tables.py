"""Total tables over named variables, and the tables of each island of a network.

A table holds one value for every combination of its variables. Tables over different variables are
combined by lifting both to the variables of either; a variable that makes no difference is dropped,
so that what is left is exactly what the value depends on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from startwright.car.surroundings import RAILS, VALUES
from startwright.network.elements import Network
from startwright.network.islands import Island, islands
from startwright.network.solve import closed_by, solve
from startwright.prove.kept import Kept

Array = NDArray[Any]
Columns = Mapping[str, Array]
T = TypeVar("T")

POWER = ("rest", "crank", "run")
"""What the engine makes of the battery rail."""
RAIL_V = np.array(
    [
        [RAILS["rest"], RAILS["low_rest"]],
        [RAILS["crank"], RAILS["low_crank"]],
        [RAILS["run"], RAILS["run"]],
    ]
)
"""Rail voltage, V, by power and by battery normal or low (common practice, no source)."""
LEAK_S = 1e-7
"""Leak of every free node to half the rail, so that a floating node stands in the middle, S.

That of a digital meter (10 megohm); less would be of the order of a diode's reverse current.
"""
EVERYWHERE = -1
"""Stands for all nodes where it is written down what was read."""
MOST_ROWS = 1 << 19
"""A table larger than this is refused rather than computed."""


class TooLarge(Exception):
    """The question is larger than this machine should take; the answer is `not finished`."""


def arity(name: str) -> int:
    """How many values a variable has."""
    if name == "power":
        return len(POWER)
    return len(VALUES[name]) if name in VALUES else 2


@dataclass(frozen=True)
class Table:
    """Values `data[v1, v2, …]` by the values of the variables `over`."""

    over: tuple[str, ...]
    data: Array

    def look(self, columns: Columns) -> Array:
        """The value in each row of the columns."""
        if not self.over:
            rows = len(next(iter(columns.values())))
            return np.broadcast_to(self.data, (rows,))
        flat: Array | None = None
        for name, size in zip(self.over, self.data.shape, strict=True):
            column = columns[name].astype(np.int32, copy=False)
            flat = column if flat is None else flat * size + column
        return self.data.ravel()[flat]

    def lift(self, over: tuple[str, ...]) -> Array:
        """The data as a view broadcast over a superset of its variables."""
        if over == self.over:
            return self.data
        at = {v: k for k, v in enumerate(self.over)}
        shape = [self.data.shape[at[v]] if v in at else 1 for v in over]
        return self.data.transpose([at[v] for v in over if v in at]).reshape(shape)

    def any_over(self, names: Iterable[str]) -> Table:
        """Whether the value is true for any value of these variables."""
        names = set(names)
        axes = tuple(k for k, v in enumerate(self.over) if v in names)
        if not axes:
            return self
        return Table(
            tuple(v for v in self.over if v not in names), np.asarray(self.data.any(axis=axes))
        )

    def most_over(self, names: Iterable[str]) -> Table:
        """The largest value over all values of these variables."""
        names = set(names)
        axes = tuple(k for k, v in enumerate(self.over) if v in names)
        if not axes:
            return self
        return Table(
            tuple(v for v in self.over if v not in names), np.asarray(self.data.max(axis=axes))
        )

    def at(self, name: str, value: int) -> Table:
        """The table with one variable fixed."""
        if name not in self.over:
            return self
        axis = self.over.index(name)
        return Table(tuple(v for v in self.over if v != name), np.take(self.data, value, axis=axis))

    def renamed(self, names: Mapping[str, str]) -> Table:
        """The table over other names."""
        return Table(tuple(names.get(v, v) for v in self.over), self.data)

    def needed(self) -> Table:
        """The table without the variables that make no difference."""
        over: list[str] = []
        data = self.data
        for name in self.over:
            axis = len(over)
            first = data[(slice(None),) * axis + (slice(0, 1),)]
            if bool((data == first).all()):
                data = first.squeeze(axis=axis)
            else:
                over.append(name)
        if len(over) == len(self.over) and data.flags.c_contiguous:
            return self
        return Table(tuple(over), np.array(data, order="C"))

    @property
    def constant(self) -> bool:
        """Whether the value is the same everywhere."""
        return bool((self.data == self.data.flat[0]).all())


def constant(value: Any) -> Table:
    """A table over nothing."""
    return Table((), np.asarray(value))


def same(one: Table, other: Table) -> bool:
    """Whether two tables are over the same variables with the same values."""
    if one is other:
        return True
    return one.over == other.over and np.array_equal(one.data, other.data)


def combine(function: Callable[..., Array], *tables: Table) -> Table:
    """Apply a vectorised function to tables over any variables."""
    over = tuple(dict.fromkeys(v for t in tables for v in t.over))
    rows = int(np.prod([arity(v) for v in over], dtype=np.int64)) if over else 1
    if rows > MOST_ROWS * 8:
        raise TooLarge(f"a table over {len(over)} variables")
    shape = tuple(arity(v) for v in over)
    return Table(over, np.broadcast_to(function(*(t.lift(over) for t in tables)), shape))


def either(tables: Iterable[Table]) -> Table:
    """Whether any of the tables is true."""
    out = constant(False)
    for table in tables:
        out = combine(np.logical_or, out, table)
    return out


def every(tables: Iterable[Table]) -> Table:
    """Whether all of the tables are true."""
    out = constant(True)
    for table in tables:
        out = combine(np.logical_and, out, table)
    return out


@dataclass(frozen=True)
class Solved:
    """One island solved for every combination of its variables (rows in C order)."""

    island: Island
    over: tuple[str, ...]
    rail_V: Array
    node_V: Array
    resistor_A: Array
    contact_A: Array
    diode_A: Array
    closed: Array
    known: dict[Any, Any] = field(default_factory=dict)
    """What was worked out of it before; the same for the same island in another car."""

    def once(self, key: Any, make: Callable[[], T]) -> T:
        """What follows from this island alone, worked out once."""
        if key not in self.known:
            self.known[key] = make()
        return self.known[key]  # type: ignore[no-any-return]

    def table(self, values: Array) -> Table:
        """One value a row as a table."""
        shape = tuple(arity(v) for v in self.over)
        return Table(self.over, np.asarray(values).reshape(shape)).needed()


class Tabulated:
    """A network tabulated island by island, with its held nodes at corner voltages.

    Parameters
    ----------
    network : Network
    held_at : mapping
        For each held node the rail it stands at, ``battery`` or ``ground``.
    kept : Kept, optional
        Where reading is written down, and islands that were solved are found.
    name : str
        How this network is called there.
    like : Tabulated, optional
        A network that differs in a few elements: its islands are taken over where they are here.
    """

    def __init__(
        self,
        network: Network,
        held_at: Mapping[int, str],
        kept: Kept | None = None,
        name: str = "",
        like: Tabulated | None = None,
    ) -> None:
        self.network = network
        self.held_at = dict(held_at)
        self.name = name
        self.kept = kept or Kept()
        self.kept.networks[name] = lambda: self
        self._islands: list[Island] = islands(
            network, (like.network, like._islands) if like else None
        )
        self._done: dict[int, Solved] = {}
        self._where: dict[int, tuple[int, int]] = {
            node: (k, local)
            for k, island in enumerate(self._islands)
            for local, node in enumerate(island.nodes)
            if node not in self.held_at
        }

    @property
    def solved(self) -> list[Solved]:
        """Every island, solved."""
        self.kept.read(self.name, EVERYWHERE)
        return [self._island(k) for k in range(len(self._islands))]

    def _island(self, k: int) -> Solved:
        if k not in self._done:
            island = self._islands[k]
            rails = tuple(self.held_at[island.nodes[n]] for n in island.network.held)
            solves = self.kept.solves
            if (island.network, rails) not in solves:
                solves[island.network, rails] = self._solve(island)
            solved = solves[island.network, rails]
            self._done[k] = solved if solved.island is island else replace(solved, island=island)
        return self._done[k]

    def island_of(self, node: int) -> tuple[Solved, int]:
        """The island in which a node that is not held lies, solved; the node's number there."""
        self.kept.read(self.name, node)
        k, local = self._where[node]
        return self._island(k), local

    def rests_on(self, node: int) -> object:
        """The same object for two nodes whose values are the same, here and in a like network."""
        if node == EVERYWHERE:
            return self
        if node in self.held_at:
            return self.held_at[node]
        return self._island(self._where[node][0]).known

    def _solve(self, island: Island, leak_share: float = 0.5) -> Solved:
        part = island.network
        over = (*sorted(part.controls()), "power", "battery")
        shape = tuple(arity(v) for v in over)
        rows = int(np.prod(shape, dtype=np.int64))
        if rows > MOST_ROWS:
            raise TooLarge(f"an island of {len(over)} variables around {part.names[0]}")
        grid = np.unravel_index(np.arange(rows), shape)
        columns = dict(zip(over, grid, strict=True))
        rail_V = RAIL_V[columns["power"], columns["battery"]]
        held_V = np.zeros((rows, len(part.held)))
        for k, local in enumerate(part.held):
            if self.held_at[island.nodes[local]] == "battery":
                held_V[:, k] = rail_V
        closed = closed_by(part, {v: columns[v] for v in over})
        if closed.shape[0] != rows:
            closed = np.broadcast_to(closed, (rows, closed.shape[1]))
        out = solve(part, closed, held_V, leak_S=LEAK_S, leak_to_V=rail_V * leak_share)
        return Solved(
            island,
            over,
            rail_V,
            out.node_V,
            out.resistor_A,
            out.contact_A,
            out.diode_A,
            closed,
        )

    def share(self, node: int) -> Table:
        """The voltage of a node as a share of the rail."""
        self.kept.read(self.name, node)
        if node in self.held_at:
            return constant(1.0 if self.held_at[node] == "battery" else 0.0)
        k, local = self._where[node]
        solved = self._island(k)
        return solved.once(
            ("share", local), lambda: solved.table(solved.node_V[:, local] / solved.rail_V)
        )

    def volts(self, node: int) -> Table:
        """The voltage of a node, V."""
        self.kept.read(self.name, node)
        if node in self.held_at:
            on = 1.0 if self.held_at[node] == "battery" else 0.0
            return Table(("power", "battery"), RAIL_V * on).needed()
        k, local = self._where[node]
        solved = self._island(k)
        return solved.once(("volts", local), lambda: solved.table(solved.node_V[:, local]))

    def floats(self, node: int) -> Table:
        """Whether nothing but its leak holds a node: its voltage goes where the leak goes to."""
        volts = self.volts(node)
        if node in self.held_at:
            return constant(False)
        rail = Table(("power", "battery"), RAIL_V)
        halfway = combine(lambda v, r: np.abs(v - r / 2) < 0.01 * r, volts, rail)
        if not bool(halfway.data.any()):
            return constant(False)
        k, local = self._where[node]
        solved = self._island(k)
        moved = solved.once("leak elsewhere", lambda: self._solve(self._islands[k], 0.25))
        return solved.once(
            ("floats", local),
            lambda: solved.table(
                solved.node_V[:, local] - moved.node_V[:, local] > 0.1 * solved.rail_V
            ),
        )

    def across(self, a: int, b: int) -> Table:
        """The voltage from `a` to `b`, V."""
        return combine(np.subtract, self.volts(a), self.volts(b)).needed()

    def level(self, node: int) -> Table:
        """0 where the node stands at ground, 1 at battery, 2 where it floats."""
        share = self.share(node)
        data = np.where(share.data > 0.6, 1, np.where(share.data < 0.4, 0, 2))
        return Table(share.over, data.astype(np.int8)).needed()

    def between(self, node: int, low: float, high: float) -> Table:
        """Whether the node's share of the rail lies between `low` and `high`."""
        share = self.share(node)
        return Table(share.over, np.asarray((share.data >= low) & (share.data <= high))).needed()
