"""When a wire is active, by what is worked: one pattern a behaviour, in three-valued logic.

A pattern gives for each stretch 1 (active), 0 (at rest), `UNKNOWN` (either) or `DEAD` (cut off from
whatever feeds it: at 0 V or floating).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from startwright.identify.blocks import F64
from startwright.identify.segments import UNKNOWN, Table

Pattern = Callable[[Table], F64]

DEAD = -1.0
"""Neither active nor at rest: nothing feeds the wire."""


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


def after(condition: F64, until: F64) -> F64:
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


def retained(table: Table) -> F64:
    """Accessory that stays on after the key is off, until a door opens or a time is over."""
    live = table.key_in("accessory", "run")
    return np.where(after(live, np.zeros(len(live))) == 1, UNKNOWN, live)


def retained_first(table: Table) -> F64:
    """On for certain in the first stretches after the key is off, before any door opens."""
    live = table.key_in("accessory", "run")
    off = after(live, np.zeros(len(live)))
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


def starter(table: Table) -> F64:
    """At battery while the key is held in start and the starter turns."""
    value = np.where(table.key_in("start") > 0, UNKNOWN, 0.0)
    sure = (table.crank == 1) & (table.key_in("start") > 0)
    value = np.where(sure, 1.0, value)
    return np.where((table.hand("drive") > 0) & (value > 0), UNKNOWN, value)


def cranking_only(table: Table) -> F64:
    """At battery while the starter turns, whoever turns it."""
    return np.where(table.crank == 1, 1.0, np.where(table.crank == UNKNOWN, UNKNOWN, 0.0))


def dome(table: Table) -> F64:
    """On with a door, and perhaps for a while after it."""
    door = any_of(table.hand("driver_door"), table.hand("door"))
    fading = after(door, np.zeros(len(door)))
    value = np.where(fading == 1, UNKNOWN, door)
    return maybe(table.hand("command_unlock"), value)


def dome_unlocked(table: Table) -> F64:
    """As `dome`, and perhaps at unlock."""
    return maybe(table.hand("unlock"), dome(table))


def dome_fading(table: Table) -> F64:
    """Courtesy light that stays on for a while after the door is shut, out at the latest in run."""
    door = any_of(table.hand("driver_door"), table.hand("door"))
    fading = after(door, table.key_in("run", "start"))
    first = fading.copy()
    for i in range(1, len(first)):
        if fading[i] == 1 and fading[i - 1] == 1:
            first[i] = UNKNOWN
    return np.maximum(door, first)


def park(table: Table) -> F64:
    """Active out of drive."""
    return np.asarray(1.0 - table.hand("drive"))


def park_when_live(table: Table) -> F64:
    """As `park`, either while the key is off."""
    return all_of(park(table), np.where(table.key_in("run", "start") == 0, UNKNOWN, 1.0))


def park_gated(table: Table) -> F64:
    """As `park`, only while the key is in run."""
    return all_of(park(table), table.key_in("run", "start"))


def driver_unlock(table: Table) -> F64:
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


def second_unlock(table: Table) -> F64:
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


def with_commands(name: str, *commands: str) -> Pattern:
    """Active while worked; either while a command may work it too."""

    def pattern(table: Table) -> F64:
        value = table.hand(name)
        for command in commands:
            value = maybe(table.hand(f"command_{command}"), value)
        return value

    return pattern


def lights(table: Table) -> F64:
    """Lights by their switch; a command may flash them."""
    return with_commands("parking_light", "lock", "unlock", "panic", "start")(table)


def lights_flashing(table: Table) -> F64:
    """Lights that the car also flashes when it is locked or unlocked."""
    return maybe(any_of(table.hand("lock"), table.hand("unlock")), lights(table))


def horn(table: Table) -> F64:
    """The horn by its button; the car may sound it when told to."""
    return with_commands("horn", "lock", "panic")(table)


def horn_chirping(table: Table) -> F64:
    """As `horn`, and perhaps when the car is locked."""
    return maybe(table.hand("lock"), horn(table))


def comfort(name: str) -> Pattern:
    """A heater that the car lets go of when the engine or the key is off."""

    def pattern(table: Table) -> F64:
        wanted = table.hand(name)
        off = table.key_in("run", "start") < 1
        return np.where((wanted > 0) & (off | (table.crank > 0) | (table.engine < 1)), UNKNOWN,
                        wanted)  # fmt: skip

    return pattern


def release(table: Table) -> F64:
    """Trunk release: by command, or the moment before the trunk opens."""
    value = table.hand("command_trunk")
    opened = table.hand("trunk")
    for i in range(1, len(table)):
        if opened[i] > 0 and opened[i - 1] == 0:
            value[i - 1] = max(value[i - 1], UNKNOWN)
            value[i] = max(value[i], UNKNOWN)
    return value
