"""Key positions read off the signals alone, for the person to confirm.

The starter's sag is the anchor: a key cycle is off, accessory, run, start, run, off. What rises
for good before the sag is the key going up, what falls after the engine has run is it going down.
"""

from __future__ import annotations

from collections.abc import Sequence

from startwright.identify.blocks import F64, Blocks
from startwright.identify.cranking import find_cranks
from startwright.identify.edges import Cluster
from startwright.identify.timeline import Noted


def _note(time_s: float, what: str, to: str) -> Noted:
    return Noted(time_s, time_s, what, to, True, proposed=True)


def _risen(group: Cluster) -> int:
    return sum(e.after_V > e.before_V and e.after_V > 7.0 for e in group.edges)


def _fallen(group: Cluster) -> int:
    return sum(e.before_V > e.after_V and e.before_V > 7.0 for e in group.edges)


def propose(blocks: Blocks, rail_V: F64, clusters: Sequence[Cluster]) -> list[Noted]:
    """Key positions and engine, in the order of time; empty where no cranking is seen."""
    cranks = find_cranks(blocks, rail_V, [])
    if not cranks:
        return []
    notes: list[Noted] = []
    earliest = cranks[0].start_s
    ups = [c for c in clusters if c.time_s < earliest - 0.25 and _risen(c) > _fallen(c)]
    lasting = [c for c in ups if _lasts(c, clusters, earliest)]
    if lasting:
        run = max(lasting[-3:], key=lambda c: (_risen(c), c.time_s))
        before = [c for c in lasting if c.time_s < run.time_s - 0.25]
        if before:
            notes.append(_note(before[-1].time_s, "key", "accessory"))
        notes.append(_note(run.time_s, "key", "run"))
    for crank in cranks:
        notes.append(_note(crank.start_s, "key", "start"))
        if crank.caught:
            notes.append(_note(crank.end_s - 0.02, "engine", "on"))
        notes.append(_note(crank.end_s, "key", "run"))
    latest = cranks[-1].end_s
    downs = [c for c in clusters if c.time_s > latest + 1.0 and _fallen(c) >= 2]
    if downs:
        off = max(downs, key=lambda c: (_fallen(c), c.time_s))
        notes.append(_note(off.time_s, "key", "off"))
    return sorted(notes, key=lambda n: n.time_s)


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
