"""What each function does in each state of the car: the hypotheses that are weighed.

A `Behaviour` says for each stretch whether the wire should stand at its active level (1), at rest
(0), or either (0.5), and which kinds of source those levels may be. Behaviours without a function
are look-alikes that a fitter must not take for one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from startwright.identify.blocks import F64
from startwright.identify.segments import UNKNOWN, Table
from startwright.records.words import ActiveLevel

Pattern = Callable[[Table], F64]

SWITCHED: dict[str, float] = {"ground": 0.45, "open": 0.40, "low": 0.05, "mid1": 0.10}
"""Rest of a wire that is fed when active: pulled down by its load, or nothing on it."""

FED: dict[str, float] = {"ground": 0.70, "open": 0.17, "low": 0.05, "mid1": 0.05, "five": 0.03}
"""Rest of a key-fed circuit: its loads pull it down."""

GROUNDED: dict[str, float] = {
    "pulled": 0.48, "five": 0.22, "open": 0.08, "mid1": 0.14, "strobe": 0.08,
}  # fmt: skip
"""Rest of a wire that is grounded when active: pulled up to the rail, to 5 V, or by pulses."""


@dataclass(frozen=True)
class Behaviour:
    """One hypothesis about a wire.

    Parameters
    ----------
    name : str
        For the evidence (``ignition, out while cranking``).
    function : str or None
        None for a look-alike.
    active : ActiveLevel or None
        The level when operated.
    prior : float
        Relative share among the wires that a fitter clips on to.
    pattern : callable
        Truth value of "active" per stretch.
    on, rest : dict
        Kinds of source (`likelihood.KINDS`) and their shares, when active and at rest.
    needs : tuple of str
        What must have been worked for this to be decided at all.
    """

    name: str
    function: str | None
    active: ActiveLevel | None
    prior: float
    pattern: Pattern
    on: dict[str, float]
    rest: dict[str, float]
    needs: tuple[str, ...] = ()
    coasts: bool = False
    """Whether it falls slowly when it is let go of."""


def all_of(*values: F64) -> F64:
    """Kleene's three-valued and."""
    return np.asarray(np.minimum.reduce(values))


def any_of(*values: F64) -> F64:
    """Kleene's three-valued or."""
    return np.asarray(np.maximum.reduce(values))


def maybe(condition: F64, value: F64) -> F64:
    """`value`, but either where the condition may hold."""
    return np.where(condition > 0, UNKNOWN, value)


def always(table: Table) -> F64:
    """Active throughout."""
    return np.ones(len(table))


def keyed(*positions: str) -> Pattern:
    """Active in key positions."""
    return lambda t: t.key_in(*positions)


def hand(name: str) -> Pattern:
    """Active while worked."""
    return lambda t: t.hand(name)


def _after(condition: F64, until: F64) -> F64:
    """Stretches after `condition` has held, until `until` holds: 1 or 0."""
    result = np.zeros(len(condition))
    on = False
    for i in range(len(condition)):
        if condition[i] > 0:
            on = True
        elif until[i] == 1:
            on = False
        else:
            result[i] = 1.0 if on else 0.0
    return result


def _retained(table: Table) -> F64:
    """Accessory that stays on after the key is off, until a door opens or a time is over."""
    live = table.key_in("accessory", "run")
    return np.where(_after(live, np.zeros(len(live))) == 1, UNKNOWN, live)


def _retained_first(table: Table) -> F64:
    """On for certain in the first stretches after the key is off, before any door opens."""
    live = table.key_in("accessory", "run")
    off = _after(live, np.zeros(len(live)))
    off *= np.where(table.key_in("start") > 0, 0.0, 1.0)
    door = any_of(table.hand("driver_door"), table.hand("door"))
    kept = live.copy()
    closed = True
    for i in range(len(table)):
        if live[i] > 0:
            closed = True
        if door[i] > 0:
            closed = False
        if off[i] == 1:
            kept[i] = 1.0 if closed else UNKNOWN
    return kept


def _starter(table: Table) -> F64:
    value = np.where(table.key_in("start") > 0, UNKNOWN, 0.0)
    sure = (table.crank == 1) & (table.key_in("start") > 0)
    value = np.where(sure, 1.0, value)
    return np.where((table.hand("drive") > 0) & (value > 0), UNKNOWN, value)


def _cranking_only(table: Table) -> F64:
    return np.where(table.crank == 1, 1.0, np.where(table.crank == UNKNOWN, UNKNOWN, 0.0))


def _dome(table: Table) -> F64:
    door = any_of(table.hand("driver_door"), table.hand("door"))
    fading = _after(door, np.zeros(len(door)))
    value = np.where(fading == 1, UNKNOWN, door)
    return maybe(table.hand("command_unlock"), value)


