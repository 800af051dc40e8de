"""How records are said on the page: levels in volts, how a wire is known."""

from __future__ import annotations

from startwright.records import Circuit, Vehicle

FUNCTION_WORDS = {
    "park_neutral": "park/neutral",
    "key_sense": "key in the lock",
    "srs": "airbag",
    "data": "data line",
    "high_voltage": "high voltage",
    "tach": "tach",
}

WHEN_ACTIVE = {
    "brake": "pressed",
    "clutch": "pressed",
    "hood": "open",
    "door": "open",
    "driver_door": "open",
    "trunk": "open",
    "park_neutral": "in park or neutral",
    "parking_brake": "set",
    "parking_light": "on",
    "horn": "sounding",
    "lock": "worked",
    "unlock": "worked",
    "driver_unlock": "worked",
    "trunk_release": "worked",
    "charge_lamp": "charging",
    "start_button": "pressed",
    "seat_heater": "on",
    "rear_defogger": "on",
    "wait_to_start": "waiting",
}

WANT_WORDS = {
    "remote_start": "remote start",
    "lock_unlock": "lock and unlock",
    "driver_first_unlock": "driver's door first",
    "trunk_release": "trunk release",
    "light_flash": "lights flash",
    "horn_chirp": "horn chirps",
    "panic": "panic",
    "seat_heat": "seat heater",
    "rear_defog": "rear defogger",
    "starter_cut": "starter cut",
    "armed_output": "armed output",
}

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
    words = FUNCTION_WORDS.get(function, function.replace("_", " "))
    return f"{words} {number}" if number else words


def _volts(level: str, other: str | None) -> str:
    if level == "battery":
        return "12 V"
    if level == "ground":
        return "0 V"
    # An open circuit is pulled away from its active level by its own load.
    return "≈ 12 V" if other == "ground" else "≈ 0 V"


def rest_and_active(circuit: Circuit) -> tuple[str, str, str]:
    """How a wire rests, what it becomes, and when, as a meter shows it.

    Returns
    -------
    tuple of str
        Volts at rest, volts when active, and when that is; the second is empty where nothing
        changes.
    """
    if circuit.function == "ground":
        return "0 V", "", "always"
    if circuit.function == "tach":
        return "0 V", "pulses", "engine turning"
    if circuit.live is not None:
        level = _volts(circuit.active_level, None)
        if circuit.function == "battery" and len(circuit.live) == 5:
            return level, "", "always"
        rest = "0 V" if circuit.active_level == "battery" else "12 V"
        return rest, level, "key in " + ", ".join(circuit.live)
    if circuit.style == "ladder" and circuit.steps_ohm is not None:
        steps = {k: v for k, v in circuit.steps_ohm.model_dump().items() if v is not None}
        rest_ohm = steps.pop("rest")
        rest_text = f"{rest_ohm:g} Ω to ground"
        worked = ", ".join(f"{v:g} Ω" for v in steps.values())
        return rest_text, worked, ", ".join(function_words(k) for k in steps)
    if circuit.active is None:
        return "not recorded", "", ""
    when = WHEN_ACTIVE.get(circuit.function, "active")
    if circuit.tells == "park":
        when = "in park"
    rest = circuit.rest or ("ground" if circuit.active == "battery" else "battery")
    if rest == "open":
        when += "; rests open"
    return _volts(rest, circuit.active), _volts(circuit.active, circuit.rest), when


def known_words(circuit: Circuit) -> tuple[str, bool]:
    """How a wire is known, and whether that is enough to join it."""
    if circuit.known is None:
        return "not known: measure first", False
    how = circuit.known
    said = {
        "measured": "measured",
        "manual": "from a manual: measure first",
        "told": "told: measure first",
        "guessed": "guessed: measure first",
    }[how.how]
    if how.how == "measured" and how.date is not None:
        said += f" {how.date.isoformat()}"
    if how.how == "measured" and how.by:
        said += f", {how.by}"
    return said, how.how == "measured"


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


def awg(size_mm2: float) -> int:
    """The nearest American wire gauge, for the label beside the millimetres.

    ASTM B258: diameter 0.127 mm times 92 to the power (36 - n) / 39.
    """
    from math import log, pi, sqrt

    diameter_mm = 2 * sqrt(size_mm2 / pi)
    return round(36 - 39 * log(diameter_mm / 0.127) / log(92))


def size_words(size_mm2: float | None) -> str:
    """Millimetres with AWG beside them."""
    if size_mm2 is None:
        return "size not chosen"
    return f"{size_mm2:g} mm² ({awg(size_mm2)} AWG)"
