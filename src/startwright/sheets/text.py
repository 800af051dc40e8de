"""How wide a text is, before anyone knows the font: an estimate that is never too small."""

from __future__ import annotations

NARROW = frozenset("iljI.,:;'|!` ·")
SLIM = frozenset('frt()-/[]"')
WIDE = frozenset("mwMW@%&")


def _em(letter: str) -> float:
    if letter in NARROW:
        return 0.34
    if letter in SLIM:
        return 0.44
    if letter in WIDE:
        return 0.95
    if ord(letter) > 0x2E80:
        return 1.0
    if letter.isdigit():
        return 0.64
    return 0.72 if letter.isupper() else 0.64


def width_px(text: str, size_px: float, *, bold: bool = False) -> float:
    """An upper estimate of the width of `text` in common sans-serif fonts, in pixels.

    Widths by class of letter, after the widest of the usual screen fonts (common practice, no
    source); letters outside Latin count as full squares.
    """
    return sum(map(_em, text)) * size_px * (1.11 if bold else 1.0)


def short(text: str, most_em: float) -> str:
    """`text` on one line, or as much of it as is `most_em` wide, with an ellipsis at the end.

    >>> short("ignition switch", 99), short("ignition switch", 4)
    ('ignition switch', 'ignition…')
    """
    text = printable(" ".join(text.split()))
    wide = 0.0
    for k, letter in enumerate(text):
        wide += _em(letter)
        if wide > most_em:
            return text[:k].rstrip(" ,·") + "…"
    return text


def printable(text: str) -> str:
    """`text` without the control letters that no XML may hold (XML 1.0, production 2)."""
    return "".join(
        c if c in "\t\n\r" or 0x20 <= ord(c) < 0xD800 or ord(c) >= 0xE000 else "\ufffd"
        for c in text
        if c not in "\ufffe\uffff"
    )
