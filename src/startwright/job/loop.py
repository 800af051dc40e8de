"""Plan, size, prove, mend: round and round until a plan holds, or it is said why none does.

What the planner puts out is never trusted: every plan is examined as a stranger's would be. What is
found wanting goes back to the planner as an argument (`Mend`): a thicker wire, a larger fuse, a way
that must not be taken. The rounds are bounded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from startwright.plan import Mend, NoPlan, Planned, Resolve, plan
from startwright.plan.write import ends_key
from startwright.records.job import WholeJob
from startwright.records.reports import ProofReport, RuleResult, SizeReport
from startwright.records.wiring import Wiring

if TYPE_CHECKING:
    from collections.abc import Iterable

MOST_TRIES = 8

Sizer = Callable[[WholeJob, Wiring], SizeReport]
Prover = Callable[[WholeJob, Wiring], ProofReport]


@dataclass(frozen=True)
class Try:
    """One round: the plan, what size and proof said of it, and what was made of that."""

    plan: Planned
    size: SizeReport
    proof: ProofReport
    wanting: tuple[str, ...] = ()


@dataclass(frozen=True)
class Outcome:
    """What came of a job.

    `plan`, `size` and `proof` belong together: the plan that holds and is proven, or the last one
    that was tried. `refusal` says why there is none.
    """

    plan: Planned | None
    size: SizeReport | None
    proof: ProofReport | None
    refusal: NoPlan | None
    tries: tuple[Try, ...]

    @property
    def safe(self) -> bool:
        """Whether there is a plan that holds and is proven."""
        return (
            self.refusal is None
            and self.size is not None
            and self.size.verdict == "holds"
            and self.proof is not None
            and self.proof.verdict == "proven"
        )


def work(
    job: WholeJob,
    *,
    alternatives: int = 0,
    most_tries: int = MOST_TRIES,
    sizer: Sizer | None = None,
    prover: Prover | None = None,
) -> Outcome:
    """Plan a job, size and prove the plan, and mend it until it holds.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit, stock, wants.
    alternatives : int
        How many next best plans to tell with the plan that holds.
    most_tries : int
        Rounds after which it gives up.
    sizer, prover : callable, optional
        Who examines; `startwright.size.size` and `startwright.prove.prove` unless said.

    Returns
    -------
    Outcome
    """
    size_it, prove_it = sizer or _sizer(), prover or _prover()
    mend = Mend()
    tries: list[Try] = []
    for _ in range(max(most_tries, 1)):
        planned = plan(job, mend=mend)
        if isinstance(planned, NoPlan):
            return _gave_up(planned, tries)
        size, proof = size_it(job, planned.wiring), prove_it(job, planned.wiring)
        if size.verdict == "holds" and proof.verdict == "proven":
            tries.append(Try(planned, size, proof))
            if alternatives:
                more = plan(job, alternatives=alternatives, mend=mend)
                planned = more if isinstance(more, Planned) else planned
            return Outcome(planned, size, proof, None, tuple(tries))
        mended, wanting = mend_of(planned, size, proof, mend)
        tries.append(Try(planned, size, proof, tuple(wanting)))
        if mended == mend:
            return _gave_up(None, tries)
        mend = mended
    return _gave_up(None, tries)


def _sizer() -> Sizer:
    from startwright.size import size

    return size


def _prover() -> Prover:
    from startwright.prove import prove

    return prove


def mend_of(
    planned: Planned, size: SizeReport, proof: ProofReport, mend: Mend
) -> tuple[Mend, list[str]]:
    """What the next round must do otherwise, and in words what was found wanting.

    Wires and fuses are mended first; a breach forbids one of the ways whose runs it names, the one
    with the most between lead and circuit first.

    Parameters
    ----------
    planned : Planned
    size : SizeReport
    proof : ProofReport
    mend : Mend
        What was mended already.

    Returns
    -------
    Mend, list of str
        The same `mend` where nothing more can be done.
    """
    sizes = dict(mend.size_mm2)
    fuses = dict(mend.fuse_A)
    forbid = list(mend.forbid)
    wanting: list[str] = []
    runs = {r.id: r for r in planned.wiring.runs}
    for row in size.runs:
        run = runs.get(str(row.get("id")))
        if row.get("holds", True) or run is None:
            continue
        wanting.append(f"{run.id}: {row.get('says', 'does not hold')}")
        needs = row.get("needs_mm2")
        key = ends_key(*run.ends)
        if needs and float(needs) > sizes.get(key, 0.0):
            sizes[key] = float(needs)
    _fuses(planned, size, sizes, fuses, forbid, wanting)
    for row in size.contacts:
        if not row.get("holds", True):
            wanting.append(f"{row.get('id')}: {row.get('says', 'does not hold')}")
            _forbid(planned, [str(row.get("id"))], forbid)
    if size.verdict != "holds" and not wanting:
        wanting += size.worst
    breached = [r for r in proof.rules if r.holds is False]
    for rule in breached:
        wanting.append(f"{rule.rule}: {rule.says}")
    if proof.verdict == "not finished":
        wanting.append("the proof did not finish")
    mended = Mend(forbid=forbid, size_mm2=sizes, fuse_A=fuses)
    if breached and mended == mend:
        _forbid(planned, _named(breached), forbid)
        mended = mended.model_copy(update={"forbid": forbid})
    return mended, wanting


def _fuses(
    planned: Planned,
    size: SizeReport,
    sizes: dict[str, float],
    fuses: dict[str, float],
    forbid: list[str],
    wanting: list[str],
) -> None:
    """A fuse that does not hold: another wire behind it, a larger one, or another way."""
    runs = {r.id: r for r in planned.wiring.runs}
    for row in size.fuses:
        if row.get("holds", True):
            continue
        name = str(row.get("what"))
        wanting.append(f"{name}: {row.get('says', 'does not hold')}")
        helped = False
        needs, least = row.get("needs_mm2"), row.get("needs_A")
        feeds = planned.feeds.get(name)
        for thin in row.get("thin") or [row.get("needs_run")]:
            run = runs.get(str(thin))
            if run is not None and needs and float(needs) > sizes.get(ends_key(*run.ends), 0.0):
                sizes[ends_key(*run.ends)] = float(needs)
                helped = True
        if not helped and least and feeds and float(least) > fuses.get(feeds, 0.0):
            fuses[feeds] = float(least)
            helped = True
        if not helped:
            _forbid(planned, [name], forbid)


def _named(rules: Iterable[RuleResult]) -> list[str]:
    return [name for rule in rules for name in rule.runs]


def _forbid(planned: Planned, names: list[str], forbid: list[str]) -> None:
    """Forbid one of the ways that the named runs and parts belong to, the fanciest first."""
    ways = dict.fromkeys(planned.made_of[n] for n in names if n in planned.made_of)
    left = [w for w in ways if w not in forbid]
    if left:
        forbid.append(max(left, key=lambda w: (_fancy(w), w)))


def _fancy(way: str) -> int:
    """How much stands between lead and circuit, by the shape in the way's key."""
    order = ("direct", "setting", "switch", "interface", "diode", "resistor", "key", "foot",
             "relay", "cut", "borrow")  # fmt: skip
    shape = way.split("|")[2]
    return order.index(shape) if shape in order else 0


def _gave_up(refusal: NoPlan | None, tries: list[Try]) -> Outcome:
    last = tries[-1] if tries else None
    if last is None:
        return Outcome(None, None, None, refusal, ())
    reasons = [f"The best plan does not hold: {w}" for w in tries[0].wanting]
    if refusal is not None:
        reasons += [f"Without what was found wanting: {r}" for r in refusal.reasons]
    told = NoPlan(
        job=last.plan.job,
        reasons=reasons or ["No plan that was tried could be proven."],
        resolve=refusal.resolve
        if refusal is not None
        else [Resolve(do="look at the breach and mend the record or the wiring by hand")],
        needs=list(last.plan.needs),
    )
    return Outcome(last.plan, last.size, last.proof, told, tuple(tries))
