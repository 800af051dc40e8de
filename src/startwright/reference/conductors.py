"""Conductor sizes, areas, resistances and insulation classes as published."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from startwright.reference.tables import number, rows

MM2_PER_CMIL = 0.0254**2 * 3.141592653589793 / 4
"""Square millimetres in a circular mil: the area of a circle 0.001 in wide."""

Standard = Literal["iso6722", "iec60228", "vde0295"]


@dataclass(frozen=True)
class SaeSize:
    """One conductor size of SAE primary cable: smallest area, metric name, outside diameter."""

    awg: str
    minimum_mm2: float | None
    nominal_mm2: float
    outside_mm: float | None


def awg_number(awg: str | int) -> int:
    """Turn an AWG size as written into its number; 1/0 is 0, 4/0 is -3.

    Parameters
    ----------
    awg : str or int
        ``18``, ``"18"``, ``"0"``, ``"1/0"``, ``"00"``, ``"2/0"`` … ``"0000"``, ``"4/0"``; -3 to 40.

    Returns
    -------
    int
        The gauge number in the progression of the standard.

    Raises
    ------
    ValueError
        Where it is no AWG size between 4/0 and 40.

    Source: ASTM B258-18, section 5 (numbering of the American Wire Gauge).

    >>> awg_number("4/0"), awg_number("00"), awg_number(18)
    (-3, -1, 18)
    """
    text = str(awg).strip().upper().removesuffix("AWG").strip()
    if text.endswith("/0") and text[:-2].isdigit():
        value = 1 - int(text[:-2])
    elif text and set(text) == {"0"}:
        value = 1 - len(text)
    else:
        try:
            value = int(text)
        except ValueError:
            raise ValueError(
                f"{awg!r} is no AWG size; it is a number from 40 to 1, or 1/0 to 4/0"
            ) from None
    if not -3 <= value <= 40:
        raise ValueError(f"AWG sizes go from 4/0 to 40; {awg!r} lies outside")
    return value


def awg_name(number_: int) -> str:
    """Write a gauge number as the trade does (0 and below as 1/0 … 4/0).

    Source: ASTM B258-18, section 5 (numbering of the American Wire Gauge).

    >>> awg_name(-3), awg_name(12)
    ('4/0', '12')
    """
    return f"{1 - number_}/0" if number_ <= 0 else str(number_)


@cache
def max_ohm_per_km(standard: Standard) -> tuple[tuple[float, float], ...]:
    """Give the largest resistance of flexible plain-copper conductors at 20 °C by size.

    Parameters
    ----------
    standard : str
        ``iso6722`` (road-vehicle cable, 0.22-25 mm²), ``iec60228`` (class 5, 0.5-120 mm²) or
        ``vde0295`` (fine wire, 0.14-0.34 mm²).

    Returns
    -------
    tuple of (size_mm2, ohm_per_km)
        In rising order of size.

    Raises
    ------
    ValueError
        For another standard.

    Source: ISO 6722-1:2011 Table of conductors (from memory); IEC 60228:2004 Table 3, class 5;
    DIN VDE 0295.

    >>> dict(max_ohm_per_km("iec60228"))[1.0]
    19.5
    """
    found = [
        (float(r["size_mm2"]), float(r["plain_ohm_km"]))
        for r in rows("conductor_resistance")
        if r["standard"] == standard
    ]
    if not found:
        raise ValueError(f"no conductor table {standard!r}; iso6722, iec60228 or vde0295")
    return tuple(sorted(found))


@cache
def tinned_max_ohm_per_km(size_mm2: float) -> float:
    """Give the largest resistance of a tinned class 5 conductor at 20 °C.

    Raises `ValueError` for a size that the table does not list (0.5-120 mm²).

    Source: IEC 60228:2004 Table 3, class 5, metal-coated wires.

    >>> tinned_max_ohm_per_km(2.5)
    8.21
    """
    for r in rows("conductor_resistance"):
        value = number(r["tinned_ohm_km"])
        if value is not None and float(r["size_mm2"]) == size_mm2:
            return value
    raise ValueError(f"the tinned column does not list {size_mm2} mm²")


@cache
def sae_sizes() -> tuple[SaeSize, ...]:
    """Give the conductor sizes of SAE primary cable, thin to thick.

    SAE wire is 6-12 % smaller than AWG wire of the same number.

    Source: SAE J1127/J1128 conductor sizes as printed with ABYC E-11; outside diameters of GXL
    cable from a supplier's sheet to SAE J1128.

    >>> [s.awg for s in sae_sizes()][:3]
    ['24', '22', '20']
    """
    out = []
    for r in rows("sae_sizes"):
        cmil = number(r["minimum_cmil"])
        out.append(
            SaeSize(
                awg_name(awg_number(r["awg"])),
                None if cmil is None else cmil * MM2_PER_CMIL,
                float(r["nominal_mm2"]),
                number(r["gxl_outside_mm"]),
            )
        )
    return tuple(sorted(out, key=lambda s: s.nominal_mm2))


@cache
def stranded_ohm_per_kft_75C(awg: str | int) -> float:
    """Give the table resistance of uncoated stranded copper at 75 °C, ohm per 1000 ft.

    Raises `ValueError` for a size that the table does not list (18 to 4/0).

    Source: NFPA 70 (NEC) Chapter 9, Table 8, stranded column.

    >>> stranded_ohm_per_kft_75C(12)
    1.98
    """
    for r in rows("stranded_factor"):
        if awg_number(r["awg"]) == awg_number(awg):
            return float(r["ohm_kft_75C"])
    raise ValueError(f"the table does not list AWG {awg}")


@cache
def insulation_range_C(name: str) -> tuple[float, float]:
    """Give the ambient range of a cable class (A-H) or cable type (GPT, TXL …).

    Parameters
    ----------
    name : str
        A class of ISO 6722-1 or a type of SAE J1128.

    Returns
    -------
    tuple of float
        Lowest and highest temperature, °C.

    Raises
    ------
    ValueError
        For an unknown class.

    Source: ISO 6722-1 temperature classes (read in a standard that uses the same eight);
    SAE J1128:2020.

    >>> insulation_range_C("C")
    (-40.0, 125.0)
    """
    for r in rows("insulation"):
        if r["class"] == name.strip().upper():
            return float(r["from_C"]), float(r["to_C"])
    raise ValueError(f"no insulation class {name!r}; A to H, or {', '.join(insulation_types())}")


@cache
def insulation_types() -> tuple[str, ...]:
    """List the primary cable types there are.

    Source: SAE J1128:2020.

    >>> "TXL" in insulation_types()
    True
    """
    return tuple(r["class"] for r in rows("insulation") if r["scheme"] == "primary")


@cache
def aircraft_wire(awg: str | int) -> tuple[float, float, float]:
    """Give bundled amperes, ohm per 1000 ft and circular mils of tin-plated aircraft wire.

    The amperes hold for 105 °C wire in bundles of 33 and more at 70 °C and 60 000 ft (9 wires for
    size 8): a lower bound in a car. `ValueError` for a size not listed.

    Source: FAA AC 43.13-1B, Table 11-9.

    >>> aircraft_wire(22)
    (3.0, 16.2, 755.0)
    """
    for r in rows("aircraft_wire"):
        if awg_number(r["awg"]) == awg_number(awg):
            return float(r["bundled_A"]), float(r["ohm_kft"]), float(r["cmil"])
    raise ValueError(f"Table 11-9 as carried here does not list AWG {awg}")
