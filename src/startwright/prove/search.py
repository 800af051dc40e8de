"""One exploration with all rules watched: what was breached first, what was exercised."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator
from dataclasses import dataclass, field

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
        self._looking: Container[str] | None = None
        self._hits: dict[tuple[str, str], list[_Hits]] = {}
        self._twins: dict[str, set[int]] = {r.slug: set() for r in self.rules}

    @property
    def watched(self) -> set[str]:
        """The outputs that rules on steps look at."""
        parts = [p for m in EDGE_MARKS for p in self.marks[m].parts]
        return {v for p in parts for v in p.table.over if v.startswith("out.")}

    def look(
        self, explored: Explored, *, steps: bool = True, only: Container[str] | None = None
    ) -> None:
        """Look at every state and, unless they were looked at before, at every step.

        With `only` no more than these rules look at states (and `within-limits` does).
        """
        self._looking = only
        self._look_at_states(explored)
        if steps:
            self._look_at_steps(explored)

    def ever(self, explored: Explored, mark: Mark) -> bool:
        """Whether a mark of this model is set in any state reached."""
        return any(
            bool(mark.look(rows.columns, rows.looks).any())
            for _, _, rows in self._rows_of_states(explored)
        )

    # ---- states -----------------------------------------------------------------------------

    def _look_at_states(self, explored: Explored) -> None:
        for cores, masks, rows in self._rows_of_states(explored):
            self._states(View(self.model, self.marks, rows), cores, masks)

    def _rows_of_states(self, explored: Explored) -> Iterator[tuple[Array, Array, Rows]]:
        """Every core with every kind of press reached: the cores, the presses, the columns."""
        if "states" in explored.seen:
            yield from explored.seen["states"]
            return
        masks, presses = kinds_of(self.model, explored.bits)
        cores, kinds = [], []
        for of_kind, mask in enumerate(masks):
            at = np.flatnonzero((explored.reached & mask).any(axis=1))
            cores.append(at)
            kinds.append(np.full(len(at), of_kind))
        core, kind = np.concatenate(cores), np.concatenate(kinds)
        steps = explored.steps
        for k in range(0, len(core), CHUNK):
            at, of = core[k : k + CHUNK], kind[k : k + CHUNK]
            rows = Rows(self.model, steps.reaction, steps.rows(at, presses[of]))
            if len(core) <= CHUNK:
                explored.seen["states"] = [(at, masks[of], rows)]
            yield at, masks[of], rows

    def _states(self, view: View, cores: Array, masks: Array) -> None:
        for rule in self.rules:
            if self._looking is not None and rule.slug not in self._looking:
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
        if not self.loads:
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

    def _look_at_steps(self, explored: Explored) -> None:
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
        """The rules that are broken."""
        return list(dict.fromkeys(s for s, _ in self._hits if not s.startswith("twin ")))

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
