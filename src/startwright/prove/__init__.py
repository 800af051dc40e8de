"""Is it safe: every reachable state of a wiring in its car, against every rule.

>>> report = prove(job, wiring)                                       # doctest: +SKIP
>>> report.verdict                                                    # doctest: +SKIP
'proven'
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from startwright.car.build import wire_up
from startwright.prove.caught import Catcher
from startwright.prove.clocked import Clock, meets
from startwright.prove.clocked import play as play_line
from startwright.prove.faults import single_faults
from startwright.prove.judge import Judge
from startwright.prove.model import Model
from startwright.prove.pairs import pairs_of
from startwright.prove.report import assumptions, results
from startwright.prove.search import Searched, search
from startwright.prove.tables import TooLarge
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.reports import (
    FaultResult,
    PairResult,
    PairsBound,
    ProofReport,
    RuleResult,
)
from startwright.records.scenario import Scenario, parse_scenario
from startwright.records.wiring import Wiring
from startwright.records.words import Verdict

MOST_STATES = 20_000_000


def prove(
    job: WholeJob,
    wiring: Wiring,
    *,
    faults: bool = False,
    pairs: bool = False,
    most_states: int = MOST_STATES,
    progress: Callable[[int], bool] = lambda states: True,
) -> ProofReport:
    """Explore everything that can happen to a wiring in its car and look at it with every rule.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit, stock and wants.
    wiring : Wiring
        From whatever hand.
    faults : bool
        Whether every single fault is tried as well, and what on the shelf would catch it.
    pairs : bool
        Whether pairs of faults are tried that nobody notices alone (with `faults`).
    most_states : int
        States after which the search gives up; the verdict is then ``not finished``.
    progress : callable
        Called with the number of states so far, then with that of faults and pairs tried;
        returning False stops. Faults or pairs that were stopped are not told at all.

    Returns
    -------
    ProofReport
        ``proven`` only where the search finished and every applicable rule holds and was exercised.

    Raises
    ------
    RecordError
        For a wiring that names what is not there.

    Source: `world.md` of the design; rules cite theirs one by one.
    """
    began = time.perf_counter()
    model = Model(wire_up(job, wiring))
    try:
        searched = search(model, most=most_states, progress=progress)
    except TooLarge as error:
        return ProofReport(
            verdict="not finished",
            states=0,
            seconds=round(time.perf_counter() - began, 3),
            assumes=[*assumptions(model.car), f"the search did not begin: {error}"],
            rules=[],
        )
    rules = results(model, searched)
    told = _Faults()
    if (faults or pairs) and searched.explored.finished:
        told = _faults(model, searched, pairs, progress)
    return ProofReport(
        verdict=verdict(rules, searched.explored.finished),
        states=len(searched.explored),
        seconds=round(time.perf_counter() - began, 3),
        assumes=assumptions(model.car),
        rules=rules,
        faults=told.singles,
        pairs=told.pairs,
        pairs_bound=told.bound,
    )


@dataclass(frozen=True)
class _Faults:
    singles: list[FaultResult] | None = None
    pairs: list[PairResult] | None = None
    bound: PairsBound | None = None


def _faults(
    model: Model, searched: Searched, pairs: bool, progress: Callable[[int], bool]
) -> _Faults:
    """Single faults, what would catch them, and pairs; what was stopped is left out."""
    judge = Judge(model, searched)
    singles = single_faults(model, searched, progress, judge=judge)
    if singles is None:
        return _Faults()
    caught = Catcher(judge).results(singles, lambda k: progress(len(singles)))
    if caught is None:
        return _Faults()
    if not pairs:
        return _Faults(caught)
    found = pairs_of(judge, caught, lambda k: progress(len(singles) + k))
    return _Faults(caught) if found is None else _Faults(caught, *found)


def export(job: WholeJob, wiring: Wiring) -> str:
    """The world of a wiring as a Promela text, for SPIN to explore.

    Raises
    ------
    RecordError
        For a wiring that names what is not there, or one too large to be written out.
    """
    from startwright.prove.promela import promela

    try:
        return promela(Model(wire_up(job, wiring)))
    except TooLarge as error:
        raise RecordError(str(error), "wiring", "one with smaller islands") from error


def verdict(rules: list[RuleResult], finished: bool) -> Verdict:
    """The verdict over all rules: a breach counts even where the search did not finish."""
    if any(r.holds is False for r in rules):
        return "breached"
    if not finished:
        return "not finished"
    return "proven"


def play(job: WholeJob, wiring: Wiring, line: str | Scenario) -> tuple[Clock, list[bool]]:
    """Play a scenario line with real seconds.

    Returns
    -------
    clock : Clock
        The run with its log of settled states.
    met : list of bool
        For each thing the line expects whether it is so at the end.

    Raises
    ------
    RecordError
        For a line that cannot be read or played.
    """
    scenario = parse_scenario(line) if isinstance(line, str) else line
    model = Model(wire_up(job, wiring))
    clock = play_line(model, scenario)
    return clock, [meets(clock.model, clock.row(), e) for e in scenario.expects]
