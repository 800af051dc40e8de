"""Insulation colours: letter codes to words and to what the eye sees.

Codes are IEC 60757. A code in a record is what workshops write: base first, then stripe
(``GN/YE`` is green with a yellow stripe). The standard joins the codes of one item in the order
of its Table 1 whatever the base is; `standard_code` gives that form, and the two are kept apart.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from functools import cache
from importlib import resources
from typing import Any, NamedTuple

UNKNOWN = "#9aa0a6"
"""What a run of unknown colour is drawn in: a grey that is none of the codes."""


class Insulation(NamedTuple):
    """What is painted: the base and the stripes, as display colours."""

    base: str
    stripes: tuple[str, ...]


@cache
def table() -> dict[str, dict[str, Any]]:
    """The rows of the colour table by code, in the order of IEC 60757 Table 1.

    Each row has ``code``, ``name``, ``css`` (the W3C named colour of that word) and, where the
    named colour misleads, ``drawn`` and ``because``.
    """
    text = resources.files(__package__).joinpath("data/colours.json").read_text("utf-8")
    return {row["code"]: row for row in json.loads(text)["rows"]}


def css(code: str) -> str:
    """The W3C CSS named colour of one letter code, as ``#rrggbb``.

    Source: W3C CSS Color Module Level 4, named colours.

    >>> css("TQ")
    '#40e0d0'
    """
    return str(table()[code]["css"])


def drawn(code: str) -> str:
    """The colour a code is drawn in: the named one, but a darker violet.

    >>> drawn("RD"), drawn("VT")
    ('#ff0000', '#7f00ff')
    """
    row = table()[code]
    return str(row.get("drawn", row["css"]))


def insulation(colour: str | None) -> Insulation:
    """Base and stripes of a workshop code; grey without a stripe where it is not known.

    >>> insulation("GN/YE")
    Insulation(base='#008000', stripes=('#ffff00',))
    """
    if colour is None:
        return Insulation(UNKNOWN, ())
    base, *stripes = (drawn(code) for code in colour.split("/"))
    return Insulation(base, tuple(stripes))


def words(colour: str | None) -> str:
    """A workshop code in words, for ears and for those who do not know the letters.

    >>> words("GN/YE"), words("BK"), words(None)
    ('green with yellow stripe', 'black', 'colour not known')
    """
    if colour is None:
        return "colour not known"
    base, *stripes = (str(table()[code]["name"]) for code in colour.split("/"))
    if not stripes:
        return base
    return f"{base} with {' and '.join(stripes)} stripe{'s' if len(stripes) > 1 else ''}"


def standard_code(colours: Iterable[str]) -> str:
    """The codes of one multi-coloured item joined as the standard joins them.

    Parameters
    ----------
    colours : iterable of str
        Letter codes in any order (``["BU", "RD"]``).

    Returns
    -------
    str
        The codes in the order of Table 1, without a sign between them. Green-and-yellow is the
        one exception: it has a code of its own, GNYE.

    Source: IEC 60757:2021 clause 5.1 and Table 1. This order says nothing of base and stripe.

    >>> standard_code(["BU", "RD"]), standard_code(["YE", "GN"])
    ('RDBU', 'GNYE')
    """
    order = list(table())
    codes = sorted(colours, key=order.index)
    return "GNYE" if codes == ["YE", "GN"] else "".join(codes)


def standard_codes(elements: Iterable[Iterable[str]]) -> str:
    """The codes of several elements of one thing, such as the cores of a cable.

    Parameters
    ----------
    elements : iterable
        For each element its letter codes.

    Returns
    -------
    str
        The elements' codes joined by ``+``, in the order of Table 1.

    Source: IEC 60757, clause 5 and its example of a five-core cable.

    >>> standard_codes([["BU"], ["YE", "GN"], ["BK"]])
    'BK+BU+GNYE'
    """
    order = list(table())
    codes = sorted((standard_code(e) for e in elements), key=lambda c: (len(c), order.index(c[:2])))
    return "+".join(codes)
