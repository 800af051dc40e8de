"""One question alone: a wire and a fuse for these amps over this length; and their curves."""

from __future__ import annotations

from typing import Any

from startwright.physics.drop import CRITICAL_SHARE, size_for_drop_mm2
from startwright.physics.fuse import CONTINUOUS_SHARE, opening_time_s
from startwright.physics.short import adiabatic_k, final_C, withstand_A
from startwright.physics.wire import (
    SIZES_MM2,
    ampacity_A,
    resistance_ohm,
    temperature_C,
)
from startwright.records.errors import RecordError
from startwright.reference.fuses import ratings
from startwright.size.runs import awg_or_none, next_size_mm2

RAIL_V = 14.4
TIMES_S = (0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
SHARES = (1.1, 1.35, 1.6, 2.0, 2.5, 3.0, 3.5, 4.5, 6.0)
WARM_C = 70.0


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
        Of 14.4 V, above 0 to 0.2.
    insulation_C, ambient_C, bundled
        As `startwright.physics.wire.ampacity_A`.
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
    ):
        if not low <= value <= high:
            raise RecordError(f"{value:g}", name, f"{low:g} to {high:g}")
    try:
        by_heat = next_size_mm2(load_A, insulation_C, ambient_C, bundled)
        by_drop = size_for_drop_mm2(load_A, length_m, max_drop_share * RAIL_V)
    except ValueError as error:
        raise RecordError(
            str(error), "ambient_C, insulation_C or length_m", "a wire that exists"
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
        "drop_share": round(drop / RAIL_V, 5),
        "max_drop_share": max_drop_share,
        "temperature_C": round(warm, 1),
        "ampacity_A": round(ampacity_A(size_mm2, insulation_C, ambient_C, bundled), 2),
        "insulation_C": insulation_C,
        "ambient_C": ambient_C,
        "bundled": bundled,
        "fuse_A": rating if fuse else None,
        "says": f"{size_mm2:g} mm²" + (f" ({awg})" if awg else "") + f", decided by {because}",
        "source": "33 CFR 183.425 Table 5; IEC 60228; ABYC E-11; fuse makers' practice (75 %)",
    }


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
        ``amps_A, survives_s`` up to 5 s, and `ampacity_A`, which it carries for good.

    Raises
    ------
    RecordError
        Outside the ranges.

    Source: ISO 8820-3 / SAE J1284 gates; IEC 60364-5-54 clause 543.1.2 (adiabatic, to 5 s).
    """
    try:
        opens = [(s * rating_A, *opening_time_s(rating_A, s * rating_A)) for s in SHARES]
        k = adiabatic_k(WARM_C, final_C(insulation_C))
        stands = [(withstand_A(size_mm2, t, k), t) for t in TIMES_S]
        lasting = ampacity_A(size_mm2, insulation_C, ambient_C)
    except ValueError as error:
        raise RecordError(str(error), "rating_A or size_mm2", "a fuse and a wire") from error
    return {
        "fuse": [
            {"amps_A": a, "opens_min_s": _finite(low), "opens_max_s": _finite(high)}
            for a, low, high in opens
        ],
        "wire": [{"amps_A": a, "survives_s": t} for a, t in sorted(stands)],
        "ampacity_A": lasting,
        "rating_A": rating_A,
        "size_mm2": size_mm2,
    }


def _finite(seconds: float) -> float | None:
    return seconds if seconds < 1e9 else None