def _dome_unlocked(table: Table) -> F64:
    return maybe(table.hand("unlock"), _dome(table))


def _dome_fading(table: Table) -> F64:
    """Courtesy light that stays on for a while after the door is shut, out at the latest in run."""
    door = any_of(table.hand("driver_door"), table.hand("door"))
    fading = _after(door, table.key_in("run", "start"))
    first = fading.copy()
    for i in range(1, len(first)):
        if fading[i] == 1 and fading[i - 1] == 1:
            first[i] = UNKNOWN
    return np.maximum(door, first)


def _park(table: Table) -> F64:
    return np.asarray(1.0 - table.hand("drive"))


def _park_when_live(table: Table) -> F64:
    return all_of(_park(table), np.where(table.key_in("run", "start") == 0, UNKNOWN, 1.0))


def _park_gated(table: Table) -> F64:
    return all_of(_park(table), table.key_in("run", "start"))


def _charging(table: Table) -> F64:
    value = table.engine.copy()
    return np.where(table.crank > 0, np.minimum(value, UNKNOWN), value)


def _running(table: Table) -> F64:
    return np.where(table.crank > 0, UNKNOWN, table.engine)


def _lamp_first(table: Table) -> F64:
    """Active in the first stretch of every run without engine, then either, out with engine."""
    run = all_of(table.key_in("run"), 1.0 - table.engine)
    value = np.zeros(len(table))
    for i in range(len(table)):
        if run[i] == 1:
            fresh = i == 0 or table.key_in("run", "start")[i - 1] < 1
            value[i] = 1.0 if fresh else UNKNOWN
        elif run[i] == UNKNOWN or table.key_in("start")[i] > 0:
            value[i] = UNKNOWN
    return value


def _lamp_over(switch_at: int) -> Pattern:
    """Like `_lamp_first`, but out for certain after the given number of stretches in run."""

    def pattern(table: Table) -> F64:
        value = _lamp_first(table)
        count = 0
        for i in range(len(table)):
            if table.key_in("run")[i] == 1 and table.engine[i] == 0 and table.crank[i] == 0:
                value[i] = 1.0 if count < switch_at else 0.0
                count += 1
            else:
                count = 0
        return value

    return pattern


def _prime(table: Table) -> F64:
    """Pump or heater relay: a moment at run, then with the engine."""
    return any_of(_lamp_first(table), table.engine, np.where(table.crank > 0, 1.0, 0.0))


def _prime_over(table: Table) -> F64:
    value = _lamp_over(1)(table)
    return any_of(value, table.engine, np.where(table.crank > 0, 1.0, 0.0))


def _driver_unlock(table: Table) -> F64:
    """The first press after anything else; later presses either."""
    pressed = table.hand("unlock")
    value = pressed.copy()
    seen = False
    for i in range(len(table)):
        if table.hand("lock")[i] > 0 or table.hand("command_lock")[i] > 0:
            seen = False
        if pressed[i] == 1 and table.moment[i]:
            if seen:
                value[i] = UNKNOWN
            seen = True
    return value


def _second_unlock(table: Table) -> F64:
    """Only the second press within five seconds."""
    pressed = table.hand("unlock")
    value = np.zeros(len(table))
    last = -100.0
    for i in range(len(table)):
        if pressed[i] > 0 and table.moment[i]:
            value[i] = 1.0 if table.start_s[i] - last < 5.0 else 0.0
            last = float(table.start_s[i])
        elif pressed[i] > 0:
            value[i] = UNKNOWN
    return value


def _with_commands(name: str, *commands: str) -> Pattern:
    def pattern(table: Table) -> F64:
        value = table.hand(name)
        for command in commands:
            value = maybe(table.hand(f"command_{command}"), value)
        return value

    return pattern


def _lights(table: Table) -> F64:
    """Lights by their switch; a command may flash them."""
    return _with_commands("parking_light", "lock", "unlock", "panic", "start")(table)


def _lights_flashing(table: Table) -> F64:
    """Lights that the car also flashes when it is locked or unlocked."""
    return maybe(any_of(table.hand("lock"), table.hand("unlock")), _lights(table))


def _horn(table: Table) -> F64:
    return _with_commands("horn", "lock", "panic")(table)


def _horn_chirping(table: Table) -> F64:
    return maybe(table.hand("lock"), _horn(table))


