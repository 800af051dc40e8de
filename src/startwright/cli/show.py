"""What a person reads: worst first, short sentences."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from startwright.cli.columns import hanging, laid_out

if TYPE_CHECKING:
    from rich.console import Console

_UNSEEN = dict.fromkeys((*range(9), *range(11, 32), 127, *range(128, 160)), "·")


def clean(text: object) -> str:
    """Text of a record without the letters that steer a terminal."""
    return str(text).translate(_UNSEEN)


def console() -> Console:
    """Standard output for people; plain text where it is no terminal."""
    from rich.console import Console

    wide = None if sys.stdout.isatty() or "COLUMNS" in os.environ else 120
    return Console(highlight=False, markup=False, emoji=False, width=wide)


def say(*lines: str, style: str | None = None) -> None:
    """Print lines, on a terminal wrapped at words."""
    out = console()
    for line in lines:
        text = clean(line)
        for part in hanging(text, out.width) if out.is_terminal else [text]:
            out.print(part, style=style, soft_wrap=True)


def table(
    heads: Sequence[str],
    rows: Iterable[Sequence[object]],
    title: str = "",
    labels: Sequence[str] = (),
) -> None:
    """Print rows under their heads, or one under the other where the screen is narrow.

    Nothing is printed where there are no rows. `labels` say a cell away from its head,
    ``"{} mm²"``.
    """
    rows = list(rows)
    if not rows:
        return
    right = [
        all(isinstance(row[n], int | float) or row[n] in ("", None) for row in rows)
        for n in range(len(heads))
    ]
    out = console()
    if title:
        say("", title, style="bold")
    cells = [[_cell(value) for value in row] for row in rows]
    for line in laid_out(heads, cells, out.width, right, labels):
        out.print(line, soft_wrap=True)


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.4g}"
    return clean(value)


def as_json(data: Any) -> None:
    """Print one JSON document; a record under the keys of its file, a report whole."""
    if isinstance(data, BaseModel):
        data = data.model_dump(mode="json", by_alias=True)
    sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def verdict(word: str, rest: str, well: bool | None) -> None:
    """The first line of an answer."""
    colour = "yellow" if well is None else "green" if well else "red"
    from rich.text import Text

    out = console()
    whole = clean(word) + clean(rest)
    lines = hanging(whole, out.width) if out.is_terminal else [whole]
    first = lines[0].removeprefix(clean(word))
    out.print(Text.assemble((clean(word), f"bold {colour}"), first), soft_wrap=True)
    for line in lines[1:]:
        out.print(line, soft_wrap=True)
