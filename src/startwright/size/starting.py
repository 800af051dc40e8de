"""The battery while it cranks: volts at unit and starter circuit, cold to hot; what lets go."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from startwright.physics.battery import cranking_A, cranking_V, open_circuit_V
from startwright.physics.relay import HOT_COIL_C, drop_out_at_V
from startwright.size.amps import Solved
from startwright.size.states import States, settled

TEMPERATURES_C = (-30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0)
UNIT_LEAST_V = 6.0
"""A module of supply code A works from 6 V (ISO 16750-2, Table 1; from memory)."""
SOLENOID_LEAST_V = 8.0
"""A starter solenoid pulls in from about two thirds of 12 V (common practice, no source)."""
CCA_A = (50.0, 2000.0)
PROVEN_V = 9.0
PROVEN_LOW_V = 7.5
"""What the proof takes while the starter turns, and with the battery low."""
SOURCE = (
    "SAE J537 rating; trade table of cold cranking; ISO 16750-2 code A (from memory); warm "
    "cranking current: common practice, no source"
)


@dataclass(frozen=True)
class Sag:
    """What is left while the starter turns."""

    unit_V: float | None
    starter_V: dict[str, float] = field(default_factory=dict)
    pull_in_V: dict[str, float] = field(default_factory=dict)
    let_go: tuple[str, ...] = ()
    shorted: bool = False


def cranking_states(solved: Solved) -> States | None:
    """Give the unit's cranking steps, key out, hands still; None where no step cranks.

    Source: the unit's record.
    """
    steps = solved.car.unit.steps
    cranks = {s.step for s in steps if {"starter", "starter_signal"} & set(s.drives)}
    rows = [
        i
        for i, (says, step) in enumerate(zip(solved.states.says, solved.states.step, strict=True))
        if step in cranks and says == f"step {step}, key out"
    ]
    return solved.states.only(np.array(rows, dtype=np.int64)) if rows else None


def sag(solved: Solved, states: States, rest_V: float, posts_V: float) -> Sag:
    """Let relays pull in on the rested battery, then let the rail fall to the cranking voltage.

    A relay lets go where its coil falls below its drop-out, reckoned with the coil hot.

    Parameters
    ----------
    solved : Solved
    states : States
        Cranking steps.
    rest_V, posts_V : float
        Battery rested, and while the starter turns.

    Returns
    -------
    Sag

    Source: relay thresholds of the stock record; copper's line (FAA AC 43.13-1B par. 11-66); volts
    by `startwright.network.solve`.
    """
    car, network = solved.car, solved.network
    before, rested, _ = settled(car, network, states, rest_V, 0)
    after, answer, _ = settled(car, network, before, max(posts_V, 0.1), None)
    if rested.shorted.any() or answer.shorted.any():
        return Sag(None, shorted=True)
    let_go = []
    for coil in car.coils:
        name = f"coil.{coil.part}"
        if name not in before.controls:
            continue
        across = np.abs(np.nan_to_num(answer.node_V[:, coil.a] - answer.node_V[:, coil.b]))
        hot = drop_out_at_V(coil.drop_out_V, HOT_COIL_C)
        held = before.controls[name] == 1
        if (held & ((after.controls[name] == 0) | (across < hot))).any():
            let_go.append(coil.part)
    starters, pulling = {}, {}
    for motor in car.motors:
        here = np.abs(np.nan_to_num(answer.node_V[:, motor.hot] - answer.node_V[:, motor.cold]))
        ready = np.abs(np.nan_to_num(rested.node_V[:, motor.hot] - rested.node_V[:, motor.cold]))
        starters[motor.circuit] = round(float(here.max(initial=0.0)), 2)
        pulling[motor.circuit] = round(float(ready.max(initial=0.0)), 2)
    unit = _unit_V(solved, answer.node_V)
    if unit is not None and unit < UNIT_LEAST_V:
        let_go.append("unit")
    return Sag(unit, starters, pulling, tuple(let_go))


def _unit_V(solved: Solved, volts: np.ndarray[Any, np.dtype[np.float64]]) -> float | None:
    car = solved.car
    unit = car.job.unit
    grounds = [d.id for d in unit.leads if d.way == "ground" and d.id in car.unit.wired]
    if unit.logic_from not in car.unit.wired or not grounds:
        return None
    hot, cold = car.number[f"unit.{unit.logic_from}"], car.number[f"unit.{grounds[0]}"]
    return round(float(np.nan_to_num(volts[:, hot] - volts[:, cold]).min()), 2)


def _at(
    solved: Solved,
    states: States | None,
    battery_C: float,
    charge: float,
    cca_A: float | None = None,
) -> dict[str, Any]:
    vehicle = solved.car.job.vehicle
    cca = min(max(cca_A or vehicle.battery.cca_A, CCA_A[0]), CCA_A[1])
    posts = cranking_V(cca, vehicle.engine, battery_C, charge)
    weak = cranking_V(cca, vehicle.engine, battery_C, charge, weak=True)
    found = Sag(None) if states is None else sag(solved, states, open_circuit_V(charge), posts)
    return {
        "battery_C": battery_C,
        "cranking_A": round(cranking_A(vehicle.engine, battery_C)),
        "battery_V": round(posts, 2),
        "weak_battery_V": round(weak, 2),
        "unit_V": found.unit_V,
        "starter_V": found.starter_V,
        "pull_in_V": found.pull_in_V,
        "let_go": list(found.let_go),
        "shorted": found.shorted,
    }


def _enough_A(solved: Solved, states: States, battery_C: float, charge: float) -> int | None:
    """The least cold-cranking rating, in steps of 50 A, with which nothing lets go; None if none.

    By halving: a stronger battery falls less.
    """
    ratings = range(int(CCA_A[0]), int(CCA_A[1]) + 1, 50)
    low, high = 0, len(ratings)
    while low < high:
        at = (low + high) // 2
        if _at(solved, states, battery_C, charge, ratings[at])["let_go"]:
            low = at + 1
        else:
            high = at
    return ratings[low] if low < len(ratings) else None


def starting(solved: Solved, battery_C: float, charge: float) -> dict[str, Any]:
    """Judge the unit's cranking at a battery temperature and charge, and list others.

    Parameters
    ----------
    solved : Solved
    battery_C : float
        Battery and engine, -40 to 60 °C.
    charge : float
        State of charge, 0 to 1.

    Returns
    -------
    dict
        `battery_C`, `charge`, `cranking_A`, `battery_V`, `weak_battery_V`, `unit_V`, `starter_V`
        and `pull_in_V` by circuit, `let_go`, `shorted`, `unit_least_V`, `table` (-30 to 40 °C),
        `holds`, `says`, `cautions`, `source`.

    Source: `startwright.physics.battery` (SAE J537, trade table, BCI load test for the weak one);
    unit from 6 V by ISO 16750-2 code A (from memory); solenoid from 8 V is common practice, no
    source.
    """
    states = cranking_states(solved)
    here = _at(solved, states, battery_C, charge)
    enough = (
        _enough_A(solved, states, battery_C, charge)
        if states is not None and here["let_go"]
        else None
    )
    says, cautions = _judge(here, states is not None, battery_C, charge, enough)
    return {
        "charge": charge,
        **here,
        "unit_least_V": UNIT_LEAST_V,
        "table": [_at(solved, states, t, charge) for t in TEMPERATURES_C],
        "holds": not says,
        "says": "; ".join(says) or _holds(here, states is not None, battery_C),
        "cautions": cautions,
        "source": SOURCE,
    }


def _judge(
    row: dict[str, Any], cranks: bool, battery_C: float, charge: float, enough_A: int | None
) -> tuple[list[str], list[str]]:
    if not cranks:
        return [], []
    if row["shorted"]:
        return ["a dead short stands in the way of the start: find it, then ask again"], []
    where = f"at {battery_C:g} °C and {100 * charge:.0f} % charge"
    other = f"one of {enough_A} A cold cranking or more" if enough_A else "a warmer place for it"
    says = []
    relays = [n for n in row["let_go"] if n != "unit"]
    if "unit" in row["let_go"]:
        says.append(
            f"{where} the unit has {row['unit_V']:.1f} V while cranking and may let go below "
            f"{UNIT_LEAST_V:g} V: charge the battery, or {other}"
        )
    if relays:
        says.append(
            f"{where} {' and '.join(f'relay {n}' for n in relays)} may let go while cranking: "
            f"a relay that drops out lower, a charged battery, or {other}"
        )
    fed = {c: v for c, v in row["pull_in_V"].items() if v > 0.5}
    for circuit, volts in fed.items():
        if volts < SOLENOID_LEAST_V:
            says.append(
                f"{where} {circuit} gets {volts:.1f} V to pull in, {SOLENOID_LEAST_V:g} V is the "
                "least: thicker or shorter feed"
            )
    cautions = []
    if row["unit_V"] is None:
        cautions.append("the unit's logic feed or ground is not connected: it would be dead")
    if row["battery_V"] < PROVEN_V:
        cautions.append(
            f"{row['battery_V']:.1f} V while cranking lies below the {PROVEN_V:g} V that the proof "
            f"takes ({PROVEN_LOW_V:g} V with the battery low)"
        )
    cautions.append(
        f"a battery that just passes its load test would fall to {row['weak_battery_V']:.1f} V"
    )
    return says, cautions


def _holds(row: dict[str, Any], cranks: bool, battery_C: float) -> str:
    if not cranks:
        return "the unit drives no starter circuit"
    unit = "" if row["unit_V"] is None else f", the unit has {row['unit_V']:.1f} V"
    return (
        f"at {battery_C:g} °C the battery falls to {row['battery_V']:.1f} V while "
        f"{row['cranking_A']} A turn the engine{unit}, nothing lets go"
    )
