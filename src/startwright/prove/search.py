"""One exploration with all rules watched: what was breached first, what was exercised."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from startwright.prove.bits import spread
from startwright.prove.currents import SPARE, Feed
from startwright.prove.explore import MOST_STATES, Explored, Seeds, explore
from startwright.prove.mark import Mark
from startwright.prove.model import Model
from startwright.prove.rules import Rule, rules
from startwright.prove.space import Space
from startwright.prove.steps import Steps
from startwright.prove.tables import Array, Table
from startwright.prove.view import EDGE_MARKS, Edges, EdgeView, Marks, Rows, View, kinds_of

CHUNK = 1 << 19
"""So many rows are looked at in one go."""
SETTLES = (
    "relays race, and their order decides what follows",
    "a relay pulls in and drops out without end",
    "the car and the unit do not come to rest",
)


@dataclass
class Found:
    """The first breach of a rule: the step chain to it, and the state broken."""

    steps: list[tuple[int, int]]
    row: dict[str, int]
    state: int = 0
    labels: list[str] = field(default_factory=list)
    free: dict[str, int] = field(default_factory=dict)
    note: str = ""


@dataclass
class Searched:
    """What a search found out."""

    explored: Explored
    space: Space
    rules: tuple[Rule, ...]
    breaches: dict[str, Found]
    exercised: dict[str, bool]


@dataclass
class _Hits:
    """Where a rule is broken: states (cores and presses), or steps out of them by a choice."""

    cores: Array
    presses: Array
    choice: Array | None = None
    after: Array | None = None


@dataclass(frozen=True)
class Again:
    """What is looked at again of what was looked at in the sound car.

    Attributes
    ----------
    rules : set of str
        The rules on states whose marks are others.
    steps : bool
        Whether marks of rules on steps are others.
    """

    rules: set[str]
    steps: bool


@dataclass
class _States:
    """Cores with a kind of press each: the presses reached, and one that stands for the kind."""

    model: Model
    steps: Steps
    fresh: bool
    """Whether the sound car reaches none of them."""
    cores: Array
    masks: Array
    presses: Array

    @cached_property
    def rows(self) -> Rows:
        """Their columns."""
        columns = self.steps.rows(self.cores, self.presses)
        return Rows(self.model, self.steps.reaction, columns)


def _fresh_states(explored: Explored, cores: Array, mask: Array) -> Array:
    """Which cores the sound car does not reach with these presses; none where it is all of it."""
    out = np.zeros(len(cores), dtype=bool)
    if explored.beside is not None:
        sound = explored.beside.sound
        known = cores < len(sound.reached)
        out[~known] = True
        out[known] = ~(sound.reached[cores[known]] & mask).any(axis=1)
    return out


class Watcher:
    """Looks at everything that an exploration reached with every rule.

    Parameters
    ----------
    model : Model
    marks : Marks, optional
        Of this model, where they were built before.
    only : str, optional
        The one rule to look with; where its twins are first reached is then kept as well.
    twins : bool
        Whether to look whether the rules are exercised.
    """

    def __init__(
        self,
        model: Model,
        marks: Marks | None = None,
        only: str | None = None,
        *,
        twins: bool = True,
    ) -> None:
        self.model = model
        self.marks = marks or Marks(model)
        self.rules = tuple(r for r in rules(model) if only in (None, r.slug))
        self.places = only is not None
        self.loads = only in (None, "within-limits")
        self.twins = twins
        self.asks: dict[str, set[str]] = {}
        """For each rule on states the marks it looked at."""
        self._hits: dict[tuple[str, str], list[_Hits]] = {}
        self._twins: dict[str, set[int]] = {r.slug: set() for r in self.rules}

    @property
    def watched(self) -> set[str]:
        """The outputs that rules on steps look at."""
        parts = [p for m in EDGE_MARKS for p in self.marks[m].parts]
        return {v for p in parts for v in p.table.over if v.startswith("out.")}

    def look(self, explored: Explored, again: Again | None = None) -> None:
        """Look at every state and every step.

        With `again` what was looked at in the sound car is looked at no more than it says: all of
        it, or where the search has begun with the sound car's what is the same in both.
        """
        for some in self._parts_of_states(explored):
            known = again is not None and not some.fresh
            only = again.rules if again is not None and known else None
            if only is None or only:
                view = View(self.model, self.marks, some.rows)
                self._states(view, some.cores, some.masks, only)
        if again is None or again.steps:
            self._look_at_steps(explored, None)
        elif explored.beside is not None:
            self._look_at_steps(explored, explored.beside.fresh)

    def ever(self, explored: Explored, mark: Mark) -> bool:
        """Whether a mark of this model is set in any state reached."""
        return any(
            bool(mark.look(some.rows.columns, some.rows.looks).any())
            for some in self._parts_of_states(explored)
        )

    # ---- states -----------------------------------------------------------------------------

    def _parts_of_states(self, explored: Explored) -> Iterator[_States]:
        """Every core with every kind of press reached."""
        if "states" in explored.seen:
            yield from explored.seen["states"]
            return
        bits = explored.bits
        masks, presses = self.model.kept.once("kinds", lambda: kinds_of(self.model, bits))
        cores, kinds, fresh = [], [], []
        for of_kind, mask in enumerate(masks):
            at = np.flatnonzero((explored.reached & mask).any(axis=1))
            cores.append(at)
            kinds.append(np.full(len(at), of_kind))
            fresh.append(_fresh_states(explored, at, mask))
        core, kind, new = np.concatenate(cores), np.concatenate(kinds), np.concatenate(fresh)
        if len(core) <= CHUNK:
            explored.seen["states"] = []
        for is_new in (True, False):
            where = np.flatnonzero(new == is_new)
            for k in range(0, len(where), CHUNK):
                at, of = core[where[k : k + CHUNK]], kind[where[k : k + CHUNK]]
                some = _States(self.model, explored.steps, is_new, at, masks[of], presses[of])
                if len(core) <= CHUNK:
                    explored.seen["states"].append(some)
                yield some

    def _states(self, view: View, cores: Array, masks: Array, only: Container[str] | None) -> None:
        for rule in self.rules:
            if only is not None and rule.slug not in only:
                continue
            if rule.bad_state is not None:
                view.asked = set()
                self._note(rule.slug, rule.bad_state(view), cores, masks)
                self.asks.setdefault(rule.slug, set()).update(view.asked)
            for k, twin in enumerate(rule.twins if self.twins else ()):
                if self.places:
                    self._note(f"twin {k}", twin(view), cores, masks)
                elif k not in self._twins[rule.slug] and bool(twin(view).any()):
                    self._twins[rule.slug].add(k)
        if not self.loads or (only is not None and "within-limits" not in only):
            return
        overload, feeds = self.marks.overloaded
        self._note("within-limits", overload.look(view.columns), cores, masks)
        for feed, tables in feeds:
            bad = self._fed_too_much(feed, tables, view)
            self._note("within-limits", bad, cores, masks, feed.name)

    def _fed_too_much(self, feed: Feed, tables: list[Table], view: View) -> Array:
        amps = np.zeros(len(view["key"]))
        for table in tables:
            amps = amps + table.look(view.columns)
        brief = self.marks.observer.briefly[view["start"], view["press"]]
        limit = np.where(brief, feed.short_A, feed.long_A)
        return np.asarray(amps > limit * SPARE)

    def _note(self, slug: str, bad: Array, cores: Array, masks: Array, note: str = "") -> None:
        at = np.flatnonzero(bad)
        if len(at):
            self._hits.setdefault((slug, note), []).append(_Hits(cores[at], masks[at]))

    # ---- steps ------------------------------------------------------------------------------

    def _look_at_steps(self, explored: Explored, of: Array | None) -> None:
        """Look at every step, or at those out of some cores and classes, (C, G) of bool."""
        steps = explored.steps
        presses, classes = steps.presses, steps.classes
        if "steps" not in explored.seen:
            every = np.repeat(np.arange(steps.count), classes)
            stands_for = np.tile(presses.stands_for, steps.count)
            columns = steps.rows(every, stands_for)
            explored.seen["steps"] = Rows(self.model, steps.reaction, columns)
        view = View(self.model, self.marks, explored.seen["steps"])
        for g in range(classes):
            of_class = explored.bits.mask(np.array(presses.of == g))
            at = np.flatnonzero((explored.reached & of_class).any(axis=1))
            at = at[steps.place[at, g] >= 0]
            if of is not None:
                at = at[of[at, g]]
            size = max(CHUNK * 2 // max(len(steps.core_moves), 1), 1)
            for k in range(0, len(at), size):
                self._of_class(explored, view, at[k : k + size], g, of_class)

    def _of_class(self, explored: Explored, view: View, at: Array, g: int, of_class: Array) -> None:
        steps = explored.steps
        presses = steps.presses
        chosen = steps.chosen[steps.place[at, g]]
        move, row = np.nonzero(chosen.T >= 0)
        reactions = [chosen[row, move]]
        parents = [at[row]]
        moves = [np.array(steps.core_moves, dtype=np.int16)[move]]
        ends = [np.full(len(row), g)]
        for k, event, to in presses.moves:
            can = np.array((presses.of == g) & (to >= 0))
            for after in sorted({int(presses.of[p]) for p in to[can]}):
                if event or after != g:
                    reactions.append(steps.pressed[at, event, after])
                    parents.append(at)
                    moves.append(np.full(len(at), k, dtype=np.int16))
                    ends.append(np.full(len(at), after))
        which, reaction = steps.followed(np.concatenate(reactions))
        end = np.where(steps.kills[reaction], presses.of[0], np.concatenate(ends)[which])
        edges = Edges(
            np.concatenate(parents)[which] * steps.classes + g,
            np.concatenate(moves)[which],
            steps.after[reaction].astype(np.int64) * steps.classes + end,
        )
        seen = EdgeView(edges, [m.name for m in steps.moves], view, view)
        for rule in self.rules:
            if rule.bad_edge is not None:
                self._note_steps(rule.slug, rule.bad_edge(seen), edges, reaction, of_class, steps)
            for k, twin in enumerate(rule.edge_twins if self.twins else ()):
                if self.places:
                    name = f"twin {len(rule.twins) + k}"
                    self._note_steps(name, twin(seen), edges, reaction, of_class, steps)
                elif 100 + k not in self._twins[rule.slug] and bool(twin(seen).any()):
                    self._twins[rule.slug].add(100 + k)
        for flaw, note in zip(steps.flaws, SETTLES, strict=True):
            self._note_steps("settles", flaw[reaction], edges, reaction, of_class, steps, note)

    def _note_steps(
        self,
        slug: str,
        bad: Array,
        edges: Edges,
        reaction: Array,
        of_class: Array,
        steps: Steps,
        note: str = "",
    ) -> None:
        at = np.flatnonzero(bad)
        if len(at):
            hits = _Hits(
                edges.parent[at] // steps.classes,
                np.broadcast_to(of_class, (len(at), len(of_class))),
                edges.choice[at],
                reaction[at],
            )
            self._hits.setdefault((slug, note), []).append(hits)

    # ---- the end ----------------------------------------------------------------------------

    def exercised(self, rule: Rule) -> bool:
        """Whether every twin of a rule was reached."""
        return len(self._twins[rule.slug]) == len(rule.twins) + len(rule.edge_twins)

    @property
    def broken(self) -> list[str]:
        """The rules that are broken, in their order."""
        found = {s for s, _ in self._hits if not s.startswith("twin ")}
        slugs = [r.slug for r in self.rules]
        return [*(s for s in slugs if s in found), *sorted(found - set(slugs))]

    def breaches(self, explored: Explored, only: Iterable[str] | None = None) -> dict[str, Found]:
        """Every breach (or those of the rules named), its way there and its reasons."""
        by_slug = {r.slug: r for r in self.rules}
        out: dict[str, Found] = {}
        for slug in self.broken:
            if only is not None and slug not in only:
                continue
            found = self.first(explored, slug)
            assert found is not None
            marks: list[Mark] = []
            if slug in by_slug:
                marks = [self.marks[m] for m in by_slug[slug].marks]
            if slug == "within-limits" and not found.note:
                marks = [self.marks.overloaded[0]]
            if slug == "as-under-the-key":
                step = self.model.starts[found.row["start"]]
                marks = [self.marks[f"unlike_{self.model.unit.steps[step.step].like}"]]
            for mark in marks:
                labels, free = mark.explain(found.row)
                if labels:
                    found.labels = list(dict.fromkeys([*found.labels, *labels]))
                    found.free = found.free or free
            out[slug] = found
        return out

    def first(self, explored: Explored, what: str) -> Found | None:
        """The first state or step at which a rule is broken (or ``twin K`` is reached)."""
        found = [
            first
            for (slug, note), hits in self._hits.items()
            if slug == what
            for first in self._firsts(explored, hits, note)
        ]
        return min(found, key=lambda f: (len(f.steps), f.state), default=None)

    def _firsts(self, explored: Explored, hits: list[_Hits], note: str) -> list[Found]:
        """The first breach among the states hit, and the first among the steps."""
        out = []
        for by_step in (False, True):
            some = [h for h in hits if (h.choice is not None) == by_step]
            if not some:
                continue
            wanted = np.zeros_like(explored.reached)
            for h in some:
                spread(wanted, h.cores, h.presses)
            state = explored.first_of(wanted)
            if state is None:
                continue
            way = explored.steps_to(state)
            if not by_step:
                row = self._whole(explored, explored.row(state))
                out.append(Found(way, row, state, note=note))
                continue
            choice, row = self._step_out_of(explored, state, some)
            row = self._whole(explored, row)
            out.append(Found([*way, (state, choice)], row, state, note=note))
        return out

    def _step_out_of(
        self, explored: Explored, state: int, hits: list[_Hits]
    ) -> tuple[int, dict[str, int]]:
        """The first choice that breaks a rule in a state, and where it leads."""
        _, core, press = explored.state(state)
        own = explored.bits.of(np.array([press]))[0]
        found = []
        for h in hits:
            assert h.choice is not None
            assert h.after is not None
            at = np.flatnonzero((h.cores == core) & (h.presses & own).any(axis=1))
            found += [(int(h.choice[k]), int(h.after[k])) for k in at]
        steps = explored.steps
        to = {k: after for k, _, after in steps.presses.moves}
        choice, reaction = min(f for f in found if f[0] not in to or to[f[0]][press] >= 0)
        after = int(to[choice][press]) if choice in to else press
        if steps.kills[reaction]:
            after = 0
        end = int(steps.after[reaction])
        return choice, {**{n: int(c[end]) for n, c in steps.columns.items()}, "press": after}

    def _whole(self, explored: Explored, row: dict[str, int]) -> dict[str, int]:
        columns = {n: np.array([v], dtype=np.int32) for n, v in row.items()}
        rows = Rows(self.model, explored.steps.reaction, columns)
        return View(self.model, self.marks, rows).row(0)


def search(
    model: Model,
    *,
    seeds: Seeds | None = None,
    most: int = MOST_STATES,
    progress: Callable[[int], bool] = lambda states: True,
) -> Searched:
    """Explore a model with every rule watched."""
    watcher = Watcher(model)
    steps = Steps(model, watcher.watched)
    explored = explore(model, steps=steps, seeds=seeds, most=most, progress=progress)
    return watched(watcher, explored)


def watched(watcher: Watcher, explored: Explored) -> Searched:
    """What the rules say of an exploration."""
    watcher.look(explored)
    return Searched(
        explored,
        explored.steps.space,
        watcher.rules,
        watcher.breaches(explored),
        {r.slug: watcher.exercised(r) for r in watcher.rules},
    )
