"""Several faulty cars searched at once: which of them a state is of is one variable more.

The cars differ in a few tables only. Where they do, their tables stand side by side in one; a level
of the search then works all of them at once, and what one reaches is taken out again at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from functools import cached_property

import numpy as np

from startwright.prove.explore import Beside, Explored, Seeds
from startwright.prove.faulty import together
from startwright.prove.kept import Kept
from startwright.prove.model import Model, Variable
from startwright.prove.presses import Presses
from startwright.prove.steps import Steps
from startwright.prove.tables import MOST_ROWS, Array, Table, TooLarge, same
from startwright.prove.worked import Parted

NOTHING = np.zeros(0, dtype=bool)
WHICH = "#car"
"""The variable that says which of the cars a state is of."""


def side_by_side(tables: Sequence[Table]) -> Table:
    """One table for several cars, over the car as well where theirs are not all the same."""
    first = tables[0]
    if all(same(first, t) for t in tables):
        return first
    sizes = {v: n for t in tables for v, n in zip(t.over, t.data.shape, strict=True)}
    shape = (len(tables), *sizes.values())
    if int(np.prod(shape, dtype=np.int64)) > MOST_ROWS * 8:
        raise TooLarge(f"tables of {len(tables)} cars over {len(sizes)} variables")
    data = np.empty(shape, dtype=np.result_type(*(t.data for t in tables)))
    for k, table in enumerate(tables):
        data[k] = table.lift(tuple(sizes))
    return Table((WHICH, *sizes), data)


def as_one(models: Sequence[Model]) -> Model:
    """A model of several cars that differ in their tables alone, over which of them it is.

    What is no table is taken of the first.
    """
    first = models[0]
    out = copy(first)
    out.kept, out.moments = Kept(first.kept), {}
    own = vars(out)
    own.pop("feedback", None)
    own["coils"] = {c: side_by_side([m.coils[c] for m in models]) for c in first.coils}
    own["inputs"] = {
        lead: (what, side_by_side([m.inputs[lead][1] for m in models]))
        for lead, (what, _) in first.inputs.items()
    }
    own["button"] = {b: side_by_side([m.button[b] for m in models]) for b in first.button}
    for name in ("turns", "ignition", "ignition_seen", "alive", "immobilizer", "tach_lives"):
        own[name] = side_by_side([getattr(m, name) for m in models])
    own["variables"] = (Variable(WHICH, len(models)), *first.variables)
    return out


def seeds_of_each(seeds: Sequence[Seeds]) -> Seeds:
    """The states that several cars begin with, over which of them it is."""
    every = together(seeds)
    which = np.repeat(np.arange(len(seeds), dtype=np.int32), [len(s.rows) for s in seeds])
    return Seeds(every.columns | {WHICH: which}, every.rows)


class Family(Steps):
    """The steps of several cars of the same variables, whose presses are told apart alike.

    Parameters
    ----------
    models : sequence of Model
    presses : Presses
        How each of them tells presses apart.
    """

    def __init__(self, models: Sequence[Model], presses: Presses) -> None:
        super().__init__(as_one(models), presses=presses)
        self.models = models
        self._span = self.cores.stride[WHICH]
        """How far the cores of one car lie from those of the next, packed."""
        self._otherwise: Array = NOTHING
        """For each reaction taken over whether it ends otherwise."""
        self._moved: Array = NOTHING
        """For each row of choices taken over whether any of them does, or comes or goes."""
        self._sound: Explored | None = None

    def take_over(self, sound: Explored, hits: Sequence[Array]) -> None:
        """Begin with the steps of a sound car; what a fault touches is worked again.

        Parameters
        ----------
        sound : Explored
        hits : sequence of (K,) of bool
            For each car the reactions in which a row is looked up that its fault has changed.
        """
        steps, count = sound.steps, len(self.models)
        self.begin_with(steps.worked.times(count, self._span, self._span * self.keys_of_core))
        again = np.flatnonzero(np.concatenate(hits))
        self._sound, self._otherwise = sound, np.concatenate(hits)
        self._otherwise[again] = self._work_again(again)
        self._moved = np.asarray(_among(self._otherwise, self.chosen).any(axis=1))
        core, g = np.nonzero(self.place >= 0)
        row = self.place[core, g]
        self._moved[row] |= self._choose_again(core, g, row)
        of = np.empty(len(self._moved), dtype=np.int64)
        of[row] = core
        at = np.flatnonzero(self._moved)
        self.ends[at], self.many[at], self.odd[at] = self._summed(of[at], self.chosen[at])

    def _choose_again(self, core: Array, g: Array, row: Array) -> Array:
        """See to choices that a fault has made possible or impossible; whether it has, by core."""
        moved: Array = np.zeros(len(core), dtype=bool)
        columns, packed = self.rows(core, self.presses.stands_for[g]), self._packed.data[core]
        for n in self._others:
            move = self.moves[self.core_moves[n]]
            can, could = move.when(columns), self.chosen[row, n] >= 0
            moved |= can != could
            self.chosen[row[could & ~can], n] = -1
            at = np.flatnonzero(can & ~could)
            if len(at):
                before = self._changed(n, columns, packed, at)
                reactions = self._work(before, g[at], np.full(len(at), move.event))
                self.chosen[row[at], n] = reactions
        return moved

    # ---- one of them ----------------------------------------------------------------------

    @cached_property
    def _parted(self) -> Parted:
        """The steps of each car, once the search has ended."""
        of_reaction = self.keys // (self._span * self.keys_of_core)
        return self.worked.parted(self.columns[WHICH], of_reaction, len(self.models))

    def part(self, explored: Explored, k: int, seeds: Seeds) -> Explored:
        """What one car reaches, with its own steps.

        Parameters
        ----------
        explored : Explored
            By all of them.
        k : int
        seeds : Seeds
            What this car began with.
        """
        steps = Steps(self.models[k], presses=self.presses)
        first = k * self._span
        steps.begin_with(self._parted.part(k, first, first * self.keys_of_core))
        of_core, core = self.columns[WHICH], self._parted.cores.place
        levels = []
        for at, rows in explored.levels:
            mine = np.flatnonzero(of_core[at] == k)
            if not len(mine):
                break
            levels.append((core[at[mine]], rows[mine]))
        cores = self._parted.cores.members[k]
        reached = explored.reached[cores]
        beside = None if self._sound is None else Beside(self._sound, self._fresh(k))
        return Explored(steps, reached, levels, explored.finished, seeds, beside)

    def _fresh(self, k: int) -> Array:
        """For each core and class of one car whether anything follows that does in no sound one."""
        assert self._sound is not None
        sound = self._sound
        cores = self._parted.cores.members[k]
        begun = cores[: len(sound.reached)]
        out: Array = np.ones((len(cores), self.classes), dtype=bool)
        pressed = np.asarray(_among(self._otherwise, self.pressed[begun]).any(axis=(1, 2)))
        known = _among(self._moved, self.place[begun]) | pressed[:, None]
        for g in range(self.classes):
            of_class = sound.bits.mask(np.array(self.presses.of == g))
            known[:, g] |= ~(sound.reached & of_class).any(axis=1)
        out[: len(begun)] = known
        return out


def _among(of: Array, numbers: Array) -> Array:
    """What is known of numbers: False for -1 (none), True for those beyond what is known."""
    return np.asarray(np.concatenate([of, [True, False]])[np.minimum(numbers, len(of))])
