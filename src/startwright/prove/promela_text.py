"""Small pieces of Promela text: names, and membership in a set of constants."""

from __future__ import annotations

from collections.abc import Iterable

CHUNK = 30
MOST_ENTRIES = 20_000
"""A table larger than this is not written out."""
RESERVED = frozenset({"run", "init", "do", "od", "if", "fi", "goto", "break", "skip", "else"})


def word(name: str) -> str:
    """A name that Promela takes."""
    text = "".join(c if c.isalnum() else "_" for c in name)
    return f"v_{text}" if text in RESERVED or text[0].isdigit() else text


def member(values: Iterable[int], index: str, size: int | None = None) -> str:
    """An expression that is true where `index` is one of the values, in the shortest of its forms.

    `size` is the number of values that the index can take, where it is known.
    """
    chosen = sorted(set(values))
    forms = [_masks(chosen, index), _ranges(chosen, index)]
    if size is not None:
        if len(chosen) == size:
            return "1"
        others = sorted(set(range(size)) - set(chosen))
        forms += [f"(!{_masks(others, index)})", f"(!{_ranges(others, index)})"]
    return min(forms, key=len)


def _masks(values: list[int], index: str) -> str:
    chunks: dict[int, int] = {}
    for value in values:
        chunks[value // CHUNK] = chunks.get(value // CHUNK, 0) | 1 << (value % CHUNK)
    terms = [
        f"(({index})/{CHUNK} == {k} && ((({bits}) >> (({index})%{CHUNK})) & 1))"
        for k, bits in sorted(chunks.items())
    ]
    return "(" + " || ".join(terms) + ")" if terms else "(0)"


def _ranges(values: list[int], index: str) -> str:
    runs: list[list[int]] = []
    for value in values:
        if runs and runs[-1][1] == value - 1:
            runs[-1][1] = value
        else:
            runs.append([value, value])
    terms = [
        f"({index}) == {a}" if a == b else f"(({index}) >= {a} && ({index}) <= {b})"
        for a, b in runs
    ]
    return "(" + " || ".join(terms) + ")" if terms else "(0)"
