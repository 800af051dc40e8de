"""When the starter turned and whether the engine caught, read off the battery rail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from startwright.identify.blocks import F64, Blocks
from startwright.identify.timeline import Noted

ENTER_V = 0.5
"""Sag that may be cranking where a `key start` was noted within `NEAR_s`."""

CLEAR_V = 1.2
"""Sag that is cranking whoever noted what (common practice, no source: a starter draws 80-300 A,
glow plugs and a heated screen stay below 1 V of sag on a sound battery)."""

NEAR_s = 1.5
SHORTEST_s = 0.12
LONGEST_s = 20.0


@dataclass(frozen=True)
class Crank:
    """One turn of the starter, and whether the engine ran afterwards (None: cannot be told)."""

    start_s: float
    end_s: float
    sag_V: float
    caught: bool | None


def find_cranks(blocks: Blocks, rail_V: F64, noted: Sequence[Noted]) -> list[Crank]:
    """Turns of the starter, in the order of time."""
    time_s = blocks.time_s
    resting = float(np.median(rail_V[time_s < time_s[0] + 1.0]))
    spans = [
        (begin, end, base)
        for begin, end, base in _dips(time_s, rail_V)
        if SHORTEST_s <= end - begin <= LONGEST_s
        and float(np.median(rail_V[(time_s >= begin) & (time_s < end)]))
        < min(resting, base) - 0.7 * CLEAR_V  # the end of charging falls no lower than the rest
    ]
    for k, note in enumerate(noted):
        if note.to != "start" or note.what not in ("key", "command"):
            continue
        if any(begin - NEAR_s <= note.time_s <= end + 0.3 for begin, end, _ in spans):
            continue
        following = [n.time_s for n in noted[k + 1 :] if n.what == "key"]
        until = min(following[0] + 1.0 if following else np.inf, note.time_s + LONGEST_s)
        found = _near(time_s, rail_V, note.time_s, until)
        if found is not None:
            spans.append(found)
    cranks: list[Crank] = []
    spans.sort()
    for k, (begin, end, base) in enumerate(spans):
        inside = (time_s >= begin) & (time_s < end)
        sag = float(base - np.median(rail_V[inside]))
        caught = _caught(time_s, rail_V, end, base)
        if caught is False and k == len(spans) - 1:
            caught = None  # some alternators wait; only another try tells that it did not catch
        cranks.append(Crank(begin, end, sag, caught))
    return cranks


def _near(
    time_s: F64, rail_V: F64, noted_s: float, until_s: float
) -> tuple[float, float, float] | None:
    """A weaker sag next to a noted start: the longest stretch below half of it."""
    before = rail_V[(time_s > noted_s - 2.5) & (time_s < noted_s - 0.9)]
    window = np.flatnonzero((time_s > noted_s - 1.0) & (time_s < until_s))
    if len(before) < 3 or len(window) < 5:
        return None
    base = float(np.median(before))
    sag = base - float(np.quantile(rail_V[window], 0.15))
    if sag < ENTER_V:
        return None
    low = window[rail_V[window] < base - 0.5 * sag]
    gaps = np.flatnonzero(np.diff(time_s[low]) > 0.35)
    runs = np.split(low, gaps + 1)
    longest = max(runs, key=lambda r: time_s[r[-1]] - time_s[r[0]])
    begin, end = float(time_s[longest[0]]), float(time_s[longest[-1]])
    return (begin, end, base) if end - begin >= SHORTEST_s else None


def _dips(time_s: F64, rail_V: F64) -> list[tuple[float, float, float]]:
    """Begin, end and the level before of every quick fall of the rail, until it comes back."""
    dips: list[tuple[float, float, float]] = []
    step = float(np.median(np.diff(time_s))) if len(time_s) > 1 else 0.02
    slow = 1.0 - np.exp(-step / 0.6)
    base = float(np.median(rail_V[: max(1, round(0.5 / step))]))
    begun: int | None = None
    for i, value in enumerate(rail_V.tolist()):
        if begun is None:
            if value < base - CLEAR_V:
                begun = i
            else:
                base += slow * (value - base)
        elif value > base - 0.6 * CLEAR_V or time_s[i] - time_s[begun] > 30.0:
            dips.append((float(time_s[begun]), float(time_s[i]), base))
            begun = None
            base = value
    return _joined(dips)


def _joined(dips: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """Dips less than 0.35 s apart are one: compressions swing the rail."""
    joined: list[tuple[float, float, float]] = []
    for dip in dips:
        if joined and dip[0] - joined[-1][1] < 0.35:
            first = joined.pop()
            joined.append((first[0], dip[1], first[2]))
        else:
            joined.append(dip)
    return joined


def _caught(time_s: F64, rail_V: F64, end: float, base: float) -> bool | None:
    """Whether the alternator lifts the rail afterwards above what it was before."""
    after = rail_V[(time_s > end + 0.4) & (time_s < end + 3.0)]
    if len(after) < 5:
        return None
    high = float(np.quantile(after, 0.8))
    if high > base + 0.5 or high > 13.3:
        return True
    if high < base + 0.2:
        return False
    return None
