"""One row a run: what it carries, how warm it gets, what it drops, whether it holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from startwright.physics.drop import size_for_drop_mm2
from startwright.physics.wire import (
    SIZES_MM2,
    ampacity_A,
    awg_or_none,
    resistance_ohm,
    temperature_C,
)
from startwright.reference.ampacities import bundle_factor
from startwright.reference.tables import citation
from startwright.size.amps import Floats, Solved
from startwright.size.built import Built
from startwright.size.loads import Load
from startwright.size.protect import Guard

TOGETHER_A = 1.0
"""Wires of the unit that carry an ampere or more at once count as bundled."""
UNFUSED_MOST_M = 0.18
"""A battery lead may run this far before its fuse (ABYC E-11, 7 in, from memory)."""
SOURCE = (
    f"{citation('cfr33-183.425-t5')} with notes 1 and 2; {citation('iec-60228-t3')}; "
    "drop: ABYC E-11"
)


@dataclass(frozen=True)
class Carried:
    """What one run carries: amps in every state and how many others of its bundle do too."""

    built: Built
    amps: Floats
    bundled: np.ndarray[Any, np.dtype[np.int64]]


def carried(solved: Solved, built: list[Built]) -> dict[str, Carried]:
    """Give each run's amps and bundle in every state.

    Runs that end at the unit lie in one bundle; the others lie alone.

    Source: bundles by 33 CFR 183.425 Table 5 note 2 (good practice at 12 V).
    """
    amps = {b.run.id: np.abs(solved.column(f"run.{b.run.id}")) for b in built}
    unit = [b.run.id for b in built if any(e.startswith("unit.") for e in b.run.ends)]
    at_once = np.zeros(len(solved.states), dtype=np.int64)
    for run in unit:
        at_once += amps[run] >= TOGETHER_A
    ones = np.ones(len(solved.states), dtype=np.int64)
    return {
        b.run.id: Carried(b, amps[b.run.id], np.maximum(at_once, 1) if b.run.id in unit else ones)
        for b in built
    }


def warm_C(one: Carried, ambient_C: float) -> tuple[float | None, int]:
    """Give the steady temperature of a run's copper in its worst state, and its bundle there.

    None where it would burn.

    Source: heat balance, `startwright.physics.wire.temperature_C`.
    """
    factors = one.amps * _bundle_weight(one)
    at = int(np.argmax(factors)) if factors.size else 0
    bundled = int(one.bundled[at]) if factors.size else 1
    try:
        return (
            temperature_C(
                float(one.amps[at]) if factors.size else 0.0,
                one.built.size_mm2,
                ambient_C,
                one.built.insulation_C,
                bundled,
            ),
            bundled,
        )
    except ValueError:
        return None, bundled


def _bundle_weight(one: Carried) -> Floats:
    return np.array([1.0 / bundle_factor(int(n)) for n in one.bundled])


def next_size_mm2(
    amps_A: float, insulation_C: float, ambient_C: float, bundled: int
) -> float | None:
    """Give the thinnest metric size that carries a current; None where none does.

    Source: 33 CFR 183.425 Table 5 with notes 1 and 2.

    >>> next_size_mm2(20, 105, 30, 1)
    1.0
    """
    for size in SIZES_MM2:
        if ampacity_A(size, insulation_C, ambient_C, bundled) >= amps_A:
            return size
    return None


def run_row(
    solved: Solved,
    one: Carried,
    guard: Guard | None,
    loads: dict[str, Load],
    ambient_C: float,
    unfused_feed: bool,
) -> dict[str, Any]:
    """Judge one run.

    Parameters
    ----------
    solved : Solved
    one : Carried
    guard : Guard or None
        The fuse it hangs on.
    loads : dict
        Drops by circuit.
    ambient_C : float
    unfused_feed : bool
        It is tapped from a battery circuit without any known fuse.

    Returns
    -------
    dict
        Keys as in docs/size.md; `needs_mm2` is the thinnest size that would hold, where it fails.

    Source: 33 CFR 183.425 Table 5; IEC 60228; ABYC E-11 (3 % and 10 % drop; fuse within 7 in, from
    memory).
    """
    b = one.built
    peak = solved.worst(one.amps)
    bundled_at = [int(n) for n in one.bundled]
    weights = _bundle_weight(one)
    single = ampacity_A(b.size_mm2, b.insulation_C, ambient_C, 1)
    loading = float((one.amps * weights).max(initial=0.0)) / single
    at = int(np.argmax(one.amps * weights)) if one.amps.size else 0
    bundled = bundled_at[at] if bundled_at else 1
    ampacity = ampacity_A(b.size_mm2, b.insulation_C, ambient_C, bundled)
    hot, _ = warm_C(one, ambient_C)
    ends = solved.network.resistors
    ohm = next(r.ohm for r in ends if r.name == f"run.{b.run.id}")
    drop = peak.value * ohm
    says: list[str] = []
    needs: float | None = None
    if b.run.id in solved.shorted_by:
        says.append(
            "joins battery and ground without a load "
            f"({solved.shorted_by[b.run.id]}): part it before anything else"
        )
    if loading > 1:
        needs = next_size_mm2(float(one.amps[at]), b.insulation_C, ambient_C, bundled)
        says.append(
            f"carries {one.amps[at]:.1f} A, {b.size_mm2:g} mm² may carry {ampacity:.1f} A"
            + (f" among {bundled} loaded wires" if bundled > 2 else "")
            + (f": take {_size_words(needs)}" if needs else ": split the load")
        )
    if hot is None or hot > b.insulation_C:
        warm = "burns" if hot is None else f"reaches {hot:.0f} °C"
        says.append(f"{warm}, the insulation stands {b.insulation_C:g} °C")
    load = _load_at(b, loads)
    if load is not None and load.drop_share > load.limit_share:
        more = _size_for_load(b, load)
        says.append(
            f"{load.circuit} loses {load.drop_V:.2f} V ({100 * load.drop_share:.1f} %) on the way, "
            f"{100 * load.limit_share:.0f} % is the most"
            + (
                f": take {_size_words(more)}"
                if more and more > b.size_mm2
                else ": shorten or thicken its feed"
            )
        )
        needs = max(needs or 0.0, more or 0.0) or None
    if unfused_feed and b.length_m > UNFUSED_MOST_M:
        says.append(
            f"no fuse is known before it: fit one within {100 * UNFUSED_MOST_M:.0f} cm of the tap, "
            "or write the car's fuse into the vehicle (`fuse_A`)"
        )
    holds = not says
    if holds:
        says.append(
            f"{peak.value:.1f} A of {ampacity:.1f} A"
            + (f", {hot:.0f} °C" if hot is not None else "")
        )
    return {
        "id": b.run.id,
        "from": b.run.from_,
        "to": b.run.to,
        "size_mm2": b.size_mm2,
        "awg": awg_or_none(b.size_mm2),
        "length_m": b.length_m,
        "insulation_C": b.insulation_C,
        "amps_A": round(peak.value, 3),
        "state": peak.state,
        "inrush_A": round(solved.rush_A.get(f"run.{b.run.id}", peak.value), 2),
        "drop_V": round(drop, 4),
        "drop_share": round(drop / 14.4, 5),
        "feeds": load.circuit if load else None,
        "load_drop_V": round(load.drop_V, 4) if load else None,
        "load_drop_share": round(load.drop_share, 5) if load else None,
        "temperature_C": None if hot is None else round(hot, 1),
        "bundled": bundled,
        "ampacity_A": round(ampacity, 2),
        "loading": round(loading, 4),
        "fuse": guard.name if guard and guard.fused else None,
        "fuse_A": guard.rating_A if guard and guard.fused else None,
        "needs_mm2": needs,
        "holds": holds,
        "says": "; ".join(says),
        "source": SOURCE,
    }


def _size_words(size_mm2: float) -> str:
    awg = awg_or_none(size_mm2)
    return f"{size_mm2:g} mm² ({awg})" if awg else f"{size_mm2:g} mm²"


def _load_at(b: Built, loads: dict[str, Load]) -> Load | None:
    for end in b.run.ends:
        if end.startswith("vehicle."):
            circuit = end.removeprefix("vehicle.").removesuffix(".load")
            if circuit in loads:
                return loads[circuit]
    return None


def _size_for_load(b: Built, load: Load) -> float | None:
    """The size of this run with which the whole way keeps the limit, if this run can do it."""
    own = load.amps_A * resistance_ohm(b.size_mm2, b.length_m)
    allowed = load.limit_share / load.drop_share * load.drop_V - (load.drop_V - own)
    if allowed <= 0:
        return None
    try:
        return size_for_drop_mm2(load.amps_A, b.length_m, allowed)
    except ValueError:
        return None
