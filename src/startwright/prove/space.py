"""States as whole numbers, and rows that grow."""

from __future__ import annotations

from typing import Any

import numpy as np

from startwright.prove.model import Model
from startwright.prove.tables import Array, TooLarge


class Space:
    """Packs states of a model into integers and back."""

    def __init__(self, model: Model, without: str = "") -> None:
        self.variables = tuple(v for v in model.variables if v.name != without)
        sizes = [v.size for v in self.variables]
        strides = np.cumprod([1, *sizes[::-1]], dtype=object)[::-1]
        self.size = int(strides[0])
        if self.size >= 1 << 58:
            raise TooLarge(f"{len(sizes)} variables do not fit one machine word")
        self.stride = {v.name: int(s) for v, s in zip(self.variables, strides[1:], strict=True)}

    def pack(self, columns: dict[str, Array]) -> Array:
        """Packed states of the columns."""
        out = np.zeros(len(columns["key"]), dtype=np.int64)
        for v in self.variables:
            out += columns[v.name].astype(np.int64) * self.stride[v.name]
        return out

    def unpack(self, packed: Array) -> dict[str, Array]:
        """Columns of packed states."""
        out = {}
        rest = packed
        for v in self.variables[:0:-1]:
            whole = rest // v.size
            out[v.name] = (rest - whole * v.size).astype(np.int32)
            rest = whole
        out[self.variables[0].name] = rest.astype(np.int32)
        return out


class Grown:
    """Rows that are appended to, without being copied every time."""

    def __init__(self, kind: Any, shape: tuple[int, ...] = ()) -> None:
        self._room = np.empty((1 << 10, *shape), dtype=kind)
        self._count = 0

    @property
    def data(self) -> Array:
        """The rows so far."""
        return self._room[: self._count]

    def extend(self, rows: Array) -> None:
        """Append rows."""
        needed = self._count + len(rows)
        if needed > len(self._room):
            room = np.empty((2 * needed, *self._room.shape[1:]), dtype=self._room.dtype)
            room[: self._count] = self.data
            self._room = room
        self._room[self._count : needed] = rows
        self._count = needed
