"""One scenario line, played on a wiring."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from startwright.records import RecordError, WholeJob, Wiring
from startwright.records.scenario import parse_scenario
from startwright.web.sheet import Sheet

LINES = (
    "command start",
    "command start · wait 3 s · hood open → ignition off, starter off",
    "command start · wait 3 s · brake press → ignition off",
    "shift drive · command start → starter off",
    "command lock",
    "command unlock",
)


@dataclass
class Played:
    """What became of a line."""

    line: str
    error: RecordError | None = None
    holds: bool | None = None
    steps: list[dict[str, Any]] = field(default_factory=list)


def lines(sheet: Sheet) -> list[str]:
    """Lines to offer: what breaches first, then the usual ones."""
    return list(dict.fromkeys([r.trace for r in sheet.breaches if r.trace] + list(LINES)))


def play(job: WholeJob, wiring: Wiring, line: str) -> Played:
    """Play a line; what is wrong with it is said beside it."""
    from startwright.prove import play as ask

    try:
        parse_scenario(line)
        ask(job, wiring, line)
    except RecordError as error:
        return Played(line, error)
    return Played(line)


def as_json(job: WholeJob, wiring: Wiring, line: str) -> Any:
    """The same for programs; what is wrong is raised."""
    from startwright.prove import play as ask

    return ask(job, wiring, line)
