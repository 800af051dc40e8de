"""One row a fuse: its load, the wires behind it, overload and short."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from startwright.car.build import Car
from startwright.physics.battery import internal_ohm, open_circuit_V
from startwright.physics.fuse import CONTINUOUS_SHARE, OVER_AMPACITY_MOST, holds
from startwright.physics.short import (
    Short,
    adiabatic_k,
    dead_short,
    final_C,
    prospective_A,
    withstand_s,
)
from startwright.physics.wire import SIZES_MM2, ampacity_A
from startwright.reference.fuses import cold_ohm, ratings
from startwright.size.amps import Floats, Solved, inrush_s
from startwright.size.protect import Guard
from startwright.size.runs import UNFUSED_MOST_M, Carried, warm_C

FROM_C = 70.0
"""Copper is taken to be at least this warm when a short happens (IEC 60364-5-54, PVC)."""
RETURN_OHM = 0.005
"""Body, ground strap and joints on the way back to the battery (assumed, no source)."""
SIGNAL_A = 1.0
BLADES_TO_A = 100.0
SOURCE = (
    "ISO 8820-3 / SAE J1284 gates; 75 % continuous: fuse makers' practice; rating at most the "
    "wire's ampacity (46 CFR 111.50-3(c)(1); its 150 % only for a fixed load, IEC 60364-4-43 "
    "433.3.1); short: IEC 60364-5-54"
)


@dataclass(frozen=True)
class Behind:
    """One run behind a fuse and how it fares in a short."""

    one: Carried
    guard: Guard
    overload_A: float | None
    """What the wire may carry for good; None where no overload can arise (a signal wire)."""
    most_A: float | None
    """The largest fuse it may hang on: its ampacity, or half more where its load is fixed."""
    short: Short


def is_signal(car: Car, one: Carried) -> bool:
    """Say whether a run is a signal: under an ampere and at an input, a coil or a small output.

    Such a conductor is not likely to carry an overload, so that only a short is weighed.

    Source: IEC 60364-4-43, clause 433.3.1 b).
    """
    if float(one.amps.max(initial=0.0)) >= SIGNAL_A:
        return False
    for end in one.built.run.ends:
        owner, _, rest = end.partition(".")
        if owner == "unit":
            lead = car.job.unit.lead(rest)
            if lead.way == "in" or (lead.way == "out" and car.unit.is_transistor(lead)):
                return True
        part = car.parts.get(owner)
        if part is not None and (
            (part.kind == "relay" and rest in ("85", "86")) or part.kind in ("interface", "switch")
        ):
            return True
    return False


def has_fixed_load(car: Car, one: Carried, ampacity_A_: float) -> bool:
    """Say whether a run feeds one circuit of known load, well within what the wire may carry.

    Such a conductor is not likely to carry an overload either; its fuse may still not exceed 150 %
    of its ampacity.

    Source: IEC 60364-4-43, clause 433.3.1 b), held to the bound of 46 CFR 111.50-3(c)(1).
    """
    for end in one.built.run.ends:
        if not end.startswith("vehicle."):
            continue
        circuit = car.job.vehicle.circuit(end.removeprefix("vehicle.").partition(".")[0])
        if circuit.function != "battery" and circuit.load_A:
            return float(one.amps.max(initial=0.0)) <= CONTINUOUS_SHARE * ampacity_A_
    return False


def battery_ohm(car: Car, battery_C: float, charge: float) -> float:
    """Give the battery's internal resistance, its rating kept within what is reckoned.

    Source: `startwright.physics.battery.internal_ohm` (SAE J537).
    """
    cca = min(max(car.job.vehicle.battery.cca_A, 50.0), 2000.0)
    return internal_ohm(cca, battery_C, charge)


def _short(car: Car, one: Carried, guard: Guard, ambient_C: float, battery_C: float) -> Short:
    """The worse of a short at the near end, warm battery, and at the far end, cold one."""
    hot, _ = warm_C(one, ambient_C)
    before = max(FROM_C, hot if hot is not None else one.built.insulation_C)
    own = cold_ohm(min(max(guard.rating_A, 1.0), 100.0))
    found = []
    for ohm, at_C, charge in (
        (guard.near_ohm, 26.7, 1.0),
        (guard.far_ohm, battery_C, 0.5),
    ):
        loop = ohm + battery_ohm(car, at_C, charge) + own + RETURN_OHM
        amps = prospective_A(open_circuit_V(charge), loop)
        b = one.built
        found.append(
            _beyond_blades(guard.rating_A, one, amps, before)
            if guard.rating_A > BLADES_TO_A
            else dead_short(max(guard.rating_A, 1.0), b.size_mm2, amps, b.insulation_C, before)
        )
    return max(found, key=lambda s: (not s.holds, s.clears_s / s.survives_s))


def _beyond_blades(rating_A: float, one: Carried, amps_A: float, before_C: float) -> Short:
    """A car's main fuse opens by no gate of a blade fuse: it is not counted on."""
    b = one.built
    end = final_C(b.insulation_C)
    return Short(
        amps_A,
        inf,
        withstand_s(b.size_mm2, amps_A, adiabatic_k(min(before_C, end - 1), end)),
        False,
        f"a {rating_A:g} A fuse is no protection for it: fit a blade fuse within "
        f"{100 * UNFUSED_MOST_M:.0f} cm of the tap",
    )


