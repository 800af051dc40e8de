"""One number unfolded, and how the rows of a published table are told beside it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from startwright.reference.tables import citation, rows

AT_V = 14.4
READ = {
    "document": "read in the document",
    "page": "read on a secondary page",
    "memory": "from memory",
    "practice": "common practice, no source",
}


@dataclass(frozen=True)
class Number:
    """One number of a row, and how it comes about.

    Attributes
    ----------
    name : str
    value : str
        With its unit.
    formula : str
        In letters, then with the numbers put in.
    source : str
        Publication, edition, clause.
    table : tuple of str
        The rows of a published table that it was read from.
    """

    name: str
    value: str
    formula: str
    source: str
    table: tuple[str, ...] = ()


def around(listed: list[float], value: float) -> list[float]:
    """Give the listed values, rising, that a value lies on or between; none outside them.

    Source: none, a look-up.

    >>> around([1.0, 2.0, 4.0], 3.0), around([1.0, 2.0], 2.0), around([1.0, 2.0], 5.0)
    ([2.0, 4.0], [2.0], [])
    """
    if value in listed:
        return [value]
    if not listed[0] <= value <= listed[-1]:
        return []
    above = next(s for s in listed if s > value)
    return [listed[listed.index(above) - 1], above]


def read_between(table: str, x: str, y: str, value: float, units: tuple[str, str]) -> Iterator[str]:
    """Tell the rows of a table that a value was read between; the two end rows outside it.

    Source: the rows' own.
    """
    listed = sorted(float(r[x]) for r in rows(table))
    near = around(listed, value) or (listed[:2] if value < listed[0] else listed[-2:])
    for r in rows(table):
        if float(r[x]) in near:
            yield (
                f"{citation(r['source'])}: {float(r[x]):g} {units[0]}".rstrip()
                + f", {float(r[y]):g} {units[1]}".rstrip()
                + f" ({READ[r['how']]})"
            )


def practice_row(quantity: str, says: str) -> str:
    """Tell one row of the battery practice, its number put in for ``{}``.

    Source: the row's own.
    """
    r = next(r for r in rows("battery_practice") if r["quantity"] == quantity)
    cited, how = citation(r["source"]), READ[r["how"]]
    told = "" if how in cited else f" ({how})"
    return f"{cited}: {says.format(format(float(r['value']), 'g'))}{told}"
