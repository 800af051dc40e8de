"""One scenario line, played on a wiring with real seconds."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from startwright.records import RecordError, WholeJob, Wiring


@dataclass
class Moment:
    """A settled state of the run: when, what happened, how things stand, what is fed."""

    at_s: float
    what: str
    stands: str
    on: list[str]
    lit: list[str]


@dataclass
class Played:
    """What became of a line."""

    line: str
    error: RecordError | None = None
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


def play(job: WholeJob, wiring: Wiring, line: str) -> Played:
    """Play a line from the car parked.

    Raises
    ------
    RecordError
        For a line that cannot be read or played.
    """
    from startwright.prove import play as ask
    from startwright.prove.tell import describe
    from startwright.records.scenario import parse_scenario

    scenario = parse_scenario(line)
    clock, met = ask(job, wiring, scenario)
    moments = []
    for moment in clock.log:
        leads = [n.removeprefix("out.") for n, on in moment.row.items() if n[:4] == "out." and on]
        ends = {f"unit.{lead}" for lead in leads}
        lit = [r.id for r in wiring.runs if ends & set(r.ends)]
        stands = describe(clock.model, moment.row)
        moments.append(Moment(round(moment.at_s, 3), _words(moment.what), stands, leads, lit))
    expects = [str(e) for e in scenario.expects]
    return Played(line, None, moments, list(zip(expects, met, strict=True)), list(clock.flaws))


def played(job: WholeJob, wiring: Wiring, line: str) -> Played:
    """The same for the page: what is wrong with the line is said beside it."""
    try:
        return play(job, wiring, line)
    except RecordError as error:
        return Played(line, error)


def _words(what: str) -> str:
    """What happened, as the line says it: ``hood 1`` is the hood opened."""
    from startwright.car.surroundings import values

    name, _, number = what.rpartition(" ")
    if not name or not number.isdigit():
        return {"timer": "time runs out", "parked": "parked, key out"}.get(what, what)
    if name == "key":
        from startwright.records.words import KEY_POSITIONS

        return f"key {KEY_POSITIONS[int(number)]}"
    return f"{name.replace('_', ' ')} {values(name)[int(number)]}"
