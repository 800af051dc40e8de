"""What was done when: noted actions moved to the edges that they caused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from startwright.identify.actions import parse
from startwright.identify.edges import Cluster
from startwright.records.recordings import TimedAction

SPREAD_s = 0.35
"""Standard deviation of a noted time (people at a car, one hand on the key; no source)."""

FARTHEST_s = 1.3
UNMATCHED_NOTE = 3.2
UNMATCHED_CLUSTER = 0.6


@dataclass(frozen=True)
class Noted:
    """An action with its time as noted and as corrected.

    ``sure`` says that an edge was found for it; otherwise its time is known to
    about a second only.
    """

    noted_s: float
    time_s: float
    what: str
    to: str
    sure: bool
    proposed: bool = False


def align(actions: Sequence[TimedAction], clusters: Sequence[Cluster]) -> list[Noted]:
    """Move each noted action to the cluster of edges that it most likely caused.

    Order is kept. Dynamic programming over (notes, clusters): a match costs half the squared
    distance in standard deviations, a note without a cluster and a cluster without a note cost
    a fixed amount, the latter more where many wires changed.
    """
    notes = sorted(actions, key=lambda a: a.time_s)
    n, m = len(notes), len(clusters)
    penalty = [UNMATCHED_CLUSTER * (1 + min(len(c.wires), 5)) for c in clusters]
    best: list[list[float]] = [[0.0] * (m + 1) for _ in range(n + 1)]
    came: list[list[int]] = [[0] * (m + 1) for _ in range(n + 1)]
    for j in range(1, m + 1):
        best[0][j] = best[0][j - 1] + penalty[j - 1]
        came[0][j] = 1
    for i in range(1, n + 1):
        best[i][0] = best[i - 1][0] + UNMATCHED_NOTE
        came[i][0] = 2
        row, above = best[i], best[i - 1]
        for j in range(1, m + 1):
            skip_cluster = row[j - 1] + penalty[j - 1]
            skip_note = above[j] + UNMATCHED_NOTE
            choice, cost = (1, skip_cluster) if skip_cluster < skip_note else (2, skip_note)
            distance = clusters[j - 1].time_s - notes[i - 1].time_s
            if abs(distance) <= FARTHEST_s:
                match = above[j - 1] + 0.5 * (distance / SPREAD_s) ** 2
                if match <= cost:
                    choice, cost = 3, match
            row[j] = cost
            came[i][j] = choice
    matched: dict[int, int] = {}
    i, j = n, m
    while i > 0 or j > 0:
        step = came[i][j]
        if step == 3:
            i, j = i - 1, j - 1
            matched[i] = j
        elif step == 2:
            i -= 1
        else:
            j -= 1
    found: list[Noted] = []
    for k, note in enumerate(notes):
        what, to = parse(note.action, f"actions at {note.time_s:g} s")
        if k in matched:
            found.append(Noted(note.time_s, clusters[matched[k]].time_s, what, to, True))
        else:
            found.append(Noted(note.time_s, note.time_s, what, to, False))
    return _in_order(found)


def _in_order(found: list[Noted]) -> list[Noted]:
    """Unmatched notes squeezed between their matched neighbours."""
    placed: list[Noted] = []
    latest = float("-inf")
    ceilings = [float("inf")] * len(found)
    ceiling = float("inf")
    for k in range(len(found) - 1, -1, -1):
        ceilings[k] = ceiling
        if found[k].sure:
            ceiling = found[k].time_s
    for note, above in zip(found, ceilings, strict=True):
        time_s = note.time_s
        if not note.sure:
            time_s = min(max(time_s, latest + 0.01), above - 0.01)
        placed.append(
            Noted(note.noted_s, max(time_s, latest), note.what, note.to, note.sure, note.proposed)
        )
        latest = max(time_s, latest)
    return placed
