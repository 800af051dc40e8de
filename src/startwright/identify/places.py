"""What is written about a wire's place, plug and pin: which are never touched, which speak for a
function.

Airbag plugs are yellow and high-voltage cables orange (common practice, no source); the contacts of
the diagnostic connector are those of SAE J1962 / ISO 15031-3.
"""

from __future__ import annotations

import re

from startwright.records.recordings import WirePlace

_SRS = re.compile(
    r"\b(air\s?-?bags?|srs|supplemental restraint|restraints?|squib|pretensioner|"
    r"clock\s?-?spring|occupant|inflator|crash sensor|impact sensor)\b"
)
_YELLOW_PLUG = re.compile(r"\b(yellow)\b")
_HIGH = re.compile(r"\b(high[\s_-]?voltage|hv|inverter|traction|drive battery|orange)\b")
_DATA = re.compile(
    r"\b(can|can[\s_-]?[hl]|lin|flexray|k[\s-]?line|l[\s-]?line|j1850|bus|data|gateway|"
    r"twisted|ethernet|serial)\b"
)
_DIAGNOSTIC = re.compile(
    r"\b(diagnostic|obd|obd2|obdii|dlc|j1962|16[\s-]?way (?:d|trapezoid\w*)|data link)\b"
)
_DIAGNOSTIC_PINS: dict[str, str | None] = {
    "2": "data", "4": "ground", "5": "ground", "6": "data", "7": "data", "10": "data",
    "14": "data", "15": "data", "16": "battery",
}  # fmt: skip
"""SAE J1962 / ISO 15031-3; contacts 1, 3, 8, 9, 11, 12 and 13 are left to the vehicle maker."""

_IMMOBILIZER = re.compile(r"\b(immobili[sz]er|transponder|antenna ring|reader ring|key ring)\b")

_HINTS: tuple[tuple[re.Pattern[str], dict[str, float]], ...] = (
    (re.compile(r"\bignition (switch|lock|barrel)\b|\bsteering column\b"),
     {"battery": 4, "accessory": 3, "ignition": 3, "starter": 3, "key_sense": 2}),
    (re.compile(r"\b(fuse\s?box|fuses?|junction block|power distribution|battery post)\b"),
     {"battery": 2, "accessory": 1.5, "ignition": 1.5}),
    (re.compile(r"\bbrake (pedal|switch|lamp|light)\b|\bpedal\b"), {"brake": 4}),
    (re.compile(r"\bclutch\b"), {"clutch": 6}),
    (re.compile(r"\b(hood|bonnet)\b"), {"hood": 6}),
    (re.compile(r"\b(door)\b"), {"driver_door": 2, "door": 2, "lock": 2, "unlock": 2,
                                 "driver_unlock": 2}),
    (re.compile(r"\b(trunk|boot|tailgate|hatch)\b"), {"trunk": 6, "trunk_release": 4}),
    (re.compile(r"\bhorn\b"), {"horn": 6}),
    (re.compile(r"\b(headlight|light switch|lighting)\b"), {"parking_light": 4}),
    (re.compile(r"\b(tach|rev counter|coil|injector)\b"), {"tach": 4}),
    (re.compile(r"\b(alternator|charging|regulator)\b"), {"charge_lamp": 8}),
    (re.compile(r"\bseat\b"), {"seat_heater": 3}),
    (re.compile(r"\b(rear window|defog\w*|backlight)\b"), {"rear_defogger": 5}),
    (re.compile(r"\b(selector|shifter|gear lever|range switch|park switch)\b"),
     {"park_neutral": 6}),
)  # fmt: skip

NEVER = ("srs", "high_voltage", "data")


def never_touched(place: WirePlace | None) -> tuple[str, str] | None:
    """What a wire is, by its place alone, if it must never be touched, and the words for it."""
    if place is None:
        return None
    words = place.words
    if _SRS.search(words):
        return "srs", "its place or plug is one of the airbags"
    plug = (place.plug or "").lower()
    if _YELLOW_PLUG.search(plug):
        return "srs", "a yellow plug: airbag plugs are yellow"
    if _HIGH.search(words):
        return "high_voltage", "its place or plug is one of the high-voltage system"
    if place.colour == "OG" and _HIGH.search(words):
        return "high_voltage", "an orange cable"
    if _DIAGNOSTIC.search(words):
        pin = _DIAGNOSTIC_PINS.get((place.pin or "").strip().lstrip("0"))
        if pin == "data":
            return "data", f"contact {place.pin} of the diagnostic connector (SAE J1962)"
    if _DATA.search(words):
        return "data", "its place or plug says that it carries data"
    return None


def hints(place: WirePlace | None) -> dict[str, float]:
    """How much more likely each function is for what is written about the wire."""
    if place is None:
        return {}
    words = place.words
    found: dict[str, float] = {}
    for pattern, factors in _HINTS:
        if pattern.search(words):
            for function, factor in factors.items():
                found[function] = max(found.get(function, 1.0), factor)
    if _IMMOBILIZER.search(words):
        found["immobilizer"] = 50.0
    if _DIAGNOSTIC.search(words):
        pin = _DIAGNOSTIC_PINS.get((place.pin or "").strip().lstrip("0"))
        if pin in ("battery", "ground"):
            found[pin] = 30.0
        elif pin is None:
            found["data"] = 4.0
    return found


LAMP_CAUTION = (
    "no probe lamp on this wire: a lamp draws enough current to fire an airbag or to upset a data "
    "line; use a digital meter of 10 megohm, or leave it alone"
)


def before_probing(place: WirePlace | None, meter: str = "digital") -> str | None:
    """The caution that stands before a probe touches a wire; None where there is none.

    Parameters
    ----------
    place : WirePlace or None
        What is known of where the wire is.
    meter : str
        ``digital`` or ``lamp``.
    """
    never = never_touched(place)
    if never is not None:
        kind, why = never
        if kind == "high_voltage":
            return f"do not probe: {why}; more than 60 V can kill"
        if kind == "srs":
            return f"do not probe: {why}; a probe can fire it"
        return LAMP_CAUTION if meter == "lamp" else f"leave alone: {why}"
    if meter == "lamp" and place is None:
        return "a probe lamp only where the wire is known to be no airbag and no data line"
    return None
