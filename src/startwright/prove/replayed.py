"""Which clocked replays a fault can touch: those that look a changed table up where it differs."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from startwright.prove.model import Model
from startwright.prove.reaction import Reaction
from startwright.prove.tables import Array, Table
from startwright.prove.works import replays
from startwright.records.reports import RuleResult


class Replays:
    """The replays of a sound car, with every row that each of them looked up.

    Parameters
    ----------
    healthy : Model
    """

    def __init__(self, healthy: Model) -> None:
        self.healthy = healthy
        self.results: dict[str, RuleResult] = {}
        self._rows: dict[str, dict[str, Array] | None] = {}
        reaction = Reaction(healthy)
        for slug, replay in replays(healthy).items():
            healthy.trail = []
            try:
                self.results[slug] = replay()
                self._rows[slug] = _stacked(healthy, reaction, healthy.trail)
            finally:
                healthy.trail = None

    def of(self, model: Model, short_cuts: bool = True) -> list[RuleResult]:
        """The results in a faulty car: taken over where no row that was looked up differs."""
        if not short_cuts:
            return [replay() for replay in replays(model).values()]
        changed = list(_changed(self.healthy, model))
        lost = model.car.tach_lost != self.healthy.car.tach_lost
        out = []
        for slug, replay in replays(model).items():
            rows = self._rows[slug]
            same = not lost and (rows is None or not any(_differ(a, b, rows) for a, b in changed))
            out.append(self.results[slug] if same else replay())
        return out


def _stacked(
    model: Model, reaction: Reaction, trail: list[dict[str, Array]]
) -> dict[str, Array] | None:
    """The rows of a trail, each once, with what follows from them; None where there are none."""
    if not trail:
        return None
    names = [v.name for v in model.variables]
    rows = np.concatenate([np.stack([row[n] for n in names], axis=1) for row in trail])
    rows = np.unique(rows, axis=0)
    columns = {n: rows[:, k].astype(np.int32) for k, n in enumerate(names)}
    trail_was, model.trail = model.trail, None
    try:
        return model.derive(columns) | reaction.open_coils(columns)
    finally:
        model.trail = trail_was


def _changed(healthy: Model, model: Model) -> Iterable[tuple[Table, Table]]:
    """The tables that a replay may look up, where a fault has made another of them."""
    tables = list(zip(healthy.feedback, model.feedback, strict=True))
    for circuit in healthy.car.job.vehicle.circuits:
        for (_, one, _), (_, other, _) in zip(
            healthy.acts(circuit), model.acts(circuit), strict=True
        ):
            tables.append((one, other))
    return ((a, b) for a, b in tables if a is not b)


def _differ(one: Table, other: Table, rows: dict[str, Array]) -> bool:
    count = len(rows["key"])
    nothing = np.zeros(count, dtype=np.int32)
    columns = {v: rows.get(v, nothing) for v in (*one.over, *other.over, "key")}
    return not np.array_equal(one.look(columns), other.look(columns))
