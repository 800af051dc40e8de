"""A mark: something true of a state for one of several reasons, each a table."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial

import numpy as np

from startwright.prove.model import Model
from startwright.prove.tables import Array, Columns, Table


@dataclass(frozen=True)
class Part:
    """One reason why a mark is set: what it is about and its table with the free surroundings."""

    label: str
    full: Table
    table: Table
    when: Array | None = None
    """By start and press code, where the reason counts; None where it always does."""


Looks = dict[int, tuple[Table, Array]]


def _ever(model: Model, table: Table, when: Array | None) -> bool:
    """Whether a table is true anywhere, with outputs as some start and press code drives them."""
    if not bool(table.data.any()):
        return False
    if when is None:
        return True
    driven = [model.outs[v[4:]][when] for v in table.over if v.startswith("out.")]
    axes = [k for k, v in enumerate(table.over) if not v.startswith("out.")]
    if not driven:
        return bool(when.any())
    by_outs = np.asarray(table.data.any(axis=tuple(axes)))
    return bool(by_outs[tuple(d.astype(np.int8) for d in driven)].any())


def _reason(model: Model, table: Table, when: Array | None) -> tuple[Table, Table, Table, bool]:
    """A reason of a mark: with and without the free surroundings, and whether it ever holds."""
    full = table.needed()
    lean = full.any_over(model.free).needed()
    return table, full, lean, _ever(model, lean, when)


class Mark:
    """Something true of a state for one of several reasons (OR over reasons and free ones)."""

    def __init__(self, model: Model, parts: Iterable[tuple[str, Table, Array | None]]) -> None:
        self.parts = []
        for label, table, when in parts:
            at = b"" if when is None else when.tobytes()
            _, full, lean, ever = model.kept.once(
                ("reason", id(table), at, model.free), partial(_reason, model, table, when)
            )
            if ever:
                self.parts.append(Part(label, full, lean, when))

    def look(self, columns: Columns, looks: Looks | None = None) -> Array:
        """Whether it is so, row by row.

        `looks` keeps what was looked up in the same columns, by the table.
        """
        out = np.zeros(len(columns["key"]), dtype=bool)
        for part in self.parts:
            if looks is None:
                value = part.table.look(columns).astype(bool)
            else:
                if id(part.table) not in looks:
                    looks[id(part.table)] = part.table, part.table.look(columns).astype(bool)
                value = looks[id(part.table)][1]
            if part.when is not None:
                value = value & part.when[columns["start"], columns["press"]]
            out |= value
        return out

    def explain(self, row: dict[str, int]) -> tuple[list[str], dict[str, int]]:
        """The reasons that hold in one row, and the free surroundings that bring the first about.

        The free values closest to rest are taken.
        """
        labels: list[str] = []
        free: dict[str, int] = {}
        for part in self.parts:
            if part.when is not None and not part.when[row["start"], row["press"]]:
                continue
            index = tuple(row[v] if v in row else slice(None) for v in part.full.over)
            cell = np.asarray(part.full.data[index])
            if not cell.any():
                continue
            if not labels:
                names = [v for v in part.full.over if v not in row]
                hits = np.argwhere(cell)
                best = hits[np.argmin((hits > 0).sum(axis=1))] if names else []
                free = {n: int(v) for n, v in zip(names, best, strict=True) if v}
            labels.append(part.label)
        return labels, free
