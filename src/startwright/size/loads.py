"""The drop from the battery rail to every load that the unit feeds, in its worst state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from startwright.car.circuits import load_ohm, terminals_of
from startwright.car.surroundings import LOAD_AT_V
from startwright.physics.drop import CRITICAL_SHARE, LESS_CRITICAL_SHARE
from startwright.records.words import NEVER_TOUCHED
from startwright.size.amps import Floats, Solved

CRITICAL = frozenset({"ignition", "starter"})
NO_LOAD = NEVER_TOUCHED | {"battery", "ground"}
WORKED = frozenset(
    {
        "parking_light",
        "dome_light",
        "horn",
        "lock",
        "unlock",
        "driver_unlock",
        "trunk_release",
        "seat_heater",
        "rear_defogger",
    }
)
"""Operated circuits with a load of their own, which the record ought to state."""


def unrecorded(solved: Solved) -> tuple[list[str], list[str]]:
    """List the tapped circuits whose load is not recorded: a usual one taken, and none taken.

    Source: the vehicle record.
    """
    ends = {e.split(".")[1] for r in solved.car.wiring.runs for e in r.ends if e[:8] == "vehicle."}
    silent = [c for c in solved.car.job.vehicle.circuits if c.id in ends and c.load_A is None]
    usual = [c.id for c in silent if c.key_fed and c.function not in NO_LOAD]
    return usual, [c.id for c in silent if c.function in WORKED]


@dataclass(frozen=True)
class Load:
    """One circuit as the unit feeds it: volts lost on the way, in the worst step."""

    circuit: str
    amps_A: float
    drop_V: float
    drop_share: float
    limit_share: float
    state: str


def fed_loads(solved: Solved) -> dict[str, Load]:
    """Give the worst drop to each circuit that a unit output or a relay feeds, by circuit.

    The key is out, so that the car's own switch does not help; 14.4 V at the battery.

    Parameters
    ----------
    solved : Solved

    Returns
    -------
    dict of str to Load

    Source: limits of ABYC E-11: 3 % of what matters (ignition, starter), 10 % of the rest; volts by
    `startwright.network.solve`.
    """
    car, out = solved.car, {}
    key = solved.states.controls.get("key")
    working = np.array(
        [
            bool(s) or "command" in t
            for s, t in zip(solved.states.step, solved.states.says, strict=True)
        ]
    )
    if key is not None:
        working &= key == 0
    for c in car.job.vehicle.circuits:
        if c.function in NO_LOAD or load_ohm(c) is None:
            continue
        name = terminals_of(c, c.id in car.wiring.cuts)[1]
        if name not in car.number or c.active_level not in ("battery", "ground"):
            continue
        volts = np.nan_to_num(solved.answer.node_V[:, car.number[name]])
        fed = working & (
            (volts > 0.6 * LOAD_AT_V) if c.active_level == "battery" else (volts < 0.4 * LOAD_AT_V)
        )
        if c.active_level == "ground" and c.rest != "battery":
            fed &= np.abs(_load_amps(solved, c.id)) > 1e-6
        drop = np.where(fed, LOAD_AT_V - volts if c.active_level == "battery" else volts, -1.0)
        at = int(np.argmax(drop))
        if drop[at] < 0 or not _by_the_unit(solved, c.id, at):
            continue
        limit = CRITICAL_SHARE if c.function in CRITICAL else LESS_CRITICAL_SHARE
        out[c.id] = Load(
            c.id,
            abs(float(_load_amps(solved, c.id)[at])),
            float(drop[at]),
            float(drop[at]) / LOAD_AT_V,
            limit,
            solved.states.says[at],
        )
    return out


def _load_amps(solved: Solved, circuit: str) -> Floats:
    for ending in ("#load", "#motor"):
        if f"vehicle.{circuit}{ending}" in solved.amps:
            return solved.column(f"vehicle.{circuit}{ending}")
    return np.zeros(len(solved.states))


def _by_the_unit(solved: Solved, circuit: str, at: int) -> bool:
    """Whether current comes to the circuit over a run in that state."""
    names = {f"vehicle.{circuit}", f"vehicle.{circuit}.load"}
    for run in solved.car.wiring.runs:
        if names & set(run.ends) and abs(float(solved.column(f"run.{run.id}")[at])) > 1e-3:
            return True
    return False
