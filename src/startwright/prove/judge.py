"""Judges faults of one wiring: what each breaks that was whole before, and how one gets there.

The search of a fault begins with every healthy reached state. A fault makes other tables of the few
islands it touches. Where none differs, the verdict stands; where only tables that are observed do,
the healthy states are looked at again with them; where one that feeds back does, the search is run
again from all healthy states, for several faults at once. A replay is played again only where it
looks a changed row up. Faults of the same effect are judged once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from math import prod

import numpy as np

from startwright.car.build import Car
from startwright.car.faults import Fault, opens
from startwright.prove.choices import action, choices
from startwright.prove.explore import Explored, explore
from startwright.prove.faulty import (
    Faulty,
    digest,
    faulty_model,
    grown,
    opens_all,
    over_states_of,
    same_loads,
    same_marks,
    seeds_in,
    shapes,
    together,
)
from startwright.prove.fixed import coils_suppressed, severed
from startwright.prove.model import Model
from startwright.prove.noticed import shows
from startwright.prove.reaction import Reaction
from startwright.prove.replayed import Replays
from startwright.prove.search import Again, Found, Searched, Watcher, search
from startwright.prove.searches import Searches
from startwright.prove.steps import Steps
from startwright.prove.tables import TooLarge, arity, same
from startwright.prove.tell import Teller
from startwright.prove.view import EDGE_MARKS, Marks
from startwright.records.reports import FaultResult
from startwright.records.scenario import Action

Progress = Callable[[int], bool]
MOST_WAITING = 256
"""So many faults wait at most until they are searched together."""
RANK = {"hazard": 0, "damage": 1, "works": 2, "none": 3}


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
        self.searches = Searches(healthy, searched.explored)
        failed = {slug for slug, r in self.replays.results.items() if r.holds is False}
        self.before = set(searched.breaches) | failed
        watcher = Watcher(healthy, self.marks, twins=False)
        watcher.look(searched.explored, Again({r.slug for r in watcher.rules}, steps=False))
        self.asks = watcher.asks
        self.kinds = {r.slug: r.kind for r in searched.rules}
        self.kinds |= {"within-limits": "damage", "settles": "damage", "coils-suppressed": "damage"}
        self.bare = coils_suppressed(healthy.car).holds is False

    # ---- results ----------------------------------------------------------------------------

    def results(
        self, faults: Sequence[Fault], progress: Progress = lambda done: True
    ) -> Iterator[FaultResult | None]:
        """What each fault breaks that was whole before; None, at last, where it was stopped."""
        waiting: list[tuple[Fault, Faulty | None]] = []
        todo: dict[bytes, Faulty] = {}
        for k, fault in enumerate(faults):
            if not progress(k):
                yield None
                return
            one = self._faulty(fault)
            waiting.append((fault, one))
            known = one is None or not self.short_cuts or one.sign in self._verdicts
            if one is not None and not known and self.searches.wants(one):
                todo.setdefault(one.feeding, one)
            full = len(todo) >= self.searches.most or len(waiting) >= MOST_WAITING
            if not full and k + 1 < len(faults):
                continue
            if not self.searches.search([*todo.values()], lambda states, k=k: progress(k)):  # type: ignore[misc]
                yield None
                return
            yield from (self._result(*each) for each in waiting)
            waiting, todo = [], {}
            self.searches.forget()

    def result(self, fault: Fault) -> FaultResult:
        """What a fault breaks that was whole before."""
        return self._result(fault, self._faulty(fault))

    def _faulty(self, fault: Fault, after: tuple[Case, ...] = ()) -> Faulty | None:
        """The car with a fault; None where its tables are too large."""
        more = dict.fromkeys(v for c in after for v in c.model.surroundings)
        try:
            model = faulty_model(
                self.healthy, fault, like=self.short_cuts, surroundings=tuple(more)
            )
            one = Faulty(fault, model, Marks(model))
            if self.short_cuts and not after:
                one.sign = self._sign(model, one.marks)
        except TooLarge:
            return None
        return one

    def _result(self, fault: Fault, one: Faulty | None) -> FaultResult:
        if one is None:
            return _unfinished(fault)
        verdict = self._verdicts.get(one.sign)
        if verdict is None:
            case = self._case(one)
            if case is None:
                return _unfinished(fault)
            verdict = self._verdict(case)
            if self.short_cuts:
                self._verdicts[one.sign] = verdict
        return self._by_wiring(fault, verdict.of(fault))

    def _by_wiring(self, fault: Fault, result: FaultResult) -> FaultResult:
        """The result, with what the wiring alone decides: what has come off or come apart.

        A suppressor that has come off shows to nobody. A tach or key line in two pieces does: a
        gauge is dead, or the car no longer starts by its own key (common practice, no source).
        """
        car = self.healthy.car
        if not any(opens(fault, one.thing) for one in fault.each):
            return result
        bare = not self.bare and coils_suppressed(car, fault).holds is False
        apart = not severed(car)[0] and bool(severed(car, fault)[0])
        slugs = ["coils-suppressed"] * bare + ["car-unchanged"] * apart
        new = [s for s in slugs if s not in (*result.breaks, *self.before)]
        if not new:
            return result
        breaks = sorted([*result.breaks, *new], key=lambda s: RANK[self.kinds.get(s, "works")])
        worst = min(result.worst, "damage", key=lambda w: RANK[w])
        noticed = result.noticed or apart
        return result.model_copy(update={"breaks": breaks, "worst": worst, "noticed": noticed})

    def _verdict(self, case: Case) -> Verdict:
        results = self.replays.of(case.model, case.explored.steps, self.short_cuts)
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
            *shapes(tables),
        )
        return digest(words, tables)

    # ---- what is reached --------------------------------------------------------------------

    def case(self, fault: Fault, after: tuple[Case, ...] = ()) -> Case | None:
        """What is reached once a fault appears, at any time; None where that did not finish.

        Parameters
        ----------
        fault : Fault
        after : tuple of Case, optional
            Other faults which may have been there before, alone; the sound car where it is empty.
        """
        one = self._faulty(fault, after)
        return None if one is None else self._case(one, after)

    def _case(self, one: Faulty, after: tuple[Case, ...] = ()) -> Case | None:
        try:
            explored = self._look(one, after)
        except TooLarge:
            return None
        case = Case(one.fault, one.model, one.watcher, explored, after)
        return case if explored.finished else None

    def beside(self, car: Car) -> tuple[Model, Searched]:
        """The search of the same car with a part more in its wiring.

        Taken over where no table that feeds back differs; else made from the parked car.
        """
        healthy = self.healthy
        if not grown(healthy.car, car):
            model = Model(car)
            return model, search(model)
        model = over_states_of(healthy, Model(car, healthy))
        one = Faulty(Fault("", ""), model, Marks(model))
        if not self.searches.same_feedback(one):
            model = Model(car)
            return model, search(model)
        explored = self._look(one, ())
        return model, replace(self.searched, breaches=one.watcher.breaches(explored))

    def _look(self, one: Faulty, after: tuple[Case, ...]) -> Explored:
        """Look with every rule at what is reached."""
        sound = self.searched.explored
        nothing_new = self.short_cuts and all(c.explored is sound for c in after)
        again = None
        if nothing_new:
            same_feedback = self.searches.same_feedback(one)
            explored = sound if same_feedback else self.searches.of(one)
            if same_feedback or explored.beside is not None:
                again = self._again(one)
        else:
            begins = [c.explored for c in after] or [sound]
            seeds = together([seeds_in(e, one.model) for e in begins])
            explored = explore(one.model, steps=Steps(one.model, presses=one.presses), seeds=seeds)
        one.watcher.look(explored, again)
        return explored

    def _again(self, one: Faulty) -> Again:
        """What the sound car has to be looked at for again, marks of a faulty one being others.

        Where a coil pulls in otherwise, so does it with all outputs open, and what is looked at
        there is another thing though its tables are the same.
        """
        coils = {c for c, t in self.healthy.coils.items() if not same(t, one.model.coils[c])}
        if coils and Reaction(one.model).coupled:
            coils = set(one.model.coils)

        def other(name: str) -> bool:
            mark = one.marks[name]
            return not same_marks(self.marks[name], mark) or opens_all(mark, coils)

        rules = {slug for slug, asked in self.asks.items() if any(other(m) for m in asked)}
        overload, feeds = one.marks.overloaded
        same_ones = same_loads(self.marks.overloaded, (overload, feeds))
        if not same_ones or opens_all(overload, coils):
            rules.add("within-limits")
        return Again(rules, steps=any(other(m) for m in EDGE_MARKS))

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
        teller = Teller(case.model, choices(case.model), case.explored)
        after = list(teller.tell(way).actions)
        begun = case.explored.row(way[0][0] if way else state)
        here = struck.model if struck else self.healthy
        stand = [
            action(v, 0, begun[v])
            for v in case.model.surroundings
            if v not in here.surroundings and begun[v]
        ]
        if struck is None:
            teller = Teller(self.healthy, choices(self.healthy), sound)
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


def _unfinished(fault: Fault) -> FaultResult:
    return FaultResult(fault=str(fault), worst="hazard", breaks=["not finished"], noticed=False)


def _strikes(fault: Fault, struck: Case | None = None) -> list[str]:
    """The actions by which a fault appears, beside those that were there before."""
    there = {str(f) for f in struck.fault.each} if struck else set()
    return [str(Action("fault", str(f))) for f in fault.each if str(f) not in there]


def _line(before: list[str], fault: Fault, after: list[str], struck: Case | None = None) -> str:
    return " · ".join([*before, *_strikes(fault, struck), *after])


def _free(found: Found) -> list[str]:
    """What is done at last to surroundings that nothing follows."""
    return [action(name, 0, value) for name, value in found.free.items()]
