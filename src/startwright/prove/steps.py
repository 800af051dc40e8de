"""The steps of a world, as tables: where each choice leads from each core.

A *core* is a state without the button that is pressed; a *class* holds the presses that every table
which feeds back sees alike. What follows a choice is then worked once for each core and class, as
the search comes to them, and looked up ever after. A choice that leads to a core met before,
nothing having followed, is not worked again: many do. Those that lead to the same moment in which
something has yet to follow are few, and are not looked for.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from startwright.prove.choices import EVENTS, NONE, choices
from startwright.prove.model import Model
from startwright.prove.numbering import Numbering
from startwright.prove.presses import Presses, presses_of
from startwright.prove.reaction import Reaction
from startwright.prove.space import Grown, Space
from startwright.prove.tables import Array
from startwright.prove.worked import Worked

NOBODY = np.empty(0, dtype=np.int64)


class _Picked(dict[str, Array]):
    """Some rows of columns; each column is picked when it is asked for."""

    def __init__(self, columns: dict[str, Array], at: Array) -> None:
        super().__init__()
        self._columns, self._at = columns, at

    def __missing__(self, name: str) -> Array:
        self[name] = self._columns[name][self._at]
        return self[name]


@dataclass(frozen=True)
class _Plain:
    """The choices that only give a variable another value: all at once.

    Attributes
    ----------
    which : (M,) of int
        The place of each in the list.
    variables : list of M str
    old : (M,) of int
        The value that its variable must have.
    step : (M,) of int64
        What it adds to a packed core.
    """

    which: Array
    variables: list[str]
    old: Array
    step: Array

    @classmethod
    def of(cls, plain: list[tuple[str, int, int] | None], cores: Space) -> _Plain:
        """Those of a list of choices that are so, for packing by a space."""
        some = [(n, *p) for n, p in enumerate(plain) if p is not None]
        steps = [(new - old) * cores.stride[variable] for _, variable, old, new in some]
        return cls(
            np.array([n for n, _, _, _ in some]),
            [variable for _, variable, _, _ in some],
            np.array([old for _, _, old, _ in some]),
            np.array(steps, dtype=np.int64),
        )


class Steps:
    """The steps of a model, worked where they are asked for.

    Parameters
    ----------
    model : Model
    watched : iterable of str
        Outputs that count beside those which feed back, because a rule on steps looks at them.
    presses : Presses, optional
        How presses are told apart, where it is known.
    """

    def __init__(
        self, model: Model, watched: Iterable[str] = (), presses: Presses | None = None
    ) -> None:
        self.model = model
        self.reaction = Reaction(model)
        self.moves = choices(model)
        self.space = Space(model)
        self.cores = Space(model, without="press")
        self.presses = presses or presses_of(model, watched)
        self.classes = len(self.presses.stands_for)
        self.core_moves = [
            k for k in range(len(self.moves)) if k not in {m for m, _, _ in self.presses.moves}
        ]
        self._event = np.array([self.moves[k].event for k in self.core_moves])
        self._plain = _Plain.of([self.moves[k].plain for k in self.core_moves], self.cores)
        self._others = [n for n, k in enumerate(self.core_moves) if self.moves[k].plain is None]
        self._core = Numbering(self.cores.size)
        self._packed = Grown(np.int64)
        self._columns = {v.name: Grown(np.int32) for v in self.cores.variables}
        self._keys = Grown(np.int64)
        self._after = Grown(np.int32)
        self._flags = Grown(bool, (4,))
        self._special = False
        """Whether any reaction has a flag."""
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

    @property
    def keys_of_core(self) -> int:
        """How many reactions a core can have: by class and event."""
        return self.classes * EVENTS

    @property
    def keys(self) -> Array:
        """What each reaction is of, (K,): (packed core * classes + class) * EVENTS + event."""
        return self._keys.data

    @property
    def worked(self) -> Worked:
        """All of it."""
        others = np.array(self.others, dtype=np.int32).reshape(-1, 2)
        return Worked(
            self._packed.data,
            self.place,
            self.pressed,
            self.keys,
            self.after,
            self._flags.data,
            others,
            self.chosen,
            self.ends,
            self.many,
            self.odd,
        )

    def begin_with(self, worked: Worked) -> None:
        """Take over what was worked elsewhere; nothing may have been worked here yet."""
        self._core.begin_with(worked.packed)
        self._meet(worked.packed)
        self.place[:], self.pressed[:] = worked.place, worked.pressed
        self._keys.extend(worked.keys)
        self._after.extend(worked.after)
        self._flags.extend(worked.flags)
        self._special = bool(worked.flags.any())
        self.others = [(int(a), int(b)) for a, b in worked.others]
        self._chosen.extend(worked.chosen)
        self._ends.extend(worked.ends)
        self._many.extend(worked.many)
        self._odd.extend(worked.odd)

    # ---- cores ----------------------------------------------------------------------------

    def number(self, packed: Array) -> Array:
        """The numbers of packed cores."""
        numbers, new = self._core.number(packed)
        if len(new):
            self._meet(new)
        return numbers

    def _meet(self, new: Array) -> None:
        self._packed.extend(new)
        for name, column in self.cores.unpack(new).items():
            self._columns[name].extend(column)
        self._place.extend(np.full((len(new), self.classes), -1, dtype=np.int32))
        self._pressed.extend(np.full((len(new), EVENTS, self.classes), -1, dtype=np.int32))

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
        chosen = np.full((len(cores), len(self.core_moves)), -1, dtype=np.int32)
        row, which, before = self._changes(columns, packed)
        slots = [
            (cores[self.presses.leads_to[e, classes, g]] * EVENTS + e) * self.classes + g
            for e in range(EVENTS)
            for g in range(self.classes)
        ]
        event = self._event[which]
        known = np.where(event == NONE, self._core.find(before), -1)
        met, other = np.flatnonzero(known >= 0), np.flatnonzero(known < 0)
        slot = self._slot(known[met], classes[row[met]])
        reactions = np.empty(len(row), dtype=np.int32)
        reactions[other] = self._fill(
            np.concatenate([*slots, slot]), before[other], classes[row[other]], event[other]
        )
        reactions[met] = self._slots[slot]
        chosen[row, which] = reactions
        self._chosen.extend(chosen)
        ends, many, odd = self._summed(cores, chosen)
        self._ends.extend(ends)
        self._many.extend(many)
        self._odd.extend(odd)

    def _changes(self, columns: dict[str, Array], packed: Array) -> tuple[Array, Array, Array]:
        """Every choice of some cores that is no button, nothing having followed.

        Returns
        -------
        row, which : (N,) of int
            The place among the cores, and the place of the choice in `core_moves`.
        before : (N,) of int64
            The packed core once the choice has been made.
        """
        plain = self._plain
        values = np.stack([columns[v] for v in plain.variables])
        which, row = np.nonzero(values == plain.old[:, None])
        parts = [(row, plain.which[which], packed[row] + plain.step[which])]
        for n in self._others:
            at = np.flatnonzero(self.moves[self.core_moves[n]].when(columns))
            if len(at):
                parts.append((at, np.full(len(at), n), self._changed(n, columns, packed, at)))
        rows, moves, before = (np.concatenate(p) for p in zip(*parts, strict=True))
        return rows, moves, before

    def _changed(self, n: int, columns: dict[str, Array], packed: Array, at: Array) -> Array:
        """The packed cores once one choice has been made in some rows."""
        here = _Picked(columns, at)
        out = packed[at]
        for name, value in self.moves[self.core_moves[n]].change(here).items():
            out += (value.astype(np.int64) - here[name]) * self.cores.stride[name]
        return out

    def _summed(self, cores: Array, chosen: Array) -> tuple[Array, Array, Array]:
        """Where rows of choices lead: `ends`, `many` and `odd`."""
        none = chosen < 0
        ends = self.after[chosen]
        if self._special:
            kills, raced, chatters, _ = np.moveaxis(self._flags.data[chosen], -1, 0)
            odd = ((kills | raced | chatters) & ~none).any(axis=1)
            none |= kills
        else:
            odd = np.zeros(len(cores), dtype=bool)
        last = np.iinfo(np.int32).max
        ends[none | (ends == cores[:, None])] = last
        ends.sort(axis=1)
        ends[:, 1:][ends[:, 1:] == ends[:, :-1]] = last
        ends.sort(axis=1)
        own = ends == last
        many = len(self.core_moves) - own.sum(axis=1)
        return np.where(own, cores[:, None], ends), many, odd

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
        slot = self._slot(cores, classes)
        self._fill(slot)
        return np.asarray(self._slots[slot])

    @property
    def _slots(self) -> Array:
        """`pressed` as one row."""
        return self.pressed.reshape(-1)

    def _slot(self, cores: Array, classes: Array) -> Array:
        return (cores.astype(np.int64) * EVENTS + NONE) * self.classes + classes

    def _fill(
        self, slots: Array, packed: Array = NOBODY, classes: Array = NOBODY, event: Array = NOBODY
    ) -> Array:
        """Work the reactions of slots that have none yet, and others; the numbers of the others.

        A reaction that is no slot's is not kept: few choices lead to the same moment that is not
        at rest.
        """
        slots = slots[self._slots[slots] < 0]
        mine = -2 - np.arange(len(slots), dtype=np.int32)
        self._slots[slots] = mine
        slots = slots[self._slots[slots] == mine]
        core, left = np.divmod(slots, EVENTS * self.classes)
        events, g = np.divmod(left, self.classes)
        first = self._work(
            np.concatenate([packed, self._packed.data[core]]),
            np.concatenate([classes, g]),
            np.concatenate([event, events]),
        )
        self._slots[slots] = first[len(packed) :]
        return first[: len(packed)]

    def _work(self, packed: Array, classes: Array, event: Array) -> Array:
        """The numbers of new reactions; of those whose relays race, of the first outcome."""
        begin = len(self.after)
        origin, after, flags = self._outcomes(packed, classes, event)
        self._keys.extend(((packed * self.classes + classes) * EVENTS + event)[origin])
        self._after.extend(after)
        self._flags.extend(flags)
        first, more = _first_and_more(origin, len(packed))
        numbers = (begin + first).astype(np.int32)
        of = numbers[origin[more]]
        self.others += zip(of.tolist(), (begin + more).tolist(), strict=True)
        return numbers

    def _outcomes(self, packed: Array, classes: Array, event: Array) -> tuple[Array, Array, Array]:
        """Every outcome of reactions: of which it is, rising; the core after; the flags."""
        if not len(packed):
            return NOBODY, NOBODY, np.empty((0, 4), dtype=bool)
        press = self.presses.stands_for[classes].astype(np.int32)
        columns = self.cores.unpack(packed) | {"press": press}
        out = self.reaction.react(columns, event.astype(np.int32), every=True)
        killed = out.columns["press"] != press[out.origin]
        flags = np.stack([killed, out.raced, out.chatters, out.unstable], axis=1)
        self._special = self._special or bool(flags.any())
        return out.origin, self.number(self.cores.pack(out.columns)), flags

    def _work_again(self, reactions: Array) -> Array:
        """Work reactions once more, the tables having changed; whether each ends otherwise."""
        packed, classes, event = self.asked(reactions)
        origin, after, flags = self._outcomes(packed, classes, event)
        first, more = _first_and_more(origin, len(reactions))
        moved: Array = self.after[reactions] != after[first]
        moved |= (self._flags.data[reactions] != flags[first]).any(axis=1)
        moved[origin[more]] = True
        if self.others:
            gone = set(reactions.tolist())
            self.others = [(a, b) for a, b in self.others if a not in gone]
        self.after[reactions], self._flags.data[reactions] = after[first], flags[first]
        others = len(self.after) + np.arange(len(more))
        self._keys.extend(self.keys[reactions[origin[more]]])
        self._after.extend(after[more])
        self._flags.extend(flags[more])
        self.others += zip(reactions[origin[more]].tolist(), others.tolist(), strict=True)
        return moved

    def asked(self, reactions: Array) -> tuple[Array, Array, Array]:
        """What reactions are of: the packed core before, the class of its press, the event."""
        before, event = np.divmod(self._keys.data[reactions], EVENTS)
        return *np.divmod(before, self.classes), event

    def known(self, columns: dict[str, Array], event: int) -> tuple[dict[str, Array], bool] | None:
        """What follows in one state once a choice is made, where it was worked and is plain.

        Parameters
        ----------
        columns : mapping of str to (1,) of int
        event : int

        Returns
        -------
        columns, settles : mapping and bool, or None
        """
        press = int(columns["press"][0])
        packed = int(self.cores.pack(columns)[0])
        key = (packed * self.classes + int(self.presses.of[press])) * EVENTS + event
        at = np.flatnonzero(self.keys == key)
        if not len(at) or self._flags.data[at[0], 1:].any():
            return None
        core = self.after[at[:1]]
        after = self.rows(core, np.array([0 if self.kills[at[0]] else press]))
        return {n: np.array(c) for n, c in after.items()}, True


def _first_and_more(origin: Array, count: int) -> tuple[Array, Array]:
    """The place of the first outcome of each, and the places of all further ones."""
    first = np.searchsorted(origin, np.arange(count))
    rest = np.ones(len(origin), dtype=bool)
    rest[first] = False
    return first, np.flatnonzero(rest)
