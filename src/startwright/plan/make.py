"""The question itself: from a job to a plan, or to the reasons why there is none."""

from __future__ import annotations

from dataclasses import dataclass

from startwright.plan.answer import Alternative, Mend, NoPlan, Planned
from startwright.plan.choose import Choice, Unfinished, choose
from startwright.plan.demand import Needs
from startwright.plan.model import Problem
from startwright.plan.needs import needs_of
from startwright.plan.nogo import explain, of_both, refused, unfinished
from startwright.plan.press import SAYS, How, hows
from startwright.plan.problem import problem_of
from startwright.plan.way import Way
from startwright.plan.write import write_plan
from startwright.records.job import WholeJob

TRIES_EACH = 4
"""Next best choices looked at for each alternative that is told."""


def plan(job: WholeJob, *, alternatives: int = 0, mend: Mend | None = None) -> Planned | NoPlan:
    """Say what goes where, proven best, or why there is no plan.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit, stock, wants.
    alternatives : int
        How many next best plans to tell as well.
    mend : Mend, optional
        What an earlier try was found wanting in.

    Returns
    -------
    Planned or NoPlan
        A `Plan` with its score and alternatives; or the smallest set of things that cannot hold
        together, and what would open a way. Neither is trusted by `size` and `prove`.
    """
    mend = mend or Mend()
    sides = [_side(job, how, mend) for how in hows(job)]
    chosen = sorted((s for s in sides if s.choice is not None), key=lambda s: s.order)
    if not chosen:
        return of_both({SAYS[s.how]: s.answer for s in sides if s.answer is not None})
    best = chosen[0]
    planned = write_plan(job, best.needs, best.best, mend)
    if alternatives:
        listed = _alternatives(job, best, mend, alternatives)
        listed += [_other_way(job, best, s, mend) for s in chosen[1:]]
        listed.sort(key=lambda a: a.score.order)
        planned = planned.model_copy(update={"alternatives": listed[:alternatives]})
    return planned


@dataclass(frozen=True)
class _Side:
    """One way of starting: what it needs, what was chosen, or why there is no plan that way."""

    how: How
    needs: Needs
    problem: Problem | None = None
    choice: Choice | None = None
    answer: NoPlan | None = None

    @property
    def best(self) -> Choice:
        """The choice, where there is one."""
        assert self.choice is not None
        return self.choice

    @property
    def order(self) -> tuple[float, ...]:
        """The score of the choice."""
        return self.best.score.order


def _side(job: WholeJob, how: How, mend: Mend) -> _Side:
    needs = needs_of(job, how)
    if needs.refusals:
        return _Side(how, needs, answer=refused(job, needs))
    problem, found = problem_of(job, needs, mend)
    try:
        choice = choose(problem)
    except Unfinished:
        return _Side(how, needs, problem, answer=unfinished(job, problem))
    if choice is None:
        return _Side(how, needs, problem, answer=explain(job, needs, mend, problem, found))
    return _Side(how, needs, problem, choice)


def _other_way(job: WholeJob, best: _Side, other: _Side, mend: Mend) -> Alternative:
    gains, loses = _compare(best.best, other.best)
    before = {w.kin for w in best.best.ways}
    return Alternative(
        plan=write_plan(job, other.needs, other.best, mend).bare(),
        score=other.best.score,
        differs=[SAYS[other.how], *(w.says for w in other.best.ways if w.kin not in before)],
        gains=gains,
        loses=loses,
    )


def _alternatives(job: WholeJob, side: _Side, mend: Mend, count: int) -> list[Alternative]:
    first, problem, needs = side.best, side.problem, side.needs
    assert problem is not None
    told = [sorted(w.kin for w in first.ways)]
    before = {w.kin for w in first.ways}
    straight = {
        (u.output.lead, w.circuit.id)
        for w in first.ways
        for u in w.uses
        if w.shape == "direct" and w.circuit is not None
    }
    out: list[Alternative] = []
    for _ in range(count * TRIES_EACH):
        try:
            other = choose(problem, told)
        except Unfinished:
            break
        if other is None or len(out) == count:
            break
        told.append(sorted(w.kin for w in other.ways))
        new = [w for w in other.ways if w.kin not in before]
        if all(_needless(w, straight) for w in new if w.uses or w.inputs):
            continue
        plan = write_plan(job, needs, other, mend).bare()
        gains, loses = _compare(first, other)
        differs = [w.says for w in new]
        out.append(
            Alternative(plan=plan, score=other.score, differs=differs, gains=gains, loses=loses)
        )
    return out


def _needless(way: Way, straight: set[tuple[str, str]]) -> bool:
    """Whether a relay or diode stands where the first plan goes straight from the same lead."""
    return (
        way.shape in ("relay", "diode")
        and way.circuit is not None
        and all((u.output.lead, way.circuit.id) in straight for u in way.uses)
        and bool(way.uses)
    )


def _compare(first: Choice, other: Choice) -> tuple[list[str], list[str]]:
    """What the other choice gains and loses beside the first, in words."""
    gains: list[str] = []
    loses: list[str] = []
    for need in first.unmet:
        if need not in other.unmet:
            gains.append(f"meets {need}")
    for need in other.unmet:
        if need not in first.unmet:
            loses.append(f"does not meet {need}")
    a, b = first.score, other.score
    for was, now, says in (
        (a.unsure, b.unsure, "{} circuits only told or guessed"),
        (a.parts, b.parts, "{} added parts"),
        (a.cost, b.cost, "{} of cost"),
        (a.minutes, b.minutes, "{} minutes"),
    ):
        if now < was:
            gains.append(f"saves {says.format(f'{round(was - now, 2):g}')}")
        elif now > was:
            loses.append(f"takes {says.format(f'{round(now - was, 2):g}')} more")
    return gains, loses
