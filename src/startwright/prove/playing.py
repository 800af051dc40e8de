"""A scenario line played on a wiring, as data for every face: moments, leads on, runs lit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from startwright.prove.timeline import timeline
from startwright.records.job import WholeJob
from startwright.records.reports import Timeline
from startwright.records.wiring import Wiring


@dataclass(frozen=True)
class Moment:
    """A settled state of the run: when, what happened, how things stand, what is fed.

    `lit` are the runs on the leads that the unit drives, `levels` how every run stands.
    """

    at_s: float
    what: str
    stands: str
    on: list[str]
    lit: list[str]
    levels: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Played:
    """What became of a line."""

    line: str
    moments: list[Moment] = field(default_factory=list)
    expects: list[tuple[str, bool]] = field(default_factory=list)
    flaws: list[str] = field(default_factory=list)
    shorts: list[str] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        """Whether all that the line expects is so, and everything settled."""
        return not self.flaws and all(met for _, met in self.expects)

    def as_json(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "line": self.line,
            "holds": self.holds,
            "expects": [{"expect": text, "met": met} for text, met in self.expects],
            "moments": [
                {
                    "at_s": m.at_s,
                    "what": m.what,
                    "stands": m.stands,
                    "on": m.on,
                    "runs": m.lit,
                    "levels": m.levels,
                }
                for m in self.moments
            ],
            "flaws": self.flaws,
            "shorts": self.shorts,
        }


def played(job: WholeJob, wiring: Wiring, line: str, where: str = "scenario") -> Played:
    """Play a line from the parked car.

    Raises
    ------
    RecordError
        For a line that cannot be read or played.
    """
    return of_timeline(timeline(job, wiring, line, where=where), wiring)


def of_timeline(found: Timeline, wiring: Wiring) -> Played:
    """A timeline as moments alone."""
    moments = []
    for k, moment in enumerate(found.moments):
        ends = {f"unit.{lead}" for lead in moment.driven}
        lit = [r.id for r in wiring.runs if ends & set(r.ends)]
        levels = {run.id: run.levels[k] for run in found.runs}
        moments.append(
            Moment(moment.time_s, moment.what, moment.stands, moment.driven, lit, levels)
        )
    expects = [(str(e["expect"]), bool(e["met"])) for e in found.expects]
    return Played(found.line, moments, expects, found.flaws, found.shorts)
