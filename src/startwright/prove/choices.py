"""The choices: one change of one surrounding, a timer running out, an engine outcome, a command."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from startwright.car.control_unit import ControlUnit, Press, Start
from startwright.car.hybrid import TURNS, is_hybrid
from startwright.car.start_control import (
    BUTTON,
    BUTTON_MOVES,
    KEY_OFF,
    MODE,
    OWN,
    by_button,
)
from startwright.car.start_control import OFF as MODE_OFF
from startwright.car.start_control import RUN as MODE_RUN
from startwright.car.start_control import START as MODE_START
from startwright.car.surroundings import values
from startwright.prove.model import (
    COASTING,
    RESTING,
    RUNNING,
    STOPPED,
    TURNING,
    Model,
)
from startwright.prove.tables import Array
from startwright.records.words import GEARS, KEY_POSITIONS

NONE, START, STOP, TIME = range(4)
EVENTS = 4
COAST_S = 1.0
"""An engine that was lost turns at most this long, s (`world.md`)."""


def may_end_coasting(unit: ControlUnit, start: Start) -> bool:
    """Whether the unit's timer may run out while a lost engine still turns.

    What the unit begins once the engine is lost lasts longer than the engine turns, if it lasts
    `COAST_S`. The pause may have begun before: the driver may start the engine in it by key.
    """
    time_s = unit.time_s(start)
    return time_s is not None and (time_s < COAST_S or start.mode == "pause")


GIVEN_UP = "engine gives_up"
"""The car's own start control stops cranking an engine that does not start."""
BY_HAND = "start_button press"
"""The driver presses the button of a car that an imitated press has turned on."""
KEY_MOVES: tuple[tuple[str, str], ...] = (
    ("out", "off"),
    ("off", "out"),
    ("off", "accessory"),
    ("accessory", "off"),
    ("accessory", "run"),
    ("run", "accessory"),
    ("run", "start"),
    ("start", "run"),
)

Columns = dict[str, Array]


@dataclass(frozen=True)
class Choice:
    """One thing that can happen.

    `when` says in which rows it can; `change` gives the columns it sets, for those rows.
    `tell` gives the words of a scenario line, for one row. `plain` is there where it can happen
    whenever a variable has one value, and only gives it another: the variable, and both values.
    """

    name: str
    when: Callable[[Columns], Array]
    change: Callable[[Columns], Columns]
    tell: Callable[[dict[str, int]], str]
    event: int = NONE
    plain: tuple[str, int, int] | None = None


def choices(model: Model) -> list[Choice]:
    """Everything that can happen in the world of this model, in a fixed order."""
    return model.kept.own("choices", lambda: _choices(model))


def _choices(model: Model) -> list[Choice]:
    out: list[Choice] = []
    out += _commands(model)
    for name in model.surroundings:
        out += _surrounding(model, name)
    out += _engine(model)
    out += _timers(model)
    return out


def _surrounding(model: Model, name: str) -> list[Choice]:
    if name == "key":
        pairs = key_moves(model)
    elif name == "gear":
        pairs = [(a, b) for a in range(3) for b in range(3) if a != b]
    else:
        pairs = [(0, 1), (1, 0)]
    mechanical = any(c.interlock == "mechanical" for c in model.car.job.vehicle.of("starter"))
    start = KEY_POSITIONS.index("start")
    button = name == "key" and by_button(model.car.job.vehicle)
    out = []
    for old, new in pairs:
        words = action(name, old, new)
        conditions: list[Callable[[Columns], Array]] = []
        if mechanical and name == "key" and new == start:
            conditions.append(lambda c: c["gear"] < 2)
        if mechanical and name == "gear" and new == 2:
            conditions.append(lambda c: c["key"] != start)
        if button and new == start:
            conditions.append(lambda c: c["brake"] == 1)
        if button and model.car.imitates and max(old, new) > 1:
            conditions.append(lambda c: c[MODE] == OWN)
        out.append(_plain(words, name, old, new, words, conditions))
    return out


def _plain(
    name: str,
    variable: str,
    old: int,
    new: int,
    words: str,
    conditions: Sequence[Callable[[Columns], Array]] = (),
) -> Choice:
    """A choice that gives a variable another value, where it has one and all conditions hold."""

    def when(c: Columns) -> Array:
        can = np.asarray(c[variable] == old)
        for condition in conditions:
            can = can & condition(c)
        return can

    plain = None if conditions else (variable, old, new)
    return Choice(name, when, _setting(variable, new), _says(words), NONE, plain)


def key_moves(model: Model) -> list[tuple[int, int]]:
    """How the driver moves the key, or the power mode with a button."""
    moves = BUTTON_MOVES if by_button(model.car.job.vehicle) else KEY_MOVES
    return [(KEY_POSITIONS.index(a), KEY_POSITIONS.index(b)) for a, b in moves]


def action(name: str, old: int, new: int) -> str:
    """The two words for a change of a surrounding."""
    if name == "key":
        to = KEY_POSITIONS[new]
        if to == "out":
            return "key remove"
        return "key insert" if KEY_POSITIONS[old] == "out" else f"key {to}"
    if name == "gear":
        return f"shift {GEARS[new]}"
    return f"{name} {values(name)[new]}"


def _setting(name: str, value: int) -> Callable[[Columns], Columns]:
    def change(c: Columns) -> Columns:
        return {name: np.full_like(c[name], value)}

    return change


