"""The steps worked so far, as rows of numbers: to be laid out for several cars, or picked for one.

Cores, reactions and rows of choices are called by their numbers. Who lays rows out once for each of
several cars, or picks those of one, has to give them other numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from startwright.prove.tables import Array

NONE = np.int32(-1)


@dataclass(frozen=True)
class Worked:
    """Steps: of C cores, G classes of presses, K reactions, R rows of M choices.

    Attributes
    ----------
    packed : (C,) of int64
        Each core.
    place : (C, G) of int
        Its row of choices, -1 where there is none.
    pressed : (C, EVENTS, G) of int
        The reaction to an event, -1 where it was not worked.
    keys : (K,) of int64
        What each reaction is of: core, class and event in one number.
    after : (K,) of int
        The core after it.
    flags : (K, 4) of bool
        Whether the unit lost its life, relays raced, relays chattered, nothing came to rest.
    others : (N, 2) of int
        Reactions that can end otherwise, and the reaction that does.
    chosen : (R, M) of int
        The reaction to each choice, -1 where it cannot happen.
    ends : (R, M) of int
        The other cores each row leads to, each once, then its own.
    many : (R,) of int
        How many are others.
    odd : (R,) of bool
        Whether a row has reactions that `ends` leaves out.
    """

    packed: Array
    place: Array
    pressed: Array
    keys: Array
    after: Array
    flags: Array
    others: Array
    chosen: Array
    ends: Array
    many: Array
    odd: Array

    def times(self, count: int, span: int, key_span: int) -> Worked:
        """The same once for each of several cars, one after another.

        Parameters
        ----------
        count : int
        span, key_span : int
            How far the cores of one car lie from those of the next, packed; and the keys.
        """
        cores, reactions, rows = len(self.packed), len(self.after), len(self.chosen)

        def each(numbers: Array, step: int) -> Array:
            shift = (np.arange(count) * step).astype(numbers.dtype)
            shift = shift.reshape(-1, *[1] * numbers.ndim)
            out = np.where(numbers < 0, numbers, numbers + shift)
            return out.reshape(-1, *numbers.shape[1:])

        return Worked(
            each(self.packed, span),
            each(self.place, rows),
            each(self.pressed, reactions),
            each(self.keys, key_span),
            each(self.after, cores),
            np.tile(self.flags, (count, 1)),
            each(self.others, reactions),
            each(self.chosen, reactions),
            each(self.ends, cores),
            np.tile(self.many, count),
            np.tile(self.odd, count),
        )

    def parted(self, of_core: Array, of_reaction: Array, count: int) -> Parted:
        """The same in parts that lead to themselves only.

        Parameters
        ----------
        of_core, of_reaction : (C,), (K,) of int
            The part of each.
        count : int
            How many parts there are.
        """
        of_row = np.zeros(len(self.chosen), dtype=np.int64)
        core, g = np.nonzero(self.place >= 0)
        of_row[self.place[core, g]] = of_core[core]
        of_other = of_reaction[self.others[:, 0]]
        return Parted(
            self, *(_Parts.of(o, count) for o in (of_core, of_reaction, of_row, of_other))
        )


@dataclass(frozen=True)
class _Parts:
    """Numbers in parts: those of each, rising, and the place of each in its own.

    The last place stands for a number that is none.
    """

    members: list[Array]
    place: Array

    @classmethod
    def of(cls, part: Array, count: int) -> _Parts:
        order = np.argsort(part, kind="stable")
        begins = np.searchsorted(part[order], np.arange(count + 1))
        place = np.full(len(part) + 1, NONE)
        place[order] = np.arange(len(part)) - np.repeat(begins[:-1], np.diff(begins))
        return cls(np.split(order, begins[1:-1]), place)


@dataclass(frozen=True)
class Parted:
    """Steps in parts."""

    whole: Worked
    cores: _Parts
    reactions: _Parts
    rows: _Parts
    others: _Parts

    def part(self, k: int, first: int, first_key: int) -> Worked:
        """One part, with numbers of its own.

        Parameters
        ----------
        k : int
        first, first_key : int
            What is taken from each packed core, and from each key.
        """
        whole = self.whole
        core, reaction, row = self.cores.place, self.reactions.place, self.rows.place
        cores, reactions = self.cores.members[k], self.reactions.members[k]
        rows, others = self.rows.members[k], self.others.members[k]
        return Worked(
            whole.packed[cores] - first,
            row[whole.place[cores]],
            reaction.take(whole.pressed.take(cores, axis=0)),
            whole.keys[reactions] - first_key,
            core[whole.after[reactions]],
            whole.flags.take(reactions, axis=0),
            reaction[whole.others[others]],
            reaction.take(whole.chosen.take(rows, axis=0)),
            core.take(whole.ends.take(rows, axis=0)),
            whole.many[rows],
            whole.odd[rows],
        )
