"""What a rule sees: the columns of many states with their marks, computed once and on demand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from startwright.prove.bits import Bits
from startwright.prove.currents import Feed
from startwright.prove.mark import Looks, Mark
from startwright.prove.model import Model
from startwright.prove.observe import Observer, brief_pulse
from startwright.prove.reaction import Reaction
from startwright.prove.tables import Array, Table

Loads = tuple[Mark, list[tuple[Feed, list[Table]]]]
"""Where something carries more than it may; and the feeds whose draws must be added up."""
EDGE_MARKS = ("fed_starter", "fed_ignition", "dead_under_key")
"""The marks that rules on steps may look at: the presses are told apart by no others there."""


@dataclass
class Edges:
    """Steps: the rows of the state before and after in their views, and the choice."""

    parent: Array
    choice: Array
    after: Array


def kinds_of(model: Model, bits: Bits) -> tuple[Array, Array]:
    """The presses that rules on states see alike: each kind as bits, and one press of it.

    What a press drives, and whether it is a short pulse, is all that marks look at.
    """
    seen: dict[object, list[int]] = {}
    for k, press in enumerate(model.presses):
        alike = model.unit.pulsed(press), brief_pulse(model.unit, press)
        seen.setdefault(alike, []).append(k)
    every = np.arange(bits.size)
    masks = [bits.mask(np.isin(every, members)) for members in seen.values()]
    return np.stack(masks), np.array([members[0] for members in seen.values()])


class Marks:
    """The marks of a model by name, built when first asked for."""

    def __init__(self, model: Model) -> None:
        observer = Observer(model)
        self._built: dict[str, Mark] = {}
        self._make: dict[str, Callable[[], Mark]] = {
            "fed_starter": lambda: observer.fed("starter"),
            "fed_ignition": lambda: observer.fed("ignition"),
            "fed_lock": lambda: observer.fed("lock"),
            "fed_unlock": lambda: observer.fed("unlock", "driver_unlock"),
            "moved_uncalled": observer.moved_uncalled,
            "changed": observer.changed,
            "uncalled": observer.uncalled,
            "dead_under_key": observer.dead_under_key,
            "interface_on": observer.interface_on,
            "past_interlock": observer.fed_past_interlock,
            "short": observer.short,
            **{
                f"unlike_{k}": (lambda k=k: observer.unlike(k))  # type: ignore[misc]
                for k in ("out", "off", "accessory", "run", "start")
            },
        }
        self.observer = observer

    @cached_property
    def overloaded(self) -> Loads:
        """Something carries more than it may; and the feeds whose draws must be added up."""
        return self.observer.overloaded()

    def __getitem__(self, name: str) -> Mark:
        if name not in self._built:
            kept, free = self.observer.kept, self.observer.model.free
            self._built[name] = kept.of(("mark", name, free), self._make[name])
        return self._built[name]


class Rows:
    """The columns of many states, with what follows from them and what was looked up in them.

    They serve every model that shares the tables which feed back.
    """

    def __init__(self, model: Model, reaction: Reaction, columns: dict[str, Array]) -> None:
        self.columns = model.derive(columns) | reaction.open_coils(columns)
        self.looks: Looks = {}


class View:
    """Many states as the rules see them; `asked` names the marks that were looked at."""

    def __init__(self, model: Model, marks: Marks, rows: Rows) -> None:
        self.model = model
        self.marks = marks
        self.rows = rows
        self._seen = rows.columns
        self._cache: dict[str, Array] = {}
        self.asked: set[str] = set()

    def __getitem__(self, name: str) -> Array:
        """A column of the state, or a mark."""
        if name in self._seen:
            return self._seen[name]
        self.asked.add(name)
        if name not in self._cache:
            self._cache[name] = self.marks[name].look(self._seen, self.rows.looks)
        return self._cache[name]

    @property
    def columns(self) -> dict[str, Array]:
        """All columns, derived ones too."""
        return self._seen

    def by_start(self, values: Array) -> Array:
        """A property of the unit's step, row by row."""
        return np.asarray(values[self._seen["start"]])

    @property
    def idle(self) -> Array:
        """The unit is idle."""
        return np.asarray(self._seen["start"] == 0)

    @property
    def in_step(self) -> Array:
        """The unit is in a step."""
        return self.by_start(np.array([s.mode == "step" for s in self.model.starts]))

    @property
    def driven(self) -> Array:
        """Some connected output is driven."""
        open_ = self.marks.observer.all_open
        return np.asarray(~open_[self._seen["start"], self._seen["press"]])

    def row(self, k: int) -> dict[str, int]:
        """One state as plain numbers."""
        return {n: int(c[k]) for n, c in self._seen.items()}


class EdgeView:
    """Many steps between states, as the rules see them."""

    def __init__(self, edges: Edges, names: list[str], before: View, after: View) -> None:
        self.edges = edges
        self.before = before
        self.after = after
        self._names = names

    def was(self, name: str) -> Array:
        """A column or mark of the state before, step by step."""
        self._known(name)
        return np.asarray(self.before[name][self.edges.parent])

    def becomes(self, name: str) -> Array:
        """A column or mark of the state after, step by step."""
        self._known(name)
        return np.asarray(self.after[name][self.edges.after])

    def _known(self, name: str) -> None:
        if name not in self.before.columns and name not in EDGE_MARKS:
            raise KeyError(f"{name} is no mark for rules on steps (EDGE_MARKS)")

    def was_idle(self) -> Array:
        """The unit was idle before."""
        return np.asarray(self.before.idle[self.edges.parent])

    def is_idle(self) -> Array:
        """The unit is idle after."""
        return np.asarray(self.after.idle[self.edges.after])

    def chose(self, name: str) -> Array:
        """The choice of that name was made."""
        if name not in self._names:
            return np.zeros(len(self.edges.choice), dtype=bool)
        return np.asarray(self.edges.choice == self._names.index(name))
