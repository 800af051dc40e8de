"""One question alone: a wire and a fuse for these amps over this length; and their curves."""

from __future__ import annotations

from math import exp, inf, log, pi, sqrt
from typing import Any

from startwright.physics.drop import CRITICAL_SHARE, size_for_drop_mm2
from startwright.physics.fuse import CONTINUOUS_SHARE, opening_time_s
from startwright.physics.heat import balance_ampacity_A
from startwright.physics.short import adiabatic_k, final_C, withstand_s
from startwright.physics.wire import (
    SIZES_MM2,
    ampacity_A,
    awg_or_none,
    outside_mm,
    resistance_ohm,
    temperature_C,
)
from startwright.records.errors import RecordError
from startwright.reference.fuses import BREAKING_A, ratings
from startwright.size.runs import next_size_mm2

SYSTEM_V = 12.0
"""A share of drop is reckoned on 12 V, as ABYC E-11 does; on 14.4 V it would allow a fifth more."""
INSULATION_C = (60.0, 250.0)
COLDEST_C = -40.0
SHARES = (1.1, 1.2, 1.35, 1.6, 1.8, 2.0, 2.5, 3.0, 3.5, 4.5, 6.0, 8.0, 12.0, 20.0)
WARM_C = 70.0
SLOWEST_S = 7200.0
SOAK_S = 5.0
"""Up to this a short is adiabatic (IEC 60364-5-54); the wall soaks after."""
COPPER_MJ_M3K, PVC_MJ_M3K = 3.45, 1.7
"""Volumetric heat capacities (IEC 60853-2, from memory)."""


def single(
    load_A: float,
    length_m: float,
    *,
    max_drop_share: float = CRITICAL_SHARE,
    insulation_C: float = 105.0,
    ambient_C: float = 30.0,
    bundled: int = 1,
    fuse: bool = True,
) -> dict[str, Any]:
    """Give the thinnest wire and the fuse for a load at the end of a wire; ground is the body.

    Parameters
    ----------
    load_A : float
        0.01 to 500.
    length_m : float
        One way, 0.01 to 100 m.
    max_drop_share : float
        Of 12 V, above 0 to 0.2.
    insulation_C : float
        60 to 250 °C.
    ambient_C : float
        -40 °C to a degree below the insulation's.
    bundled : int
        Current-carrying wires lying together, 1 to 1000.
    fuse : bool
        Whether a fuse must protect the wire, so that its rating is at most the wire's ampacity.

    Returns
    -------
    dict
        `size_mm2`, `awg`, `because` (heat, drop or fuse), `drop_V`, `drop_share`, `temperature_C`,
        `ampacity_A`, `fuse_A`, `says`, `source`.

    Raises
    ------
    RecordError
        Outside the ranges, or where no size does.

    Source: 33 CFR 183.425 Table 5; IEC 60228; ABYC E-11 for the drop; 75 % continuous share: fuse
    makers' practice.
    """
    for name, value, low, high in (
        ("load_A", load_A, 0.01, 500.0),
        ("length_m", length_m, 0.01, 100.0),
        ("max_drop_share", max_drop_share, 1e-4, 0.2),
        ("insulation_C", insulation_C, *INSULATION_C),
        ("ambient_C", ambient_C, COLDEST_C, insulation_C - 1),
        ("bundled", bundled, 1, 1000),
    ):
        if not low <= value <= high:
            raise RecordError(f"{value:g}", name, f"{low:g} to {high:g}")
    try:
        by_heat = next_size_mm2(load_A, insulation_C, ambient_C, bundled)
        by_drop = _by_drop(load_A, length_m, max_drop_share, insulation_C, ambient_C, bundled)
    except ValueError as error:
        raise RecordError(
            str(error), "load_A and length_m", "less of either, a wire of 25 mm² or thinner"
        ) from error
    rating = next((f.rating_A for f in ratings() if CONTINUOUS_SHARE * f.rating_A >= load_A), None)
    by_fuse = next_size_mm2(rating, insulation_C, ambient_C, 1) if fuse and rating else None
    if by_heat is None or (fuse and (rating is None or by_fuse is None)):
        raise RecordError(f"{load_A:g} A", "load_A", "a load one wire and one fuse can carry")
    chosen = {"heat": by_heat, "drop": by_drop, "fuse": by_fuse or 0.0}
    size_mm2 = min(s for s in SIZES_MM2 if s >= max(chosen.values()) - 1e-9)
    because = max(chosen, key=lambda k: chosen[k])
    warm = temperature_C(load_A, size_mm2, ambient_C, insulation_C, bundled)
    drop = load_A * resistance_ohm(size_mm2, length_m, warm)
    awg = awg_or_none(size_mm2)
    return {
        "load_A": load_A,
        "length_m": length_m,
        "size_mm2": size_mm2,
        "awg": awg,
        "because": because,
        "drop_V": round(drop, 4),
        "drop_share": round(drop / SYSTEM_V, 5),
        "max_drop_share": max_drop_share,
        "temperature_C": round(warm, 1),
        "ampacity_A": round(ampacity_A(size_mm2, insulation_C, ambient_C, bundled), 2),
        "insulation_C": insulation_C,
        "ambient_C": ambient_C,
        "bundled": bundled,
        "fuse_A": rating if fuse else None,
        "says": (
            f"{size_mm2:g} mm²"
            + (f" ({awg})" if awg else "")
            + f", decided by {because}: {drop:.2f} V lost, {warm:.0f} °C"
            + (f", fuse {rating:g} A" if fuse and rating else "")
        ),
        "source": "33 CFR 183.425 Table 5; IEC 60228; ABYC E-11; fuse makers' practice (75 %)",
    }


