"""What the wires of a car are called in a sentence, where a record writes their ids."""

from __future__ import annotations

import re
from collections import Counter
from functools import lru_cache

from startwright.records import Circuit, Vehicle, WholeJob
from startwright.sheets.labels import circuit_name, said

BEFORE_A_LEAD = r"\b(?P<word>from|on|for) (?P<lead>{leads})(?=$|[,;.]| through)"
"""Where a bare word is a lead of the unit: ``ground for gnd``, ``ign_2 from ign through``."""


def names(vehicle: Vehicle) -> dict[str, str]:
    """What each circuit is called, by its id; no two of a car are called the same.

    Those of one name are told apart by their colours, else by their ids.
    """
    plain = {c.id: circuit_name(c) for c in vehicle.circuits}
    several = {name for name, n in Counter(plain.values()).items() if n > 1}
    coloured = Counter((plain[c.id], c.colour) for c in vehicle.circuits)

    def told_apart(circuit: Circuit) -> str:
        name = plain[circuit.id]
        if name not in several:
            return name
        alone = circuit.colour and coloured[name, circuit.colour] == 1
        return f"{name} {circuit.colour if alone else circuit.id}"

    return {c.id: told_apart(c) for c in vehicle.circuits}


def article(job: WholeJob, id: str) -> str:
    """What an article of the shelf is called; a fitted part by its own name."""
    known = {part.id: part.name for part in job.stock.parts}
    return known.get(id) or said(id)


def in_words(job: WholeJob, text: str, *, bare: bool = False) -> str:
    """A text of the engines with the car's wires called as they are on the page.

    Ids that are plain words (``horn``) stand as they are, and so does what is marked as code.

    Parameters
    ----------
    job : WholeJob
        Whose car and unit.
    text : str
        Such as ``lamps works park_left through a diode``.
    bare : bool
        Without ``the … wire``, for a head or a list.
    """
    circuits, leads = _patterns(job)
    called = names(job.vehicle)

    def wire(match: re.Match[str]) -> str:
        words = called[match[0]]
        if bare:
            return words
        begins = match.start() == 0 and text.endswith(".")
        return f"{'The' if begins else 'the'} {words} wire"

    def plain(part: str) -> str:
        part = leads.sub(r"\g<word> lead \g<lead>", part) if leads and not bare else part
        return circuits.sub(wire, part) if circuits else part

    parts = re.split(r"(`[^`]*`)", text)
    return "".join(p if p.startswith("`") else plain(p) for p in parts)


def _patterns(job: WholeJob) -> tuple[re.Pattern[str] | None, re.Pattern[str] | None]:
    """What finds ids of circuits that are no plain words, and leads where only a lead can stand."""
    ids = tuple(c.id for c in job.vehicle.circuits if "_" in c.id or "-" in c.id)
    return _pattern(r"(?<![\w./-])(?:{ids})(?![\w-]|\.\w)", "ids", ids), _pattern(
        BEFORE_A_LEAD, "leads", tuple(lead.id for lead in job.unit.leads)
    )


@lru_cache(maxsize=64)
def _pattern(pattern: str, key: str, words: tuple[str, ...]) -> re.Pattern[str] | None:
    if not words:
        return None
    longest = sorted(words, key=len, reverse=True)
    return re.compile(pattern.replace(f"{{{key}}}", "|".join(map(re.escape, longest))))
