"""What stops a plan for a remote start before anything is chosen, and what would resolve it."""

from __future__ import annotations

from dataclasses import dataclass

from startwright.car.control_unit import ControlUnit
from startwright.car.hybrid import is_hybrid
from startwright.plan.fits import gives_tach
from startwright.plan.outputs import CRANKING
from startwright.records.job import WholeJob
from startwright.records.unit import Unit
from startwright.records.vehicle import Circuit, Vehicle

COAST_S = 1.0
"""How long an engine coasts that was turned off, s (as the proof takes it; common practice)."""

_GUARDS = {"brake": "inactive", "hood": "inactive", "park_neutral": "active"}


@dataclass(frozen=True)
class Refusal:
    """A reason not to plan, and what would resolve it."""

    reason: str
    resolve: str


def refusals_of(job: WholeJob, how: str = "fed") -> list[Refusal]:
    """Every reason why this vehicle and unit get no remote start as they are on record.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit, stock and wants.
    how : str
        ``fed``, or ``imitated``: then `startwright.plan.press` has reasons of its own.

    Returns
    -------
    list of Refusal
        Empty where nothing stops it.
    """
    if how == "imitated":
        return [*_vehicle(job), *_there(job), *_unit(job)]
    return [*_vehicle(job), *_there(job), *_fed(job), *_unit(job), *_cranks(job)]


def _vehicle(job: WholeJob) -> list[Refusal]:
    v, out = job.vehicle, []
    if is_hybrid(v):
        out.append(
            Refusal(
                "The vehicle is a hybrid: a start makes it ready to drive without a sound, and its "
                "own computer starts and stops the engine then. A unit that listens for the engine "
                "goes on asking a car that is ready, and this version does not choose a wiring "
                "around that yet.",
                "leave this vehicle to its maker's own remote start; or write the wiring by hand, "
                "with a unit that goes by volts or the charge lamp and never by the tach, and put "
                "it to `startwright prove`",
            )
        )
    if v.immobilizer.kind == "unknown":
        out.append(
            Refusal(
                "It is not known whether an immobilizer is fitted; a guess ends in an engine that "
                "dies after a second, or in a damaged module.",
                "find out first: look at the key's head, watch the key telltale, look for the fuse "
                "label, start with a plain-cut copy; then enter the kind and the evidence",
            )
        )
    if v.gearbox == "manual" and not job.unit.manual_gearbox:
        out.append(
            Refusal(
                "The gearbox is manual, and the unit's record declares no procedure that makes "
                "sure it was left in neutral: a start in gear drives the car off.",
                "a unit whose record declares a `manual_gearbox` procedure",
            )
        )
    return out


def _there(job: WholeJob) -> list[Refusal]:
    v, out = job.vehicle, []
    if not v.of("park_neutral"):
        out.append(
            Refusal(
                "No park/neutral signal is on record: nothing would keep the unit from cranking "
                "in gear.",
                "find the park/neutral wire with a meter (it changes when the lever leaves park "
                "or neutral) and enter it",
            )
        )
    if not v.of("ignition"):
        out.append(
            Refusal(
                "No ignition circuit is on record, so the engine could not run.",
                "find and measure the ignition wires and enter them",
            )
        )
    if not v.of("starter"):
        out.append(
            Refusal(
                "No starter circuit is on record, so the engine could not be cranked.",
                "find and measure the starter wire at the key switch and enter it",
            )
        )
    return out


def cranks_without(vehicle: Vehicle, circuit: Circuit) -> bool:
    """Whether a starter circuit past the car's own switch may stay dead: another one cranks."""
    return circuit.interlock == "upstream" and any(
        c.interlock != "upstream" and not c.leave_dead for c in vehicle.of("starter")
    )


