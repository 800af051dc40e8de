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
    starts = [n.time_s for n in noted if n.what == "key" and n.to == "start"]
    starts += [n.time_s for n in noted if n.what == "command" and n.to == "start"]
    dips = _dips(blocks.time_s, rail_V)
    cranks: list[Crank] = []
    for begin, end, base in dips:
        inside = (blocks.time_s >= begin) & (blocks.time_s <= end)
        sag = float(base - np.median(rail_V[inside])) if inside.any() else 0.0
        near = any(begin - NEAR_s <= s <= end + 0.3 for s in starts)
        wanted = ENTER_V if near else CLEAR_V
        longest = 30.0 if near else LONGEST_s
        if sag < wanted or not SHORTEST_s <= end - begin <= longest:
            continue
        cranks.append(Crank(begin, end, sag, _caught(blocks.time_s, rail_V, end, base)))
    return cranks


def _dips(time_s: F64, rail_V: F64) -> list[tuple[float, float, float]]:
    """Begin, end and the level before of every quick fall of the rail, until it comes back."""
    dips: list[tuple[float, float, float]] = []
    step = float(np.median(np.diff(time_s))) if len(time_s) > 1 else 0.02
    slow = 1.0 - np.exp(-step / 0.6)
    base = float(np.median(rail_V[: max(1, round(0.5 / step))]))
    begun: int | None = None
    for i, value in enumerate(rail_V.tolist()):
        if begun is None:
            if value < base - ENTER_V:
                begun = i
            else:
                base += slow * (value - base)
        elif value > base - 0.6 * ENTER_V or time_s[i] - time_s[begun] > 30.0:
            dips.append((float(time_s[begun]), float(time_s[i]), base))
            begun = None
            base = value
    if begun is not None:
        dips.append((float(time_s[begun]), float(time_s[-1]), base))
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
