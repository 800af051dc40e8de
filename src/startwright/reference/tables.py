"""Reads the published tables that travel with the package; every row names its source."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

HOW = ("document", "page", "memory", "practice")
"""How a row was read: in the document itself, on a secondary page, from memory, or common
practice without a source."""


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Give the rows of one table as the file has them.

    Parameters
    ----------
    name : str
        Name of the table, the file's name without its ending.

    Returns
    -------
    tuple of dict
        One dictionary of column to text a row; `source` and `how` are among the columns.

    Raises
    ------
    ValueError
        Where there is no table of that name.

    Source: none, a reader of this package's own files.
    """
    path = files("startwright.reference") / "data" / f"{name}.csv"
    if not path.is_file():
        raise ValueError(f"no table is called {name!r}; there are {', '.join(names())}")
    return tuple(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


@cache
def names() -> tuple[str, ...]:
    """List the tables there are.

    Source: none, a listing of this package's own files.
    """
    folder = files("startwright.reference") / "data"
    return tuple(sorted(p.name[:-4] for p in folder.iterdir() if p.name.endswith(".csv")))


def number(text: str) -> float | None:
    """Read a cell as a number; an empty cell is None.

    Source: none, a reader of this package's own files.
    """
    return float(text) if text.strip() else None


@cache
def citation(source: str) -> str:
    """Say a source key as a fitter can look it up.

    Parameters
    ----------
    source : str
        The `source` of a table row.

    Returns
    -------
    str
        Publication, edition and clause.

    Raises
    ------
    ValueError
        Where no source has that key.

    Source: none, a look-up in this package's own list.

    >>> citation("cfr33-183.425-t5")
    '33 CFR 183.425, Table 5'
    """
    for row in rows("sources"):
        if row["source"] == source:
            return row["publication"]
    raise ValueError(f"no source has the key {source!r}")
