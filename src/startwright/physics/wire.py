"""Copper wire: area, resistance, names, allowable amperes."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import log, pi, sqrt
from typing import Literal

from startwright.reference.ampacities import (
    COLUMNS_C,
    ampacity_sizes,
    bundle_factor,
    engine_space_factor,
    table_ampacity_A,
)
from startwright.reference.conductors import (
    awg_name,
    awg_number,
    max_ohm_per_km,
    sae_sizes,
)

RESISTIVITY_OHM_MM2_PER_M = 0.017241
"""Volume resistivity of 100 % IACS annealed copper at 20 °C (NBS Handbook 100)."""
ZERO_RESISTANCE_C = -234.5
"""Inferred zero-resistance temperature of copper (FAA AC 43.13-1B, par. 11-66)."""
STRAND_FACTOR = 1.02
"""Stranded over solid (NFPA 70 Chapter 9 Table 8: 2 % to two figures)."""
SIZES_MM2 = (0.35, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0)
"""Metric sizes a fitter buys (ISO 6722-1 nominal sizes)."""
RANGE_MM2 = (0.1, 120.0)
RANGE_C = (-65.0, 260.0)

Standard = Literal["cautious", "iso6722", "iec60228"]


def _size(size_mm2: float) -> float:
    low, high = RANGE_MM2
    if not low <= size_mm2 <= high:
        raise ValueError(f"wire sizes go from {low:g} to {high:g} mm² here, not {size_mm2:g} mm²")
    return size_mm2


def copper_factor(temperature_C: float) -> float:
    """Give the resistance of copper at a temperature over that at 20 °C.

    Parameters
    ----------
    temperature_C : float
        -65 to 260 °C.

    Returns
    -------
    float
        (234.5 + t) / 254.5.

    Raises
    ------
    ValueError
        Outside the range.

    Source: FAA AC 43.13-1B, par. 11-66; NFPA 70 Chapter 9 Table 8 note 2 gives the same.

    >>> round(copper_factor(75), 3)
    1.216
    """
    low, high = RANGE_C
    if not low <= temperature_C <= high:
        raise ValueError(f"copper's line holds from {low:g} to {high:g} °C, not {temperature_C:g}")
    return (temperature_C - ZERO_RESISTANCE_C) / (20.0 - ZERO_RESISTANCE_C)


def awg_diameter_mm(awg: str | int) -> float:
    """Give the diameter of a solid conductor of an AWG size.

    Parameters
    ----------
    awg : str or int
        4/0 to 40.

    Returns
    -------
    float
        Millimetres.

    Raises
    ------
    ValueError
        For a size outside.

    Source: ASTM B258-18, section 5: 0.005 in x 92^((36 - n)/39).

    >>> round(awg_diameter_mm(10), 3)
    2.588
    """
    return 0.127 * float(92.0 ** ((36 - awg_number(awg)) / 39.0))


def awg_to_mm2(awg: str | int, standard: Literal["astm", "sae"] = "astm") -> float:
    """Give the copper area of an AWG size.

    Parameters
    ----------
    awg : str or int
        4/0 to 40.
    standard : str
        ``astm`` for AWG proper, ``sae`` for what automotive cable of that number holds at least
        (18 to 4/0; 6-12 % less).

    Returns
    -------
    float
        Square millimetres.

    Raises
    ------
    ValueError
        For a size the standard does not have.

    Source: ASTM B258-18, section 5; SAE J1127/J1128 minimum areas.

    >>> round(awg_to_mm2(18), 3), round(awg_to_mm2(18, "sae"), 3)
    (0.823, 0.779)
    """
    if standard == "astm":
        return pi / 4 * awg_diameter_mm(awg) ** 2
    for size in sae_sizes():
        if size.awg == awg_name(awg_number(awg)) and size.minimum_mm2 is not None:
            return size.minimum_mm2
    raise ValueError(f"the SAE table as carried here has no AWG {awg}; it goes from 18 to 4/0")


def mm2_to_awg_label(size_mm2: float) -> str:
    """Name the AWG wire to buy for an area: the thinnest SAE size not thinner than it.

    Parameters
    ----------
    size_mm2 : float
        0.1 to 120 mm²; an exact AWG area (within 1 %) keeps its own number.

    Returns
    -------
    str
        ``"16 AWG"``, ``"2/0 AWG"``.

    Raises
    ------
    ValueError
        Outside the sizes there are.

    Source: ASTM B258-18, section 5; SAE J1128 metric and AWG sizes.

    >>> mm2_to_awg_label(1.0), mm2_to_awg_label(1.5), mm2_to_awg_label(0.823)
    ('16 AWG', '14 AWG', '18 AWG')
    """
    _size(size_mm2)
    nearest = round(36 - 39 * log(sqrt(4 * size_mm2 / pi) / 0.127) / log(92.0))
    if -3 <= nearest <= 40 and abs(awg_to_mm2(nearest) / size_mm2 - 1) < 0.01:
        return f"{awg_name(nearest)} AWG"
    for size in sae_sizes():
        if size.nominal_mm2 >= size_mm2 * (1 - 1e-9):
            return f"{size.awg} AWG"
    raise ValueError(f"no AWG size is as large as {size_mm2:g} mm²; 4/0 AWG holds about 103 mm²")


def awg_or_none(size_mm2: float) -> str | None:
    """`mm2_to_awg_label`; None where no AWG wire is so thick, or the size is none.

    Source: ASTM B258-18; SAE J1128.

    >>> awg_or_none(2.5), awg_or_none(113)
    ('12 AWG', None)
    """
    try:
        return mm2_to_awg_label(size_mm2)
    except ValueError:
        return None


def outside_mm(size_mm2: float) -> float:
    """Give the outside diameter of thin-wall primary cable.

    Parameters
    ----------
    size_mm2 : float
        0.1 to 120 mm²; checked from 0.5 to 8 mm², carried on outside.

    Returns
    -------
    float
        Millimetres: 1.3 + 1.6 √size, the line through the sheet's sizes, within 6 %.

    Raises
    ------
    ValueError
        Outside the range.

    Source: supplier's sheet of GXL cable to SAE J1128.

    >>> round(outside_mm(3.0), 1)
    4.1
    """
    return 1.3 + 1.6 * sqrt(_size(size_mm2))


def solid_ohm_per_m(size_mm2: float, temperature_C: float = 20.0, strands: int = 1) -> float:
    """Give the resistance of annealed copper by its true area, as wire tables print it.

    Parameters
    ----------
    size_mm2 : float
        True copper area, 0.0001 to 120 mm².
    temperature_C : float
        -65 to 260 °C.
    strands : int
        1 for solid; more adds 2 % for the lay of the strands.

    Returns
    -------
    float
        Ohm per metre.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: NBS Handbook 100 (IACS, 0.017241 ohm mm²/m at 20 °C); NFPA 70 Chapter 9 Table 8.

    >>> round(1000 * solid_ohm_per_m(awg_to_mm2(10)), 3)
    3.277
    """
    if not 1e-4 <= size_mm2 <= RANGE_MM2[1]:
        raise ValueError(f"copper areas go from 0.0001 to 120 mm² here, not {size_mm2:g}")
    if strands < 1:
        raise ValueError(f"a conductor has at least one strand, not {strands}")
    lay = 1.0 if strands == 1 else STRAND_FACTOR
    return RESISTIVITY_OHM_MM2_PER_M * lay * copper_factor(temperature_C) / size_mm2


def _effective(table: tuple[tuple[float, float], ...], size_mm2: float) -> float | None:
    """Resistance times size (ohm mm²/km) between listed sizes; None where the table is silent."""
    if not table[0][0] <= size_mm2 <= table[-1][0]:
        return None
    for (a0, r0), (a1, r1) in pairwise(table):
        if a0 <= size_mm2 <= a1:
            w = (log(size_mm2) - log(a0)) / (log(a1) - log(a0))
            return r0 * a0 * (1 - w) + r1 * a1 * w
    return None


@lru_cache(maxsize=4096)
def ohm_per_m(
    size_mm2: float, temperature_C: float = 20.0, standard: Standard = "cautious"
) -> float:
    """Give the largest resistance that flexible copper cable of a nominal size may have.

    Parameters
    ----------
    size_mm2 : float
        Nominal size, 0.1 to 120 mm²; between listed sizes by resistivity.
    temperature_C : float
        -65 to 260 °C.
    standard : str
        ``iso6722``, ``iec60228``, or ``cautious``: the larger of the two where both speak.

    Returns
    -------
    float
        Ohm per metre.

    Raises
    ------
    ValueError
        Outside the ranges, or for a size the named standard does not list.

    Source: IEC 60228:2004 Table 3 class 5; ISO 6722-1:2011 (from memory); DIN VDE 0295 below
    0.5 mm². Temperature by FAA AC 43.13-1B par. 11-66.

    >>> round(1000 * ohm_per_m(1.0), 2), round(1000 * ohm_per_m(1.0, standard="iso6722"), 2)
    (19.5, 18.5)
    """
    _size(size_mm2)
    if standard == "cautious":
        tables = [max_ohm_per_km(s) for s in ("iso6722", "iec60228", "vde0295")]
        clamped = max(size_mm2, 0.14)
        found = [v for v in (_effective(t, clamped) for t in tables) if v is not None]
        per_km = max(found) / size_mm2
    else:
        value = _effective(max_ohm_per_km(standard), size_mm2)
        if value is None:
            raise ValueError(f"{standard} does not list {size_mm2:g} mm²")
        per_km = value / size_mm2
    return per_km / 1000 * copper_factor(temperature_C)


def resistance_ohm(size_mm2: float, length_m: float, temperature_C: float = 20.0) -> float:
    """Give the largest resistance a length of flexible copper cable may have.

    Parameters
    ----------
    size_mm2 : float
        Nominal size, 0.1 to 120 mm².
    length_m : float
        Length of the conductor, one way; 0 or more.
    temperature_C : float
        Of the conductor, -65 to 260 °C.

    Returns
    -------
    float
        Ohms.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: IEC 60228:2004 Table 3 class 5, the cautious one where ISO 6722-1 allows less.

    >>> round(resistance_ohm(2.5, 10), 4)
    0.0798
    """
    if length_m < 0:
        raise ValueError(f"a length is not negative: {length_m:g} m")
    return ohm_per_m(size_mm2, temperature_C) * length_m


def ambient_factor(insulation_C: float, ambient_C: float) -> float:
    """Give the factor on a 30 °C ampacity at another ambient temperature.

    Parameters
    ----------
    insulation_C : float
        Rating of the insulation, above 30 °C.
    ambient_C : float
        -40 °C up to below the rating.

    Returns
    -------
    float
        √((Tc - Ta) / (Tc - 30)); from 50 °C no more than the engine-space note allows.

    Raises
    ------
    ValueError
        Where the ambient is as hot as the insulation may get, or below -40 °C.

    Source: NFPA 70 (NEC) Table 310.15(B)(2)(a) (equals the root to two decimals); 33 CFR 183.425
    Table 5 note 1 from 50 °C.

    >>> round(ambient_factor(90, 60), 2), round(ambient_factor(105, 50), 3)
    (0.71, 0.85)
    """
    if not -40 <= ambient_C < insulation_C:
        raise ValueError(
            f"at {ambient_C:g} °C around it, wire rated {insulation_C:g} °C carries nothing; "
            f"the ambient lies between -40 and below {insulation_C:g} °C"
        )
    if insulation_C <= 30:
        raise ValueError(f"insulation is rated above 30 °C, not {insulation_C:g}")
    factor = sqrt((insulation_C - ambient_C) / (insulation_C - 30.0))
    if ambient_C >= 50 and COLUMNS_C[0] <= insulation_C <= COLUMNS_C[-1]:
        note = engine_space_factor(insulation_C)
        factor = min(factor, note * sqrt((insulation_C - ambient_C) / (insulation_C - 50.0)))
    return factor


def _table_ampacity_A(size_mm2: float, column: int) -> float:
    areas = [(awg_to_mm2(n), table_ampacity_A(n, column)) for n in ampacity_sizes()]
    if size_mm2 <= areas[0][0]:
        return areas[0][1] * size_mm2 / areas[0][0]
    if size_mm2 > areas[-1][0] * 1.0001:
        raise ValueError(f"the ampacity table ends at 4/0 AWG ({areas[-1][0]:.0f} mm²)")
    for (a0, i0), (a1, i1) in pairwise(areas):
        if size_mm2 <= a1:
            return i0 + (i1 - i0) * (size_mm2 - a0) / (a1 - a0)
    return areas[-1][1]


@lru_cache(maxsize=4096)
def ampacity_A(
    size_mm2: float, insulation_C: float = 105, ambient_C: float = 30, bundled: int = 1
) -> float:
    """Give the current a wire may carry for good.

    Parameters
    ----------
    size_mm2 : float
        True copper area, 0.1 to 107 mm²; between AWG sizes by the chord (below the curve), below
        18 AWG at 18 AWG's current per area.
    insulation_C : float
        Rating of the insulation, 60 °C and more; between columns by the chord, above 200 as 200.
    ambient_C : float
        Around the wire; -40 °C up to below the rating. Colder than 30 °C earns nothing.
    bundled : int
        Current-carrying wires lying together, this one included.

    Returns
    -------
    float
        Amperes.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: 33 CFR 183.425 Table 5 with notes 1 and 2 (ABYC E-11); NEC Table 310.15(B)(2)(a).

    >>> round(ampacity_A(awg_to_mm2(16), 105, 50, 3), 1)
    14.9
    """
    _size(size_mm2)
    if insulation_C < COLUMNS_C[0]:
        raise ValueError(f"the ampacity table starts at 60 °C insulation, not {insulation_C:g}")
    rating = min(float(insulation_C), float(COLUMNS_C[-1]))
    base = 0.0
    for c0, c1 in pairwise(COLUMNS_C):
        if c0 <= rating <= c1:
            i0, i1 = _table_ampacity_A(size_mm2, c0), _table_ampacity_A(size_mm2, c1)
            base = i0 + (i1 - i0) * (rating - c0) / (c1 - c0)
            break
    return base * min(1.0, ambient_factor(rating, ambient_C)) * bundle_factor(bundled)


def temperature_C(
    current_A: float,
    size_mm2: float,
    ambient_C: float = 30.0,
    insulation_C: float = 105.0,
    bundled: int = 1,
) -> float:
    """Give the steady temperature of a wire's copper by heat balance.

    Parameters
    ----------
    current_A : float
        0 A and more.
    size_mm2 : float
        0.1 to 120 mm².
    ambient_C : float
        Air around the wire or bundle, -40 to 150 °C.
    insulation_C : float
        Rating, used only to choose the resistivity of the insulation to heat.
    bundled : int
        Current-carrying wires lying together.

    Returns
    -------
    float
        °C.

    Raises
    ------
    ValueError
        Outside the ranges, or where the balance lies above 400 °C (the insulation burns).

    Source: Churchill and Chu (1975) and Stefan-Boltzmann, see `startwright.physics.heat`.

    >>> temperature_C(0.0, 1.0)
    30.0
    """
    from startwright.physics.heat import steady_temperature_C

    return steady_temperature_C(current_A, size_mm2, ambient_C, insulation_C, bundled)
