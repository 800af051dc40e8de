"""What to do at the car for a check, in the words of the person who does it."""

from __future__ import annotations

from collections.abc import Sequence

DO = {
    "key off": "Key off, nothing touched",
    "key accessory": "Key to accessory",
    "key run": "Key to run",
    "key start": "Hold the key at start while you read",
    "key remove": "Key out of the lock",
    "key insert": "Key in the lock, not turned",
    "engine starts": "Start the engine and let it run",
    "engine stops": "Engine stopped",
    "brake press": "Hold the brake pedal down",
    "brake release": "Foot off the brake",
    "clutch press": "Hold the clutch pedal down",
    "clutch release": "Foot off the clutch",
    "shift drive": "Move the lever to drive",
    "shift park": "Move the lever to park",
    "parking_brake set": "Set the parking brake",
    "parking_brake release": "Release the parking brake",
    "driver_door open": "Open the driver's door",
    "driver_door close": "Shut the driver's door",
    "door open": "Open a door",
    "door close": "Shut every door",
    "hood open": "Open the hood",
    "hood close": "Shut the hood",
    "trunk open": "Open the trunk",
    "trunk close": "Shut the trunk",
    "parking_light on": "Parking lights on",
    "parking_light off": "Parking lights off",
    "horn press": "Hold the horn pressed",
    "horn release": "Let go of the horn",
    "lock press": "Hold the lock button pressed",
    "lock release": "Let go of the lock button",
    "unlock press": "Hold the unlock button pressed",
    "unlock release": "Let go of the unlock button",
    "start_button press": "Hold the start button pressed",
    "start_button release": "Let go of the start button",
    "seat_heater on": "Seat heater on",
    "seat_heater off": "Seat heater off",
    "rear_defogger on": "Rear defogger on",
    "rear_defogger off": "Rear defogger off",
}
"""Actions of the scenario language, each as an instruction to one person at the car."""


def do_words(do: Sequence[str]) -> list[str]:
    """What to do, step by step, the key first; an action without words of its own as it stands.

    >>> do_words(["key run", "dome_light on"]), do_words([])
    (['Key to run', 'Dome light on'], ['Key off, nothing touched'])
    """
    return [DO.get(one, one.replace("_", " ").capitalize()) for one in do or ["key off"]]


def do_line(do: Sequence[str]) -> str:
    """What to do in one line.

    >>> do_line(["key run", "brake press"])
    'Key to run, then hold the brake pedal down'
    """
    first, *rest = do_words(do)
    return ", then ".join([first, *(words[0].lower() + words[1:] for words in rest)])
