"""Fuse against wire in a short: prospective current, heat let through, fusing currents."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log, log10, sqrt

from startwright.physics.fuse import opening_time_s
from startwright.physics.wire import ZERO_RESISTANCE_C
from startwright.reference.conductors import MM2_PER_CMIL
from startwright.reference.fuses import BREAKING_A, Kind

MATERIAL_K = 226.0
"""Copper's constant in the adiabatic factor, A s^0.5/mm² (IEC 60949)."""
ADIABATIC_MOST_S = 5.0
MELTING_C = 1083.0


@dataclass(frozen=True)
class Short:
    """A dead short at the far end of a wire: what flows, who gives way first."""

    current_A: float
    clears_s: float
    survives_s: float
    holds: bool
    says: str


def prospective_A(source_V: float, ohm: float) -> float:
    """Give the current a dead short draws.

    Parameters
    ----------
    source_V : float
        Open-circuit voltage, above 0 V.
    ohm : float
        Everything in the loop: battery, wires both ways, fuse, contacts; above 0.

    Returns
    -------
    float
        Amperes.

    Raises
    ------
    ValueError
        For values not above 0.

    Source: Ohm's law; battery resistance from `startwright.physics.battery.internal_ohm`.

    >>> prospective_A(12.6, 0.03)
    420.0
    """
    if source_V <= 0 or ohm <= 0:
        raise ValueError("a short needs a source and a loop above zero")
    return round(source_V / ohm, 9)


def adiabatic_k(initial_C: float, final_C: float) -> float:
    """Give the adiabatic factor of a copper conductor.

    Parameters
    ----------
    initial_C, final_C : float
        Conductor temperature before and at the end, -40 to 1083 °C, rising.

    Returns
    -------
    float
        A s^0.5 / mm²; valid for shorts up to 5 s.

    Raises
    ------
    ValueError
        Where the temperatures do not rise or lie outside.

    Source: IEC 60364-5-54 Annex A / IEC 60949: 226 √ln((234.5 + Tf) / (234.5 + Ti)).

    >>> round(adiabatic_k(70, 160))
    115
    """
    if not -40 <= initial_C < final_C <= MELTING_C:
        raise ValueError(
            f"a short heats: {initial_C:g} to {final_C:g} °C is not within -40 to 1083"
        )
    return MATERIAL_K * sqrt(log((final_C - ZERO_RESISTANCE_C) / (initial_C - ZERO_RESISTANCE_C)))


def final_C(insulation_C: float) -> float:
    """Give the temperature a short may bring the insulation to.

    Parameters
    ----------
    insulation_C : float
        Rating, 60 to 250 °C: PVC up to 105, cross-linked up to 150, silicone and the like above.

    Returns
    -------
    float
        160, 250 or 350 °C.

    Raises
    ------
    ValueError
        Outside the range.

    Source: IEC 60364-5-54 Table A.54 (PVC 160, cross-linked 250, silicone 350 °C).

    >>> final_C(105), final_C(125)
    (160.0, 250.0)
    """
    if not 60 <= insulation_C <= 250:
        raise ValueError(f"insulation is rated 60 to 250 °C here, not {insulation_C:g}")
    return 160.0 if insulation_C <= 105 else 250.0 if insulation_C <= 150 else 350.0


def withstand_s(size_mm2: float, current_A: float, k: float) -> float:
    """Give how long a wire stands a short before its insulation is spoilt.

    Parameters
    ----------
    size_mm2, current_A : float
        Above 0.
    k : float
        Adiabatic factor, A s^0.5/mm².

    Returns
    -------
    float
        Seconds: (k S / I)². Beyond 5 s heat is lost meanwhile and the figure is on the safe side.

    Raises
    ------
    ValueError
        For values not above 0.

    Source: IEC 60364-4-43 clause 434.5.2 / 60364-5-54 clause 543.1.2.

    >>> round(withstand_s(2.5, 287.5, 115), 3)
    1.0
    """
    if min(size_mm2, current_A, k) <= 0:
        raise ValueError("size, current and factor are above zero")
    return (k * size_mm2 / current_A) ** 2


def withstand_A(size_mm2: float, seconds: float, k: float) -> float:
    """Give the short current a wire stands for a time.

    Arguments as `withstand_s`, the time above 0 and up to 5 s; returns amperes; `ValueError`
    outside.

    Source: IEC 60364-5-54 clause 543.1.2: k S / √t.

    >>> withstand_A(1.5, 1, 115)
    172.5
    """
    if not 0 < seconds <= ADIABATIC_MOST_S:
        raise ValueError(f"the adiabatic rule holds up to 5 s, not {seconds:g} s")
    if min(size_mm2, k) <= 0:
        raise ValueError("size and factor are above zero")
    return k * size_mm2 / sqrt(seconds)


