"""The steps of a world, as tables: where each choice leads from each core.

A *core* is a state without the button that is pressed; a *class* holds the presses that every table
which feeds back sees alike. What follows a choice is then worked once for each core and class, as
the search comes to them, and looked up ever after: the choices of many states collide.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from startwright.prove.choices import choices
from startwright.prove.model import Model
from startwright.prove.numbering import Numbering
from startwright.prove.reaction import Reaction, Settled
from startwright.prove.tables import Array, TooLarge

EVENTS = 4


class Grown:
    """Rows that are appended to, without being copied every time."""

    def __init__(self, kind: Any, shape: tuple[int, ...] = ()) -> None:
        self._room = np.empty((1 << 10, *shape), dtype=kind)
        self._count = 0

    @property
    def data(self) -> Array:
        """The rows so far."""
        return self._room[: self._count]

    def extend(self, rows: Array) -> None:
        """Append rows."""
        needed = self._count + len(rows)
        if needed > len(self._room):
            room = np.empty((2 * needed, *self._room.shape[1:]), dtype=self._room.dtype)
            room[: self._count] = self.data
            self._room = room
        self._room[self._count : needed] = rows
        self._count = needed


class Space:
    """Packs states of a model into integers and back."""

    def __init__(self, model: Model, without: str = "") -> None:
        self.variables = tuple(v for v in model.variables if v.name != without)
        sizes = [v.size for v in self.variables]
        strides = np.cumprod([1, *sizes[::-1]], dtype=object)[::-1]
        self.size = int(strides[0])
        if self.size >= 1 << 58:
            raise TooLarge(f"{len(sizes)} variables do not fit one machine word")
        self.stride = {v.name: int(s) for v, s in zip(self.variables, strides[1:], strict=True)}

    def pack(self, columns: dict[str, Array]) -> Array:
        """Packed states of the columns."""
        out = np.zeros(len(columns["key"]), dtype=np.int64)
        for v in self.variables:
            out += columns[v.name].astype(np.int64) * self.stride[v.name]
        return out

    def unpack(self, packed: Array) -> dict[str, Array]:
        """Columns of packed states."""
        out = {}
        rest = packed
        for v in self.variables[:0:-1]:
            whole = rest // v.size
            out[v.name] = (rest - whole * v.size).astype(np.int32)
            rest = whole
        out[self.variables[0].name] = rest.astype(np.int32)
        return out


class Presses:
    """What buttons do to the press alone, and which presses are alike for all that feeds back.

    Parameters
    ----------
    model : Model
    outs : iterable of str
        The outputs (`out.*`) that some table looks at.

    Attributes
    ----------
    moves : list of (int, int, (P,) of int)
        Number of the choice, its event, and the press after by press (-1 where it cannot happen).
    of : (P,) of int
        The class of each press.
    stands_for : (G,) of int
        A press of each class.
    leads_to : (EVENTS, G, G) of bool
        From a press of which class a button leads to which, by event.
    """

    def __init__(self, model: Model, outs: Iterable[str]) -> None:
        self.count = len(model.presses)
        every = np.arange(self.count)
        columns = {v.name: np.zeros(self.count, dtype=np.int32) for v in model.variables}
        columns["press"] = every.astype(np.int32)
        self.moves: list[tuple[int, int, Array]] = []
        for k, move in enumerate(choices(model)):
            change = move.change(columns)
            if "press" in change:
                after = np.where(move.when(columns), change["press"], -1)
                self.moves.append((k, move.event, after))
        self.of = self._classes(model, outs)
        count = int(self.of.max()) + 1
        self.stands_for = np.array([every[self.of == g][-1] for g in range(count)])
        self.leads_to = np.zeros((EVENTS, count, count), dtype=bool)
        for _, event, after in self.moves:
            can = after >= 0
            self.leads_to[event, self.of[can], self.of[after[can]]] = True

    def _classes(self, model: Model, outs: Iterable[str]) -> Array:
        """The coarsest classes that agree in the outputs and in the classes buttons lead to.

        A button that does nothing, or leads to a press of the same class, tells none apart.
        """
        rows = [model.outs[o.removeprefix("out.")] for o in sorted(outs)]
        seen = np.array([[tuple(r[:, p].tolist()) for r in rows] for p in range(self.count)])
        of = _ranks([str(s.tolist()) for s in seen])
        while True:
            signs: list[object] = []
            for p in range(self.count):
                to = tuple(
                    -1 if a[p] < 0 or (not e and of[a[p]] == of[p]) else int(of[a[p]])
                    for _, e, a in self.moves
                )
                signs.append((int(of[p]), to))
            finer = _ranks(signs)
            if finer.max() == of.max():
                return of
            of = finer


class _Picked(dict[str, Array]):
    """Some rows of columns; each column is picked when it is asked for."""

    def __init__(self, columns: dict[str, Array], at: Array) -> None:
        super().__init__()
        self._columns, self._at = columns, at

    def __missing__(self, name: str) -> Array:
        self[name] = self._columns[name][self._at]
        return self[name]


def presses_of(model: Model, watched: Iterable[str]) -> Presses:
    """The presses told apart by what feeds back and by the outputs watched."""
    fed = {v for t in model.feedback for v in t.over if v.startswith("out.")}
    outs = frozenset(fed | set(watched))
    return model.kept.of(("presses", outs, model.surroundings), lambda: Presses(model, outs))


class Steps:
    """The steps of a model, worked where they are asked for.

    Parameters
    ----------
    model : Model
    watched : iterable of str
        Outputs that count beside those which feed back, because a rule on steps looks at them.

    """

    def __init__(self, model: Model, watched: Iterable[str] = ()) -> None:
        self.model = model
        self.reaction = Reaction(model)
        self.moves = choices(model)
        self.space = Space(model)
        self.cores = Space(model, without="press")
        self.presses = presses_of(model, watched)
        self.classes = len(self.presses.stands_for)
        self.core_moves = [
            k for k in range(len(self.moves)) if k not in {m for m, _, _ in self.presses.moves}
        ]
        self._core = Numbering(self.cores.size)
        self._keys = Numbering(self.cores.size * self.classes * EVENTS)
        self._packed = Grown(np.int64)
        self._columns = {v.name: Grown(np.int32) for v in self.cores.variables}
        self._after = Grown(np.int32)
        self._flags = Grown(bool, (4,))
        self._alone = Grown(np.int32)
        """For each reaction that was asked for by key its place among all (others raced)."""
        self.others: list[tuple[int, int]] = []
        """Reactions whose relays raced or chatter, and a reaction that ends otherwise."""
        self._place = Grown(np.int32, (self.classes,))
        self._chosen = Grown(np.int32, (len(self.core_moves),))
        self._pressed = Grown(np.int32, (EVENTS, self.classes))
        self._ends = Grown(np.int32, (len(self.core_moves),))
        self._many = Grown(np.int32)
        self._odd = Grown(bool)

    # ---- what was worked so far -----------------------------------------------------------

    @property
    def count(self) -> int:
        """How many cores were met."""
        return self._core.count

    @property
    def columns(self) -> dict[str, Array]:
        """The variables of each core by its number, (C,) of int32."""
        return {n: c.data for n, c in self._columns.items()}

    @property
    def after(self) -> Array:
        """The core after each reaction by its number, (K,) of int32."""
        return self._after.data

    @property
    def kills(self) -> Array:
        """Whether the unit lost its life in a reaction: no button is under way after, (K,)."""
        return self._flags.data[:, 0]

    @property
    def flaws(self) -> tuple[Array, Array, Array]:
        """For each reaction whether relays raced, chattered, or nothing came to rest."""
        flags = self._flags.data
        return flags[:, 1], flags[:, 2], flags[:, 3]

    @property
    def place(self) -> Array:
        """For each core and class its row in `chosen`, -1 before it is built, (C, G)."""
        return self._place.data

    @property
    def chosen(self) -> Array:
        """For each row, and each choice that is no button, the reaction (-1: it cannot happen)."""
        return self._chosen.data

    @property
    def ends(self) -> Array:
        """For each row of `chosen` the other cores it leads to, each once, then its own."""
        return self._ends.data

    @property
    def many(self) -> Array:
        """How many of a row's `ends` are others."""
        return self._many.data

    @property
    def odd(self) -> Array:
        """Whether a row of `chosen` has reactions that `ends` leaves out: kills, other orders."""
        return self._odd.data

    @property
    def pressed(self) -> Array:
        """For each core and event the reaction with a press of each class, (C, EVENTS, G)."""
        return self._pressed.data

    # ---- cores ----------------------------------------------------------------------------

    def number(self, packed: Array) -> Array:
        """The numbers of packed cores."""
        numbers, new = self._core.number(packed)
        if len(new):
            self._packed.extend(new)
            for name, column in self.cores.unpack(new).items():
                self._columns[name].extend(column)
            self._place.extend(np.full((len(new), self.classes), -1, dtype=np.int32))
            self._pressed.extend(np.full((len(new), EVENTS, self.classes), -1, dtype=np.int32))
        return numbers

    def rows(self, cores: Array, presses: Array) -> dict[str, Array]:
        """Columns of whole states."""
        out = {n: c.data[cores] for n, c in self._columns.items()}
        out["press"] = np.broadcast_to(np.asarray(presses, dtype=np.int32), (len(cores),))
        return out

    # ---- reactions ------------------------------------------------------------------------

    def build(self, cores: Array, classes: Array) -> None:
        """Work what follows every choice in these cores with a press of these classes."""
        new = self.place[cores, classes] < 0
        cores, classes = cores[new], classes[new]
        if not len(cores):
            return
        self.place[cores, classes] = len(self.chosen) + np.arange(len(cores), dtype=np.int32)
        columns = self.rows(cores, self.presses.stands_for[classes])
        packed = self._packed.data[cores]
        keys, rows, which = [], [], []
        for n, k in enumerate(self.core_moves):
            move = self.moves[k]
            can = np.flatnonzero(move.when(columns))
            if not len(can):
                continue
            here = _Picked(columns, can)
            before = packed[can]
            for name, value in move.change(here).items():
                before = before + (value.astype(np.int64) - here[name]) * self.cores.stride[name]
            keys.append((before * self.classes + classes[can]) * EVENTS + move.event)
            rows.append(can)
            which.append(np.full(len(can), n))
        slots = []
        for event in range(EVENTS):
            for g in range(self.classes):
                at = cores[self.presses.leads_to[event, classes, g]]
                at = at[self.pressed[at, event, g] < 0]
                if len(at):
                    keys.append((self._packed.data[at] * self.classes + g) * EVENTS + event)
                    slots.append((event, at, g))
        chosen = np.full((len(cores), len(self.core_moves)), -1, dtype=np.int32)
        if keys:
            reactions = self._reactions(np.concatenate(keys))
            if rows:
                first = sum(len(r) for r in rows)
                chosen[np.concatenate(rows), np.concatenate(which)] = reactions[:first]
                reactions = reactions[first:]
            for event, at, g in slots:
                self.pressed[at, event, g] = reactions[: len(at)]
                reactions = reactions[len(at) :]
        self._chosen.extend(chosen)
        self._sum_up(cores, chosen)

    def _sum_up(self, cores: Array, chosen: Array) -> None:
        """Where rows of choices lead, each end once."""
        none = chosen < 0
        kills = self.kills[chosen] & ~none
        ends = np.where(none | kills, cores[:, None], self.after[chosen]).astype(np.int32)
        ends.sort(axis=1)
        own = ends == cores[:, None]
        own[:, 1:] |= ends[:, 1:] == ends[:, :-1]
        ends[own] = np.iinfo(np.int32).max
        ends.sort(axis=1)
        own = ends == np.iinfo(np.int32).max
        self._many.extend((~own).sum(axis=1))
        self._ends.extend(np.where(own, cores[:, None], ends))
        several = self._flags.data[chosen, 1] | self._flags.data[chosen, 2]
        self._odd.extend((kills | (several & ~none)).any(axis=1))

    def followed(self, reactions: Array) -> tuple[Array, Array]:
        """Every outcome of reactions: for each the place in `reactions`, and the reaction.

        A reaction whose relays raced comes once for each outcome.
        """
        which = np.arange(len(reactions))
        if not self.others:
            return which, reactions
        first, other = np.array(sorted(self.others)).T
        low = np.searchsorted(first, reactions, side="left")
        high = np.searchsorted(first, reactions, side="right")
        more = np.repeat(which, high - low)
        begins = np.cumsum(high - low) - (high - low)
        at = np.arange(len(more)) - np.repeat(begins, high - low) + np.repeat(low, high - low)
        return np.concatenate([which, more]), np.concatenate([reactions, other[at]])

    def react(self, cores: Array, classes: Array) -> Array:
        """The reactions that follow in cores by themselves, nothing being chosen."""
        return self._reactions((self._packed.data[cores] * self.classes + classes) * EVENTS)

    def _reactions(self, keys: Array) -> Array:
        first = len(self.after)
        numbers, new = self._keys.number(keys)
        if len(new):
            before, event = new // EVENTS, (new % EVENTS).astype(np.int32)
            press = self.presses.stands_for[before % self.classes].astype(np.int32)
            columns = self.cores.unpack(before // self.classes) | {"press": press}
            out = self.reaction.react(columns, event, every=True)
            self._append(out, press[out.origin])
            heads = np.searchsorted(out.origin, np.arange(len(new)))
            self._alone.extend(first + heads)
            if len(out.origin) > len(new):
                others = np.setdiff1d(np.arange(len(out.origin)), heads)
                of = first + heads[out.origin[others]]
                self.others += zip(of.tolist(), (first + others).tolist(), strict=True)
        return np.asarray(self._alone.data[numbers])

    def _append(self, out: Settled, press: Array) -> None:
        self._after.extend(self.number(self.cores.pack(out.columns)))
        killed = out.columns["press"] != press
        self._flags.extend(np.stack([killed, out.raced, out.chatters, out.unstable], axis=1))


def _ranks(signs: list[object]) -> Array:
    """The number of each sign, in the order in which they first appear."""
    seen: dict[object, int] = {}
    return np.array([seen.setdefault(s, len(seen)) for s in signs])
