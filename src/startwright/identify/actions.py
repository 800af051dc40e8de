"""The two words of an action, understood; and the state of the car that they lead to."""

from __future__ import annotations

from startwright.records.errors import RecordError
from startwright.records.words import FUNCTIONS, KEY_POSITIONS

KEY_WORDS = {"insert": "off", "remove": "out", "off": "off", "accessory": "accessory",
             "run": "run", "start": "start"}  # fmt: skip

HAND_ON = {"press", "open", "on", "set", "pull", "work", "down"}
HAND_OFF = {"release", "close", "off", "up"}
"""Second words of hand actions; `shift` has its own."""

MOMENTARY = frozenset({"lock", "unlock", "driver_unlock", "horn", "trunk_release", "start_button"})
"""Pressed for a moment: what counts is the farthest that a wire goes meanwhile."""

COMMANDS = ("start", "stop", "lock", "unlock", "trunk", "panic")

PRINCIPAL = (
    "brake", "hood", "driver_door", "trunk", "parking_light", "horn", "lock", "unlock",
    "seat_heater", "rear_defogger",
)  # fmt: skip
"""Hand actions of the format; others are taken where they name a function of a circuit."""

KEY_ALL = (1 << len(KEY_POSITIONS)) - 1


def key_bit(position: str) -> int:
    """The bit of a key position in a set of positions."""
    return 1 << KEY_POSITIONS.index(position)


def parse(action: str, where: str = "actions") -> tuple[str, str]:
    """An action as (what, to which state).

    Returns
    -------
    tuple
        ``("key", position)``, ``("engine", "on" | "off")``, ``("shift", "park" | "drive")``,
        ``("command", name)``, or ``(function, "on" | "off")``.

    Raises
    ------
    RecordError
        Words that are none of the format's.
    """
    words = action.lower().split()
    if len(words) == 2:
        noun, verb = words
        if noun == "key" and verb in KEY_WORDS:
            return "key", KEY_WORDS[verb]
        if noun == "key" and verb == "out":
            return "key", "out"
        if noun == "engine" and verb in ("starts", "stops", "start", "stop", "runs", "running"):
            return "engine", "off" if verb.startswith("stop") else "on"
        if noun == "shift" and verb in ("park", "drive", "neutral", "reverse"):
            return "shift", "park" if verb in ("park", "neutral") else "drive"
        if noun == "command" and verb in COMMANDS:
            return "command", verb
        if noun in FUNCTIONS:
            if verb in HAND_ON:
                return noun, "on"
            if verb in HAND_OFF:
                return noun, "off"
    raise RecordError(
        f"{action!r} is no action",
        where,
        "two words such as `key run`, `engine starts`, `brake press`, `driver_door open`, "
        "`shift drive`, `lock press`, `parking_light on`, `command unlock`",
    )