def _fed(job: WholeJob) -> list[Refusal]:
    """What stops a start that feeds the circuits of the key."""
    v, out = job.vehicle, []
    starters = v.of("starter")
    for c in starters:
        if c.interlock == "upstream" and not c.leave_dead and not cranks_without(v, c):
            out.append(
                Refusal(
                    f"The starter circuit {c.id} lies past the car's park/neutral switch: fed "
                    "there, the engine would crank in gear (49 CFR 571.102 S3.1.3).",
                    f"find the wire of {c.id} on the key's side of the park/neutral switch and "
                    "enter that; or, where the car cranks without it, mark it `leave_dead`",
                )
            )
    if starters and all(c.leave_dead for c in starters):
        out.append(
            Refusal(
                "Every starter circuit on record is to be left dead, so nothing would crank.",
                "find the start wire on the key's side of the park/neutral switch and enter it",
            )
        )
    for c in v.of("ignition"):
        if c.leave_dead and {"run", "start"} <= set(c.live or ()):
            out.append(
                Refusal(
                    f"{c.id} is an ignition circuit, live in run and start, and is to be left "
                    "dead: the engine may not run without it.",
                    f"take `leave_dead` from {c.id}, or enter it as accessory if it feeds no part "
                    "of the engine",
                )
            )
    return out


def _unit(job: WholeJob) -> list[Refusal]:
    v, unit, out = job.vehicle, job.unit, []
    senses = {lead.senses for lead in unit.leads if lead.way == "in"}
    guards = {(g.input, g.reads) for g in unit.guards}
    for sense, reads in _GUARDS.items():
        title = sense.replace("_", "/")
        if sense not in senses:
            out.append(
                Refusal(
                    f"The unit {unit.id} has no {title} input, so it cannot keep a start safe.",
                    f"a unit with a {title} input",
                )
            )
        elif (sense, reads) not in guards:
            out.append(
                Refusal(
                    f"The unit {unit.id} does not guard a start by its {title} input reading "
                    f"{reads}.",
                    f"a unit whose guards include {title} reading {reads}",
                )
            )
    for guard in unit.guards:
        if guard.input not in _GUARDS and guard.input not in senses and guard.reads == "active":
            out.append(
                Refusal(
                    f"The unit {unit.id} starts only when {guard.input} reads active, and has no "
                    "such input.",
                    "another unit, or its record put right",
                )
            )
    if not _waits(unit):
        out.append(
            Refusal(
                f"The unit {unit.id} cranks within a second of its command: an engine that was "
                "turned off just before still coasts, and the starter would meet it turning.",
                f"a unit with a step of {COAST_S:g} s or more before the one that cranks",
            )
        )
    choices = unit.engine_signal.choices if unit.engine_signal else []
    by_wire = any(c.reach == "wire" for c in v.of("tach")) and "tach" in senses
    by_wire = by_wire or (
        "tach" in senses and any(gives_tach(p, v) for p in job.stock.parts if p.count > 0)
    )
    by_lamp = "charge_lamp" in choices and bool(v.of("charge_lamp")) and "charge_lamp" in senses
    if not by_wire and not by_lamp and "volts" not in choices:
        why = (
            "the tach signal of this vehicle travels on a data bus alone"
            if v.of("tach")
            else "no tach wire is on record"
        )
        if not v.of("tach") or "tach" in senses:
            why += f", and the unit {unit.id} knows no other sign but time"
        else:
            why = f"the unit {unit.id} has no tach input and knows no other sign but time"
        out.append(
            Refusal(
                f"Nothing would tell the unit that the engine runs: {why}. A start by time alone "
                "goes on cranking after the engine has caught.",
                "find a tach wire (coil, injector or engine computer) and enter it, or take a unit "
                "that goes by volts or the charge lamp",
            )
        )
    return out


def _waits(unit: Unit) -> bool:
    """Whether a step before the one that cranks outlasts an engine that coasts down."""
    for step in ControlUnit(unit, {}).steps:
        if CRANKING & set(step.drives):
            return False
        if step.for_s is not None and step.for_s >= COAST_S and step.or_until != "engine_running":
            return True
    return True


def _cranks(job: WholeJob) -> list[Refusal]:
    unit, out = job.unit, []
    if not any("starter" in s.drives or "starter_signal" in s.drives for s in unit.sequence):
        out.append(
            Refusal(
                f"No step of the unit {unit.id} cranks the engine.",
                "a unit whose sequence drives starter",
            )
        )
    return out
