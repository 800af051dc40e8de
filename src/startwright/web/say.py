"""How records are said on the page."""

from __future__ import annotations

from startwright.records import Vehicle
from startwright.sheets import labels

IMMOBILIZER_WORDS = {
    "none": "no immobilizer",
    "resistor_key": "key with a resistor",
    "transponder": "key with a transponder",
    "coded_data": "coded data between key and engine",
    "smart_key": "smart key",
    "unknown": "immobilizer not known",
}


def function_words(function: str, number: int | None = None) -> str:
    """The function of a circuit in trade words."""
    words = labels.function_words(function)
    return f"{words} {number}" if number else words


def terminal(name: str) -> str:
    """A terminal, or a lead of the unit, as people say it.

    >>> terminal("unit.feed_1"), terminal("vehicle.brake"), terminal("K1.87")
    ('unit feed_1', 'brake', 'K1.87')
    """
    owner, _, rest = name.partition(".")
    return {"unit": f"unit {rest}", "vehicle": rest}.get(owner, name) if rest else name


def vehicle_name(vehicle: Vehicle) -> str:
    """Make, model and years on one line."""
    parts = [p for p in (vehicle.make, vehicle.model, vehicle.trim) if p]
    name = " ".join(parts) or vehicle.id
    if vehicle.years:
        first, last = vehicle.years
        name += f", {first}" if first == last else f", {first}–{last}"
    return name


def vehicle_line(vehicle: Vehicle) -> str:
    """What matters of the car for this work, on one line."""
    gearbox = {"automatic": "automatic", "cvt": "CVT", "manual": "manual gearbox"}[vehicle.gearbox]
    start = "key" if vehicle.start == "key" else "push-button start"
    return f"{gearbox}, {start}, {IMMOBILIZER_WORDS[vehicle.immobilizer.kind]}"
