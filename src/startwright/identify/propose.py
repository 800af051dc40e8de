"""Key positions read off the signals alone, for the person to confirm.

The starter's sag is the anchor: a key cycle is off, accessory, run, start, run, off. What rises
for good before the sag is the key going up, what falls after the engine has run is it going down.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from startwright.identify.blocks import F64, Blocks
from startwright.identify.cranking import Crank, find_cranks
from startwright.identify.edges import Cluster
from startwright.identify.timeline import Noted


def _note(time_s: float, what: str, to: str) -> Noted:
    return Noted(time_s, time_s, what, to, True, proposed=True)


def _risen(group: Cluster) -> int:
    return sum(e.after_V > e.before_V and e.after_V > 7.0 for e in group.edges)


def _fallen(group: Cluster) -> int:
    return sum(e.before_V > e.after_V and e.before_V > 7.0 for e in group.edges)


def propose(blocks: Blocks, rail_V: F64, clusters: Sequence[Cluster]) -> list[Noted]:
    """Key positions and engine, in the order of time; empty where no key is seen to turn.

    Where the starter never turns, the greatest lasting rise of several wires is the key going to
    run, and the greatest fall of them after it the key going off.
    """
    cranks = find_cranks(blocks, rail_V, [])
    earliest = cranks[0].start_s if cranks else float(blocks.time_s[-1]) + 1.0
    latest = cranks[-1].end_s + 1.0 if cranks else float(blocks.time_s[0])
    ups = [c for c in clusters if c.time_s < earliest - 0.25 and _risen(c) > _fallen(c)]
    if not cranks:
        rise = max(ups, key=lambda c: (_risen(c), -c.time_s), default=None)
        if rise is None or _risen(rise) < 2:
            return []
        latest = rise.time_s + 0.5
        after = [c for c in clusters if c.time_s > latest and _together(rise, c) >= 2]
        ends = max(after, key=lambda c: _together(rise, c), default=None)
        earliest = ends.time_s if ends else earliest
        ups = [c for c in ups if c.time_s < earliest - 0.25]
    off = _off(clusters, latest)
    notes: list[Noted] = []
    lasting = [c for c in ups if _lasts(c, clusters, earliest)]
    # what the key raised, the key lets fall again: a door or a light seldom falls with it
    dropped = [c for c in clusters if cranks and abs(c.time_s - cranks[0].start_s) < 0.4]
    falls = [off, *dropped]
    by_key = [c for c in lasting if off is None or any(_together(c, f) for f in falls if f)]
    if by_key:
        held = _held(blocks, rail_V, cranks)
        # only run feeds what stays fed while the starter turns
        run = max(by_key[-3:], key=lambda c: (_staying(c, held), _risen(c), c.time_s))
        before = [c for c in by_key if c.time_s < run.time_s - 0.25]
        if before:
            notes.append(_note(before[-1].time_s, "key", "accessory"))
        notes.append(_note(run.time_s, "key", "run"))
    for crank in cranks:
        notes.append(_note(crank.start_s, "key", "start"))
        if crank.caught:
            notes.append(_note(crank.end_s - 0.02, "engine", "on"))
        notes.append(_note(crank.end_s, "key", "run"))
    if off is not None:
        notes.append(_note(off.time_s, "key", "off"))
    return sorted(notes, key=lambda n: n.time_s)


def _held(blocks: Blocks, rail_V: F64, cranks: Sequence[Crank]) -> frozenset[int]:
    """The wires that stand at battery voltage while the starter first turns."""
    if not cranks:
        return frozenset()
    inside = (blocks.time_s > cranks[0].start_s) & (blocks.time_s < cranks[0].end_s)
    if not inside.any():
        return frozenset()
    share = np.median(blocks.median[inside] / rail_V[inside, None], axis=0)
    return frozenset(int(w) for w in np.flatnonzero(share > 0.7))


def _staying(group: Cluster, held: frozenset[int]) -> int:
    return sum(e.after_V > e.before_V and e.wire in held for e in group.edges)


def _off(clusters: Sequence[Cluster], latest_s: float) -> Cluster | None:
    """The moment at which most wires fall together after the engine was started."""
    downs = [c for c in clusters if c.time_s > latest_s and _fallen(c) >= 2]
    return max(downs, key=lambda c: (_fallen(c), c.time_s), default=None)


def _together(rise: Cluster, fall: Cluster) -> int:
    """How many of the wires that rose fall again."""
    risen = {e.wire for e in rise.edges if e.after_V > e.before_V}
    return len(risen & {e.wire for e in fall.edges if e.after_V < e.before_V})


def _lasts(group: Cluster, clusters: Sequence[Cluster], until_s: float) -> bool:
    """Whether a wire that rose then stays up until the starter turns."""
    for edge in group.edges:
        if edge.after_V <= edge.before_V:
            continue
        falls = any(
            later.wire == edge.wire and later.after_V < later.before_V
            for c in clusters
            if group.time_s < c.time_s < until_s - 0.25
            for later in c.edges
        )
        if not falls:
            return True
    return False
