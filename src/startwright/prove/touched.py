"""Which steps of a sound car a fault can change: those that look a row up where it differs.

Every reaction of the sound car is worked once more with all the rows written down that it looks up.
Where a fault has changed none of them, the same follows in the faulty car.
"""

from __future__ import annotations

import numpy as np

from startwright.prove.explore import Explored
from startwright.prove.model import Model
from startwright.prove.reaction import Reaction
from startwright.prove.tables import Array, Table, combine

CHUNK = 1 << 13
"""So many reactions are worked at once."""
ORIGIN = "#of"
"""The column that says which reaction a row belongs to."""


class Touched:
    """The reactions of a sound car by the rows that they look up.

    Parameters
    ----------
    healthy : Model
    explored : Explored
        All of it.
    """

    def __init__(self, healthy: Model, explored: Explored) -> None:
        self.healthy = healthy
        self.steps = explored.steps
        for g in range(self.steps.classes):
            of_class = explored.bits.mask(np.array(self.steps.presses.of == g))
            at = np.flatnonzero((explored.reached & of_class).any(axis=1))
            self.steps.react(at, np.full(len(at), g))
        count = len(self.steps.after)
        parts = [self._looked(k, min(k + CHUNK, count)) for k in range(0, count, CHUNK)]
        packed, back = np.unique(np.concatenate([p for p, _ in parts]), return_inverse=True)
        self._row, self._reaction = back, np.concatenate([r for _, r in parts])
        self._columns = healthy.derive(self.steps.space.unpack(packed))
        raced, chatters, unstable = self.steps.flaws
        self._restless = raced | chatters | unstable
        through_relays = any(v.startswith("coil_o.") for v in healthy.ignition_seen.over)
        if through_relays and Reaction(healthy).coupled:
            # relays may race while the unit looks at the ignition, and nobody writes down how
            self._restless[:] = True

    def _looked(self, begin: int, end: int) -> tuple[Array, Array]:
        """Every row looked up in some reactions, packed, and the reaction, each pair once."""
        model, space = self.healthy, self.steps.space
        packed, classes, event = self.steps.asked(np.arange(begin, end))
        press = self.steps.presses.stands_for[classes].astype(np.int32)
        columns = self.steps.cores.unpack(packed)
        columns |= {"press": press, ORIGIN: np.arange(begin, end, dtype=np.int32)}
        model.trail = []
        try:
            Reaction(model).react(columns, event.astype(np.int32), every=True)
            trail = model.trail
        finally:
            model.trail = None
        rows = np.concatenate([space.pack(row) for row in trail])
        of = np.concatenate([row[ORIGIN] for row in trail])
        order = np.lexsort((of, rows))
        rows, of = rows[order], of[order]
        first = np.append(True, (rows[1:] != rows[:-1]) | (of[1:] != of[:-1]))
        return rows[first], of[first]

    def by(self, model: Model) -> Array:
        """(K,) of bool: the reactions that a fault touches.

        Parameters
        ----------
        model : Model
            Of the faulty car, over the same variables.
        """
        bad = np.zeros(len(self._columns["key"]), dtype=bool)
        for one, other in zip(self.healthy.feedback, model.feedback, strict=True):
            if one is not other:
                bad |= _differ(one, other).look(self._columns)
        hit = np.zeros(len(self.steps.after), dtype=bool)
        hit[self._reaction[bad[self._row]]] = True
        if any(model.coils[c] is not table for c, table in self.healthy.coils.items()):
            hit |= self._restless
        return hit


def _differ(one: Table, other: Table) -> Table:
    """Where two tables differ, wherever the coils stand once all outputs are open."""
    differ = combine(np.not_equal, one, other)
    return differ.any_over(v for v in differ.over if v.startswith("coil_o."))