def preece_A(diameter_mm: float) -> float:
    """Give the current at which a bare copper wire in air melts in about ten seconds.

    Parameters
    ----------
    diameter_mm : float
        0.02 to 12 mm.

    Returns
    -------
    float
        Amperes.

    Raises
    ------
    ValueError
        Outside the range.

    Source: W. H. Preece (1884), 10244 d^1.5 with d in inches.

    >>> round(preece_A(0.0524 * 25.4))
    123
    """
    if not 0.02 <= diameter_mm <= 12:
        raise ValueError(f"Preece's rule is used from 0.02 to 12 mm, not {diameter_mm:g}")
    return float(10244.0 * (diameter_mm / 25.4) ** 1.5)


def onderdonk_A(size_mm2: float, seconds: float, ambient_C: float = 25.0) -> float:
    """Give the current that melts a copper wire in a time, no heat lost.

    Parameters
    ----------
    size_mm2 : float
        Above 0.
    seconds : float
        Above 0, up to 10 s.
    ambient_C : float
        -40 to 200 °C.

    Returns
    -------
    float
        Amperes.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: I. M. Onderdonk: cmil √(log10(1 + (1083 - Ta)/(234 + Ta)) / (33 t)); the sign of Ta is
    the one that reproduces the published tables.

    >>> round(onderdonk_A(2581 * 0.0254**2 * 0.785398, 5), 1)
    168.9
    """
    if size_mm2 <= 0 or not 0 < seconds <= 10 or not -40 <= ambient_C <= 200:
        raise ValueError("Onderdonk's rule wants a size, up to 10 s and -40 to 200 °C around")
    return (
        size_mm2
        / MM2_PER_CMIL
        * sqrt(log10(1 + (MELTING_C - ambient_C) / (234.0 + ambient_C)) / (33.0 * seconds))
    )


def dead_short(
    rating_A: float,
    size_mm2: float,
    current_A: float,
    insulation_C: float = 105.0,
    before_C: float | None = None,
    kind: Kind | None = None,
) -> Short:
    """Say whether a fuse clears a dead short before the wire's insulation is spoilt.

    Parameters
    ----------
    rating_A : float
        Fuse, 1 to 100 A.
    size_mm2 : float
        Smallest wire behind it.
    current_A : float
        Prospective current, above 0 A.
    insulation_C : float
        60 to 250 °C.
    before_C : float, optional
        Conductor temperature when it happens; the insulation's rating where not said.
    kind : str, optional
        As `startwright.physics.fuse.opening_time_s`.

    Returns
    -------
    Short
        `clears_s` is the latest opening time, infinite where no standard promises one.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: ISO 8820-3 / SAE J1284 gates against IEC 60364-5-54 clause 543.1.2.

    >>> dead_short(15, 1.5, 400).holds
    True
    """
    if current_A <= 0:
        raise ValueError("a short draws a current above zero")
    end = final_C(insulation_C)
    start = min(insulation_C if before_C is None else before_C, end - 1)
    stands = withstand_s(size_mm2, current_A, adiabatic_k(start, end))
    if current_A > BREAKING_A:
        return Short(
            current_A,
            inf,
            stands,
            False,
            f"a short draws {current_A:.0f} A, more than a blade fuse must break "
            f"({BREAKING_A:.0f} A): fit a fuse with a higher breaking capacity or a longer lead",
        )
    clears = opening_time_s(rating_A, current_A, kind)[1]
    if clears == inf:
        return Short(
            current_A,
            inf,
            stands,
            False,
            f"a short draws only {current_A:.0f} A, less than the {rating_A:g} A fuse must open "
            "at (135 %): a smaller fuse or a thicker wire",
        )
    holds = clears <= stands
    if holds:
        says = (
            f"a short draws {current_A:.0f} A; gone in {clears:.2g} s, wire stands {stands:.2g} s"
        )
    else:
        says = (
            f"a short draws {current_A:.0f} A; the fuse may take {clears:.2g} s, the wire stands "
            f"{stands:.2g} s: a smaller fuse or a thicker wire"
        )
    return Short(current_A, clears, stands, holds, says)
