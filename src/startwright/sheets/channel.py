"""A channel: the strip in which runs change their height, each on a track of its own.

A run enters a channel on its left or right edge at some height and leaves it on either edge at
another. Between, it goes up or down on one track. Two runs never share a piece of line; which
track each gets decides how often they cross.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Generic, NamedTuple, TypeVar

NEAR = 8
"""Lines closer than this would touch, in pixels."""
FORBIDDEN = 100_000

Key = TypeVar("Key", bound=Hashable)


class Pass(NamedTuple):
    """How one run passes a channel: the heights at which it stands at the left and right edge.

    A run from left to right has one of each, a run that turns back has two on one side.
    """

    left: tuple[int, ...]
    right: tuple[int, ...]

    @property
    def low(self) -> int:
        """The upper of the two heights (the smaller y)."""
        return min(self.left + self.right)

    @property
    def high(self) -> int:
        """The lower of the two heights (the larger y)."""
        return max(self.left + self.right)

    @property
    def straight(self) -> bool:
        """Whether it goes through without changing its height."""
        return self.low == self.high


@dataclass
class Tracks(Generic[Key]):
    """The answer: a track for every run that changes its height, and how many tracks there are."""

    track: dict[Key, int]
    count: int
    clashes: int


def _cost(first: Pass, second: Pass) -> int:
    """Crossings of two runs if `first` has a track to the left of `second`."""
    cost = sum(first.low < y < first.high for y in second.left)
    cost += sum(second.low < y < second.high for y in first.right)
    if any(abs(a - b) < NEAR for a in first.right for b in second.left):
        cost += FORBIDDEN
    return cost


def assign(passes: Mapping[Key, Pass]) -> Tracks[Key]:
    """Put the runs of a channel on tracks, so that none overlap and few cross.

    Parameters
    ----------
    passes : mapping
        How each run passes. Heights on one edge differ by at least `NEAR`.

    Returns
    -------
    Tracks
        Track 0 is the leftmost. `clashes` counts pairs that no order keeps apart; the caller
        then moves some heights and tries again.
    """
    keys = [k for k, p in passes.items() if not p.straight]
    n = len(keys)
    rows = [passes[k] for k in keys]
    cost = [[0 if a == b else _cost(rows[a], rows[b]) for b in range(n)] for a in range(n)]
    order: list[int] = []
    for a in sorted(range(n), key=lambda k: (rows[k].high - rows[k].low, rows[k].low, k)):
        _insert_best(order, a, cost)
    for _ in range(4):
        before = list(order)
        for a in range(n):
            order.remove(a)
            _insert_best(order, a, cost)
        if order == before:
            break
    track = [0] * n
    for k, b in enumerate(order):
        for a in order[:k]:
            if rows[a].low < rows[b].high + NEAR and rows[b].low < rows[a].high + NEAR:
                track[b] = max(track[b], track[a] + 1)
    clashes = sum(cost[a][b] >= FORBIDDEN for k, b in enumerate(order) for a in order[:k])
    return Tracks({keys[a]: track[a] for a in range(n)}, max(track, default=-1) + 1, clashes)


def _insert_best(order: list[int], a: int, cost: list[list[int]]) -> None:
    """Put `a` where it costs least; the leftmost such place."""
    now = sum(cost[a][b] for b in order)
    best, at = now, 0
    for k, b in enumerate(order):
        now += cost[b][a] - cost[a][b]
        if now < best:
            best, at = now, k + 1
    order.insert(at, a)
