"""A faulty car beside its sound one: its model, the states it begins with, what is the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import blake2b

import numpy as np

from startwright.car.build import Car, with_fault
from startwright.car.faults import Fault
from startwright.prove.explore import Explored, Seeds
from startwright.prove.mark import Mark
from startwright.prove.model import Model
from startwright.prove.presses import Presses, presses_of
from startwright.prove.search import Watcher
from startwright.prove.tables import Array, Table, arity, same
from startwright.prove.view import Loads, Marks


@dataclass
class Faulty:
    """A fault and the car that has it."""

    fault: Fault
    model: Model
    marks: Marks
    sign: bytes = b""
    """The same for two faults where everything that follows from either is the same."""

    @cached_property
    def watcher(self) -> Watcher:
        """Looks with every rule."""
        return Watcher(self.model, self.marks, twins=False)

    @cached_property
    def presses(self) -> Presses:
        """How presses are told apart."""
        return presses_of(self.model, self.watcher.watched)

    @cached_property
    def kind(self) -> tuple[object, ...]:
        """The same for two whose states are alike and whose presses are told apart alike."""
        return self.model.variables, self.model.car.tach_lost, tuple(self.presses.of.tolist())

    @cached_property
    def feeding(self) -> bytes:
        """The same for two with which the same is reached by the same steps."""
        tables = self.model.feedback
        return digest((self.kind, *shapes(tables)), tables)


def faulty_model(
    healthy: Model, fault: Fault, *, like: bool = True, surroundings: tuple[str, ...] = ()
) -> Model:
    """The model of the same wiring with a fault, over at least the same variables of state.

    With `like` what the fault does not touch is taken over from the healthy one; `surroundings`
    are state besides.
    """
    model = Model(with_fault(healthy.car, fault), healthy if like else None)
    return over_states_of(healthy, model, surroundings)


def over_states_of(healthy: Model, model: Model, surroundings: tuple[str, ...] = ()) -> Model:
    """A model over at least the surroundings that are state in the healthy one."""
    first = (*healthy.surroundings, *(v for v in surroundings if v not in healthy.surroundings))
    more = [v for v in model.surroundings if v not in first]
    model.__dict__["surroundings"] = (*first, *more)
    for name in ("moves", "outs"):
        model.__dict__[name] = getattr(healthy, name)
    return model


def moved_over(columns: dict[str, Array], model: Model) -> dict[str, Array]:
    """Healthy states in the variables of the faulty model; new ones stand as canonical."""
    rows = len(columns["key"])
    nothing = np.zeros(rows, dtype=np.int32)
    return {
        v.name: columns.get(v.name, nothing)
        for v in model.variables
        if v.name in columns or v.name != "press"
    }


def seeds_in(explored: Explored, model: Model) -> Seeds:
    """Every healthy state to begin with, in the variables of the faulty model.

    A surrounding that feeds back only with the fault was free before it: it may stand at any value
    when the fault appears. The states come once for each, one list after another.
    """
    at = np.flatnonzero(explored.reached.any(axis=1))
    columns = {n: c[at] for n, c in explored.steps.columns.items()}
    new = [v for v in model.surroundings if v not in columns]
    lists = []
    for values in np.ndindex(*(arity(v) for v in new)):
        stand = {v: np.full(len(at), k, np.int32) for v, k in zip(new, values, strict=True)}
        lists.append(Seeds(moved_over(columns | stand, model), explored.reached[at]))
    return together(lists)


def together(seeds: Sequence[Seeds]) -> Seeds:
    """All states of several, one list after another."""
    names = seeds[0].columns
    columns = {n: np.concatenate([s.columns[n] for s in seeds]) for n in names}
    return Seeds(columns, np.concatenate([s.rows for s in seeds]))


def grown(car: Car, other: Car) -> bool:
    """Whether another car is this one with nodes and elements more, its unit joined as here."""
    names = car.network.names
    return (
        other.network.names[: len(names)] == names
        and all(other.number[n] == k for n, k in car.number.items())
        and all(other.held_at.get(n) == rail for n, rail in car.held_at.items())
        and [c.part for c in other.coils] == [c.part for c in car.coils]
        and (other.unit.wired, other.unit.signal) == (car.unit.wired, car.unit.signal)
        and (other.alive, other.tach_lost) == (car.alive, car.tach_lost)
        and (other.inputs, other.interfaces) == (car.inputs, car.interfaces)
    )


def shapes(tables: Iterable[Table]) -> list[object]:
    """What tables are over, and of what kind."""
    return [(t.over, t.data.dtype.str) for t in tables]


def digest(words: object, tables: Iterable[Table]) -> bytes:
    """The same for the same words and tables of the same values."""
    sign = blake2b(repr(words).encode())
    for table in tables:
        sign.update(table.data.tobytes())
    return sign.digest()


def opens_all(mark: Mark, coils: set[str]) -> bool:
    """Whether a mark looks at where one of some relays stands with all outputs open."""
    opened = {f"coil_o.{c}" for c in coils}
    return any(v in opened for p in mark.parts for v in p.table.over)


def same_loads(one: Loads, other: Loads) -> bool:
    """Whether the same carries more than it may, wherever it does."""
    if not same_marks(one[0], other[0]) or len(one[1]) != len(other[1]):
        return False
    return all(
        (a.name, a.long_A, a.short_A, len(mine)) == (b.name, b.long_A, b.short_A, len(theirs))
        and all(same(t, u) for t, u in zip(mine, theirs, strict=True))
        for (a, mine), (b, theirs) in zip(one[1], other[1], strict=True)
    )


def same_marks(one: Mark, other: Mark) -> bool:
    """Whether two marks are set for the same reasons, each wherever the other is."""
    if one is other:
        return True
    return len(one.parts) == len(other.parts) and all(
        a.label == b.label and same(a.table, b.table)
        for a, b in zip(one.parts, other.parts, strict=True)
    )
