"""Rows laid out for the width there is: as a table, or one under the other where it is narrow.

A word is never broken. Where the columns do not fit with room to read in, each row becomes a short
paragraph: its short cells in a line, its long ones below it.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

BETWEEN = "   "
HOLD = "\N{NO-BREAK SPACE}"
READABLE = 20
"""A column of prose gets at least this many letters, or the rows stand one under the other."""


def wrap(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """Break a text into lines at its spaces; a word that is longer than a line stays whole.

    >>> wrap("start-through-interlock holds", 12)
    ['start-through-interlock', 'holds']
    >>> wrap("one two three", 9, first="- ", rest="  ")
    ['- one two', '  three']
    """
    lines, line = [], first
    empty = True
    for word in filter(None, text.split(" ")):
        if not empty and cell_len(line) + 1 + cell_len(word) > width:
            lines.append(line)
            line, empty = rest, True
        line += word if empty else f" {word}"
        empty = False
    return [*lines, line]


def hanging(line: str, width: int) -> list[str]:
    """Wrap one line so that what follows stands under its text, not under its mark.

    >>> hanging("  - a long line of words", 14)
    ['  - a long', '    line of', '    words']
    """
    text = line.lstrip(" ")
    mark, _, after = text.partition(" ")
    indent = " " * (len(line) - len(text))
    if len(mark) == 1 and not mark.isalnum() and after:
        return wrap(after, width, f"{indent}{mark} ", f"{indent}  ")
    return wrap(text, width, indent, indent + ("  " if indent else ""))


def laid_out(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    width: int,
    right: Sequence[bool] = (),
    labels: Sequence[str] = (),
) -> list[str]:
    """Lay rows out in a width.

    Parameters
    ----------
    heads : sequence of str
    rows : sequence of sequences of str
    width : int
        Letters in a line.
    right : sequence of bool, optional
        Which columns stand to the right.
    labels : sequence of str, optional
        How a cell is said where rows stand one under the other, ``"{} mm²"``.
    """
    columns = [[head, *(row[n] for row in rows)] for n, head in enumerate(heads)]
    natural = [max(cell_len(cell) for cell in column) for column in columns]
    widths = _widths(columns, natural, width - len(BETWEEN) * (len(heads) - 1))
    if widths is None:
        said = labels or ["{}"] * len(heads)
        return [line for row in rows for line in _paragraph(heads, row, natural, said, width)]
    right = right or [False] * len(heads)
    rule = "─" * (sum(widths) + len(BETWEEN) * (len(heads) - 1))
    out = [*_row(heads, widths, right), rule]
    for row in rows:
        out += _row(row, widths, right)
    return out


def _widths(columns: list[list[str]], natural: list[int], room: int) -> list[int] | None:
    """A width for each column; None where they would be too narrow to read."""
    widths = []
    for column, full in zip(columns, natural, strict=True):
        word = max((cell_len(w) for cell in column for w in cell.split(" ")), default=0)
        widths.append(max(word, min(full, READABLE)))
    spare = room - sum(widths)
    if spare < 0:
        return None
    wanting = sorted((f - w, n) for n, (f, w) in enumerate(zip(natural, widths, strict=True)))
    for left, (more, n) in zip(range(len(wanting), 0, -1), wanting, strict=True):
        given = min(more, spare // left)
        widths[n] += given
        spare -= given
    return widths


def _row(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> list[str]:
    wrapped = [wrap(cell, width) for cell, width in zip(cells, widths, strict=True)]
    out = []
    for k in range(max(map(len, wrapped))):
        parts = []
        for lines, width, flush in zip(wrapped, widths, right, strict=True):
            text = lines[k] if k < len(lines) else ""
            pad = " " * (width - cell_len(text))
            parts.append(pad + text if flush else text + pad)
        out.append(BETWEEN.join(parts).rstrip())
    return out


def _paragraph(
    heads: Sequence[str],
    row: Sequence[str],
    natural: Sequence[int],
    labels: Sequence[str],
    width: int,
) -> list[str]:
    """One row: its mark and short cells in a line, its long cells below."""
    mark = f"{row[0]:{natural[0]}} " if not heads[0] else ""
    indent = " " * max(2, len(mark))
    short: list[str] = []
    long: list[str] = []
    for n, cell in enumerate(row):
        if not cell or (n == 0 and mark):
            continue
        first = not short and not long
        (short if first or natural[n] <= READABLE else long).append(labels[n].format(cell))
    room = width - len(indent) - 2
    held = [c.replace(" ", HOLD) if cell_len(c) <= room else c for c in short]
    line = f"{HOLD}· ".join(held)
    out = [text.replace(HOLD, " ") for text in wrap(line, width, mark, indent)]
    for cell in long:
        out += wrap(cell, width, indent, indent)
    return out
