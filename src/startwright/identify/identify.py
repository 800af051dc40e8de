"""Which wire is it: from a recording, or from meter readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from startwright.identify.actions import parse
from startwright.identify.behaviours import behaviours
from startwright.identify.blocks import F64, Blocks, block_up, even, rail
from startwright.identify.cranking import Crank, find_cranks
from startwright.identify.edges import cluster, find_edges
from startwright.identify.features import Features, measure
from startwright.identify.likelihood import emissions
from startwright.identify.places import hints
from startwright.identify.posterior import Scored, spread, weigh
from startwright.identify.report import IdentifyReport, TimedState
from startwright.identify.segments import Table, cut
from startwright.identify.timeline import Noted, align
from startwright.identify.verdict import decide
from startwright.records.recordings import Recording, TimedAction, WirePlace


@dataclass(frozen=True)
class Examined:
    """Everything that was worked out of a recording, for the report and for the page."""

    recording: Recording
    blocks: Blocks
    rail_V: F64
    noted: tuple[Noted, ...]
    cranks: tuple[Crank, ...]
    table: Table
    features: Features
    scored: tuple[tuple[Scored, ...], ...]
    """Per wire, most probable first."""


def examine(
    recording: Recording,
    actions: Sequence[TimedAction] | None = None,
    wires: Mapping[str, WirePlace] | None = None,
    *,
    diesel: bool | None = None,
) -> Examined:
    """Segment a recording and weigh every hypothesis for every wire.

    Parameters
    ----------
    recording : Recording
        Volts over time.
    actions : sequence of TimedAction, optional
        What was done when, as noted; without it key positions are proposed from the signals.
    wires : mapping, optional
        Where each wire is.
    diesel : bool, optional
        Whether the engine is one with glow plugs.

    Raises
    ------
    RecordError
        An action that is none.
    """
    for action in actions or ():
        parse(action.action, f"actions at {action.time_s:g} s")
    recording = even(recording)
    blocks = block_up(recording)
    rail_V = rail(blocks)
    clusters = cluster(find_edges(blocks, rail_V))
    noted = align(actions or (), clusters)
    cranks = find_cranks(blocks, rail_V, noted)
    table = cut((float(recording.time_s[0]), float(recording.time_s[-1])), noted, cranks, clusters)
    features = measure(recording, blocks, rail_V, table)
    hypotheses = spread(behaviours(diesel), table)
    scored = []
    for i, name in enumerate(recording.names):
        place = (wires or {}).get(name)
        emission = emissions(features, i, table.sure, table.weight)
        scored.append(tuple(weigh(hypotheses, table, features, i, emission, hints(place))))
    return Examined(
        recording, blocks, rail_V, tuple(noted), tuple(cranks), table, features, tuple(scored)
    )


def identify(
    recording: Recording,
    actions: Sequence[TimedAction] | None = None,
    wires: Mapping[str, WirePlace] | None = None,
    *,
    diesel: bool | None = None,
) -> IdentifyReport:
    """Which wire is it, how sure is that, which to leave alone, what to measure next.

    Parameters and errors as `examine`.
    """
    examined = examine(recording, actions, wires, diesel=diesel)
    verdicts = [
        decide(
            name,
            examined.scored[i],
            examined.table,
            examined.features,
            i,
            (wires or {}).get(name),
            name in recording.logic,
        )
        for i, name in enumerate(recording.names)
    ]
    return IdentifyReport(
        wires=verdicts,
        actions=[
            TimedState(
                time_s=round(n.time_s, 3),
                action=f"{n.what} {n.to}",
                noted_s=None if n.proposed else round(n.noted_s, 3),
                proposed=n.proposed,
            )
            for n in examined.noted
        ],
        notes=list(recording.notes),
    )