def _comfort(name: str) -> Pattern:
    """A heater that the car lets go of when the engine or the key is off."""

    def pattern(table: Table) -> F64:
        wanted = table.hand(name)
        off = table.key_in("run", "start") < 1
        return np.where((wanted > 0) & (off | (table.crank > 0) | (table.engine < 1)), UNKNOWN,
                        wanted)  # fmt: skip

    return pattern


def _release(table: Table) -> F64:
    """Trunk release: by command, or the moment before the trunk opens."""
    value = table.hand("command_trunk")
    opened = table.hand("trunk")
    for i in range(1, len(table)):
        if opened[i] > 0 and opened[i - 1] == 0:
            value[i - 1] = max(value[i - 1], UNKNOWN)
            value[i] = max(value[i], UNKNOWN)
    return value


def _both(
    function: str,
    prior: float,
    pattern: Pattern,
    battery_share: float,
    *,
    needs: tuple[str, ...] = (),
    name: str | None = None,
    lookalike: bool = False,
) -> list[Behaviour]:
    """The behaviour with the wire fed when active, and with it grounded."""
    said = name or function.replace("_", " ")
    of = None if lookalike else function
    return [
        Behaviour(f"{said}, fed", of, "battery", prior * battery_share, pattern,
                  {"battery": 0.97, "five": 0.03}, SWITCHED, needs),
        Behaviour(f"{said}, grounded", of, "ground", prior * (1 - battery_share), pattern,
                  {"ground": 0.93, "low": 0.07}, GROUNDED, needs),
    ]  # fmt: skip


ON = {"battery": 1.0}


