"""What the question `plan` answers beside a plan: no plan, alternatives, what must be mended."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from startwright.records.base import NonNegative, Positive, Record, Slug, Text
from startwright.records.wiring import Need, Plan


class Resolve(Record):
    """Something that would open a way, and what it costs where that is known."""

    do: Text
    cost: NonNegative | None = None


class NoPlan(Record):
    """There is no plan: the smallest set of things that cannot hold together, in words.

    `reasons` is irreducible where it comes from the choice: leave out any one of them and there
    would be a plan. `resolve` says what would open a way, the cheapest first.
    """

    format: Literal["startwright/no-plan/1"] = "startwright/no-plan/1"
    job: Slug
    reasons: list[Text]
    resolve: list[Resolve] = Field(default_factory=list)
    needs: list[Need] = Field(default_factory=list)

    def __bool__(self) -> bool:
        """False, so that ``plan(job) or …`` reads as it should."""
        return False


class Score(Record):
    """By what a plan was chosen, in strict order."""

    unmet: int = 0
    unsure: int = 0
    """Circuits relied on that are only told or guessed."""
    parts: int = 0
    cost: NonNegative = 0
    minutes: NonNegative = 0

    @property
    def order(self) -> tuple[float, ...]:
        """The score as a tuple to compare by."""
        return (self.unmet, self.unsure, self.parts, self.cost, self.minutes)


class Alternative(Record):
    """A next best plan, with what it would gain and lose beside the first."""

    plan: Plan
    score: Score
    differs: list[Text]
    gains: list[Text]
    loses: list[Text]


class Planned(Plan):
    """A plan with its score and, where asked for, its alternatives."""

    score: Score = Score()
    alternatives: list[Alternative] = Field(default_factory=list)
    made_of: dict[str, Text] = Field(default_factory=dict)
    """For each run and part the key of the way it belongs to (for `Mend.forbid`)."""
    feeds: dict[str, Text] = Field(default_factory=dict)
    """For each fuse the circuit it feeds (for `Mend.fuse_A`)."""

    def bare(self) -> Plan:
        """The plan alone, as it is kept and printed."""
        return Plan.model_validate(
            {k: getattr(self, k) for k in Plan.model_fields}, from_attributes=True
        )


class Mend(Record):
    """What an earlier try was found wanting in; an argument of the next.

    `forbid` holds ways by their key, `size_mm2` the least size of a run by its ends
    (``a – b``), `fuse_A` the least rating of a fuse by what it feeds.
    """

    forbid: list[Text] = Field(default_factory=list)
    size_mm2: dict[str, Positive] = Field(default_factory=dict)
    fuse_A: dict[str, Positive] = Field(default_factory=dict)
