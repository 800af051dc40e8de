"""Every reachable state, breadth first, as whole states on packed integers.

Each level of the search is worked at once: all choices from all states of the frontier, made unique
before the reaction is worked (the choices of many states collide), then the reaction as table
look-ups, then what is new. Parents are kept, so the first state that breaks a rule has the shortest
trace. A search that stops early says so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from startwright.prove.choices import Choice, choices
from startwright.prove.model import Model
from startwright.prove.reaction import Reaction, Settled
from startwright.prove.tables import Array, TooLarge

BITMAP_MOST = 1 << 30
"""Packed spaces up to this size are marked in a bitmap; larger ones in a sorted array."""


@dataclass
class Edges:
    """The steps found from one level: parent and state after it, choice, and its flags."""

    parent: Array
    choice: Array
    after: Array
    raced: Array
    chatters: Array
    unstable: Array


@dataclass
class Explored:
    """What was reached.

    Attributes
    ----------
    packed : (N,) of int64
        Every state, in the order it was found.
    parent, choice : (N,) of int
        Where each state was first reached from, and by which choice (-1 for the first).
    finished : bool
        Whether nothing was left to visit.
    """

    packed: Array
    parent: Array
    choice: Array
    levels: list[int] = field(default_factory=list)
    finished: bool = True
    origin: Array = field(default_factory=lambda: np.zeros(1, dtype=np.int64))
    """For each state of the first level the seed it came of."""

    def steps_to(self, state: int) -> list[tuple[int, int]]:
        """The states on the way to a state and the choice made in each, first to last."""
        out: list[tuple[int, int]] = []
        while self.parent[state] >= 0:
            parent = int(self.parent[state])
            out.append((parent, int(self.choice[state])))
            state = parent
        return out[::-1]


class Space:
    """Packs states of a model into integers and back."""

    def __init__(self, model: Model) -> None:
        self.variables = model.variables
        sizes = [v.size for v in self.variables]
        strides = np.cumprod([1, *sizes[::-1]], dtype=object)[::-1]
        self.size = int(strides[0])
        if self.size >= 1 << 62:
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
        for v in self.variables:
            stride = self.stride[v.name]
            value = packed // stride % v.size if stride > 1 else packed % v.size
            out[v.name] = value.astype(np.int32)
        return out


class _Seen:
    def __init__(self, size: int) -> None:
        self._bits = np.zeros(size, dtype=bool) if size <= BITMAP_MOST else None
        self._sorted = np.empty(0, dtype=np.int64)

    def new(self, packed: Array) -> Array:
        """Which of these sorted unique states were not seen before; they are now."""
        if self._bits is not None:
            fresh = ~self._bits[packed]
            self._bits[packed] = True
            return fresh
        at = np.searchsorted(self._sorted, packed)
        at[at == len(self._sorted)] = 0
        fresh = (
            self._sorted[at] != packed if len(self._sorted) else np.ones(len(packed), dtype=bool)
        )
        self._sorted = np.sort(np.concatenate([self._sorted, packed[fresh]]))
        return fresh


def explore(
    model: Model,
    on_states: Callable[[int, dict[str, Array]], None] = lambda first, columns: None,
    on_edges: Callable[[Edges, dict[str, Array], dict[str, Array]], None] = (
        lambda edges, before, after: None
    ),
    *,
    seeds: Array | None = None,
    most: int = 20_000_000,
    progress: Callable[[int], bool] = lambda states: True,
) -> Explored:
    """Visit every reachable state.

    Parameters
    ----------
    model : Model
    on_states : callable
        Called with the number of the first new state and the columns of all new ones.
    on_edges : callable
        Called with the steps of a level, the columns of the level, and the columns of the distinct
        states after (`edges.after` indexes them).
    seeds : (S,) of int64, optional
        Packed states to begin with instead of the parked car; they are let react first. States
        found are then numbered from them, and `Explored.seeds` says which seed each first came of.
    most : int
        States after which the search gives up.
    progress : callable
        Called with the number of states so far; False stops the search.

    Returns
    -------
    Explored
        With `finished` False where it was stopped.
    """
    space = Space(model)
    reaction = Reaction(model)
    moves = choices(model)
    if seeds is None:
        packed, origin = space.pack(initial(model, reaction).columns), np.zeros(1, dtype=np.int64)
    else:
        after = reaction.react(space.unpack(seeds), np.zeros(len(seeds), dtype=np.int32))
        packed, origin = np.unique(space.pack(after.columns), return_index=True)
    seen = _Seen(space.size)
    seen.new(packed)
    found, parents = [packed], [np.full(len(packed), -1)]
    chosen = [np.full(len(packed), -1, dtype=np.int16)]
    levels = [len(packed)]
    on_states(0, space.unpack(packed))
    start, total, finished = 0, len(packed), True
    frontier = packed
    while len(frontier):
        if total > most or not progress(total):
            finished = False
            break
        columns = space.unpack(frontier)
        edges, after_packed = _level(space, reaction, moves, frontier, columns)
        ends = space.unpack(after_packed)
        on_edges(edges, columns, ends)
        fresh = seen.new(after_packed)
        where = np.flatnonzero(fresh)
        if not len(where):
            break
        first_edge = np.empty(len(after_packed), dtype=np.int64)
        first_edge[edges.after[::-1]] = np.arange(len(edges.after))[::-1]
        by = first_edge[where]
        found.append(after_packed[where])
        parents.append(edges.parent[by] + start)
        chosen.append(edges.choice[by])
        levels.append(len(where))
        on_states(total, {k: v[where] for k, v in ends.items()})
        start = total
        total += len(where)
        frontier = after_packed[where]
    return Explored(
        np.concatenate(found),
        np.concatenate(parents),
        np.concatenate(chosen),
        levels,
        finished,
        origin,
    )


def initial(model: Model, reaction: Reaction) -> Settled:
    """The canonical parked start: key out, all shut, park, engine stopped, unit idle; settled."""
    columns = {v.name: np.zeros(1, dtype=np.int32) for v in model.variables}
    return reaction.react(columns, np.zeros(1, dtype=np.int32))


def _level(
    space: Space,
    reaction: Reaction,
    moves: list[Choice],
    frontier: Array,
    columns: dict[str, Array],
) -> tuple[Edges, Array]:
    pre, parent, choice = [], [], []
    for k, move in enumerate(moves):
        rows = np.flatnonzero(move.when(columns))
        if not len(rows):
            continue
        here = {n: c[rows] for n, c in columns.items()}
        packed = frontier[rows]
        for name, value in move.change(here).items():
            packed = packed + (value.astype(np.int64) - here[name]) * space.stride[name]
        pre.append(packed * 4 + move.event)
        parent.append(rows)
        choice.append(np.full(len(rows), k, dtype=np.int16))
    every = np.concatenate(pre)
    unique, back = np.unique(every, return_inverse=True)
    event_of = (unique % 4).astype(np.int32)
    out = reaction.react(space.unpack(unique // 4), event_of)
    post = space.pack(out.columns)
    ends, at = np.unique(post, return_inverse=True)
    edges = Edges(
        np.concatenate(parent),
        np.concatenate(choice),
        at[back],
        out.raced[back],
        out.chatters[back],
        out.unstable[back],
    )
    if out.raced.any():
        edges, ends = _other_orders(space, reaction, unique, event_of, out, edges, ends, back)
    return edges, ends


def _other_orders(
    space: Space,
    reaction: Reaction,
    unique: Array,
    event_of: Array,
    out: Settled,
    edges: Edges,
    ends: Array,
    back: Array,
) -> tuple[Edges, Array]:
    """The steps again where relays raced, once for each other outcome."""
    raced = np.flatnonzero(out.raced)
    posts, befores = [ends[edges.after]], [np.arange(len(edges.after))]
    for policy in range(1, int(out.outcomes.max())):
        other = reaction.react(space.unpack(unique[raced] // 4), event_of[raced], policy)
        post = np.full(len(unique), -1, dtype=np.int64)
        post[raced] = space.pack(other.columns)
        rows = np.flatnonzero(post[back] >= 0)
        posts.append(post[back][rows])
        befores.append(rows)
    row = np.concatenate(befores)
    new_ends, after = np.unique(np.concatenate(posts), return_inverse=True)
    return (
        Edges(
            edges.parent[row],
            edges.choice[row],
            after,
            edges.raced[row],
            edges.chatters[row],
            edges.unstable[row],
        ),
        new_ends,
    )
