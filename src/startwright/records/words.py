"""The words of the trade as types: one word for one thing, everywhere.

Every record, rule, screen and sheet draws its vocabulary from here.
"""

from __future__ import annotations

from typing import Literal, get_args

Level = Literal["battery", "ground", "open"]
ActiveLevel = Literal["battery", "ground"]
KeyPosition = Literal["out", "off", "accessory", "run", "start"]
Gear = Literal["park", "neutral", "drive"]

Function = Literal[
    "battery",
    "ground",
    "accessory",
    "ignition",
    "starter",
    "key_sense",
    "start_button",
    "brake",
    "clutch",
    "hood",
    "park_neutral",
    "parking_brake",
    "door",
    "driver_door",
    "trunk",
    "tach",
    "charge_lamp",
    "wait_to_start",
    "parking_light",
    "horn",
    "dome_light",
    "lock",
    "unlock",
    "driver_unlock",
    "trunk_release",
    "alarm_arm",
    "alarm_disarm",
    "seat_heater",
    "rear_defogger",
    "immobilizer",
    "srs",
    "data",
    "high_voltage",
]
Signal = Literal["running_signal", "ignition_signal", "starter_signal", "armed_signal"]
"""Low-current outputs of the unit for relays and interfaces."""

Drive = Literal[Function, Signal]
"""What an output of the unit can be asked to work."""

Sense = Literal[Function, "service"]
"""What an input of the unit can listen to."""

Worked = Literal[
    "start_button",
    "brake",
    "clutch",
    "hood",
    "park_neutral",
    "parking_brake",
    "door",
    "driver_door",
    "trunk",
    "charge_lamp",
    "wait_to_start",
    "parking_light",
    "horn",
    "dome_light",
    "lock",
    "unlock",
    "driver_unlock",
    "trunk_release",
    "alarm_arm",
    "alarm_disarm",
    "seat_heater",
    "rear_defogger",
    "service",
]
"""What can work an added switch: a hand, a door, the lever, a lamp; never a wire."""

Want = Literal[
    "remote_start",
    "lock_unlock",
    "driver_first_unlock",
    "trunk_release",
    "light_flash",
    "horn_chirp",
    "panic",
    "seat_heat",
    "rear_defog",
    "starter_cut",
    "armed_output",
]
Colour = Literal["BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR"]
"""IEC 60757 letter codes, in the order of the standard's Table 1."""

Joint = Literal["solder", "crimp", "strip_and_wrap", "terminal", "plug"]
Known = Literal["measured", "manual", "told", "guessed"]
Verdict = Literal["proven", "breached", "not finished"]
RuleKind = Literal["hazard", "damage", "works"]
Command = Literal["start", "stop", "lock", "unlock", "trunk", "panic"]

KEY_POSITIONS: tuple[str, ...] = get_args(KeyPosition)
GEARS: tuple[str, ...] = get_args(Gear)
FUNCTIONS: tuple[str, ...] = get_args(Function)
SIGNALS: tuple[str, ...] = get_args(Signal)
COLOURS: tuple[str, ...] = get_args(Colour)
WANTS: tuple[str, ...] = get_args(Want)
COMMANDS: tuple[str, ...] = get_args(Command)

KEY_FED: frozenset[str] = frozenset({"battery", "accessory", "ignition", "starter", "key_sense"})
"""Functions that may stand at their level by key position (`live`)."""

WORKED: frozenset[str] = frozenset(get_args(Worked))
"""What an added switch may be worked by."""

NEVER_TOUCHED: frozenset[str] = frozenset({"srs", "data", "high_voltage"})
"""Circuits that are listed only so that they can be avoided."""
