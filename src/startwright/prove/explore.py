"""Every reachable state, breadth first, as whole states.

The states of one core are the bits of one row: which presses were reached with it. Each level of
the search is worked at once, rows joined where choices lead (`prove/steps.py` says where). What was
new in each level is kept, so every state has its number and the first that breaks a rule its
shortest way, which is looked for backwards where it is asked for. A search that stops early says
so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from startwright.prove.bits import WORD, Bits, spread
from startwright.prove.choices import EVENTS
from startwright.prove.model import Model
from startwright.prove.reaction import Reaction, Settled
from startwright.prove.steps import Steps
from startwright.prove.tables import Array

MOST_STATES = 20_000_000


@dataclass(frozen=True)
class Seeds:
    """States to begin with: the variables of their cores (N,) and their presses as (N, W) bits."""

    columns: dict[str, Array]
    rows: Array


@dataclass(frozen=True)
class Beside:
    """The sound car's search that a faulty car's has begun with: its cores have the same numbers.

    Attributes
    ----------
    sound : Explored
    fresh : (C, G) of bool
        For each core and class whether anything follows that does not in the sound car.
    """

    sound: Explored
    fresh: Array


@dataclass
class Explored:
    """What was reached.

    Attributes
    ----------
    steps : Steps
        Where each choice leads.
    reached : (C, W) of uint64
        For each core the presses reached with it.
    levels : list of ((n,) of int, (n, W) of uint64)
        What was new in each level: cores in rising order, and their presses.
    finished : bool
        Whether nothing was left to visit.
    """

    steps: Steps
    reached: Array
    levels: list[tuple[Array, Array]] = field(default_factory=list)
    finished: bool = True
    seeds: Seeds | None = None
    beside: Beside | None = None
    seen: dict[str, Any] = field(default_factory=dict)
    """The columns that rules looked at, kept for those who look again."""
    ways: dict[tuple[int, int, int], tuple[int, int, int]] = field(default_factory=dict)
    """Steps of ways that were looked for before."""

    def __len__(self) -> int:
        return int(self.begins[-1])

    @cached_property
    def bits(self) -> Bits:
        """How presses stand in words."""
        return Bits(self.steps.presses.count)

    @cached_property
    def begins(self) -> Array:
        """The number of the first state of each level, and how many there are."""
        sizes = [int(self.bits.count(rows).sum()) for _, rows in self.levels]
        return np.cumsum([0, *sizes])

    @cached_property
    def packed(self) -> Array:
        """(N,) of int64: every state, in the order it was found."""
        space, stride = self.steps.space, self.steps.space.stride["press"]
        nothing = {"press": np.zeros(self.steps.count, dtype=np.int32)}
        whole = space.pack(self.steps.columns | nothing)
        out = []
        for cores, rows in self.levels:
            row, press = self.bits.list(rows)
            out.append(whole[cores[row]] + press * stride)
        return np.concatenate(out)

    # ---- numbers of states ----------------------------------------------------------------

    def number(self, level: int, core: int, press: int) -> int:
        """The number of a state that was new in a level."""
        cores, rows = self.levels[level]
        at = int(np.searchsorted(cores, core))
        below = np.arange(self.bits.size) < press
        inside = int(self.bits.count(rows[at : at + 1] & self.bits.mask(below))[0])
        return int(self.begins[level]) + int(self.bits.count(rows[:at]).sum()) + inside

    def state(self, number: int) -> tuple[int, int, int]:
        """Level, core and press of a state by its number."""
        level = int(np.searchsorted(self.begins, number, side="right")) - 1
        cores, rows = self.levels[level]
        left = number - int(self.begins[level])
        ends = np.cumsum(self.bits.count(rows))
        at = int(np.searchsorted(ends, left, side="right"))
        _, press = self.bits.list(rows[at : at + 1])
        inside = left - (int(ends[at - 1]) if at else 0)
        return level, int(cores[at]), int(press[inside])

    def first_of(self, wanted: Array) -> int | None:
        """The number of the first state among the wanted ones, (C, W) bits; None where none is."""
        for level, (cores, rows) in enumerate(self.levels):
            hit = np.flatnonzero((rows & wanted[cores]).any(axis=1))
            if len(hit):
                at = hit[0]
                _, press = self.bits.list((rows & wanted[cores])[at : at + 1])
                return self.number(level, int(cores[at]), int(press[0]))
        return None

    def row(self, number: int) -> dict[str, int]:
        """The variables of a state."""
        _, core, press = self.state(number)
        return {**{n: int(c[core]) for n, c in self.steps.columns.items()}, "press": press}

    def first_at(self, core: int, press: int) -> int:
        """The number of a reached state by core and press."""
        wanted = np.zeros_like(self.reached)
        wanted[core] = self.bits.of(np.array([press]))[0]
        number = self.first_of(wanted)
        assert number is not None
        return number

    # ---- ways -----------------------------------------------------------------------------

    def steps_to(self, state: int) -> list[tuple[int, int]]:
        """The states on the way to a state and the choice made in each, first to last."""
        out: list[tuple[int, int]] = []
        level, core, press = self.state(state)
        while level:
            level -= 1
            core, press, choice = self._before(level, core, press)
            out.append((self.number(level, core, press), choice))
        return out[::-1]

    def _before(self, level: int, core: int, press: int) -> tuple[int, int, int]:
        """The first state of a level with a choice that leads to a state, and the choice."""
        if (level, core, press) not in self.ways:
            steps, presses = self.steps, self.steps.presses
            found = self._by_choice(level, core, press, int(presses.of[press]), kills=False)
            for button, event, to in presses.moves:
                for was in np.flatnonzero(to == press):
                    reached = self._having(level, int(was))
                    reactions = steps.pressed[reached, event, presses.of[press]]
                    ends = self._ending(reactions, core, kills=False)
                    found += [(int(c), int(was), button) for c in reached[ends][:1]]
            if press == 0 and bool(steps.kills.any()):
                found += self._killed(level, core)
            self.ways[level, core, press] = min(found)
        return self.ways[level, core, press]

    def _having(self, level: int, press: int) -> Array:
        """The cores that were new in a level with a press."""
        cores, rows = self.levels[level]
        word, bit = press // WORD, np.uint64(press % WORD)
        return np.asarray(cores[(rows[:, word] >> bit & np.uint64(1)).astype(bool)])

    def _ending(self, reactions: Array, core: int, *, kills: bool) -> Array:
        """Which of the places lead to a core by one of the outcomes of their reaction."""
        which, reaction = self.steps.followed(reactions)
        ends = (self.steps.after[reaction] == core) & (self.steps.kills[reaction] == kills)
        return np.flatnonzero(np.bincount(which[ends]))

    def _by_choice(
        self, level: int, core: int, press: int, g: int, *, kills: bool
    ) -> list[tuple[int, int, int]]:
        """The ways to a core by choices that are no buttons, from states with a press."""
        steps = self.steps
        reached = self._having(level, press)
        chosen = steps.chosen[steps.place[reached, g]]
        row, move = np.nonzero(chosen >= 0)
        ends = self._ending(chosen[row, move], core, kills=kills)
        return [(int(reached[row[k]]), press, steps.core_moves[int(move[k])]) for k in ends]

    def _killed(self, level: int, core: int) -> list[tuple[int, int, int]]:
        """The ways to a core on which the unit lost its life with some press under way."""
        steps, presses = self.steps, self.steps.presses
        found = []
        for was in range(presses.count):
            found += self._by_choice(level, core, was, int(presses.of[was]), kills=True)
            for button, event, to in presses.moves:
                if to[was] >= 0:
                    reached = self._having(level, was)
                    reactions = steps.pressed[reached, event, presses.of[to[was]]]
                    ends = self._ending(reactions, core, kills=True)
                    found += [(int(c), was, button) for c in reached[ends]]
        return found

    def seed_of(self, state: int) -> tuple[int, int]:
        """For a state of the first level the seed it came of: its row in `seeds`, and its press."""
        _, core, press = self.state(state)
        assert self.seeds is not None
        cores = self.steps.number(self.steps.cores.pack(self.seeds.columns))
        for g in range(self.steps.classes):
            of_class = self.seeds.rows & self.bits.mask(np.array(self.steps.presses.of == g))
            at = np.flatnonzero(of_class.any(axis=1))
            which, reaction = self.steps.followed(
                self.steps.react(cores[at], np.full(len(at), g, dtype=np.int64))
            )
            kills = self.steps.kills[reaction]
            has = (of_class[at[which]] & self.bits.of(np.array([press]))).any(axis=1)
            ends = (self.steps.after[reaction] == core) & np.where(kills, press == 0, has)
            for k in np.flatnonzero(ends)[:1]:
                row = int(at[which[k]])
                _, presses = self.bits.list(of_class[row : row + 1])
                return row, int(presses[0]) if kills[k] else press
        raise ValueError(f"state {state} came of no seed")


def explore(
    model: Model,
    *,
    steps: Steps | None = None,
    seeds: Seeds | None = None,
    most: int = MOST_STATES,
    progress: Callable[[int], bool] = lambda states: True,
) -> Explored:
    """Visit every reachable state.

    Parameters
    ----------
    model : Model
    steps : Steps, optional
        Of this model, as far as they were worked before.
    seeds : Seeds, optional
        States to begin with instead of the parked car; they are let react first.
    most : int
        States after which the search gives up.
    progress : callable
        Called with the number of states so far; False stops the search.

    Returns
    -------
    Explored
        With `finished` False where it was stopped.
    """
    search = _Search(steps or Steps(model))
    search.begin(seeds)
    finished = True
    while len(search.levels[-1][0]):
        if search.total > most or not progress(search.total):
            finished = False
            break
        search.level()
    else:
        search.levels.pop()
    return Explored(
        search.steps, search.reached[: search.steps.count], search.levels, finished, seeds
    )


def initial(model: Model, reaction: Reaction) -> Settled:
    """The canonical parked start: key out, all shut, park, engine stopped, unit idle; settled."""
    columns = {v.name: np.zeros(1, dtype=np.int32) for v in model.variables}
    return reaction.react(columns, np.zeros(1, dtype=np.int32))


class _Search:
    """The rows reached so far, and the level that is worked."""

    def __init__(self, steps: Steps) -> None:
        self.steps = steps
        presses = steps.presses
        self.bits = Bits(presses.count)
        self.of_class = [self.bits.mask(presses.of == g) for g in range(steps.classes)]
        self.nobody = self.bits.of(np.zeros(1, dtype=np.int64))[0]
        self.tables = {
            event: self.bits.table(np.array([t for _, e, t in presses.moves if e == event]))
            for event in range(EVENTS)
            if any(e == event for _, e, _ in presses.moves)
        }
        self.reached = np.zeros((1 << 10, self.bits.words), dtype=np.uint64)
        self.into = np.zeros_like(self.reached)
        self.levels: list[tuple[Array, Array]] = []
        self.total = 0

    def begin(self, seeds: Seeds | None) -> None:
        """The first level: the parked car or the seeds, let react."""
        steps = self.steps
        if seeds is None:
            cores, rows = steps.number(np.zeros(1, dtype=np.int64)), self.nobody[None]
        else:
            cores, rows = steps.number(steps.cores.pack(seeds.columns)), seeds.rows
        for g, of_class in enumerate(self.of_class):
            at = np.flatnonzero((rows & of_class).any(axis=1))
            if len(at):
                reactions = steps.react(cores[at], np.full(len(at), g, dtype=np.int64))
                self._room()
                self._follow(reactions, rows[at] & of_class)
        self._room()
        self._take()

    def level(self) -> None:
        """Work all choices of the last level."""
        steps = self.steps
        cores, rows = self.levels[-1]
        parts = []
        for g, of_class in enumerate(self.of_class):
            rows_g = rows & of_class
            at = np.flatnonzero(rows_g.any(axis=1))
            if len(at):
                parts.append((g, cores[at], rows_g[at]))
        steps.build(
            np.concatenate([c for _, c, _ in parts]),
            np.concatenate([np.full(len(c), g) for g, c, _ in parts]),
        )
        self._room()
        for g, at, rows_g in parts:
            place = steps.place[at, g]
            many = steps.many[place]
            order = np.argsort(-many, kind="stable")
            ends, rows_many = steps.ends[place[order]], rows_g[order]
            lengths = len(many) - np.cumsum(np.bincount(many))
            for k, length in enumerate(lengths[:-1]):
                self._join(ends[:length, k], rows_many[:length])
            odd = np.flatnonzero(steps.odd[place])
            if len(odd):
                chosen = steps.chosen[place[odd]]
                row, move = np.nonzero(chosen >= 0)
                self._follow(chosen[row, move], rows_g[odd[row]])
        for event, table in self.tables.items():
            moved = self.bits.moved(table, rows)
            for g, of_class in enumerate(self.of_class):
                rows_g = moved & of_class
                at = np.flatnonzero(rows_g.any(axis=1))
                if len(at):
                    self._follow(steps.pressed[cores[at], event, g], rows_g[at])
        self._take()

    def _follow(self, reactions: Array, rows: Array) -> None:
        """Join rows where reactions end."""
        steps = self.steps
        which, reactions = steps.followed(reactions)
        kills = steps.kills[reactions]
        if len(which) > len(rows) or kills.any():
            rows = np.where(kills[:, None], self.nobody, rows[which])
        self._join(steps.after[reactions], rows)

    def _join(self, at: Array, rows: Array) -> None:
        new = np.flatnonzero((rows & ~self.reached[at]).any(axis=1))
        spread(self.into, at[new], rows[new])

    def _room(self) -> None:
        count = self.steps.count
        if count > len(self.reached):
            for name in ("reached", "into"):
                old = getattr(self, name)
                new = np.zeros((2 * count, self.bits.words), dtype=np.uint64)
                new[: len(old)] = old
                setattr(self, name, new)

    def _take(self) -> None:
        count = self.steps.count
        fresh = self.into[:count] & ~self.reached[:count]
        at = np.flatnonzero(fresh.any(axis=1))
        rows = fresh[at]
        self.reached[at] |= rows
        self.into[:count] = 0
        self.levels.append((at, rows))
        self.total += int(self.bits.count(rows).sum())
