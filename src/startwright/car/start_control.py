"""A push-button car's own start control, as far as a unit can imitate the driver before it.

The driver's own presses are moves of the key (`key` stands for the power mode he has chosen,
``out`` for the key carried away). What an imitated press makes of the car beside that is a variable
of its own: ``own`` as the driver left it, else the mode the control has gone to. A press without
the brake steps through the modes; one with the brake, in park or neutral, cranks; a press while the
engine runs turns off. Nothing is turned on without a valid key. A button springs back: a press by
hand is a moment, not a state.

Source of the behaviour: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable

from startwright.records.vehicle import Vehicle
from startwright.records.words import KEY_POSITIONS

MODE = "car.mode"
"""The control variable: what an imitated button has made of the car."""
BUTTON = "car.button"
"""Whether the button line was pressed when the control last looked: it acts on the press alone."""
MODES = ("own", "accessory", "run", "start", "off")
OWN, ACCESSORY, RUN, START, OFF = range(5)
KEY_OFF = KEY_POSITIONS.index("off")
GIVES_UP_S = 10.0
"""How long the control cranks an engine that does not start, s (assumed, no source)."""
BUTTON_MOVES: tuple[tuple[str, str], ...] = (
    ("out", "off"),
    ("off", "out"),
    ("off", "accessory"),
    ("accessory", "run"),
    ("run", "off"),
    ("off", "start"),
    ("accessory", "start"),
    ("run", "start"),
    ("start", "run"),
)
"""How a driver's own presses move the power mode; those to ``start`` want the brake pressed."""


def by_button(vehicle: Vehicle) -> bool:
    """Whether the driver starts the car with a button."""
    return vehicle.start == "push_button"


def in_modes(live: Iterable[str]) -> tuple[bool, ...]:
    """For each mode whether a key-fed circuit stands at its level in it (in `own` the key says)."""
    chosen = set(live)
    return (False, *(m in chosen for m in MODES[1:]))


def as_key(mode: int, key: int) -> int:
    """The key position that a mode is like."""
    return key if mode == OWN else KEY_POSITIONS.index(MODES[mode])


def pressed(mode: int, key: int, engine: bool, brake: bool, valid: bool) -> int:
    """The mode after an imitated press.

    Parameters
    ----------
    mode : int
        Of `MODES`, before.
    key : int
        The driver's own mode, of `KEY_POSITIONS`.
    engine : bool
        Whether the engine runs (or rests by its idle-stop).
    brake : bool
        Whether the control sees the brake, the lever being in park or neutral.
    valid : bool
        Whether it finds a valid key, or an interface that stands in for one.
    """
    now = KEY_POSITIONS[as_key(mode, key)]
    if now == "start" or (now == "run" and (engine or not brake)):
        return OWN if mode == OFF or key <= KEY_OFF else OFF
    if not valid:
        return mode
    if brake:
        return START
    return RUN if now == "accessory" else ACCESSORY
