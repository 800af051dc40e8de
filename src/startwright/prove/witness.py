"""One rule watched alone: the first state that breaks it, and the first that tries it.

The whole search (`prove/search.py`) says whether a rule holds and was exercised; this one says by
which line, and stops as soon as it knows.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from startwright.prove.choices import choices
from startwright.prove.explore import Edges, Explored, Space, explore
from startwright.prove.model import Model
from startwright.prove.reaction import Reaction
from startwright.prove.rules import Rule
from startwright.prove.search import Watcher
from startwright.prove.tables import Array
from startwright.prove.tell import Teller
from startwright.prove.view import EdgeView, Marks, View


@dataclass(frozen=True)
class At:
    """A state, or the step by a choice out of it, and the columns of where it leads."""

    state: int
    choice: int
    row: dict[str, int]


@dataclass
class Witness:
    """What was seen of one rule: the first breach, and where each twin was first reached."""

    rule: Rule
    explored: Explored
    breach: At | None = None
    twins: dict[int, At] = field(default_factory=dict)

    def line(self, model: Model, at: At) -> str:
        """The scenario line that leads to what was seen."""
        steps = self.explored.steps_to(at.state)
        if at.choice >= 0:
            steps = [*steps, (at.state, at.choice)]
        return Teller(model, Space(model), choices(model), self.explored).tell(steps).line()


class _Alone:
    def __init__(self, model: Model, rule: Rule, *, twins: bool) -> None:
        self.model = model
        self.rule = rule
        self.want_twins = twins
        self.marks = Marks(model)
        self.reaction = Reaction(model)
        self.names = [c.name for c in choices(model)]
        self.breach: At | None = None
        self.twins: dict[int, At] = {}
        self._level_start = self._total = 0

    def done(self) -> bool:
        twins = len(self.rule.twins) + len(self.rule.edge_twins)
        all_twins = not self.want_twins or len(self.twins) == twins
        return all_twins and (self.want_twins or self.breach is not None)

    def on_states(self, first: int, columns: dict[str, Array]) -> None:
        view = View(self.model, self.marks, self.reaction, columns)
        if self.breach is None and self.rule.bad_state is not None:
            self.breach = self._first(self.rule.bad_state(view), first, view)
        if self.want_twins:
            for k, twin in enumerate(self.rule.twins):
                if k not in self.twins and (at := self._first(twin(view), first, view)):
                    self.twins[k] = at
        self._level_start, self._total = self._total, first + len(columns["key"])

    def _first(self, hits: Array, first: int, view: View) -> At | None:
        rows = np.flatnonzero(hits)
        return At(first + int(rows[0]), -1, view.row(int(rows[0]))) if len(rows) else None

    def on_edges(self, edges: Edges, before: dict[str, Array], after: dict[str, Array]) -> None:
        if self.rule.bad_edge is None and not (self.want_twins and self.rule.edge_twins):
            return
        view = EdgeView(
            edges,
            self.names,
            View(self.model, self.marks, self.reaction, before),
            View(self.model, self.marks, self.reaction, after),
        )
        if self.breach is None and self.rule.bad_edge is not None:
            self.breach = self._edge(self.rule.bad_edge(view), view)
        if self.want_twins:
            for k, twin in enumerate(self.rule.edge_twins, start=len(self.rule.twins)):
                if k not in self.twins and (at := self._edge(twin(view), view)):
                    self.twins[k] = at

    def _edge(self, hits: Array, view: EdgeView) -> At | None:
        rows = np.flatnonzero(hits)
        if not len(rows):
            return None
        k = int(rows[0])
        parent = self._level_start + int(view.edges.parent[k])
        return At(parent, int(view.edges.choice[k]), view.after.row(int(view.edges.after[k])))


def witness(model: Model, rule: Rule, *, most: int = 20_000_000) -> Witness:
    """Where each twin of a rule is first reached; stops once all are.

    Source: `world.md` of the design, "exercised".
    """
    seen = _Alone(model, rule, twins=True)
    explored = explore(
        model, seen.on_states, seen.on_edges, most=most, progress=lambda states: not seen.done()
    )
    return Witness(rule, explored, seen.breach, seen.twins)


def breaks(model: Model, slug: str, *, most: int = 20_000_000) -> bool | None:
    """Whether a wiring can reach a breach of one searched rule; None where that is not known.

    Stops at the first breach. `within-limits` and `settles`, which are no rule of the list, are
    watched with all others.
    """
    watcher = Watcher(model)
    alone = next((_Alone(model, r, twins=False) for r in watcher.rules if r.slug == slug), None)
    if alone is None:
        explored = explore(model, watcher.on_states, watcher.on_edges, most=most)
        found = slug in watcher.breaches(explored)
        return found or (False if explored.finished else None)
    explored = explore(
        model,
        alone.on_states,
        alone.on_edges,
        most=most,
        progress=lambda states: alone.breach is None,
    )
    if alone.breach is not None:
        return True
    return False if explored.finished else None
