"""Everything around the unit that a hand, the key or the engine can change.

A *surrounding* is a control variable of the network with named values. Contacts in the car and in
the wiring are closed by a surrounding's value; nothing else about it is known to the network.
"""

from __future__ import annotations

from collections.abc import Iterable

from startwright.car.start_control import MODE, MODES
from startwright.records.vehicle import Circuit
from startwright.records.words import GEARS, KEY_POSITIONS

RAILS: dict[str, float] = {
    "rest": 12.6,
    "crank": 9.0,
    "run": 14.4,
    "low_rest": 11.8,
    "low_crank": 7.5,
}
"""Corner voltages of the battery rail, V: at rest, starter turning, engine running; battery low.

Source: common practice, no source.
"""
LOAD_AT_V = RAILS["run"]
"""A load's amps are what a clamp meter shows with the engine running, at this voltage."""

VALUES: dict[str, tuple[str, ...]] = {"key": KEY_POSITIONS, "gear": GEARS, MODE: MODES}
"""Control variables of more than two values."""

_OPENED = ("hood", "door", "driver_door", "trunk")
_PRESSED = (
    "brake",
    "clutch",
    "horn",
    "lock",
    "unlock",
    "driver_unlock",
    "trunk_release",
    "alarm_arm",
    "alarm_disarm",
    "start_button",
)


def two_words(name: str) -> tuple[str, str]:
    """The names of a two-valued surrounding's values, at rest first.

    Hands press and release, things open and close, lamps are on and off, a parking brake is set.
    """
    base = name.removesuffix("_left").removesuffix("_right")
    if base in _OPENED:
        return ("close", "open")
    if base in _PRESSED:
        return ("release", "press")
    if base == "parking_brake":
        return ("release", "set")
    if base == "battery":
        return ("normal", "low")
    if base == "engine":
        return ("stands", "runs")
    return ("off", "on")


def values(name: str) -> tuple[str, ...]:
    """The names of all values of a surrounding, the canonical one first."""
    return VALUES.get(name) or two_words(name)


def operated_by(circuit: Circuit) -> tuple[str, tuple[bool, ...]]:
    """Which surrounding works an operated circuit, and for which of its values it is active.

    A circuit with a `side` has a factory switch of its own; `park_neutral` is worked by the
    gear lever, `charge_lamp` by the running engine.
    """
    function = circuit.function
    if function == "park_neutral":
        if circuit.tells == "park":
            return "gear", (True, False, False)
        return "gear", (True, True, False)
    if function == "charge_lamp":
        return "engine", (False, True)
    if function == "wait_to_start":
        return "wait_lamp", (False, True)
    name = f"{function}_{circuit.side}" if circuit.side else function
    return name, (False, True)


def works_both_sides(circuit: Circuit) -> str:
    """What works a circuit of one side beside the switch of that side; '' for most.

    One pedal lights both brake lamps, though each has a switch of its own too (the turn signal); so
    with what else there is only one of in a car.
    """
    one = ("brake", "clutch", "hood", "parking_brake", "start_button", "trunk")
    return circuit.function if circuit.side and circuit.function in one else ""


def switch_closed(function: str, at_rest: str) -> tuple[str, tuple[bool, ...]]:
    """Control and closing of an added `switch` part operated by `function`."""
    name = {"wait_to_start": "wait_lamp", "charge_lamp": "engine"}.get(function, function)
    acts: tuple[bool, ...] = (False, True)
    if function == "park_neutral":
        name, acts = "gear", (True, True, False)
    if at_rest == "closed":
        acts = tuple(not a for a in acts)
    return name, acts


def key_in(positions: Iterable[str]) -> tuple[bool, ...]:
    """For each key position whether it is one of `positions`."""
    chosen = set(positions)
    return tuple(p in chosen for p in KEY_POSITIONS)
