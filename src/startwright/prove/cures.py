"""Which single change of a wiring would end a breach: each is tried and proven, none is guessed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from startwright.car.build import Car
from startwright.prove import prove
from startwright.prove.changes import Change, tiers
from startwright.records.errors import RecordError
from startwright.records.lines import Lines
from startwright.records.reports import ProofReport, RuleResult

MOST_TRIED = 40
MOST_STATES = 2_000_000
"""A change whose search goes beyond this is not counted as a cure: nothing is proven of it."""
BY_ITSELF = frozenset({"can-be-tried"})


@dataclass(frozen=True)
class Cure:
    """One change that ends the breach.

    Attributes
    ----------
    do : str
        What to change, in words.
    where : str
        The record line that is changed, or that would have had to be used.
    but : tuple of str
        What was wanted and no longer works then.
    """

    do: str
    where: str
    but: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The same for programs."""
        return {**asdict(self), "but": list(self.but)}


def cures(
    car: Car,
    report: ProofReport,
    rule: RuleResult,
    lines: Lines,
    *,
    progress: Callable[[int], bool] = lambda tried: True,
) -> tuple[list[Cure], int]:
    """The single changes after which the rule holds and still bites, and nothing is worse.

    Where what is missing or mistaken explains it, nothing is tried beyond that.

    A change after which the car no longer starts, or another hazard or damage rule breaks, is none.

    Parameters
    ----------
    car : Car
    report : ProofReport
        Of the wiring as it is.
    rule : RuleResult
        The broken rule, out of the report.
    lines : Lines
    progress : callable
        Called with the number of changes tried; False stops.

    Returns
    -------
    list of Cure, int
        Those that leave most working first; how many changes were tried.
    """
    broken = {r.rule for r in report.rules if r.holds is False}
    found: list[Cure] = []
    tried = 0
    for some in tiers(car, rule, lines):
        for change in some:
            if tried >= MOST_TRIED or not progress(tried):
                return found, tried
            tried += 1
            but = _but(car, change, rule, broken)
            if but is not None:
                found.append(Cure(change.do, change.where, but))
        found.sort(key=lambda c: len(c.but))
        if found and not found[0].but:
            break
    return found, tried


def _but(car: Car, change: Change, rule: RuleResult, broken: set[str]) -> tuple[str, ...] | None:
    """What no longer works after a change that is a cure; None where it is none."""
    try:
        after = prove(car.job, change.wiring, most_states=MOST_STATES)
    except RecordError:
        return None
    by_rule = {r.rule: r for r in after.rules}
    if after.verdict == "not finished" or rule.rule not in by_rule:
        return None
    now = by_rule[rule.rule]
    worse = [r for r in after.rules if r.holds is False and r.rule not in broken | BY_ITSELF]
    if any(r.kind != "works" or r.rule == "can-start" for r in worse):
        return None
    return tuple(r.rule for r in worse) if now.holds and now.exercised else None
