"""Which clocked replays a fault can touch: those that look a changed table up where it differs."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from startwright.prove.model import Model
from startwright.prove.reaction import Reaction
from startwright.prove.steps import Steps
from startwright.prove.tables import Array, Table
from startwright.prove.works import replays
from startwright.records.reports import RuleResult


class Replays:
    """The replays of a sound car, with every row that each of them looked up.

    What one state led to in the sound car is taken over where no row that was looked up for it
    differs, so a replay that a fault touches is worked only where it does.

    Parameters
    ----------
    healthy : Model
    """

    def __init__(self, healthy: Model) -> None:
        self.healthy = healthy
        self.results: dict[str, RuleResult] = {}
        looked: dict[str, list[dict[str, Array]]] = {}
        for slug, replay in replays(healthy).items():
            healthy.trail = []
            try:
                self.results[slug] = replay()
                looked[slug] = healthy.trail
            finally:
                healthy.trail = None
        rows = _Rows(healthy)
        self._of_slug = {slug: rows.places(trail) for slug, trail in looked.items()}
        self._of_moment = {k: rows.places(trail) for k, (_, trail) in healthy.moments.items()}
        self._columns = rows.columns()

    def of(self, model: Model, steps: Steps, short_cuts: bool = True) -> list[RuleResult]:
        """The results in a faulty car: taken over where no row that was looked up differs.

        Parameters
        ----------
        model : Model
        steps : Steps
            What a search of it has worked.
        short_cuts : bool
            False plays all of them and works everything.
        """
        if not short_cuts or model.car.tach_lost != self.healthy.car.tach_lost:
            return [replay() for replay in replays(model).values()]
        fed = self._differs(zip(self.healthy.feedback, model.feedback, strict=True))
        differs = fed | self._differs(_acts(self.healthy, model))
        touched = {slug for slug, places in self._of_slug.items() if differs[places].any()}
        if touched and model.variables == self.healthy.variables:
            for key, places in self._of_moment.items():
                if not fed[places].any():
                    model.moments[key] = self.healthy.moments[key]
        model.known = steps.known
        return [
            replay() if slug in touched else self.results[slug]
            for slug, replay in replays(model).items()
        ]

    def _differs(self, tables: Iterable[tuple[Table, Table]]) -> Array:
        """For each row whether a fault has made another of what it looks up."""
        out = np.zeros(len(self._columns["key"]), dtype=bool)
        for one, other in tables:
            if one is not other:
                nothing = np.zeros(len(out), dtype=np.int32)
                columns = {v: self._columns.get(v, nothing) for v in (*one.over, *other.over)}
                columns["key"] = self._columns["key"]
                out |= one.look(columns) != other.look(columns)
        return out


class _Rows:
    """Rows that were looked up, each once."""

    def __init__(self, model: Model) -> None:
        self._model = model
        self._names = [v.name for v in model.variables]
        self._place: dict[tuple[int, ...], int] = {}

    def places(self, trail: list[dict[str, Array]]) -> Array:
        """The places of a trail's rows."""
        each = [tuple(int(row[n][0]) for n in self._names) for row in trail]
        places = {self._place.setdefault(row, len(self._place)) for row in each}
        return np.array(sorted(places), dtype=np.int64)

    def columns(self) -> dict[str, Array]:
        """The columns of all rows, with what follows from them."""
        rows = np.array(list(self._place), dtype=np.int32).reshape(-1, len(self._names))
        columns = {n: np.ascontiguousarray(rows[:, k]) for k, n in enumerate(self._names)}
        return self._model.derive(columns) | Reaction(self._model).open_coils(columns)


def _acts(healthy: Model, model: Model) -> Iterable[tuple[Table, Table]]:
    """What each circuit does, in the sound car and in the faulty one."""
    for circuit in healthy.car.job.vehicle.circuits:
        both = zip(healthy.acts(circuit), model.acts(circuit), strict=True)
        yield from ((one, other) for (_, one, _), (_, other, _) in both)
