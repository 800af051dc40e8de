"""One rule watched alone: the first state that breaks it, and the first that tries it.

The whole search (`prove/search.py`) says whether a rule holds and was exercised; this one says by
which line.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from startwright.prove.choices import choices
from startwright.prove.explore import Explored, explore
from startwright.prove.model import Model
from startwright.prove.rules import Rule
from startwright.prove.search import Found, Watcher
from startwright.prove.steps import Steps
from startwright.prove.tell import Teller


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
        return Teller(model, choices(model), self.explored).tell(steps).line()


def witness(model: Model, rule: Rule, *, most: int = 20_000_000) -> Witness:
    """Where each twin of a rule is first reached.

    Source: `world.md` of the design, "exercised".
    """
    watcher, explored = _alone(model, rule.slug, most)
    found = {k: watcher.first(explored, f"twin {k}") for k in range(_twins(rule))}
    twins = {k: _at(f) for k, f in found.items() if f is not None}
    breach = watcher.first(explored, rule.slug)
    return Witness(rule, explored, _at(breach) if breach else None, twins)


def breaks(model: Model, slug: str, *, most: int = 20_000_000) -> bool | None:
    """Whether a wiring can reach a breach of one searched rule; None where that is not known."""
    watcher, explored = _alone(model, slug, most)
    return slug in watcher.broken or (False if explored.finished else None)


def _alone(model: Model, slug: str, most: int) -> tuple[Watcher, Explored]:
    watcher = Watcher(model, only=slug)
    explored = explore(model, steps=Steps(model, watcher.watched), most=most)
    watcher.look(explored)
    return watcher, explored


def _twins(rule: Rule) -> int:
    return len(rule.twins) + len(rule.edge_twins)


def _at(found: Found) -> At:
    """A step ends with the state it leaves."""
    step = found.steps[-1] if found.steps and found.steps[-1][0] == found.state else None
    return At(found.state, step[1] if step else -1, found.row)
