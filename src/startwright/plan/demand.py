"""A need in the form in which it can be met, and the book in which needs are gathered."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from startwright.plan.refusals import Refusal
from startwright.records.job import WholeJob
from startwright.records.unit import Unit
from startwright.records.vehicle import Vehicle
from startwright.records.wiring import Need

Kind = Literal[
    "fed",
    "worked",
    "sensed",
    "engine",
    "feed",
    "ground",
    "interface",
    "cut",
    "armed",
    "seen",
    "tach",
    "foot",
]


@dataclass(frozen=True)
class Demand:
    """A need in the form in which it can be met.

    `circuits` are ids of which any one will do; `drives` the functions of outputs that will do,
    the better ones first; `lead` a lead of the unit that must be connected. `of_source` has the
    source side of a cut circuit sensed: what the driver does, and not what the unit makes of it.
    `by_car` says that the car itself feeds the circuit when the unit starts it.
    """

    id: str
    kind: Kind
    need: str
    because: str
    must: bool = True
    circuits: tuple[str, ...] = ()
    drives: tuple[str, ...] = ()
    sense: str = ""
    lead: str = ""
    of_source: bool = False
    by_car: bool = False

    def as_need(self, met: bool, by: list[str]) -> Need:
        """The need as the plan prints it."""
        return Need(
            id=self.id,
            need=self.need,
            because=self.because,
            strength="must" if self.must else "should",
            met=met,
            by=by,
        )


@dataclass(frozen=True)
class Needs:
    """Everything a job needs: what must be met, what stops it, what is left alone and why."""

    demands: tuple[Demand, ...]
    refusals: tuple[Refusal, ...] = ()
    left: tuple[tuple[str, str], ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass
class Book:
    """What was found to be needed so far, what stops the plan, what is left alone."""

    job: WholeJob
    imitated: bool = False
    """Whether foot and press of a push-button car are imitated (`startwright.plan.press`)."""
    demands: list[Demand] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    left: list[tuple[str, str]] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    @property
    def vehicle(self) -> Vehicle:
        """The job's vehicle."""
        return self.job.vehicle

    @property
    def unit(self) -> Unit:
        """The job's unit."""
        return self.job.unit

    def add(self, demand: Demand) -> None:
        """Enter a need once; a must takes the place of a should."""
        for k, d in enumerate(self.demands):
            if d.id == demand.id:
                if demand.must and not d.must:
                    self.demands[k] = demand
                return
        self.demands.append(demand)

    def refuse(self, reason: str, resolve: str) -> None:
        """Enter a reason not to plan, with what would resolve it."""
        self.refusals.append(Refusal(reason, resolve))
