"""What buttons do to the press that is under way, and which presses are alike."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from startwright.prove.choices import EVENTS, choices
from startwright.prove.model import Model
from startwright.prove.tables import Array


class Presses:
    """What buttons do to the press alone, and which presses are alike for all that feeds back.

    Parameters
    ----------
    model : Model
    outs : iterable of str
        The outputs (`out.*`) that some table looks at.

    Attributes
    ----------
    moves : list of (int, int, (P,) of int)
        Number of the choice, its event, and the press after by press (-1 where it cannot happen).
    of : (P,) of int
        The class of each press.
    stands_for : (G,) of int
        A press of each class.
    leads_to : (EVENTS, G, G) of bool
        From a press of which class a button leads to which, by event.
    """

    def __init__(self, model: Model, outs: Iterable[str]) -> None:
        self.count = len(model.presses)
        every = np.arange(self.count)
        columns = {v.name: np.zeros(self.count, dtype=np.int32) for v in model.variables}
        columns["press"] = every.astype(np.int32)
        self.moves: list[tuple[int, int, Array]] = []
        for k, move in enumerate(choices(model)):
            change = move.change(columns)
            if "press" in change:
                after = np.where(move.when(columns), change["press"], -1)
                self.moves.append((k, move.event, after))
        self.of = self._classes(model, outs)
        count = int(self.of.max()) + 1
        self.stands_for = np.array([every[self.of == g][-1] for g in range(count)])
        self.leads_to = np.zeros((EVENTS, count, count), dtype=bool)
        for _, event, after in self.moves:
            can = after >= 0
            self.leads_to[event, self.of[can], self.of[after[can]]] = True

    def _classes(self, model: Model, outs: Iterable[str]) -> Array:
        """The coarsest classes that agree in the outputs and in the classes buttons lead to.

        A button that does nothing, or leads to a press of the same class, tells none apart.
        """
        rows = [model.outs[o.removeprefix("out.")] for o in sorted(outs)]
        seen = np.array([[tuple(r[:, p].tolist()) for r in rows] for p in range(self.count)])
        of = _ranks([str(s.tolist()) for s in seen])
        while True:
            signs: list[object] = []
            for p in range(self.count):
                to = tuple(
                    -1 if a[p] < 0 or (not e and of[a[p]] == of[p]) else int(of[a[p]])
                    for _, e, a in self.moves
                )
                signs.append((int(of[p]), to))
            finer = _ranks(signs)
            if finer.max() == of.max():
                return of
            of = finer


def presses_of(model: Model, watched: Iterable[str]) -> Presses:
    """The presses told apart by what feeds back and by the outputs watched."""
    fed = {v for t in model.feedback for v in t.over if v.startswith("out.")}
    outs = frozenset(fed | set(watched))
    key = ("presses", outs, model.surroundings, model.comes_and_goes)
    return model.kept.once(key, lambda: Presses(model, outs))


def _ranks(signs: list[object]) -> Array:
    """The number of each sign, in the order in which they first appear."""
    seen: dict[object, int] = {}
    return np.array([seen.setdefault(s, len(seen)) for s in signs])