def behaviours(diesel: bool | None = None) -> list[Behaviour]:
    """Every hypothesis of level and pattern; pulses, data and unlike things are weighed apart.

    Priors are relative shares of the wires that a fitter clips on to at a steering column, a kick
    panel and a body computer (common practice, no source).
    """
    glow = {True: 3.0, False: 0.05, None: 1.0}[diesel]
    found = [
        Behaviour("battery", "battery", "battery", 0.450, always, ON, {"open": 1.0}),
        Behaviour("ground", "ground", "ground", 0.030, always, {"ground": 1.0}, {"open": 1.0}),
        Behaviour("accessory, out while cranking", "accessory", "battery", 0.060,
                  keyed("accessory", "run"), ON, FED, ("key_accessory",)),
        Behaviour("accessory, held while cranking", "accessory", "battery", 0.012,
                  keyed("accessory", "run", "start"), ON, FED, ("key_accessory",)),
        Behaviour("accessory, retained", "accessory", "battery", 0.012,
                  _retained, ON, FED, ("key_accessory",)),
        Behaviour("accessory, retained until a door opens", "accessory", "battery", 0.010,
                  _retained_first, ON, FED, ("key_accessory",)),
        Behaviour("ignition", "ignition", "battery", 0.110, keyed("run", "start"), ON, FED,
                  ("key_run",)),
        Behaviour("ignition, out while cranking", "ignition", "battery", 0.060, keyed("run"), ON,
                  FED, ("key_run",)),
        Behaviour("starter", "starter", "battery", 0.070, _starter, ON, FED, ("key_start",)),
        Behaviour("parking light, pulsed", "parking_light", "battery", 0.006, _lights,
                  {"pwm": 1.0}, SWITCHED, ("parking_light",)),
        Behaviour("starter, at the motor", "starter", "battery", 0.008, _cranking_only, ON, FED,
                  ("key_start",)),
        Behaviour("dimmed illumination", None, None, 0.020, _lights, {"pwm": 0.7, "mid1": 0.3},
                  SWITCHED),
        Behaviour("flasher", None, None, 0.010, _lights, {"flash": 1.0}, SWITCHED),
        Behaviour("charging", "charge_lamp", "battery", 0.014, _charging, ON,
                  {"low": 0.75, "mid1": 0.10, "ground": 0.15}),
        Behaviour("oil pressure or another lamp out with the engine", None, None, 0.010,
                  _running, ON, {"ground": 0.8, "low": 0.1, "open": 0.1}),
        Behaviour("fed while the engine runs", None, None, 0.012, _running, ON, FED),
        Behaviour("pump or heater relay, fed", None, None, 0.003, _prime, ON, FED),
        Behaviour("pump or heater relay, fed, over", None, None, 0.008, _prime_over, ON, FED),
        Behaviour("pump or heater relay, grounded", None, None, 0.006, _prime_over,
                  {"ground": 1.0}, {"pulled": 0.8, "open": 0.2}),
        Behaviour("fed in run and a while after", None, None, 0.004,
                  lambda t: np.where(_after(t.key_in("run", "start"), np.zeros(len(t))) == 1,
                                     UNKNOWN, t.key_in("run", "start")), ON, FED),
        Behaviour("fed out of park", None, None, 0.008,
                  lambda t: all_of(t.key_in("run", "start"), t.hand("drive")), ON, FED),
        Behaviour("fed in run with the brake", None, None, 0.002,
                  lambda t: all_of(t.key_in("run", "start"), t.hand("brake")), ON, FED),
    ]  # fmt: skip
    for positions, prior in ((("run",), 0.008), (("accessory", "run"), 0.003),
                             (("run", "start"), 0.003)):  # fmt: skip
        found.append(
            Behaviour("motor that coasts down", None, None, prior, keyed(*positions), ON, FED,
                      coasts=True)
        )  # fmt: skip
    for over in (1, 2, 3):
        found += [
            Behaviour("glow lamp", "wait_to_start", "ground", 0.004 * glow, _lamp_over(over),
                      {"ground": 0.7, "low": 0.3}, {"pulled": 0.9, "open": 0.1}, ("key_run",)),
            Behaviour("lamp test", None, None, 0.0015, _lamp_over(over),
                      {"ground": 0.7, "low": 0.3}, {"pulled": 0.9, "open": 0.1}),
            Behaviour("glow signal, fed", "wait_to_start", "battery", 0.001 * glow,
                      _lamp_over(over), ON, SWITCHED, ("key_run",)),
        ]  # fmt: skip
    found += _both("key_sense", 0.035, keyed("off", "accessory", "run", "start"), 0.55,
                   needs=("key_out",))  # fmt: skip
    found += _both("brake", 0.065, hand("brake"), 0.88, needs=("brake",))
    found += _both("hood", 0.032, hand("hood"), 0.12, needs=("hood",))
    found += _both("driver_door", 0.040, hand("driver_door"), 0.12, needs=("driver_door",))
    found += _both("door", 0.0015, hand("driver_door"), 0.12, needs=("driver_door",))
    found += _both("door", 0.012, hand("door"), 0.12, needs=("door",), name="other door")
    found += _both("trunk", 0.032, hand("trunk"), 0.15, needs=("trunk",))
    found += _both("trunk_release", 0.004, _release, 0.6, needs=("command_trunk",))
    found += _both("dome_light", 0.005, _dome, 0.45, needs=("driver_door",))
    found += _both("dome_light", 0.001, _dome_unlocked, 0.45, needs=("driver_door",),
                   name="dome light, on at unlock")  # fmt: skip
    found += _both("dome_light", 0.008, _dome_fading, 0.45, needs=("driver_door",),
                   name="dome light, fading")  # fmt: skip
    found += _both("park_neutral", 0.022, _park, 0.25, needs=("drive",))
    found += _both("park_neutral", 0.010, _park_when_live, 0.35, needs=("drive",),
                   name="park or neutral, live in run")  # fmt: skip
    found += _both("park_neutral", 0.004, _park_gated, 0.95, needs=("drive",),
                   name="park or neutral, fed in run")  # fmt: skip
    found += _both("parking_light", 0.050, _lights, 0.72, needs=("parking_light",))
    found += _both("parking_light", 0.003, _lights_flashing, 0.72, needs=("parking_light",),
                   name="parking light, flashing")  # fmt: skip
    found += _both("horn", 0.032, _horn, 0.22, needs=("horn",))
    found += _both("horn", 0.0015, _horn_chirping, 0.22, needs=("horn",), name="horn, chirping")
    found += _both("lock", 0.050, _with_commands("lock", "lock", "start"), 0.5, needs=("lock",))
    found += _both("unlock", 0.050, _with_commands("unlock", "unlock"), 0.5, needs=("unlock",))
    found += _both("unlock", 0.006, _second_unlock, 0.5, needs=("unlock",),
                   name="unlock, second press")  # fmt: skip
    found += _both("driver_unlock", 0.0015, _driver_unlock, 0.5, needs=("unlock",))
    found += _both("alarm_arm", 0.0007, hand("lock"), 0.1, needs=("lock",))
    found += _both("alarm_disarm", 0.0007, hand("unlock"), 0.1, needs=("unlock",))
    found += _both("seat_heater", 0.010, _comfort("seat_heater"), 0.6, needs=("seat_heater",))
    found += _both("rear_defogger", 0.014, _comfort("rear_defogger"), 0.7,
                   needs=("rear_defogger",))  # fmt: skip
    found += _both("clutch", 0.005, hand("clutch"), 0.35, needs=("clutch",))
    found += _both("parking_brake", 0.006, hand("parking_brake"), 0.08, needs=("parking_brake",))
    found += _both("start_button", 0.003, hand("start_button"), 0.1, needs=("start_button",))
    return found
