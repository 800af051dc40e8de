"""Consecutive numbers for whole numbers, in the order in which they are met."""

from __future__ import annotations

import numpy as np

from startwright.prove.tables import Array

DENSE_MOST = 1 << 18
"""Keys below this are numbered in an array of their own size; larger ones in a hashed table."""
_MIX = np.uint64(0x9E3779B97F4A7C15)


class Numbering:
    """Gives each key the number in which it was first met.

    Parameters
    ----------
    space : int
        One more than the largest key.
    """

    def __init__(self, space: int) -> None:
        self.count = 0
        self._dense = np.zeros(space, dtype=np.int32) if space <= DENSE_MOST else None
        self._grow(1 << 16)

    def number(self, keys: Array) -> tuple[Array, Array]:
        """The numbers of keys, and the keys among them that are new, in the order of their numbers.

        Parameters
        ----------
        keys : (N,) of int64

        Returns
        -------
        numbers : (N,) of int64
        new : (K,) of int64
        """
        if self._dense is None:
            return self._number_hashed(keys)
        dense = self._dense
        at = dense[keys]
        unknown = keys[at == 0]
        if not len(unknown):
            return at.astype(np.int64) - 1, unknown
        mine = np.arange(1, len(unknown) + 1, dtype=np.int32)
        dense[unknown] = mine
        new = unknown[dense[unknown] == mine]
        dense[new] = np.arange(self.count + 1, self.count + 1 + len(new), dtype=np.int32)
        self.count += len(new)
        return dense[keys].astype(np.int64) - 1, new

    def begin_with(self, keys: Array) -> None:
        """Number keys in their order, each once; nothing may have been numbered yet."""
        if self._dense is not None:
            self._dense[keys] = np.arange(1, len(keys) + 1, dtype=np.int32)
        else:
            self._room_for(len(keys))
            self._put(keys, np.arange(len(keys)))
        self.count = len(keys)

    def find(self, keys: Array) -> Array:
        """The numbers of keys, -1 for those that were never met: (N,) of int64."""
        if self._dense is not None:
            return self._dense[keys].astype(np.int64) - 1
        slot = self._home(keys)
        held = self._keys[slot]
        out = np.where(held == keys, self._values[slot], -1)
        todo = np.flatnonzero((held != keys) & (held >= 0))
        slot = slot[todo]
        while len(todo):
            slot = (slot + 1) % self._size
            held = self._keys[slot]
            hit = held == keys[todo]
            out[todo[hit]] = self._values[slot[hit]]
            left = np.flatnonzero(~hit & (held >= 0))
            todo, slot = todo[left], slot[left]
        return out

    # ---- hashed ---------------------------------------------------------------------------

    def _grow(self, size: int) -> None:
        self._size = size
        self._keys = np.full(size, -1, dtype=np.int64)
        self._values = np.empty(size, dtype=np.int64)

    def _number_hashed(self, keys: Array) -> tuple[Array, Array]:
        self._room_for(len(keys))
        return self._put(keys, None)

    def _room_for(self, more: int) -> None:
        if (self.count + more) * 2 > self._size:
            used = self._keys >= 0
            held, values = self._keys[used], self._values[used]
            self._grow(1 << int(np.ceil(np.log2((self.count + more) * 4))))
            self._put(held, values)

    def _home(self, keys: Array) -> Array:
        """The slot in which a key is looked for first."""
        shift = np.uint64(64 - int(np.log2(self._size)))
        return ((keys.astype(np.uint64) * _MIX) >> shift).astype(np.int64)

    def _put(self, keys: Array, values: Array | None) -> tuple[Array, Array]:
        slot = self._home(keys)
        todo = np.flatnonzero(self._keys[slot] != keys)
        out, slot = self._values[slot], slot[todo]
        new = []
        while len(todo):
            wanted = keys[todo]
            empty = np.flatnonzero(self._keys[slot] == -1)
            if len(empty):
                at = slot[empty]
                self._values[at] = empty
                won = empty[self._values[at] == empty]
                self._keys[slot[won]] = wanted[won]
                if values is None:
                    self._values[slot[won]] = np.arange(self.count, self.count + len(won))
                    self.count += len(won)
                    new.append(wanted[won])
                else:
                    self._values[slot[won]] = values[todo[won]]
            hit = self._keys[slot] == wanted
            out[todo[hit]] = self._values[slot[hit]]
            todo, slot = todo[~hit], (slot[~hit] + 1) % self._size
        return out, np.concatenate(new) if new else np.empty(0, dtype=np.int64)
