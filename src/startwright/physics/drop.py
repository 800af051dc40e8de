"""Voltage drop along a wire, by the handbooks' formulas."""

from __future__ import annotations

from math import sqrt

from startwright.physics.wire import SIZES_MM2, resistance_ohm
from startwright.reference.conductors import MM2_PER_CMIL

K_OHM_CMIL_FT = 10.75
"""Constant of the marine drop formula: copper at about 29 °C."""
CRITICAL_SHARE = 0.03
"""Largest drop of circuits that matter (ABYC E-11)."""
LESS_CRITICAL_SHARE = 0.10
METRES_PER_FOOT = 0.3048


def drop_V(current_A: float, ohm_per_m: float, length_m: float) -> float:
    """Give the drop along a length of wire.

    Parameters
    ----------
    current_A, ohm_per_m, length_m : float
        0 and more; the length is the conductor's, out and back where both carry the current.

    Returns
    -------
    float
        Volts.

    Raises
    ------
    ValueError
        For a negative value.

    Source: FAA AC 43.13-1B, par. 11-66 with Table 11-8 (107 ft of 0.00044 ohm/ft at 20 A: 0.942 V).

    >>> round(drop_V(20, 0.00044 / 0.3048, 107 * 0.3048), 3)
    0.942
    """
    if min(current_A, ohm_per_m, length_m) < 0:
        raise ValueError("current, resistance and length are not negative")
    return current_A * ohm_per_m * length_m


def cmil_for_drop(current_A: float, length_out_and_back_ft: float, allowed_V: float) -> float:
    """Give the copper area a drop asks for, in circular mils.

    Parameters
    ----------
    current_A, length_out_and_back_ft : float
        0 and more.
    allowed_V : float
        Above 0 V.

    Returns
    -------
    float
        Circular mils.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: ABYC E-11 (11.14.2.6 in the edition quoted): CM = 10.75 I L / E. Worked there: a 10 A
    pump, 21 ft out and back, 3 % of 12 V.

    >>> round(cmil_for_drop(10, 21, 0.36), 1)
    6270.8
    """
    if current_A < 0 or length_out_and_back_ft < 0 or allowed_V <= 0:
        raise ValueError("current and length are not negative, the allowed drop is above 0 V")
    return K_OHM_CMIL_FT * current_A * length_out_and_back_ft / allowed_V


def mm2_for_drop(current_A: float, length_out_and_back_m: float, allowed_V: float) -> float:
    """Give the copper area a drop asks for.

    As `cmil_for_drop` in metres and square millimetres.

    Source: ABYC E-11 (11.14.2.6 in the edition quoted).

    >>> round(mm2_for_drop(10, 21 * 0.3048, 0.36), 2)
    3.18
    """
    feet = length_out_and_back_m / METRES_PER_FOOT
    return cmil_for_drop(current_A, feet, allowed_V) * MM2_PER_CMIL


def size_for_drop_mm2(
    current_A: float, length_m: float, allowed_V: float, temperature_C: float = 20.0
) -> float:
    """Choose the thinnest metric size whose drop stays within what is allowed.

    Parameters
    ----------
    current_A : float
        0 A and more.
    length_m : float
        Of the conductor that carries it, 0 and more.
    allowed_V : float
        Above 0 V.
    temperature_C : float
        Of the copper.

    Returns
    -------
    float
        One of `startwright.physics.wire.SIZES_MM2`.

    Raises
    ------
    ValueError
        Where even 25 mm² drops more, or outside the ranges.

    Source: largest resistances of IEC 60228 class 5 and ISO 6722-1.

    >>> size_for_drop_mm2(10, 6.4, 0.36)
    4.0
    """
    if current_A < 0 or allowed_V <= 0:
        raise ValueError("a current is not negative, the allowed drop is above 0 V")
    for size in SIZES_MM2:
        if current_A * resistance_ohm(size, length_m, temperature_C) <= allowed_V:
            return size
    raise ValueError(
        f"{current_A:g} A over {length_m:g} m drops more than {allowed_V:g} V even in 25 mm²: "
        "bring the source nearer"
    )


def faa_temperature_C(ambient_C: float, rating_C: float, current_A: float, most_A: float) -> float:
    """Estimate a loaded wire's temperature the handbook's cautious way.

    Parameters
    ----------
    ambient_C, rating_C : float
        The rating above the ambient.
    current_A, most_A : float
        The current, and the largest allowed; 0 to `most_A`.

    Returns
    -------
    float
        °C; above the physical law, which goes with the square of the current.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: FAA AC 43.13-1B, par. 11-66: T2 = T1 + (TR - T1) √(I2 / Imax) (formula from memory).

    >>> faa_temperature_C(30, 105, 5, 20)
    67.5
    """
    if not ambient_C < rating_C or most_A <= 0 or not 0 <= current_A <= most_A:
        raise ValueError("the rating lies above the ambient, the current between 0 and the most")
    return ambient_C + (rating_C - ambient_C) * sqrt(current_A / most_A)


def faa_length_m(length_at_20C_m: float, temperature_C: float) -> float:
    """Shorten the length allowed at 20 °C to that at the copper's temperature.

    Raises `ValueError` for a negative length or at and below -234.5 °C.

    Source: FAA AC 43.13-1B, par. 11-66: L2 = 254.5 L1 / (234.5 + T2).

    >>> round(faa_length_m(10, 62), 2)
    8.58
    """
    if length_at_20C_m < 0 or temperature_C <= -234.5:
        raise ValueError("a length is not negative, copper is above its zero point")
    return 254.5 * length_at_20C_m / (234.5 + temperature_C)
