"""Which wire is it: from a recording, or from meter readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from startwright.identify.actions import parse
from startwright.identify.behaviours import behaviours
from startwright.identify.blocks import block_up, even, rail
from startwright.identify.cranking import find_cranks
from startwright.identify.edges import cluster, find_edges
from startwright.identify.examined import Examined
from startwright.identify.features import measure
from startwright.identify.likelihood import emissions
from startwright.identify.next_check import next_checks, observed
from startwright.identify.places import hints
from startwright.identify.posterior import spread, weigh
from startwright.identify.propose import propose
from startwright.identify.report import IdentifyReport, TimedState
from startwright.identify.segments import cut
from startwright.identify.tach import judge
from startwright.identify.timeline import align
from startwright.identify.verdict import decide
from startwright.records.recordings import Recording, TimedAction, WirePlace


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
    noted = align(actions, clusters) if actions else propose(blocks, rail_V, clusters)
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
    pull_up_ohm: Mapping[str, float] | None = None,
    rpm: Sequence[tuple[float, float]] | None = None,
) -> IdentifyReport:
    """Which wire is it, how sure is that, which to leave alone, what to measure next.

    Parameters and errors as `examine`; `pull_up_ohm` gives the pull-up of coded lock wires, by
    wire, for their levels in ohms; `rpm` the engine speed at some times (time_s, rpm), by the
    diagnostic connector, for the pulses a revolution of tach lines.
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
            pull_up_ohm=(pull_up_ohm or {}).get(name),
        )
        for i, name in enumerate(recording.names)
    ]
    seen = observed(examined.table)
    checks = next_checks(
        dict(zip(recording.names, examined.scored, strict=True)),
        verdicts,
        wires,
        done=dict.fromkeys(recording.names, seen),
    )
    tachs = [
        judge(examined, name, rpm)
        for name, verdict in zip(recording.names, verdicts, strict=True)
        if verdict.likely == "tach" and not verdict.leave_alone
    ]
    return IdentifyReport(
        wires=verdicts,
        next_checks=checks,
        tach=tachs,
        actions=[
            TimedState(
                time_s=round(n.time_s, 3),
                action=f"{n.what} {n.to}",
                noted_s=None if n.proposed else round(n.noted_s, 3),
                proposed=n.proposed,
            )
            for n in examined.noted
        ],
        notes=[
            *recording.notes,
            *(
                ["key positions proposed from the signals: confirm them"]
                if not actions and examined.noted
                else []
            ),
        ],
    )
