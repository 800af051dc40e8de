"""What the questions answer, as records: the keys here are what `--json` prints."""

# ruff: noqa: RUF012 (pydantic copies defaults)
from __future__ import annotations

from typing import Any, Literal

from startwright.records.base import Record
from startwright.records.words import RuleKind, Verdict

UNDECIDED = "Not decided: the search did not finish."
"""What is said of a rule that applies where nothing was found, and not everything was looked at."""


class RuleResult(Record):
    """One rule's answer. `holds` is null where it is not applicable, or not decided."""

    rule: str
    kind: RuleKind
    holds: bool | None
    exercised: bool
    trace: str | None = None
    runs: list[str] = []
    says: str
    source: str | None = None


class FaultResult(Record):
    """One single fault and the worst it does.

    `caught_by` names fitted fuses that clear it, else articles of the shelf.
    """

    fault: str
    worst: Literal["hazard", "damage", "works", "none"]
    breaks: list[str] = []
    noticed: bool = False
    trace: str | None = None
    caught_by: list[str] = []


class PairResult(Record):
    """Two faults, neither of them noticed or a hazard alone, and the hazard they are together."""

    faults: list[str]
    worst: Literal["hazard"]
    breaks: list[str] = []
    trace: str | None = None


class PairsBound(Record):
    """How far pairs of faults were looked at: all of them where `looked_at` equals `pairs`."""

    unnoticed: int
    pairs: int
    looked_at: int


class ProofReport(Record):
    """The answer of `prove`."""

    verdict: Verdict
    states: int
    seconds: float
    assumes: list[str]
    rules: list[RuleResult]
    faults: list[FaultResult] | None = None
    pairs: list[PairResult] | None = None
    pairs_bound: PairsBound | None = None


class SizeReport(Record):
    """The answer of `size`; rows are dictionaries whose keys carry their units."""

    verdict: Literal["holds", "fails"]
    runs: list[dict[str, Any]]
    fuses: list[dict[str, Any]]
    contacts: list[dict[str, Any]]
    starting: dict[str, Any]
    parked: dict[str, Any]
    worst: list[str] = []
    notes: list[str] = []


class TimelineMoment(Record):
    """One settled state of a played line."""

    time_s: float
    what: str
    by: Literal["parked", "hand", "unit", "engine", "fault"]
    stands: str
    step: str
    tries: int
    engine: str
    key: str
    rail_V: float
    driven: list[str] = []


class TimelineTrace(Record):
    """Volts of one thing, moment by moment; null where nothing holds it."""

    id: str
    kind: Literal["rail", "circuit", "lead", "coil", "run"]
    name: str
    volts_V: list[float | None]
    levels: list[str] = []

    @property
    def moves(self) -> bool:
        """Whether it changes its level; what only follows the rail does not."""
        return self.kind == "rail" or len(set(self.levels)) > 1


class TimelineStep(Record):
    """How long the unit stayed in one step."""

    step: str
    tries: int
    from_s: float
    to_s: float
    lasts_s: float


class Timeline(Record):
    """A line played with real seconds: what happened when, and the volts of everything joined."""

    line: str
    ends_s: float
    holds: bool
    expects: list[dict[str, Any]] = []
    flaws: list[str] = []
    moments: list[TimelineMoment]
    steps: list[TimelineStep]
    traces: list[TimelineTrace]
    runs: list[TimelineTrace]
    cranking_V: float
    battery_C: float | None = None
    notes: list[str] = []
    shorts: list[str] = []