def _pressing(model: Model, table: Array) -> Callable[[Columns], Columns]:
    def change(c: Columns) -> Columns:
        return {"press": table[c["press"]].astype(c["press"].dtype)}

    return change


def _commands(model: Model) -> list[Choice]:
    out = []
    unit = model.unit
    for command in ("start", "stop", *unit.buttons):
        table = _after(model, command, partial(unit.press, command=command))
        event = {"start": START, "stop": STOP}.get(command, NONE)
        words = f"command {command}"
        out.append(
            Choice(
                words,
                lambda c: np.ones(len(c["key"]), dtype=bool),
                _pressing(model, table),
                lambda row, words=words: words,  # type: ignore[misc]
                event,
            )
        )
    return out


def _engine(model: Model) -> list[Choice]:
    used = {*model.ignition.over, *model.immobilizer.over}
    fitted = model.car.job.vehicle.immobilizer.kind != "none"

    def may_start(c: Columns) -> Array:
        turning: Array = c["motion"] == TURNING
        if not turning.any():
            return turning
        seen = model.derive(c, used)
        can = turning & model.ignition.look(seen).astype(bool)
        if fitted:
            can &= model.immobilizer.look(seen).astype(bool)
        return np.asarray(can)

    out = [
        Choice("engine starts", may_start, _setting("motion", RUNNING), _says("engine starts")),
        _plain("engine stalls", "motion", RUNNING, COASTING, "engine stalls"),
        _plain("coasts down", "motion", COASTING, STOPPED, f"wait {COAST_S:g} s"),
    ]
    if model.car.imitates:
        out.append(_plain(GIVEN_UP, MODE, MODE_START, MODE_RUN, GIVEN_UP))
        out.append(
            Choice(
                BY_HAND,
                lambda c: np.asarray((c[MODE] != OWN) & (c[BUTTON] == 0)),
                _turned_off_by_hand,
                _says(BY_HAND),
            )
        )
    if model.comes_and_goes:
        for name, turns in (("engine goes on", 1), ("engine rests", 0)):
            words = "engine starts" if turns else "engine stops"
            out.append(Choice(name, _ready(1 - turns), _setting(TURNS, turns), _says(words)))
    elif model.car.job.vehicle.engine.idle_stop and not is_hybrid(model.car.job.vehicle):
        out.append(_plain("engine rests", "motion", RUNNING, RESTING, "engine stops"))
        out.append(_plain("engine goes on", "motion", RESTING, RUNNING, "engine starts"))
    return out


def _ready(turns: int) -> Callable[[Columns], Array]:
    """A hybrid is ready, and its engine turns or does not."""
    return lambda c: np.asarray((c["motion"] == RUNNING) & (c[TURNS] == turns))


def _turned_off_by_hand(c: Columns) -> Columns:
    """The car is as the driver left it, and off; one that was turned off under him comes back."""
    off = np.where(c[MODE] == MODE_OFF, c["key"], np.minimum(c["key"], KEY_OFF))
    return {MODE: np.full_like(c[MODE], OWN), "key": off.astype(c["key"].dtype)}


def _says(words: str) -> Callable[[dict[str, int]], str]:
    return lambda row: words


def _timers(model: Model) -> list[Choice]:
    unit = model.unit
    times, runs_out, while_coasting = model.kept.once("times", partial(_times, model))

    def step_over(c: Columns) -> Array:
        coasting = c["motion"] == COASTING
        return np.where(coasting, while_coasting[c["start"]], runs_out[c["start"]])

    out = [
        Choice(
            "time",
            step_over,
            lambda c: {},
            lambda row: f"wait {times[row['start']]:g} s",
            TIME,
        )
    ]
    for repeats in (True, False):
        table = _after(model, f"over {repeats}", partial(unit.pulse_over, repeats=repeats))
        if repeats:
            other = _after(model, "over False", partial(unit.pulse_over, repeats=False))
            live = (table != other) & np.array([bool(p.command) for p in model.presses])
        else:
            live = np.array([bool(p.command) for p in model.presses])
        if live.any():
            out.append(_pressed("pulse over", model, table, live, lambda p: unit.pulse_s(p) or 0.0))
    windows = _after(model, "window", unit.window_over)
    live = np.array([bool(p.again) for p in model.presses])
    if live.any():
        within_s = unit.record.again_within_s
        out.append(_pressed("window over", model, windows, live, lambda p: within_s))
    return out


def _times(model: Model) -> tuple[list[Any], Array, Array]:
    """How long each step or pause lasts, s; whether it ends by itself, and while coasting."""
    times = [model.unit.time_s(s) for s in model.starts]
    coasting = [may_end_coasting(model.unit, s) for s in model.starts]
    return times, np.array([t is not None for t in times]), np.array(coasting)


def _after(model: Model, name: str, press: Callable[[Press], Press]) -> Array:
    """The press after by press; the same for every model of the same unit."""
    return model.kept.of(
        ("press after", name),
        lambda: np.array([model.press_code[press(p)] for p in model.presses]),
    )


def _pressed(
    name: str, model: Model, table: Array, live: Array, seconds: Callable[[Any], float]
) -> Choice:
    return Choice(
        name,
        lambda c: live[c["press"]],
        _pressing(model, table),
        lambda row: f"wait {seconds(model.presses[row['press']]):g} s",
    )
