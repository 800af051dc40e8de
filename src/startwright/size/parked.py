"""Parked: what is drawn, for how many days; what a start costs and when it is paid back."""

from __future__ import annotations

from math import isnan, nan
from typing import Any

import numpy as np

from startwright.car.build import Car
from startwright.network.elements import Network
from startwright.network.solve import Solution, closed_by, solve
from startwright.physics.battery import cranking_A, days_to_half, minutes_to_earn_back
from startwright.reference.batteries import practice
from startwright.size.amps import Floats, Solved
from startwright.size.states import States, settled

RESTED_V = 12.6
NOTICED_MA = 5.0
"""Less than this through the wiring is the pull of the unit's inputs, part of its own drain."""
SOURCE = (
    "at most 50 mA: workshop practice, no standard; capacity in the cold and charge efficiency: "
    "battery handbook, from memory; 10 A surplus at idle: common practice, no source"
)


def battery_A(network: Network, answer: Solution, held: set[int]) -> Floats:
    """Give the current out of the nodes held at the battery in every state, shape (S,).

    Source: Kirchhoff's current law.
    """
    total = np.zeros(answer.node_V.shape[0])
    for ends, amps in (
        ([(r.a, r.b) for r in network.resistors], answer.resistor_A),
        ([(c.a, c.b) for c in network.contacts], answer.contact_A),
        ([(d.anode, d.cathode) for d in network.diodes], answer.diode_A),
    ):
        for k, (a, b) in enumerate(ends):
            if (a in held) != (b in held):
                total += np.nan_to_num(amps[:, k]) * (1 if a in held else -1)
    return total


def _from_battery_A(solved: Solved, states: States) -> float:
    """Current out of the battery at 12.6 V, relays settled; the most of the states.

    `nan` where one of them is a dead short.
    """
    held = {n for n, rail in solved.car.held_at.items() if rail == "battery"}
    _, answer, _ = settled(solved.car, solved.network, states, RESTED_V, 0)
    if answer.shorted.any():
        return nan
    return float(battery_A(solved.network, answer, held).max())


def _factory_A(car: Car) -> float:
    network = car.factory
    volts = np.array(
        [RESTED_V if car.factory_held_at[n] == "battery" else 0.0 for n in network.held]
    )
    controls = {n: np.zeros(1, dtype=np.int64) for n in network.controls()}
    answer = solve(network, closed_by(network, controls), volts)
    held = {n for n, rail in car.factory_held_at.items() if rail == "battery"}
    return float(battery_A(network, answer, held)[0])


def _state(solved: Solved, says: str) -> States:
    return solved.states.only(np.array([solved.states.says.index(says)], dtype=np.int64))


def added_mA(solved: Solved) -> float:
    """Give what the wiring draws while parked over the factory car, mA: a load or coil left fed.

    `nan` where it is a dead short.

    Source: `startwright.network.solve` at 12.6 V, key out, nothing commanded, both cars.
    """
    more = 1000 * (_from_battery_A(solved, _state(solved, "key out")) - _factory_A(solved.car))
    return more if isnan(more) else max(0.0, more)


def start_Ah(solved: Solved, battery_C: float) -> float:
    """Give the charge one remote start takes before the alternator carries the car.

    Every step up to and with cranking at its full length, one try; the starter's own current on
    top. `nan` where one of them is a dead short.

    Source: the unit's record; loads by `startwright.network.solve`; starter by
    `startwright.physics.battery.cranking_A`.
    """
    idle = _from_battery_A(solved, _state(solved, "key out"))
    total = 0.0
    for step in solved.car.unit.steps:
        lasts = step.for_s or step.at_most_s or 0.0
        amps = _from_battery_A(solved, _state(solved, f"step {step.step}, key out")) - idle
        cranks = bool({"starter", "starter_signal"} & set(step.drives))
        if cranks:
            amps += cranking_A(solved.car.job.vehicle.engine, battery_C)
        total += (amps if isnan(amps) else max(0.0, amps)) * lasts / 3600
        if cranks:
            break
    return total


def parked(solved: Solved, battery_C: float, charge: float) -> dict[str, Any]:
    """Judge the key-off current: the car's, the unit's, and what the wiring adds.

    Parameters
    ----------
    solved : Solved
    battery_C : float
        -40 to 60 °C; the days are given at 25 °C and at this.
    charge : float
        At the start, 0 to 1.

    Returns
    -------
    dict
        `car_mA`, `unit_mA`, `wiring_mA`, `total_mA`, `limit_mA`, `days_to_half`,
        `days_to_half_cold`, `battery_C`, `start_Ah`, `minutes_to_earn_back`, `holds`, `says`,
        `source`; None where a dead short leaves nothing to say.

    Source: 50 mA is workshop practice, no standard; the rest by `startwright.physics.battery`.
    """
    car = solved.car
    vehicle, unit = car.job.vehicle, car.job.unit
    own = unit.key_off_mA if unit.logic_from in car.unit.wired else 0.0
    wiring = added_mA(solved)
    noticed = 0.0 if wiring < NOTICED_MA else wiring
    total = vehicle.battery.key_off_mA + own + noticed
    most = practice("key_off_most")
    cost = start_Ah(solved, battery_C)
    if isnan(total):
        warm = cold = nan
    else:
        drawn = max(total, 0.1)
        warm = days_to_half(vehicle.battery.capacity_Ah, drawn, charge)
        cold = days_to_half(vehicle.battery.capacity_Ah, drawn, charge, battery_C)
    minutes = cost if isnan(cost) else minutes_to_earn_back(cost)
    says = []
    if isnan(total):
        says.append("parked, with the key out, the battery is shorted: nothing lasts; find it")
    if wiring >= NOTICED_MA:
        says.append(
            f"the wiring draws {wiring:.0f} mA with the key out: something stays fed or a relay "
            "stays in"
        )
    if total > most:
        says.append(
            f"{total:.0f} mA are drawn while parked, {most:g} mA is the most: find what draws it "
            "before handing over"
        )
    holds = not says
    if holds:
        start = f"a start costs {cost:.2f} Ah, earned back in {minutes:.0f} minutes of running"
        if isnan(cost):
            start = "what a start costs is not known: a step of it is a dead short"
        says.append(f"{total:.0f} mA parked, {warm:.0f} days to half charge; {start}")
    return {
        "car_mA": vehicle.battery.key_off_mA,
        "unit_mA": own,
        "wiring_mA": _known(wiring, 2),
        "total_mA": _known(total, 2),
        "limit_mA": most,
        "days_to_half": _known(warm, 1),
        "days_to_half_cold": _known(cold, 1),
        "battery_C": battery_C,
        "start_Ah": _known(cost, 3),
        "minutes_to_earn_back": _known(minutes, 1),
        "holds": holds,
        "says": "; ".join(says),
        "source": SOURCE,
    }


def _known(value: float, digits: int) -> float | None:
    return None if isnan(value) else round(value, digits)
