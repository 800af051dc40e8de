"""Sets of presses as bits of machine words, one row for each core."""

from __future__ import annotations

import numpy as np

from startwright.prove.tables import Array

WORD = 64


class Bits:
    """Sets of numbers below `size` as rows of (W,) words of 64 bits."""

    def __init__(self, size: int) -> None:
        self.size = size
        self.words = -(-size // WORD)
        self.bytes = -(-size // 8)

    def mask(self, members: Array) -> Array:
        """One row from a (size,) of bool."""
        padded = np.zeros(self.words * WORD, dtype=np.uint8)
        padded[: self.size] = members
        return np.packbits(padded, bitorder="little").view("<u8").astype(np.uint64)

    def of(self, members: Array) -> Array:
        """(N, W) rows, each with one member, from (N,) of int."""
        out = np.zeros((len(members), self.words), dtype=np.uint64)
        word, bit = members // WORD, (members % WORD).astype(np.uint64)
        out[np.arange(len(members)), word] = np.uint64(1) << bit
        return out

    def list(self, rows: Array) -> tuple[Array, Array]:
        """Every member of (N, W) rows: the row and the number, in order."""
        at = np.unpackbits(rows.view(np.uint8), axis=1, bitorder="little", count=self.size)
        row, member = np.nonzero(at)
        return row, member

    def count(self, rows: Array) -> Array:
        """How many members each row has."""
        return np.asarray(np.bitwise_count(rows).sum(axis=1, dtype=np.int64))

    def table(self, to: Array) -> Array:
        """(bytes, 256, W) words: where the members of each byte lead (`to` -1: nowhere).

        Parameters
        ----------
        to : (M, size) of int
            For each of M moves the number after by number.
        """
        leads = np.zeros((self.bytes * 8, self.words), dtype=np.uint64)
        for move in to:
            can = np.flatnonzero(move >= 0)
            np.bitwise_or.at(leads, can, self.of(move[can]))
        out = np.zeros((self.bytes, 256, self.words), dtype=np.uint64)
        for bit in range(8):
            has = (np.arange(256) >> bit & 1).astype(bool)
            out[:, has] |= leads[bit::8][:, None, :]
        return out

    def moved(self, table: Array, rows: Array) -> Array:
        """Where the members of (N, W) rows lead by a `table`."""
        bytes_ = rows.view(np.uint8)
        out = table[0][bytes_[:, 0]]
        for k in range(1, self.bytes):
            out |= table[k][bytes_[:, k]]
        return np.asarray(out)


def spread(into: Array, at: Array, rows: Array) -> None:
    """Join rows into the rows `at` of a (C, W) array; the same place may come several times."""
    while len(at):
        into[at] |= rows
        left = np.flatnonzero((rows & ~into[at]).any(axis=1))
        at, rows = at[left], rows[left]
