"""The words in the drawing: what each lead, part, flag and run is called, in few letters."""

from __future__ import annotations

from typing import NamedTuple

from startwright.physics.wire import awg_or_none
from startwright.records import Circuit, Run
from startwright.sheets.ends import Web
from startwright.sheets.text import short

NAME_EM, LINE_EM = 22.0, 34.0
"""How long a name and a line of words may be in the drawing; the tables have them whole."""

RELAY_PINS = {
    "30": "common",
    "85": "coil",
    "86": "coil",
    "87": "made",
    "87a": "at rest",
}
"""What the DIN 72552 numbers of a relay mean."""


FUNCTION_WORDS = {
    "park_neutral": "park/neutral",
    "key_sense": "key in the lock",
    "srs": "airbag",
    "data": "data line",
}
"""What functions are called where that is not their word in the records."""


class LeadLines(NamedTuple):
    """A lead of the unit: its name and what it does or senses."""

    name: str
    does: str


class FlagLines(NamedTuple):
    """A wire of the car: what it is, and where it is found."""

    name: str
    where: str
    colour: str | None


def said(word: str) -> str:
    """A word of the records as people say it."""
    return word.replace("_", " ")


def function_words(function: str) -> str:
    """The function of a circuit or lead in trade words.

    >>> function_words("park_neutral"), function_words("parking_light")
    ('park/neutral', 'parking light')
    """
    return FUNCTION_WORDS.get(function, said(function))


def amount(value: float) -> str:
    """A number without needless digits."""
    return f"{value:g}"


def size_words(size_mm2: float) -> str:
    """Metric first, AWG beside it where there is one so thick."""
    words, awg = f"{amount(size_mm2)} mm²", awg_or_none(size_mm2)
    return f"{words} · {awg}" if awg else words


def circuit_name(circuit: Circuit, side: str = "") -> str:
    """What a wire of the car is called: function, number, side."""
    words = function_words(circuit.function)
    if circuit.number is not None:
        words += f" {circuit.number}"
    if circuit.side:
        words += f" {circuit.side}"
    if side:
        words += f", {side} side"
    return words


def lead_lines(web: Web, lead: str, *, full: bool = True) -> LeadLines:
    """A lead's id, and (if `full`) what it does as set in this wiring."""
    record = web.job.unit.lead(lead)
    if record.way == "in":
        does = f"senses {function_words(record.senses or '')}"
    elif record.way == "out":
        chosen = web.settings.get(record.chosen_by or "")
        does = function_words(record.does[0] if chosen is None else str(chosen))
    else:
        does = str(record.way)
    return LeadLines(lead, does if full else "")


def part_title(web: Web, part: str) -> tuple[str, dict[str, str]]:
    """The heading of a part's box, and what stands at each of its pins."""
    record = web.parts[part]
    rating = {
        "relay": f"{amount(record.contact_A or 0)} A",
        "diode": f"{amount(record.forward_A or 0)} A",
        "fuse": f"{amount(record.rating_A or 0)} A",
        "resistor": f"{amount(record.ohm or 0)} Ω",
        "switch": function_words(record.operated_by or ""),
    }.get(record.kind, "")
    title = " ".join(w for w in (part, record.kind, rating) if w)
    pins = {}
    for pin in web.items[part].pins if part in web.items else ():
        word = RELAY_PINS.get(pin) if record.kind == "relay" else None
        pins[pin] = f"{pin} {word}" if word else short(said(pin), NAME_EM)
    return short(title, NAME_EM), pins


def flag_lines(web: Web, flag: str, *, full: bool = True) -> FlagLines:
    """The name of a wire of the car or of a ground point, and where to find it.

    Without `full` there is one line alone, name and colour.
    """
    kind, _, rest = flag.partition(".")
    if kind == "ground":
        name = short(f"ground, {said(rest)}", NAME_EM)
        return FlagLines(name, "bare metal, ring terminal" * full, None)
    id, _, side = rest.partition(".")
    circuit = web.job.vehicle.circuit(id)
    colour = circuit.colour or "colour not known"
    name = circuit_name(circuit, side)
    if not full:
        return FlagLines(f"{name} · {colour}", "", circuit.colour)
    where = [colour, circuit.plug or "", f"pin {circuit.pin}" if circuit.pin else ""]
    if circuit.known is not None and circuit.known.how in ("told", "guessed"):
        where.append(f"only {circuit.known.how}")
    return FlagLines(name, short(" · ".join(w for w in where if w), LINE_EM), circuit.colour)


def run_lines(run: Run, *, full: bool = True) -> tuple[str, str]:
    """A run's name, colour and length; and its size (only the first two without `full`)."""
    first = [run.id, run.colour or ""]
    if not full:
        return " ".join(w for w in first if w), ""
    if run.length_m:
        first.append(f"{amount(run.length_m)} m")
    return " ".join(w for w in first if w), size_words(run.size_mm2) if run.size_mm2 else ""


def unit_name(web: Web) -> str:
    """What the unit is called."""
    return short(web.job.unit.name or web.job.unit.id, NAME_EM)
