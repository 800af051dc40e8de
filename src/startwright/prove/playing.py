"""A scenario line played on a wiring, as data for every face: moments, leads on, runs lit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from startwright.car.surroundings import values
from startwright.prove import play
from startwright.prove.tell import describe
from startwright.records.job import WholeJob
from startwright.records.scenario import parse_scenario
from startwright.records.wiring import Wiring


@dataclass(frozen=True)
class Moment:
    """A settled state of the run: when, what happened, how things stand, what is fed."""

    at_s: float
    what: str
    stands: str
    on: list[str]
    lit: list[str]


@dataclass(frozen=True)
class Played:
    """What became of a line."""

    line: str
    moments: list[Moment] = field(default_factory=list)
    expects: list[tuple[str, bool]] = field(default_factory=list)
    flaws: list[str] = field(default_factory=list)

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
                {"at_s": m.at_s, "what": m.what, "stands": m.stands, "on": m.on, "runs": m.lit}
                for m in self.moments
            ],
            "flaws": self.flaws,
        }


def played(job: WholeJob, wiring: Wiring, line: str, where: str = "scenario") -> Played:
    """Play a line from the parked car.

    Raises
    ------
    RecordError
        For a line that cannot be read or played.
    """
    scenario = parse_scenario(line, where)
    clock, met = play(job, wiring, scenario)
    moments = []
    for moment in clock.log:
        leads = [n.removeprefix("out.") for n, on in moment.row.items() if n[:4] == "out." and on]
        ends = {f"unit.{lead}" for lead in leads}
        lit = [r.id for r in wiring.runs if ends & set(r.ends)]
        stands = describe(clock.model, moment.row)
        moments.append(Moment(round(moment.at_s, 3), in_words(moment.what), stands, leads, lit))
    expects = [(str(e), bool(m)) for e, m in zip(scenario.expects, met, strict=True)]
    return Played(str(scenario), moments, expects, list(clock.flaws))


def in_words(what: str) -> str:
    """What happened, as a line says it: ``hood 1`` is the hood opened."""
    name, _, number = what.rpartition(" ")
    if not name or not number.isdigit():
        return {"timer": "time runs out", "parked": "parked, key out"}.get(what, what)
    return f"{name} {values(name)[int(number)]}"
