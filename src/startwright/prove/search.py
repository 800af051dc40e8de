"""One exploration with all rules watched: what was breached first, what was exercised."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from startwright.prove.choices import choices
from startwright.prove.currents import SPARE, Feed
from startwright.prove.explore import Edges, Explored, Space, explore
from startwright.prove.model import Model
from startwright.prove.observe import Mark
from startwright.prove.reaction import Reaction
from startwright.prove.rules import Rule, rules
from startwright.prove.tables import Array, Table
from startwright.prove.view import EdgeView, Marks, View


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


class Watcher:
    """Follows an exploration and looks at every state and step with every rule."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.marks = Marks(model)
        self.reaction = Reaction(model)
        self.rules = rules(model)
        self.names = [c.name for c in choices(model)]
        self.overload, self.feeds = self.marks.observer.overloaded()
        self._pending: dict[str, tuple[str, int, int, dict[str, int], str]] = {}
        self._twins: dict[str, set[int]] = {r.slug: set() for r in self.rules}
        self._total = 0
        self._level_start = 0

    # ---- states -----------------------------------------------------------------------------

    def on_states(self, first: int, columns: dict[str, Array]) -> None:
        """Look at new states."""
        view = View(self.model, self.marks, self.reaction, columns)
        for rule in self.rules:
            if rule.bad_state is not None and rule.slug not in self._pending:
                self._note(rule.slug, rule.bad_state(view), first, view)
            for k, twin in enumerate(rule.twins):
                if k not in self._twins[rule.slug] and bool(twin(view).any()):
                    self._twins[rule.slug].add(k)
        if "within-limits" not in self._pending:
            over = self.overload.look(view.columns)
            self._note("within-limits", over, first, view)
            for feed, tables in self.feeds:
                if "within-limits" not in self._pending:
                    self._note(
                        "within-limits", self._fed_too_much(feed, tables, view), first, view, feed
                    )
        self._level_start, self._total = self._total, first + len(columns["key"])

    def _fed_too_much(self, feed: Feed, tables: list[Table], view: View) -> Array:
        amps = np.zeros(len(view["key"]))
        for table in tables:
            amps = amps + table.look(view.columns)
        brief = self.marks.observer.briefly[view["start"], view["press"]]
        limit = np.where(brief, feed.short_A, feed.long_A)
        return np.asarray(amps > limit * SPARE)

    def _note(
        self, slug: str, bad: Array, first: int, view: View, feed: Feed | None = None
    ) -> None:
        hits = np.flatnonzero(bad)
        if len(hits):
            k = int(hits[0])
            note = feed.name if feed else ""
            self._pending[slug] = ("state", first + k, -1, view.row(k), note)

    # ---- steps ------------------------------------------------------------------------------

    def on_edges(self, edges: Edges, before: dict[str, Array], after: dict[str, Array]) -> None:
        """Look at the steps of one level."""
        view = EdgeView(
            edges,
            self.names,
            View(self.model, self.marks, self.reaction, before),
            View(self.model, self.marks, self.reaction, after),
        )
        for rule in self.rules:
            if rule.bad_edge is not None and rule.slug not in self._pending:
                self._edge(rule.slug, rule.bad_edge(view), view)
            for k, twin in enumerate(rule.edge_twins):
                if 100 + k not in self._twins[rule.slug] and bool(twin(view).any()):
                    self._twins[rule.slug].add(100 + k)
        if "settles" not in self._pending:
            for bad, note in (
                (edges.raced, "relays race, and their order decides what follows"),
                (edges.chatters, "a relay pulls in and drops out without end"),
                (edges.unstable, "the car and the unit do not come to rest"),
            ):
                if "settles" not in self._pending:
                    self._edge("settles", bad, view, note)

    def _edge(self, slug: str, bad: Array, view: EdgeView, note: str = "") -> None:
        hits = np.flatnonzero(bad)
        if len(hits):
            k = int(hits[0])
            parent = self._level_start + int(view.edges.parent[k])
            row = view.after.row(int(view.edges.after[k]))
            self._pending[slug] = ("edge", parent, int(view.edges.choice[k]), row, note)

    # ---- the end ----------------------------------------------------------------------------

    def exercised(self, rule: Rule) -> bool:
        """Whether every twin of a rule was reached."""
        return len(self._twins[rule.slug]) == len(rule.twins) + len(rule.edge_twins)

    def breaches(self, explored: Explored) -> dict[str, Found]:
        """Every breach with its way there and its reasons."""
        out = {}
        by_slug = {r.slug: r for r in self.rules}
        for slug, (kind, state, choice, row, note) in self._pending.items():
            steps = explored.steps_to(state)
            if kind == "edge":
                steps = [*steps, (state, choice)]
            found = Found(steps, row, state, note=note)
            marks: list[Mark] = (
                [self.marks[m] for m in by_slug[slug].marks] if slug in by_slug else []
            )
            if slug == "within-limits" and not note:
                marks = [self.overload]
            if slug == "as-under-the-key":
                step = self.model.starts[row["start"]]
                marks = [self.marks[f"unlike_{self.model.unit.steps[step.step].like}"]]
            for mark in marks:
                labels, free = mark.explain(row)
                if labels:
                    found.labels = list(dict.fromkeys([*found.labels, *labels]))
                    found.free = found.free or free
            out[slug] = found
        return out


def search(
    model: Model,
    *,
    seeds: Array | None = None,
    most: int = 20_000_000,
    progress: Callable[[int], bool] = lambda states: True,
) -> Searched:
    """Explore a model with every rule watched."""
    watcher = Watcher(model)
    explored = explore(
        model, watcher.on_states, watcher.on_edges, seeds=seeds, most=most, progress=progress
    )
    return Searched(
        explored,
        Space(model),
        watcher.rules,
        watcher.breaches(explored),
        {r.slug: watcher.exercised(r) for r in watcher.rules},
    )
