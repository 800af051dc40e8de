"""Coded (ladder) switches: levels as ohms.

A switch closes a resistor to ground behind a pull-up: V = Vs R / (R + Rp), so R = Rp V / (Vs - V).
The levels give the ratio R / Rp; the ohms need the pull-up, measured once.
"""

from __future__ import annotations

from collections.abc import Mapping

OPEN_ohm = 1e6


def supply_V(rest_V: float, rail_V: float) -> float:
    """What the pull-up is tied to: 5 V where the wire rests below that, else the rail."""
    return 5.0 if rest_V <= 5.3 else max(rail_V, rest_V)


def ratio(level_V: float, supply: float) -> float:
    """Resistance to ground over the pull-up, from the divider.

    >>> round(ratio(2.5, 5.0), 3)
    1.0
    """
    if level_V <= 0:
        return 0.0
    if level_V >= 0.995 * supply:
        return float("inf")
    return level_V / (supply - level_V)


def steps_ohm(levels_V: Mapping[str, float], rail_V: float, pull_up_ohm: float) -> dict[str, float]:
    """Ohms of every level, at most `OPEN_ohm`.

    Parameters
    ----------
    levels_V : mapping
        ``rest`` and the pressed levels.
    rail_V : float
        Battery voltage at the time.
    pull_up_ohm : float
        The pull-up, from supply to wire.

    >>> steps_ohm({"rest": 5.0, "lock": 1.25}, 12.5, 1000.0)
    {'rest': 1000000.0, 'lock': 333.3}
    """
    if pull_up_ohm <= 0:
        raise ValueError("a pull-up has more than 0 ohm")
    supply = supply_V(levels_V["rest"], rail_V)
    return {
        name: round(min(OPEN_ohm, pull_up_ohm * ratio(level, supply)), 1)
        for name, level in levels_V.items()
    }
