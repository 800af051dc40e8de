"""One scenario line, played on a wiring: what is wrong with the line is said beside it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from startwright.records import RecordError, WholeJob, Wiring

if TYPE_CHECKING:
    from startwright.prove.playing import Moment


@dataclass
class Shown:
    """What became of a line, or why it could not be played."""

    line: str
    error: RecordError | None = None
    moments: list[Moment] = field(default_factory=list)
    expects: list[tuple[str, bool]] = field(default_factory=list)
    flaws: list[str] = field(default_factory=list)


def shown(job: WholeJob, wiring: Wiring, line: str) -> Shown:
    """Play a line for the page."""
    from startwright.prove.playing import played

    try:
        done = played(job, wiring, line)
    except RecordError as error:
        return Shown(line, error)
    return Shown(done.line, None, done.moments, done.expects, done.flaws)