def behind(
    solved: Solved, one: Carried, guard: Guard, ambient_C: float, battery_C: float
) -> Behind:
    """Give how one run fares behind its fuse.

    Source: IEC 60364-4-43 clause 433.3.1; IEC 60364-5-54 clause 543.1.2.
    """
    b = one.built
    overload = (
        None if is_signal(solved.car, one) else ampacity_A(b.size_mm2, b.insulation_C, ambient_C, 1)
    )
    most = overload
    if overload is not None and has_fixed_load(solved.car, one, overload):
        most = OVER_AMPACITY_MOST * overload
    return Behind(one, guard, overload, most, _short(solved.car, one, guard, ambient_C, battery_C))


def _load(solved: Solved, name: str, runs: list[Behind]) -> Floats:
    """Amps through a fuse in every state."""
    if f"{name}.fuse" in solved.amps:
        return np.abs(solved.column(f"{name}.fuse"))
    total = np.zeros(len(solved.states))
    if name.startswith("unit."):
        for run in solved.car.wiring.runs:
            if name in run.ends:
                total += solved.column(f"run.{run.id}") * (1 if run.to == name else -1)
        return np.abs(total)
    circuit = name.removeprefix("the car's fuse of ")
    taps = {f"vehicle.{circuit}", f"vehicle.{circuit}.source", f"vehicle.{circuit}.load"}
    for run in solved.car.wiring.runs:
        if taps & set(run.ends):
            total += solved.column(f"run.{run.id}") * (1 if run.from_ in taps else -1)
    return np.maximum(total, 0.0)


def fuse_row(
    solved: Solved,
    name: str,
    rating_A: float,
    runs: list[Behind],
    tapped: bool,
    ambient_C: float = 30.0,
) -> dict[str, Any]:
    """Judge one fuse.

    Parameters
    ----------
    solved : Solved
    name : str
        A part, ``unit.<lead>`` or the car's fuse of a circuit.
    rating_A : float
    runs : list of Behind
        The runs that hang on it.
    tapped : bool
        It is the car's own fuse: its own loads come on top and are not known here.
    ambient_C : float

    Returns
    -------
    dict
        Keys as in docs/size.md.

    Source: ISO 8820-3 / SAE J1284 gates; fuse makers' practice (75 %); 46 CFR 111.50-3(c)(1);
    IEC 60364-5-54.
    """
    amps = _load(solved, name, runs)
    seconds = np.array(solved.states.seconds)
    lasting = np.where(np.isinf(seconds), amps, 0.0)
    load = solved.worst(lasting)
    limit = 1.0 if tapped else CONTINUOUS_SHARE
    says: list[str] = []
    needs_A: float | None = None
    known = 1 <= rating_A <= 100
    if load.value > limit * rating_A + 1e-9:
        if not tapped:
            needs_A = next(
                (f.rating_A for f in ratings() if limit * f.rating_A >= load.value), None
            )
        remedy = f"{needs_A:g} A, if the wire allows it" if needs_A else "split the load"
        if tapped:
            remedy = "feed from another circuit; never put a larger fuse into the car"
        says.append(
            f"carries {load.value:.1f} A for good, {100 * load.value / rating_A:.0f} % of its "
            f"rating, {100 * limit:.0f} % is the most: {remedy}"
        )
    if known:
        for k in np.argsort(-amps)[:50]:
            if not np.isinf(seconds[k]) and not holds(rating_A, float(amps[k]), float(seconds[k])):
                says.append(
                    f"may open: {amps[k]:.1f} A for {seconds[k]:g} s ({solved.states.says[k]})"
                )
                break
        rush = solved.listed_rush_A.get(f"{name}.fuse")
        if rush is not None and not holds(rating_A, rush, inrush_s(solved.car)):
            says.append(f"may open on switching on: {rush:.0f} A for {inrush_s(solved.car):g} s")
    worst = _worst_run(rating_A, runs)
    thin = [r for r in runs if _fails(rating_A, r)]
    needs_mm2: float | None = None
    if thin:
        sizes = [_thick_enough(r, ambient_C) for r in thin]
        needs_mm2 = None if None in sizes else max(s for s in sizes if s is not None)
        for r in thin:
            says.append(_unprotected(rating_A, r, _thick_enough(r, ambient_C)))
    ok = not says
    if ok:
        says.append(
            f"{load.value:.1f} A of {rating_A:g} A ({100 * load.value / rating_A:.0f} %)"
            + (f"; {worst.short.says}" if worst else "")
        )
        says += [_tolerated(rating_A, r) for r in runs if r.overload_A and rating_A > r.overload_A]
    short = worst.short if worst else None
    return {
        "id": name,
        "what": name,
        "rating_A": rating_A,
        "load_A": round(load.value, 3),
        "state": load.state,
        "share": round(load.value / rating_A, 4),
        "limit_share": limit,
        "peak_A": round(float(amps.max(initial=0.0)), 3),
        "wire": worst.one.built.run.id if worst else None,
        "wire_mm2": worst.one.built.size_mm2 if worst else None,
        "wire_ampacity_A": None
        if worst is None or worst.overload_A is None
        else round(worst.overload_A, 2),
        "runs": [r.one.built.run.id for r in runs],
        "short_A": round(short.current_A, 1) if short else None,
        "clears_s": None if short is None or short.clears_s == inf else round(short.clears_s, 4),
        "survives_s": round(short.survives_s, 4) if short else None,
        "needs_A": needs_A,
        "needs_mm2": needs_mm2,
        "thin": [r.one.built.run.id for r in thin],
        "holds": ok,
        "says": "; ".join(says),
        "source": SOURCE,
    }


