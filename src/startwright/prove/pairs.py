"""Pairs of faults that together are a hazard while neither alone is noticed or is one.

A fault that nobody notices stays; another may come to it. Either may be there first, for as long as
it likes, so a pair is searched from all states that either reaches alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import combinations

from startwright.car.faults import Fault
from startwright.prove.faults import all_faults
from startwright.prove.judge import Case, Judge
from startwright.records.reports import FaultResult, PairResult, PairsBound

MOST_PAIRS = 400
"""So many pairs are looked at, in the order of the wiring; it is said where there are more."""


def pairs_of(
    judge: Judge,
    singles: Iterable[FaultResult],
    progress: Callable[[int], bool] = lambda done: True,
    most: int = MOST_PAIRS,
) -> tuple[list[PairResult], PairsBound] | None:
    """The pairs that are a hazard, and how many were looked at; None where it was stopped.

    Parameters
    ----------
    judge : Judge
    singles : iterable of FaultResult
        Every single fault's result.
    progress : callable
        Called before each pair with the number done; False stops.
    most : int
        The bound.
    """
    alone = {r.fault: r for r in singles}
    quiet = [f for f in all_faults(judge.healthy.car) if _stays(alone[str(f)])]
    every = [(a, b) for a, b in combinations(quiet, 2) if a.thing != b.thing]
    known: dict[Fault, Case | None] = {}
    out: list[PairResult] = []
    for k, (a, b) in enumerate(every[:most]):
        if not progress(k):
            return None
        for fault in (a, b):
            if fault not in known:
                known[fault] = judge.case(fault)
        found = _pair(judge, known[a], known[b])
        if found is not None:
            out.append(found)
    bound = PairsBound(unnoticed=len(quiet), pairs=len(every), looked_at=min(len(every), most))
    return out, bound


def _stays(result: FaultResult) -> bool:
    return not result.noticed and result.worst != "hazard"


def _pair(judge: Judge, one: Case | None, other: Case | None) -> PairResult | None:
    assert one is not None
    assert other is not None
    names = [str(one.fault), str(other.fault)]
    case = judge.case(replace(one.fault, also=other.fault), after=(one, other))
    if case is None:
        return PairResult(faults=names, worst="hazard", breaks=["not finished"])
    broken = [s for s in case.watcher.broken if s not in judge.before]
    hazards = [s for s in broken if judge.kinds.get(s) == "hazard"]
    if not hazards:
        return None
    return PairResult(
        faults=names, worst="hazard", breaks=hazards, trace=judge.line(case, hazards[0])
    )
