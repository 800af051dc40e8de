"""What goes by the engine and by the seconds since the key was turned: lamps, pumps, charging."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from startwright.identify.blocks import F64
from startwright.identify.patterns import DEAD, Pattern, any_of
from startwright.identify.segments import UNKNOWN, Table

Factor = Callable[[Table], float]
"""How likely the seconds are that a pattern implies on a table."""

ALTERNATOR_s = 3.0
"""An alternator charges at the latest so long after the engine runs (common practice)."""

NEVER_SO_LONG = 0.02
"""Share of lamps and pumps that take longer than they should."""


def unfed(table: Table) -> F64:
    """1 where the key is surely in no position that feeds the dash, `UNKNOWN` where it may be."""
    return np.asarray(1.0 - table.key_in("run", "start"))


def with_dead(table: Table, value: F64) -> F64:
    """`value`, dead while the key is off."""
    off = unfed(table)
    return np.where(off == 1, DEAD, np.where(off == UNKNOWN, UNKNOWN, value))


def running(table: Table) -> F64:
    """Active while the engine runs."""
    return np.where(table.crank > 0, UNKNOWN, table.engine)


def charging(table: Table) -> F64:
    """At battery while the alternator charges, held low through its lamp in run, dead else."""
    value = np.where(table.crank > 0, np.minimum(table.engine, UNKNOWN), table.engine)
    began = -np.inf
    for i in range(len(table)):
        if table.engine[i] == 1 and (i == 0 or table.engine[i - 1] < 1):
            began = float(table.start_s[i])
        if value[i] == 1 and float(table.end_s[i]) < began + ALTERNATOR_s:
            value[i] = UNKNOWN
    value = with_dead(table, value)
    return np.where(spinning_down(table) & (value == DEAD), UNKNOWN, value)


def spinning_down(table: Table) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Stretches of the first second and a half after the key left run: the engine still turns."""
    found = np.zeros(len(table), dtype=bool)
    left = -np.inf
    for i in range(1, len(table)):
        if table.engine[i] < 1 and table.engine[i - 1] == 1:
            left = float(table.start_s[i])
        found[i] = float(table.core_start_s[i]) < left + 1.5
    return found


def seen(pattern: Pattern) -> Factor:
    """Next to nothing where the pattern is never surely active and surely at rest in turn."""

    def factor(table: Table) -> float:
        value = pattern(table)
        return 1.0 if bool((value == 1).any() and (value == 0).any()) else 1e-3

    return factor


def pressure(table: Table) -> F64:
    """A switch that closes to ground while the engine stands; its lamp feeds it in run."""
    return with_dead(table, running(table))


def _periods(table: Table) -> list[list[int]]:
    """Rows of every time that the key stands in run before the starter turns, fresh from off."""
    run = table.key_in("run")
    live = table.key_in("run", "start")
    found: list[list[int]] = []
    open_period = False
    for i in range(len(table)):
        standing = run[i] == 1 and table.engine[i] == 0 and table.crank[i] == 0
        fresh = i > 0 and live[i - 1] < 1
        if standing and fresh:
            found.append([i])
            open_period = True
        elif standing and open_period:
            found[-1].append(i)
        else:
            open_period = False
    return found


def lit_for(stretches: int) -> Pattern:
    """Active for so many stretches from run on, out from then on; either while cranking."""

    def pattern(table: Table) -> F64:
        value = np.zeros(len(table))
        undecided = (table.crank > 0) | (table.key_in("start") > 0)
        undecided |= (table.key_in("run") > 0) & (table.engine < 1)
        value[undecided] = UNKNOWN
        for period in _periods(table):
            value[period] = 0.0
            value[period[:stretches]] = 1.0
        return value

    return pattern


def lit_until_cranking(table: Table) -> F64:
    """Active from run on until the starter turns."""
    return lit_for(len(table))(table)


def lamp(pattern: Pattern) -> Pattern:
    """A lamp's wire, which nothing feeds while the key is off."""
    return lambda table: with_dead(table, pattern(table))


def pump(pattern: Pattern) -> Pattern:
    """A pump or heater relay: a moment at run, then with the engine."""
    return lambda t: any_of(pattern(t), t.engine, np.where(t.crank > 0, 1.0, 0.0))


def gone_after(stretches: int, seconds: Callable[[float], float]) -> Factor:
    """Chance, by its density a second, that it goes out where `lit_for` says."""

    def factor(table: Table) -> float:
        for period in _periods(table):
            if len(period) > stretches:
                began = float(table.start_s[period[0]])
                return max(seconds(float(table.start_s[period[stretches]]) - began), 1e-5)
        return 1e-5

    return factor


def lasting(survival: Callable[[float], float]) -> Factor:
    """Chance that it lasts as long as the key stood in run."""

    def factor(table: Table) -> float:
        periods = _periods(table)
        if not periods:
            return 1.0
        seconds = max(float(table.end_s[p[-1]] - table.start_s[p[0]]) for p in periods)
        return max(survival(seconds), NEVER_SO_LONG)

    return factor


def between(low_s: float, high_s: float) -> Callable[[float], float]:
    """Density of something that lasts from `low_s` to `high_s`, and a little about that."""
    return lambda s: (
        (1.0 if low_s <= s <= high_s else NEVER_SO_LONG if s < 1.5 * high_s else 1e-5)
        / (high_s - low_s)
    )


def surviving(low_s: float, high_s: float) -> Callable[[float], float]:
    """Share that lasts longer than some seconds."""
    return lambda s: float(np.clip((high_s - s) / (high_s - low_s), 0.0, 1.0))


def by_orders(low_s: float, high_s: float) -> Callable[[float], float]:
    """Density of something that lasts long or short alike, by orders of magnitude."""
    width = float(np.log(high_s / low_s))
    return lambda s: 1.0 / (max(s, low_s) * width) if low_s <= s <= high_s else 1e-4


def surviving_by_orders(low_s: float, high_s: float) -> Callable[[float], float]:
    """Share of those that lasts longer than some seconds."""
    width = float(np.log(high_s / low_s))
    return lambda s: float(np.clip(np.log(high_s / max(s, low_s)) / width, 0.0, 1.0))
