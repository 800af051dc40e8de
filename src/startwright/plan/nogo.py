"""No plan is an answer: the smallest set of things that cannot hold together, and what helps.

The core is found without an objective, by assumptions, and made irreducible by leaving out one
thing after another. What would help is the least to add to the shelf, found by the same model
with the shelf left open; where no part helps, it is said of each need what would.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from startwright.plan.answer import Mend, NoPlan, Resolve
from startwright.plan.choose import Unfinished, solver
from startwright.plan.demand import Demand, Needs
from startwright.plan.enable import WAKES
from startwright.plan.model import Built, Problem, build
from startwright.plan.outputs import why_not_to_enable
from startwright.plan.problem import problem_of
from startwright.plan.pulses import COMMANDS, pulse_settings
from startwright.plan.way import Found
from startwright.plan.wishes import wishes_of
from startwright.records.job import WholeJob
from startwright.records.stock import Part

Name = tuple[str, str]
REASONS_TOLD = 4


def refused(job: WholeJob, needs: Needs) -> NoPlan:
    """The answer where something stops the plan before anything is chosen."""
    return NoPlan(
        job=job.id,
        reasons=list(dict.fromkeys(r.reason for r in needs.refusals)),
        resolve=[Resolve(do=r) for r in dict.fromkeys(r.resolve for r in needs.refusals)],
        needs=[d.as_need(False, []) for d in needs.demands],
    )


def of_both(answers: Mapping[str, NoPlan]) -> NoPlan:
    """One answer where a car with a button has no plan either way.

    Parameters
    ----------
    answers : mapping
        From the way in words to why there is no plan that way.
    """
    first, *_ = answers.values()
    if len(answers) == 1:
        return first
    every = [a.reasons for a in answers.values()]
    shared = [r for r in every[0] if all(r in rs for rs in every)]
    reasons = [f"{w}: {r}" for w, a in answers.items() for r in a.reasons if r not in shared]
    opens = {r.do: r for a in answers.values() for r in a.resolve}
    everywhere = [r for r in first.resolve if all(r in a.resolve for a in answers.values())]
    named = [
        r.model_copy(update={"do": f"{w}: {r.do}"})
        for w, a in answers.items()
        for r in a.resolve
        if opens[r.do] not in everywhere
    ]
    named.sort(key=lambda r: (r.cost is None, r.cost or 0.0))
    needs = {n.id: n for a in answers.values() for n in a.needs}
    return NoPlan(
        job=first.job,
        reasons=[*shared, *reasons],
        resolve=[*everywhere, *named],
        needs=list(needs.values()),
    )


def explain(job: WholeJob, needs: Needs, mend: Mend, problem: Problem, found: Found) -> NoPlan:
    """The answer where the needs, limits and parts cannot hold together."""
    try:
        core = core_of(problem)
    except Unfinished:
        return unfinished(job, problem)
    return NoPlan(
        job=job.id,
        reasons=[_in_words(name, problem, found) for name in core],
        resolve=_resolve(job, needs, mend, core, found),
        needs=[d.as_need(False, []) for d in needs.demands if ("need", d.id) in core],
    )


def unfinished(job: WholeJob, problem: Problem) -> NoPlan:
    """The answer where the choice is too large to be finished."""
    return NoPlan(
        job=job.id,
        reasons=[f"The choice among {len(problem.ways)} ways was not finished."],
        resolve=[Resolve(do="leave wants out, or parts of the shelf that are alike")],
    )


def core_of(problem: Problem) -> list[Name]:
    """An irreducible set of named constraints that cannot hold together.

    Parameters
    ----------
    problem : Problem
        One without a solution.

    Returns
    -------
    list of (kind, name)
        Leave out any one, and the others can be met.

    Raises
    ------
    ValueError
        Where there is a solution.
    """
    built = build(problem, guarded=True)
    names = sorted(built.rows.guards)
    core = _sufficient(built, names)
    if core is None:
        raise ValueError("these needs can be met; there is no core")
    kept = list(core)
    for name in sorted(core, key=_weight):
        smaller = [n for n in kept if n != name]
        again = _sufficient(built, smaller)
        if again is not None:
            kept = [n for n in smaller if n in again]
    return sorted(kept, key=lambda n: (n[0] != "need", n))


def _weight(name: Name) -> tuple[int, str]:
    """Which to try to leave out first: limits and shelf before needs, so that needs are told."""
    order = ["setting", "small", "ground", "battery", "feed", "lead", "share", "stock", "need"]
    return (order.index(name[0]), name[1])


def _sufficient(built: Built, names: Sequence[Name]) -> list[Name] | None:
    """Names that cannot hold together among these; None where they can."""
    from ortools.sat.python import cp_model

    guards = built.rows.guards
    model = built.model
    model.clear_assumptions()
    model.add_assumptions([guards[n] for n in names])
    s = solver()
    status = s.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    if status != cp_model.INFEASIBLE:
        raise Unfinished(f"the core was not finished: {s.status_name(status)}")
    by_index = {guards[n].index: n for n in names}
    return [by_index[i] for i in s.sufficient_assumptions_for_infeasibility() if i in by_index]


def _in_words(name: Name, problem: Problem, found: Found) -> str:
    kind, what = name
    if kind == "need":
        return _need_words(what, problem, found)
    if kind == "stock":
        count = problem.counts.get(what, 0)
        return f"The shelf holds {count} of {what}."
    if kind == "lead":
        limit = next(
            u.output.limit_A for w in problem.ways for u in w.uses if u.output.lead == what
        )
        return f"The lead {what} carries {limit:g} A at most."
    if kind == "share":
        circuits = dict.fromkeys(
            w.circuit.id
            for w in problem.ways
            for u in w.uses
            if u.output.lead == what and w.circuit is not None
        )
        return (
            f"The lead {what} must not join circuits that differ in some key position or hand "
            f"state ({', '.join(circuits)}): one would feed the other."
        )
    if kind == "feed":
        lead = problem.job.unit.lead(what)
        return (
            f"The feed {what} carries {lead.limit_A or 30:g} A at most"
            + (
                f", and its {lead.fuse_A:g} A fuse three quarters of that for good"
                if lead.fuse_A
                else ""
            )
            + "."
        )
    if kind == "battery":
        circuit = problem.job.vehicle.circuit(what)
        return f"The battery circuit {what} is fused at {circuit.fuse_A:g} A."
    if kind == "setting":
        return f"The setting {what} has one value at a time."
    if kind == "ground":
        return "The unit's ground lead carries no more than its limit."
    return "Coils and sensed levels want a small fused feed of their own."


def _need_words(id: str, problem: Problem, found: Found) -> str:
    demand = next(d for d in problem.demands if d.id == id)
    said = f"Needed: {demand.need}, because {demand.because}."
    if demand.kind not in ("seen", "tach") and not problem.of(id):
        looked = found.rejected.get(id, [])
        if looked:
            told = "; ".join(looked[:REASONS_TOLD])
            more = f"; and {len(looked) - REASONS_TOLD} more" if len(looked) > REASONS_TOLD else ""
            said += f" No way was found: {told}{more}."
        else:
            said += " No way was found."
    return said


def _resolve(
    job: WholeJob, needs: Needs, mend: Mend, core: list[Name], found: Found
) -> list[Resolve]:
    out: list[Resolve] = []
    wished = wishes_of(job, needs)
    more = _least_to_add(job, needs, mend, wished)
    if more is not None:
        out.append(more)
    if job.places_allowed is not None:
        anywhere = job.model_copy(update={"places_allowed": None})
        problem, _ = problem_of(anywhere, needs, mend)
        if _can(problem):
            out.append(Resolve(do="allow work at every place of the vehicle"))
    if not out:
        demands = {d.id: d for d in needs.demands}
        for kind, what in core:
            if kind == "need" and what in demands:
                out.append(Resolve(do=_hint(demands[what], job)))
    return out


def _can(problem: Problem) -> bool:
    from ortools.sat.python import cp_model

    s = solver()
    return bool(s.solve(build(problem).model) in (cp_model.OPTIMAL, cp_model.FEASIBLE))


def _least_to_add(
    job: WholeJob, needs: Needs, mend: Mend, wished: tuple[Part, ...]
) -> Resolve | None:
    """The cheapest parts whose adding to the shelf would open a way; None where none would."""
    from ortools.sat.python import cp_model

    zero = tuple(p for p in job.stock.parts if p.count == 0)
    problem, _ = problem_of(job, needs, mend, (*zero, *wished))
    built = build(problem, extra=True)
    price = {p.id: round(p.price * 100) for p in (*job.stock.parts, *wished)}
    terms: list[Any] = [
        (price.get(part, 0) + 1) * more for part, more in sorted(built.extra.items())
    ]
    built.model.minimize(sum(terms))
    s = solver()
    if s.solve(built.model) != cp_model.OPTIMAL:
        return None
    named = {p.id: p for p in (*job.stock.parts, *wished)}
    listed, cost = [], 0.0
    for part, more in sorted(built.extra.items()):
        count = s.value(more)
        if count:
            p = named[part]
            listed.append(f"{count} × {p.name or p.id}")
            cost += count * p.price
    if not listed:
        return None
    return Resolve(do=f"add to the shelf: {', '.join(listed)}", cost=round(cost, 2))


def _hint(demand: Demand, job: WholeJob) -> str:
    """What would help a need that no part helps."""
    what = demand.need
    if demand.kind == "fed":
        c = job.vehicle.circuit(demand.circuits[0])
        live = " and ".join(c.live or ())
        return (
            f"for {c.id}: a unit with one more output that is driven as the key does it ({live}), "
            "or one with a higher limit"
        )
    if demand.kind == "sensed" and demand.circuits:
        named = " or ".join(demand.circuits)
        level = job.vehicle.circuit(demand.circuits[0]).active_level
        return (
            f"measure {named} again, at rest, active and its load, and enter what you find; or a "
            f"unit whose {demand.sense} input is active at {level}"
        )
    if demand.kind == "sensed":
        return f"for {demand.sense}: find its wire with a meter and enter it, or add a switch"
    if demand.kind == "worked" and (longer := _longer(demand, job)) is not None:
        return longer
    if demand.kind == "foot":
        return (
            f"for {what}: a unit whose `ending` drives the button, or a signal beside it, on an "
            "output that can pull in a relay"
        )
    if demand.kind == "cut" and demand.by_car:
        return f"for {what}: a unit that drives a signal in every step that cranks"
    if demand.kind == "worked":
        return f"for {what}: a unit with an output that does {' or '.join(demand.drives)}"
    if demand.kind == "interface":
        said = f"an interface for this vehicle's {demand.sense.replace('_', ' ')}"
        if all(why_not_to_enable(job.unit, f) for f in WAKES):
            said += f", and a unit that drives {' or '.join(WAKES)} in every step that cranks"
        return said
    if demand.kind == "engine":
        return "find a tach wire and enter it, or a unit that goes by volts"
    if demand.kind == "seen":
        return "an ignition output that goes straight to an ignition circuit"
    return f"for {what}: another unit, or the record put right"


def _longer(demand: Demand, job: WholeJob) -> str | None:
    """What unit would help where the pulses of this one are too short or too few."""
    for does in demand.drives:
        for id in demand.circuits:
            c = job.vehicle.circuit(id)
            if does in (c.function, *c.also) and pulse_settings(job.unit, job.vehicle, does, c)[1]:
                times = f"{c.presses} times " if c.presses > 1 else ""
                lasts = f" for {c.pulse_s:g} s or more" if c.pulse_s else ""
                return (
                    f"for {demand.need}: a unit whose {COMMANDS.get(does, (does,))[0]} command "
                    f"drives {does} {times.rstrip()}{lasts}".replace("  ", " ")
                )
    return None
