"""Relays: coil hot and cold, sag, suppression, release time; contacts and inrush."""

from __future__ import annotations

from functools import cache
from math import log
from typing import Literal

from startwright.physics.wire import copper_factor
from startwright.reference.tables import rows

HOT_COIL_C = 85.0
"""Coil in a warm cabin or under the hood after long energising (common practice, no source)."""
COLD_COIL_C = -30.0
NORMALLY_CLOSED_SHARE = 0.75
"""The resting contact carries 30 A where the working one carries 40 A (relay application note)."""
DIODE_V = 0.7
MECHANICAL_MS = 1.5
INDUCTANCE_PER_OHM_H = 0.63 / 120.0
"""Coil inductance per ohm, and the armature's own time, fitted to one bench measurement of a
120 ohm coil with 680 ohm across it (2.6 ms) and a diode (8 ms)."""

Suppression = Literal["none", "diode", "resistor", "zener"]


def coil_ohm(ohm_at_20C: float, coil_C: float) -> float:
    """Give a coil's resistance at its temperature.

    Parameters
    ----------
    ohm_at_20C : float
        Above 0.
    coil_C : float
        -65 to 260 °C.

    Returns
    -------
    float
        Ohms.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: copper's line (234.5 + t)/254.5, FAA AC 43.13-1B par. 11-66.

    >>> round(coil_ohm(80, 85), 1)
    100.4
    """
    if ohm_at_20C <= 0:
        raise ValueError("a coil's resistance is above zero")
    return ohm_at_20C * copper_factor(coil_C)


def pull_in_at_V(pull_in_V: float, coil_C: float = HOT_COIL_C) -> float:
    """Give the coil voltage at which a relay surely pulls in when its coil has a temperature.

    The armature wants a current; a hot coil wants more volts for it.

    Parameters
    ----------
    pull_in_V : float
        At 20 °C, above 0.
    coil_C : float
        -65 to 260 °C.

    Returns
    -------
    float
        Volts.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: constant pull-in current with copper's line (FAA AC 43.13-1B par. 11-66); common
    relay application practice.

    >>> round(pull_in_at_V(8.0, 85), 2)
    10.04
    """
    if pull_in_V <= 0:
        raise ValueError("a pull-in voltage is above zero")
    return pull_in_V * copper_factor(coil_C)


def drop_out_at_V(drop_out_V: float, coil_C: float = HOT_COIL_C) -> float:
    """Give the coil voltage below which a relay may let go when its coil has a temperature.

    Arguments, errors and source as `pull_in_at_V`; a hot coil lets go earlier.

    Source: as `pull_in_at_V`.

    >>> round(drop_out_at_V(3.0, 20), 2)
    3.0
    """
    return pull_in_at_V(drop_out_V, coil_C)


def coil_A(ohm_at_20C: float, volts_V: float, coil_C: float = COLD_COIL_C) -> float:
    """Give the current a coil draws; cold coils draw most.

    Parameters
    ----------
    ohm_at_20C, volts_V : float
        Above 0; 0 and more.
    coil_C : float
        -65 to 260 °C.

    Returns
    -------
    float
        Amperes.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: Ohm's law with copper's line; a 75 ohm coil draws 12 V / 75 ohm, 1.9 W (maker's sheet).

    >>> round(12 * coil_A(75, 12, 20), 2)
    1.92
    """
    if volts_V < 0:
        raise ValueError("a voltage is not negative here")
    return volts_V / coil_ohm(ohm_at_20C, coil_C)


