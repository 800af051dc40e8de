"""Single faults, appearing at any time: what each breaks at worst, and whether anyone would notice.

The search of a fault begins with every healthy reached state. A fault makes other tables of the few
islands it touches. Where none differs, the verdict stands; where only tables that are observed do,
the healthy states are looked at again with them; where one that feeds back does, the search is run
again from all healthy states. A replay is played again only where it looks a changed row up. The
failure modes are those of IEC 60812.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from startwright.car.build import Car, wire_up
from startwright.car.faults import Fault, faults_of
from startwright.prove.choices import choices
from startwright.prove.explore import Explored, Seeds, Space, explore
from startwright.prove.model import Model
from startwright.prove.observe import Mark
from startwright.prove.replayed import Replays
from startwright.prove.search import Found, Searched, Watcher
from startwright.prove.steps import Steps, presses_of
from startwright.prove.tables import Array, Table, TooLarge
from startwright.prove.tell import Teller
from startwright.prove.view import EDGE_MARKS, Marks
from startwright.records.reports import FaultResult
from startwright.records.scenario import Action

RANK = {"hazard": 0, "damage": 1, "works": 2, "none": 3}
SEEN_AT_ONCE = frozenset({"car-unchanged", "no-short", "only-what-is-called"})
"""What breaks one of these shows by itself: something is lit, dead or blown that should not be."""


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
    judge = Judge(healthy, searched)
    out: list[FaultResult] = []
    for k, fault in enumerate(all_faults(healthy.car)):
        if not progress(k):
            return None
        out.append(judge.result(fault))
    return sorted(out, key=lambda r: (RANK[r.worst], r.noticed))


def all_faults(car: Car) -> list[Fault]:
    """Every single fault of what is fitted."""
    outs = [d.id for d in car.unit.out_leads if d.id in car.unit.wired]
    return faults_of(car.wiring, car.parts, outs)


class Judge:
    """Judges faults of one wiring beside its sound car.

    Parameters
    ----------
    healthy : Model
    searched : Searched
        The finished search without faults.
    short_cuts : bool
        Whether what cannot differ is taken over; False works everything again.
    """

    def __init__(self, healthy: Model, searched: Searched, *, short_cuts: bool = True) -> None:
        self.healthy = healthy
        self.searched = searched
        self.short_cuts = short_cuts
        self.marks = Marks(healthy)
        self.replays = Replays(healthy)
        failed = {slug for slug, r in self.replays.results.items() if r.holds is False}
        self.before = set(searched.breaches) | failed
        watcher = Watcher(healthy, self.marks, twins=False)
        watcher.look(searched.explored, steps=False)
        self.asks = watcher.asks
        self.kinds = {r.slug: r.kind for r in searched.rules}
        self.kinds |= {"within-limits": "damage", "settles": "damage"}

    def result(self, fault: Fault) -> FaultResult:
        """What a fault breaks that was whole before."""
        try:
            model = faulty_model(self.healthy, fault, like=self.short_cuts)
            watcher, explored = self._look(model)
        except TooLarge:
            return _not_finished(fault)
        if not explored.finished:
            return _not_finished(fault)
        played = {r.rule for r in self.replays.of(model, self.short_cuts) if r.holds is False}
        slugs = [s for s in (*watcher.broken, *sorted(played)) if s not in self.before]
        ranked = sorted(slugs, key=lambda s: RANK[self.kinds.get(s, "works")])
        trace = None
        if ranked and ranked[0] in watcher.broken:
            found = watcher.breaches(explored, only=ranked[:1])[ranked[0]]
            trace = self._line(model, explored, found, fault)
        return FaultResult(
            fault=str(fault),
            worst=self.kinds.get(ranked[0], "works") if ranked else "none",
            breaks=ranked,
            noticed=bool(played - self.before) or bool(SEEN_AT_ONCE & set(slugs)),
            trace=trace,
            caught_by=[],
        )

    # ---- what is reached --------------------------------------------------------------------

    def _look(self, model: Model) -> tuple[Watcher, Explored]:
        marks = Marks(model)
        watcher = Watcher(model, marks, twins=False)
        if self.short_cuts and self._same_feedback(model, watcher):
            edges = all(_same_marks(self.marks[m], marks[m]) for m in EDGE_MARKS)
            known = set().union(*self.asks.values())
            differ = {m for m in known if not _same_marks(self.marks[m], marks[m])}
            looking = {slug for slug, asked in self.asks.items() if asked & differ}
            watcher.look(self.searched.explored, steps=not edges, only=looking)
            return watcher, self.searched.explored
        explored = explore(
            model,
            steps=Steps(model, watcher.watched),
            seeds=seeds_in(self.searched.explored, model),
        )
        watcher.look(explored)
        return watcher, explored

    def _same_feedback(self, model: Model, watcher: Watcher) -> bool:
        """Whether the same is reached by the same steps as in the sound car."""
        healthy = self.healthy
        if model.variables != healthy.variables:
            return False
        if model.car.tach_lost != healthy.car.tach_lost:
            return False
        if not all(_same(a, b) for a, b in zip(healthy.feedback, model.feedback, strict=True)):
            return False
        presses = presses_of(model, watcher.watched)
        return np.array_equal(presses.of, self.searched.explored.steps.presses.of)

    # ---- telling ----------------------------------------------------------------------------

    def _line(self, model: Model, explored: Explored, found: Found, fault: Fault) -> str:
        """The healthy way to the moment of the fault, the fault, and the way on."""
        healthy = self.searched.explored
        lead_in = Teller(self.healthy, self.searched.space, choices(self.healthy), healthy)
        lead_on = Teller(model, Space(model), choices(model), explored)
        if explored is healthy:
            first = found.state
            on = found.steps[len(healthy.steps_to(first)) :]
        else:
            state = found.state if not found.steps else found.steps[0][0]
            row, press = explored.seed_of(state)
            core = int(np.flatnonzero(healthy.reached.any(axis=1))[row])
            first = healthy.first_at(core, press)
            on = found.steps
        before = lead_in.tell(healthy.steps_to(first)).actions
        after = lead_on.tell(on, found.free).actions
        return " · ".join([*before, str(Action("fault", str(fault))), *after])


def _not_finished(fault: Fault) -> FaultResult:
    return FaultResult(fault=str(fault), worst="hazard", breaks=["not finished"], noticed=False)


def faulty_model(healthy: Model, fault: Fault, *, like: bool = True) -> Model:
    """The model of the same wiring with a fault, over at least the same variables of state.

    With `like` what the fault does not touch is taken over from the healthy one.
    """
    car = wire_up(healthy.car.job, healthy.car.wiring, fault=fault)
    model = Model(car, healthy if like else None)
    more = [v for v in model.surroundings if v not in healthy.surroundings]
    model.__dict__["surroundings"] = (*healthy.surroundings, *more)
    for name in ("moves", "outs"):
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


def _same_marks(one: Mark, other: Mark) -> bool:
    if one is other:
        return True
    return len(one.parts) == len(other.parts) and all(
        a.label == b.label and _same(a.table, b.table)
        for a, b in zip(one.parts, other.parts, strict=True)
    )


def _same(one: Table, other: Table) -> bool:
    if one is other:
        return True
    return one.over == other.over and np.array_equal(one.data, other.data)


def fault_named(car: Car, text: str) -> Fault | None:
    """The fault of a scenario's action (``r7 open``), where the wiring has it."""
    outs = [d.id for d in car.unit.out_leads if d.id in car.unit.wired]
    return next((f for f in faults_of(car.wiring, car.parts, outs) if str(f) == text), None)