def _fails(rating_A: float, run: Behind) -> bool:
    over = run.most_A is not None and rating_A > run.most_A + 1e-9
    return over or not run.short.holds


def _thick_enough(run: Behind, ambient_C: float) -> float | None:
    """The thinnest size with which this run is protected in overload and in a short."""
    b, rating = run.one.built, run.guard.rating_A
    for size in SIZES_MM2:
        if size <= b.size_mm2:
            continue
        if (
            run.overload_A is not None
            and ampacity_A(size, b.insulation_C, ambient_C, 1) < rating - 1e-9
        ):
            continue
        try:
            short = dead_short(rating, size, run.short.current_A, b.insulation_C, FROM_C)
        except ValueError:
            return None
        if short.holds:
            return size
    return None


def _tolerated(rating_A: float, run: Behind) -> str:
    assert run.overload_A is not None
    b = run.one.built
    better = max((f.rating_A for f in ratings() if f.rating_A <= run.overload_A), default=None)
    return (
        f"{b.run.id} of {b.size_mm2:g} mm² may carry {run.overload_A:.1f} A only; it stands because"
        " its load is fixed and a short is cleared in time"
        + (f", {better:g} A before it would be better" if better else "")
    )


def _unprotected(rating_A: float, run: Behind, needs_mm2: float | None) -> str:
    b = run.one.built
    take = f"take {needs_mm2:g} mm²" if needs_mm2 else "no wire size helps"
    if run.overload_A is not None and run.most_A is not None and rating_A > run.most_A + 1e-9:
        most = max((f.rating_A for f in ratings() if f.rating_A <= run.overload_A), default=None)
        fuse = f"fuse {b.run.id} with {most:g} A at most, or {take}" if most else take
        return (
            f"{rating_A:g} A does not protect {b.run.id}: {b.size_mm2:g} mm² may carry "
            f"{run.overload_A:.1f} A; {fuse}"
        )
    return f"{b.run.id}: {run.short.says}" + (f" ({take})" if needs_mm2 else "")


def _worst_run(rating_A: float, runs: list[Behind]) -> Behind | None:
    """The run that fares worst: failing first, then the least margin."""

    def margin(r: Behind) -> tuple[bool, float]:
        over = rating_A / r.most_A if r.most_A else 0.0
        short = min(r.short.clears_s / r.short.survives_s, 1e6)
        return (over > 1 or not r.short.holds, max(over, short))

    return max(runs, key=margin, default=None)
