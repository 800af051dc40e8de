"""Single faults, appearing at any time: what each breaks at worst, and whether anyone would notice.

The search of a fault begins with every healthy reached state. Where no table that feeds back
differs, the healthy states are looked at again with the faulty tables; where one does, the search
is run again from all of them. The failure modes are those of IEC 60812.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from startwright.car.build import Car, wire_up
from startwright.car.faults import Fault, faults_of
from startwright.prove.choices import choices
from startwright.prove.explore import Explored, Seeds, Space
from startwright.prove.model import Model
from startwright.prove.observe import Part
from startwright.prove.search import Found, Searched, search
from startwright.prove.tables import Array, Table, TooLarge
from startwright.prove.tell import Teller
from startwright.prove.view import Marks
from startwright.prove.works import works
from startwright.records.reports import FaultResult
from startwright.records.scenario import Action

RANK = {"hazard": 0, "damage": 1, "works": 2, "none": 3}


def single_faults(
    healthy: Model,
    searched: Searched,
    progress: Callable[[int], bool] = lambda done: True,
) -> list[FaultResult] | None:
    """Every single fault of a wiring, the worst first; None where it was stopped before the end.

    Parameters
    ----------
    healthy : Model
    searched : Searched
        The finished search without faults.
    progress : callable
        Called before each fault with the number done; False stops.
    """
    car = healthy.car
    outs = [d.id for d in car.unit.out_leads if d.id in car.unit.wired]
    before = set(searched.breaches) | {r.rule for r in works(healthy) if r.holds is False}
    marks = Marks(healthy)
    out: list[FaultResult] = []
    for k, fault in enumerate(faults_of(car.wiring, car.parts, outs)):
        if not progress(k):
            return None
        out.append(_one(healthy, marks, searched, fault, before))
    return sorted(out, key=lambda r: (RANK[r.worst], r.noticed))


def faulty_model(healthy: Model, fault: Fault) -> Model:
    """The model of the same wiring with a fault, over at least the same variables of state."""
    model = Model(wire_up(healthy.car.job, healthy.car.wiring, fault=fault))
    more = [v for v in model.surroundings if v not in healthy.surroundings]
    model.__dict__["surroundings"] = (*healthy.surroundings, *more)
    for name in ("moves", "outs", "factory"):
        model.__dict__[name] = getattr(healthy, name)
    return model


def moved_over(columns: dict[str, Array], model: Model) -> dict[str, Array]:
    """Healthy states in the variables of the faulty model; new ones stand as canonical."""
    rows = len(columns["key"])
    nothing = np.zeros(rows, dtype=np.int32)
    return {
        v.name: columns.get(v.name, nothing)
        for v in model.variables
        if v.name in columns or v.name != "press"
    }


def seeds_in(explored: Explored, model: Model) -> Seeds:
    """Every healthy state to begin with, in the variables of the faulty model."""
    at = np.flatnonzero(explored.reached.any(axis=1))
    columns = {n: c[at] for n, c in explored.steps.columns.items()}
    return Seeds(moved_over(columns, model), explored.reached[at])


def _one(
    healthy: Model, marks: Marks, searched: Searched, fault: Fault, before: set[str]
) -> FaultResult:
    model = faulty_model(healthy, fault)
    try:
        found, explored = _looked_at(healthy, marks, model, seeds_in(searched.explored, model))
        finished = explored.finished
    except TooLarge:
        finished = False
    if not finished:
        return FaultResult(fault=str(fault), worst="hazard", breaks=["not finished"], noticed=False)
    played = {r.rule: r for r in works(model) if r.holds is False}
    slugs = [s for s in (*found, *played) if s not in before]
    kinds = {r.slug: r.kind for r in searched.rules}
    kinds |= {"within-limits": "damage", "settles": "damage"}
    ranked = sorted(slugs, key=lambda s: RANK[kinds.get(s, "works")])
    worst = kinds.get(ranked[0], "works") if ranked else "none"
    trace = None
    if ranked and ranked[0] in found:
        trace = _line(healthy, searched, model, explored, found[ranked[0]], fault)
    noticed = bool(set(played) - before) or bool(
        {"car-unchanged", "no-short", "only-what-is-called"} & set(slugs)
    )
    return FaultResult(
        fault=str(fault), worst=worst, breaks=ranked, noticed=noticed, trace=trace, caught_by=[]
    )


def _looked_at(
    healthy: Model, theirs: Marks, model: Model, seeds: Seeds
) -> tuple[dict[str, Found], Explored]:
    done = search(model, seeds=seeds)
    return done.breaches, done.explored


def _same_feedback(one: Model, other: Model) -> bool:
    if one.variables != other.variables or one.car.tach_lost != other.car.tach_lost:
        return False
    return all(_same(a, b) for a, b in zip(one.feedback, other.feedback, strict=True))


def _same_parts(one: list[Part], other: list[Part]) -> bool:
    return len(one) == len(other) and all(
        a.label == b.label and _same(a.table, b.table) for a, b in zip(one, other, strict=True)
    )


def _same(one: Table, other: Table) -> bool:
    return one.over == other.over and np.array_equal(one.data, other.data)


def _line(
    healthy: Model,
    searched: Searched,
    model: Model,
    explored: Explored,
    found: Found,
    fault: Fault,
) -> str:
    """The healthy way to the moment of the fault, the fault, and the way on."""
    state = found.state if not found.steps else found.steps[0][0]
    row, press = explored.seed_of(state)
    core = int(np.flatnonzero(searched.explored.reached.any(axis=1))[row])
    first = searched.explored.first_at(core, press)
    lead_in = Teller(healthy, searched.space, choices(healthy), searched.explored)
    lead_on = Teller(model, Space(model), choices(model), explored)
    before = lead_in.tell(searched.explored.steps_to(first)).actions
    after = lead_on.tell(found.steps, found.free).actions
    return " · ".join([*before, str(Action("fault", str(fault))), *after])


def fault_named(car: Car, text: str) -> Fault | None:
    """The fault of a scenario's action (``r7 open``), where the wiring has it."""
    outs = [d.id for d in car.unit.out_leads if d.id in car.unit.wired]
    return next((f for f in faults_of(car.wiring, car.parts, outs) if str(f) == text), None)
