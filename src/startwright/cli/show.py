"""What a person reads: worst first, short sentences."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

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
    """Print lines, wrapped at words."""
    out = console()
    for line in lines:
        out.print(clean(line), style=style, soft_wrap=not out.is_terminal)


def table(heads: Sequence[str], rows: Iterable[Sequence[object]], title: str = "") -> None:
    """Print a table; nothing where there are no rows."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    rows = list(rows)
    if not rows:
        return
    made = Table(
        box=box.SIMPLE, show_edge=False, pad_edge=False, title=title or None, title_justify="left"
    )
    for n, head in enumerate(heads):
        numbers = all(isinstance(row[n], int | float) or row[n] in ("", None) for row in rows)
        made.add_column(head, justify="right" if numbers else "left", overflow="fold")
    for row in rows:
        made.add_row(*(Text(_cell(value)) for value in row))
    console().print(made)


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

    console().print(Text.assemble((clean(word), f"bold {colour}"), clean(rest)))