def suppressed_peak_V(
    supply_V: float, coil_ohm_: float, suppression: Suppression, across: float = 0.0
) -> float:
    """Give the peak across a coil when its switch opens.

    Parameters
    ----------
    supply_V, coil_ohm_ : float
        Above 0.
    suppression : str
        ``diode``, ``resistor`` (with `across` in ohms) or ``zener`` (with `across` in volts).

    Returns
    -------
    float
        Volts.

    Raises
    ------
    ValueError
        For ``none`` (hundreds of volts, set by the switch's breakdown), or values not above 0.

    Source: the coil's current flows on through the suppressor, I R; bench measurement of 120 ohm
    with 680 ohm across it (65 V, ideal 68 V).

    >>> suppressed_peak_V(12, 120, "resistor", 680)
    68.0
    """
    if supply_V <= 0 or coil_ohm_ <= 0:
        raise ValueError("supply and coil are above zero")
    if suppression == "diode":
        return DIODE_V
    if suppression in ("resistor", "zener") and across > 0:
        return supply_V / coil_ohm_ * across if suppression == "resistor" else across + DIODE_V
    raise ValueError("without a suppressor the peak is set by whatever breaks down first")


def release_ms(
    supply_V: float,
    coil_ohm_: float,
    drop_out_V: float,
    suppression: Suppression,
    across: float = 0.0,
    inductance_H: float | None = None,
) -> float:
    """Estimate how long a relay takes to let go after its coil is switched off.

    Parameters
    ----------
    supply_V, coil_ohm_ : float
        Above 0.
    drop_out_V : float
        Above 0 and below the supply.
    suppression : str
        As `suppressed_peak_V`; ``none`` gives the armature's own time.
    across : float
        Ohms of the resistor or volts of the zener.
    inductance_H : float, optional
        Of the coil; 5.3 mH per ohm where not known.

    Returns
    -------
    float
        Milliseconds.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: decay of an RL circuit; inductance and armature time fitted to a bench measurement (8 ms
    with a diode, 2.6 ms with 680 ohm, coil 120 ohm): an estimate within a factor of two.

    >>> slow, fast = release_ms(12, 120, 3, "diode"), release_ms(12, 120, 3, "resistor", 680)
    >>> 2.5 < slow / fast < 3.5
    True
    """
    if supply_V <= 0 or coil_ohm_ <= 0 or not 0 < drop_out_V < supply_V:
        raise ValueError("supply and coil are above zero, drop-out lies between 0 and the supply")
    henry = coil_ohm_ * INDUCTANCE_PER_OHM_H if inductance_H is None else inductance_H
    if suppression == "none":
        return MECHANICAL_MS
    if suppression == "resistor":
        if across <= 0:
            raise ValueError("a suppression resistor has ohms")
        seconds = henry / (coil_ohm_ + across) * log(supply_V / drop_out_V)
    else:
        clamp = DIODE_V + (across if suppression == "zener" else 0.0)
        seconds = henry / coil_ohm_ * log((supply_V + clamp) / (drop_out_V + clamp))
    return MECHANICAL_MS + 1000 * seconds


def contact_limit_A(contact_A: float, pin: str) -> float:
    """Give what a relay's contact carries at a pin.

    Parameters
    ----------
    contact_A : float
        Rating of the working contact, above 0.
    pin : str
        ``30``, ``87`` or ``87a``.

    Returns
    -------
    float
        Amperes; the resting contact 87a carries three quarters.

    Raises
    ------
    ValueError
        For another pin or a rating not above 0.

    Source: relay application note (30 A normally closed, 40 A normally open).

    >>> contact_limit_A(40, "87a")
    30.0
    """
    if contact_A <= 0:
        raise ValueError("a contact's rating is above zero")
    if pin not in ("30", "87", "87a"):
        raise ValueError(f"a relay's contacts are 30, 87 and 87a, not {pin!r}")
    return contact_A * (NORMALLY_CLOSED_SHARE if pin == "87a" else 1.0)


@cache
def inrush(function: str) -> tuple[float, float]:
    """Give how many times its steady current a load draws when switched on, and how long.

    Parameters
    ----------
    function : str
        Function of the circuit in the words of this package; unknown ones count as 1.

    Returns
    -------
    tuple of float
        Factor, seconds.

    Source: common practice, no source (cold lamp filaments about ten times, motors three to six).

    >>> inrush("parking_light")
    (10.0, 0.1)
    """
    for r in rows("inrush"):
        if r["function"] == function:
            return float(r["factor"]), float(r["seconds"])
    return 1.0, 0.0