def _by_drop(
    load_A: float,
    length_m: float,
    share: float,
    insulation_C: float,
    ambient_C: float,
    bundled: int,
) -> float:
    """The thinnest size that keeps the drop with its copper as warm as the load makes it."""
    cold = size_for_drop_mm2(load_A, length_m, share * SYSTEM_V)
    for size in (s for s in SIZES_MM2 if s >= cold):
        try:
            warm = temperature_C(load_A, size, ambient_C, insulation_C, bundled)
        except ValueError:
            continue
        if load_A * resistance_ohm(size, length_m, min(warm, 250.0)) <= share * SYSTEM_V:
            return size
    raise ValueError(f"{load_A:g} A over {length_m:g} m drops too much even in 25 mm²")


def damage_s(
    size_mm2: float, current_A: float, insulation_C: float = 105.0, ambient_C: float = 30.0
) -> float:
    """Give how long a wire carries a current before its insulation reaches its short-time limit.

    Parameters
    ----------
    size_mm2, current_A : float
        Above 0.
    insulation_C : float
        60 to 250 °C.
    ambient_C : float
        Below the rating.

    Returns
    -------
    float
        Seconds; infinite up to the current that the heat balance lets it carry at that limit. At
        large currents it is the adiabatic time; the longer it lasts the more of the wall's heat
        capacity counts.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: IEC 60364-5-54 clause 543.1.2 (adiabatic) joined to the heat balance of
    `startwright.physics.heat`; Van Wormer's coefficient and heat capacities of IEC 60853-2 (from
    memory).

    >>> damage_s(1.0, 10)
    inf
    """
    limit = final_C(insulation_C)
    steady = balance_ampacity_A(size_mm2, limit, ambient_C)
    if current_A <= steady:
        return inf
    constant = withstand_s(size_mm2, steady, adiabatic_k(WARM_C, limit))
    copper_alone = -constant * log(1 - (steady / current_A) ** 2)
    shared = _insulation_share(size_mm2) * (1 - exp(-copper_alone / SOAK_S))
    return copper_alone * (1 + shared)


def _insulation_share(size_mm2: float) -> float:
    """Heat the wall takes with the copper, over the copper's own (Van Wormer's coefficient)."""
    copper_mm, outer_mm = 2 * sqrt(size_mm2 / pi) * 1.14, outside_mm(size_mm2)
    ratio = outer_mm / copper_mm
    part = 1 / (2 * log(ratio)) - 1 / (ratio**2 - 1)
    wall_mm2 = pi / 4 * (outer_mm**2 - copper_mm**2)
    return part * PVC_MJ_M3K * wall_mm2 / (COPPER_MJ_M3K * size_mm2)


def curves(
    rating_A: float, size_mm2: float, *, insulation_C: float = 105.0, ambient_C: float = 30.0
) -> dict[str, Any]:
    """Give the points of the fuse-against-wire plot: when the fuse opens, what the wire stands.

    Parameters
    ----------
    rating_A : float
        A blade rating, 1 to 100 A.
    size_mm2 : float
    insulation_C, ambient_C
        As `startwright.physics.wire.ampacity_A`.

    Returns
    -------
    dict
        `fuse` rows ``amps_A, opens_min_s, opens_max_s`` (null where it need not open), `wire` rows
        ``amps_A, survives_s``, `ampacity_A`, which it carries for good, `protected` and `says`.

    Raises
    ------
    RecordError
        Outside the ranges.

    Source: ISO 8820-3 / SAE J1284 gates; IEC 60364-5-54 clause 543.1.2 joined to the heat balance.

    >>> curves(10, 2.5)["protected"], curves(30, 0.5)["protected"]
    (True, False)
    """
    try:
        amps = [s * rating_A for s in SHARES if s * rating_A <= BREAKING_A]
        opens = [(a, *opening_time_s(rating_A, a)) for a in amps]
        lasting = ampacity_A(size_mm2, insulation_C, ambient_C)
        stands = [
            (a, damage_s(size_mm2, a, insulation_C, ambient_C))
            for a in sorted({*amps, *(lasting * s for s in (1.2, 1.5, 2, 3, 5, 10, 20, 40))})
        ]
        spoilt = [
            a for a, _, latest in opens if damage_s(size_mm2, a, insulation_C, ambient_C) < latest
        ]
    except ValueError as error:
        raise RecordError(str(error), "rating_A or size_mm2", "a fuse and a wire") from error
    protected = rating_A <= lasting and not spoilt
    verdict = "protects" if protected else "does not protect"
    return {
        "fuse": [
            {"amps_A": a, "opens_min_s": _finite(low), "opens_max_s": _finite(high)}
            for a, low, high in opens
        ],
        "wire": [{"amps_A": a, "survives_s": t} for a, t in stands if t <= SLOWEST_S],
        "ampacity_A": lasting,
        "rating_A": rating_A,
        "size_mm2": size_mm2,
        "protected": protected,
        "says": f"{rating_A:g} A {verdict} {size_mm2:g} mm², which may carry {lasting:.1f} A",
        "source": "ISO 8820-3 / SAE J1284 gates; IEC 60364-5-54; heat balance",
    }


def _finite(seconds: float) -> float | None:
    return seconds if seconds < 1e9 else None
