"""Single faults, appearing at any time: what each breaks at worst, and whether anyone would notice.

The search of a fault begins with every healthy reached state. A fault makes other tables of the few
islands it touches. Where none differs, the verdict stands; where only tables that are observed do,
the healthy states are looked at again with them; where one that feeds back does, the search is run
again from all healthy states. A replay is played again only where it looks a changed row up. Faults
of the same effect are judged once. The failure modes are those of IEC 60812.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from hashlib import blake2b
from itertools import chain
from math import prod

import numpy as np

from startwright.car.build import Car, with_fault
from startwright.car.faults import Fault, faults_of, opens
from startwright.prove.choices import action, choices
from startwright.prove.explore import Explored, Seeds, explore
from startwright.prove.fixed import coils_suppressed
from startwright.prove.mark import Mark
from startwright.prove.model import Model
from startwright.prove.noticed import shows
from startwright.prove.presses import presses_of
from startwright.prove.replayed import Replays
from startwright.prove.search import Found, Searched, Watcher, search
from startwright.prove.space import Space
from startwright.prove.steps import Steps
from startwright.prove.tables import Array, Table, TooLarge, arity
from startwright.prove.tell import Teller
from startwright.prove.touched import Touched
from startwright.prove.view import EDGE_MARKS, Marks
from startwright.records.reports import FaultResult
from startwright.records.scenario import Action

MOST_KEPT = 100_000
"""So many cores of searches are kept for faults to come, some 100 MB."""
FEW = 2
"""For so many searches it does not pay to look what each reaction looks up."""
RANK = {"hazard": 0, "damage": 1, "works": 2, "none": 3}


def single_faults(
    healthy: Model,
    searched: Searched,
    progress: Callable[[int], bool] = lambda done: True,
    *,
    judge: Judge | None = None,
) -> list[FaultResult] | None:
    """Every single fault of a wiring, the worst first; None where it was stopped before the end.

    Parameters
    ----------
    healthy : Model
    searched : Searched
        The finished search without faults.
    progress : callable
        Called before each fault with the number done; False stops.
    judge : Judge, optional
        Of this wiring, where there is one.
    """
    judge = judge or Judge(healthy, searched)
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
        self._verdicts: dict[bytes, Verdict] = {}
        self._explored: dict[bytes, Explored] = {}
        self._room = MOST_KEPT
        self._begun = 0
        failed = {slug for slug, r in self.replays.results.items() if r.holds is False}
        self.before = set(searched.breaches) | failed
        watcher = Watcher(healthy, self.marks, twins=False)
        watcher.look(searched.explored, steps=False)
        self.asks = watcher.asks
        self.kinds = {r.slug: r.kind for r in searched.rules}
        self.kinds |= {"within-limits": "damage", "settles": "damage", "coils-suppressed": "damage"}
        self.bare = coils_suppressed(healthy.car).holds is False

    def result(self, fault: Fault) -> FaultResult:
        """What a fault breaks that was whole before."""
        try:
            model = self._model(fault)
            marks = Marks(model)
            sign = self._sign(model, marks) if self.short_cuts else b""
        except TooLarge:
            return _unfinished(fault)
        verdict = self._verdicts.get(sign)
        if verdict is None:
            case = self._case(fault, marks)
            if case is None:
                return _unfinished(fault)
            verdict = self._verdict(case)
            if self.short_cuts:
                self._verdicts[sign] = verdict
        return self._with_bare_coil(fault, verdict.of(fault))

    def _with_bare_coil(self, fault: Fault, result: FaultResult) -> FaultResult:
        """The result, with what the wiring alone decides: a suppressor that has come off."""
        slug = "coils-suppressed"
        if self.bare or not any(opens(fault, one.thing) for one in fault.each):
            return result
        if coils_suppressed(self.healthy.car, fault).holds is not False:
            return result
        breaks = sorted([*result.breaks, slug], key=lambda s: RANK[self.kinds.get(s, "works")])
        worst = min(result.worst, "damage", key=lambda w: RANK[w])
        return result.model_copy(update={"breaks": breaks, "worst": worst})

    def _verdict(self, case: Case) -> Verdict:
        results = self.replays.of(case.model, self.short_cuts)
        played = {r.rule for r in results if r.holds is False}
        slugs = [s for s in (*case.watcher.broken, *sorted(played)) if s not in self.before]
        ranked = sorted(slugs, key=lambda s: RANK[self.kinds.get(s, "works")])
        way = None
        if ranked and ranked[0] in case.watcher.broken:
            before, _, after = self._way(case, ranked[0])
            way = before, after
        return Verdict(
            worst=self.kinds.get(ranked[0], "works") if ranked else "none",
            breaks=ranked,
            noticed=bool(played - self.before) or shows(case.watcher, case.explored, set(slugs)),
            way=way,
        )

    def _sign(self, model: Model, marks: Marks) -> bytes:
        """The same for two faults where everything that follows from either is the same.

        Both ends of a wire that lies open are an example: every table that feeds back, is watched
        or is replayed has the same rows.
        """
        known = sorted({*EDGE_MARKS, *chain.from_iterable(self.asks.values())})
        overloaded, feeds = marks.overloaded
        parts = [p for m in (*(marks[n] for n in known), overloaded) for p in m.parts]
        circuits = model.car.job.vehicle.circuits
        tables = (
            *model.feedback,
            *model.interface_on.values(),
            *(wired for c in circuits for _, wired, _ in model.acts(c)),
            *(p.table for p in parts),
            *(t for _, draws in feeds for t in draws),
        )
        words = (
            model.variables,
            model.free,
            model.car.tach_lost,
            [(p.label, p.full.over, None if p.when is None else p.when.tobytes()) for p in parts],
            [(feed.name, feed.long_A, feed.short_A, len(draws)) for feed, draws in feeds],
            *_shapes(tables),
        )
        return _digest(words, tables)

    @cached_property
    def touched(self) -> Touched:
        """Which steps of the sound car a fault can change."""
        return Touched(self.healthy, self.searched.explored)

    # ---- what is reached --------------------------------------------------------------------

    def case(self, fault: Fault, after: tuple[Case, ...] = ()) -> Case | None:
        """What is reached once a fault appears, at any time; None where that did not finish.

        Parameters
        ----------
        fault : Fault
        after : tuple of Case, optional
            Other faults which may have been there before, alone; the sound car where it is empty.
        """
        try:
            marks = Marks(self._model(fault, after))
        except TooLarge:
            return None
        return self._case(fault, marks, after)

    def _model(self, fault: Fault, after: tuple[Case, ...] = ()) -> Model:
        more = dict.fromkeys(v for c in after for v in c.model.surroundings)
        return faulty_model(self.healthy, fault, like=self.short_cuts, surroundings=tuple(more))

    def _case(self, fault: Fault, marks: Marks, after: tuple[Case, ...] = ()) -> Case | None:
        try:
            watcher, explored = self._look(marks, after)
        except TooLarge:
            return None
        case = Case(fault, watcher.model, watcher, explored, after)
        return case if explored.finished else None

    def beside(self, car: Car) -> tuple[Model, Searched]:
        """The search of the same car with a part more in its wiring.

        Taken over where no table that feeds back differs; else made from the parked car.
        """
        healthy = self.healthy
        if not _grown(healthy.car, car):
            model = Model(car)
            return model, search(model)
        model = _over(healthy, Model(car, healthy))
        marks = Marks(model)
        watcher = Watcher(model, marks, twins=False)
        if not self._same_feedback(model, watcher):
            model = Model(car)
            return model, search(model)
        watcher, explored = self._look(marks, ())
        return model, replace(self.searched, breaches=watcher.breaches(explored))

    def _look(self, marks: Marks, after: tuple[Case, ...]) -> tuple[Watcher, Explored]:
        model, sound = marks.observer.model, self.searched.explored
        watcher = Watcher(model, marks, twins=False)
        nothing_new = self.short_cuts and all(c.explored is sound for c in after)
        if nothing_new and self._same_feedback(model, watcher):
            edges = all(_same_marks(self.marks[m], marks[m]) for m in EDGE_MARKS)
            known = set().union(*self.asks.values())
            differ = {m for m in known if not _same_marks(self.marks[m], marks[m])}
            looking = {slug for slug, asked in self.asks.items() if asked & differ}
            watcher.look(sound, steps=not edges, only=looking)
            return watcher, sound
        begins = [c.explored for c in after] or [sound]
        sign = self._sign_of_feedback(model, watcher) if nothing_new else b""
        explored = self._explored.get(sign)
        if explored is None:
            explored = explore(
                model,
                steps=self._steps(model, watcher, nothing_new),
                seeds=together([seeds_in(e, model) for e in begins]),
            )
            if nothing_new and explored.steps.count <= self._room:
                self._room -= explored.steps.count
                self._explored[sign] = explored
        watcher.look(explored)
        return watcher, explored

    def _steps(self, model: Model, watcher: Watcher, nothing_new: bool) -> Steps:
        """The steps of a faulty car; those of the sound car are taken over where they can be."""
        self._begun += 1
        if nothing_new and self._begun > FEW and self._same_classes(model, watcher):
            return self.touched.steps_of(model)
        return Steps(model, watcher.watched)

    def _same_classes(self, model: Model, watcher: Watcher) -> bool:
        """Whether states and presses are told apart as in the sound car."""
        healthy = self.healthy
        if model.variables != healthy.variables or model.car.tach_lost != healthy.car.tach_lost:
            return False
        presses = presses_of(model, watcher.watched)
        return np.array_equal(presses.of, self.searched.explored.steps.presses.of)

    def _sign_of_feedback(self, model: Model, watcher: Watcher) -> bytes:
        """The same for two faults with which the same is reached by the same steps."""
        tables = model.feedback
        classes = presses_of(model, watcher.watched).of.tolist()
        words = (model.variables, model.car.tach_lost, classes, *_shapes(tables))
        return _digest(words, tables)

    def _same_feedback(self, model: Model, watcher: Watcher) -> bool:
        """Whether the same is reached by the same steps as in the sound car."""
        if not self._same_classes(model, watcher):
            return False
        both = zip(self.healthy.feedback, model.feedback, strict=True)
        return all(_same(one, other) for one, other in both)

    # ---- telling ----------------------------------------------------------------------------

    def line(self, case: Case, slug: str) -> str:
        """The way to a breach: to the moment of the fault, the fault, and the way on."""
        before, struck, after = self._way(case, slug)
        return _line(before, case.fault, after, struck)

    def _way(self, case: Case, slug: str) -> tuple[list[str], Case | None, list[str]]:
        """What is done before the fault, the case it struck (None: the sound car), what is after.

        A fault that was there alone before is among what is done before.
        """
        found = case.watcher.breaches(case.explored, only=[slug])[slug]
        before, struck, after = self._actions(case, found.state, found.steps)
        return before, struck, [*after, *_free(found)]

    def _actions(
        self, case: Case, state: int, steps: list[tuple[int, int]] | None = None
    ) -> tuple[list[str], Case | None, list[str]]:
        sound = self.searched.explored
        way = case.explored.steps_to(state) if steps is None else steps
        if case.explored is sound:
            way = way[len(sound.steps_to(state)) :]
            struck, at = (case.after[0] if case.after else None), state
        else:
            first = way[0][0] if way else state
            struck, at = self._struck(case, *case.explored.seed_of(first))
        teller = Teller(case.model, Space(case.model), choices(case.model), case.explored)
        after = list(teller.tell(way).actions)
        begun = case.explored.row(way[0][0] if way else state)
        here = struck.model if struck else self.healthy
        stand = [
            action(v, 0, begun[v])
            for v in case.model.surroundings
            if v not in here.surroundings and begun[v]
        ]
        if struck is None:
            teller = Teller(self.healthy, self.searched.space, choices(self.healthy), sound)
            return [*teller.tell(sound.steps_to(at)).actions, *stand], None, after
        earlier, first_struck, later = self._actions(struck, at)
        before = [*earlier, *_strikes(struck.fault, first_struck), *later, *stand]
        return before, struck, after

    def _struck(self, case: Case, row: int, press: int) -> tuple[Case | None, int]:
        """The case (None: the sound car) and the state in which a fault struck."""
        for one in case.after or (None,):
            explored = one.explored if one else self.searched.explored
            cores = np.flatnonzero(explored.reached.any(axis=1))
            new = set(case.model.surroundings) - set(explored.steps.columns)
            several = prod(arity(v) for v in new)
            if row < len(cores) * several:
                return one, explored.first_at(int(cores[row % len(cores)]), press)
            row -= len(cores) * several
        raise ValueError("a state that no fault struck in")


@dataclass(frozen=True)
class Case:
    """A fault, the car that has it, and what is reached in it."""

    fault: Fault
    model: Model
    watcher: Watcher
    explored: Explored
    after: tuple[Case, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """What a fault breaks, without its name: other faults may be of the same effect."""

    worst: str
    breaks: list[str]
    noticed: bool
    way: tuple[list[str], list[str]] | None
    """What is done before the fault and after it, where a search found a breach."""

    def of(self, fault: Fault) -> FaultResult:
        """The result of a fault of this effect."""
        return FaultResult(
            fault=str(fault),
            worst=self.worst,
            breaks=list(self.breaks),
            noticed=self.noticed,
            trace=None if self.way is None else _line(self.way[0], fault, self.way[1]),
            caught_by=[],
        )


def _unfinished(fault: Fault) -> FaultResult:
    return FaultResult(fault=str(fault), worst="hazard", breaks=["not finished"], noticed=False)


def _strikes(fault: Fault, struck: Case | None = None) -> list[str]:
    """The actions by which a fault appears, beside those that were there before."""
    there = {str(f) for f in struck.fault.each} if struck else set()
    return [str(Action("fault", str(f))) for f in fault.each if str(f) not in there]


def _line(before: list[str], fault: Fault, after: list[str], struck: Case | None = None) -> str:
    return " · ".join([*before, *_strikes(fault, struck), *after])


def _grown(car: Car, other: Car) -> bool:
    """Whether another car is this one with nodes and elements more, its unit joined as here."""
    names = car.network.names
    return (
        other.network.names[: len(names)] == names
        and all(other.number[n] == k for n, k in car.number.items())
        and all(other.held_at.get(n) == rail for n, rail in car.held_at.items())
        and [c.part for c in other.coils] == [c.part for c in car.coils]
        and (other.unit.wired, other.unit.signal) == (car.unit.wired, car.unit.signal)
        and (other.alive, other.tach_lost) == (car.alive, car.tach_lost)
        and (other.inputs, other.interfaces) == (car.inputs, car.interfaces)
    )


def _free(found: Found) -> list[str]:
    """What is done at last to surroundings that nothing follows."""
    return [action(name, 0, value) for name, value in found.free.items()]


def together(seeds: list[Seeds]) -> Seeds:
    """All states of several, one list after another."""
    names = seeds[0].columns
    columns = {n: np.concatenate([s.columns[n] for s in seeds]) for n in names}
    return Seeds(columns, np.concatenate([s.rows for s in seeds]))


def faulty_model(
    healthy: Model, fault: Fault, *, like: bool = True, surroundings: tuple[str, ...] = ()
) -> Model:
    """The model of the same wiring with a fault, over at least the same variables of state.

    With `like` what the fault does not touch is taken over from the healthy one; `surroundings`
    are state besides.
    """
    model = Model(with_fault(healthy.car, fault), healthy if like else None)
    return _over(healthy, model, surroundings)


def _over(healthy: Model, model: Model, surroundings: tuple[str, ...] = ()) -> Model:
    """A model over at least the surroundings that are state in the healthy one."""
    first = (*healthy.surroundings, *(v for v in surroundings if v not in healthy.surroundings))
    more = [v for v in model.surroundings if v not in first]
    model.__dict__["surroundings"] = (*first, *more)
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
    """Every healthy state to begin with, in the variables of the faulty model.

    A surrounding that feeds back only with the fault was free before it: it may stand at any value
    when the fault appears. The states come once for each, one list after another.
    """
    at = np.flatnonzero(explored.reached.any(axis=1))
    columns = {n: c[at] for n, c in explored.steps.columns.items()}
    new = [v for v in model.surroundings if v not in columns]
    lists = []
    for values in np.ndindex(*(arity(v) for v in new)):
        stand = {v: np.full(len(at), k, np.int32) for v, k in zip(new, values, strict=True)}
        lists.append(Seeds(moved_over(columns | stand, model), explored.reached[at]))
    return together(lists)


def _shapes(tables: Iterable[Table]) -> list[object]:
    return [(t.over, t.data.dtype.str) for t in tables]


def _digest(words: object, tables: Iterable[Table]) -> bytes:
    sign = blake2b(repr(words).encode())
    for table in tables:
        sign.update(table.data.tobytes())
    return sign.digest()


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
