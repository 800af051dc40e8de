"""What the battery does while cranking and parked, unfolded number by number."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from startwright.car.build import wire_up
from startwright.physics.battery import (
    CCA_C,
    CCA_V,
    capacity_share,
    charge_resistance_factor,
    correction_V,
    cranking_A,
    internal_ohm,
    load_test_least_V,
    need_share,
    open_circuit_V,
    power_share,
)
from startwright.records.job import WholeJob
from startwright.records.lines import Lines, Point
from startwright.records.unit import Step
from startwright.records.wiring import Wiring
from startwright.reference.batteries import practice
from startwright.reference.tables import citation
from startwright.size.parked import NOTICED_MA, RESTED_V
from startwright.size.starting import CCA_A, SOLENOID_LEAST_V
from startwright.size.why_number import Number, practice_row, read_between

Row = Mapping[str, Any]
SOLVED = "nodal analysis of the wired car, docs/network.md"


def steps_of(job: WholeJob, wiring: Wiring) -> tuple[Step, ...]:
    """Give the unit's steps with the numbers that the wiring sets.

    Source: the unit's record.
    """
    return wire_up(job, wiring).unit.steps


def _cranks(step: Step) -> bool:
    return bool({"starter", "starter_signal"} & set(step.drives))


def _to_cranking(steps: tuple[Step, ...]) -> list[tuple[Step, float]]:
    """Each step up to and with cranking, and its full length in seconds."""
    out = []
    for step in steps:
        out.append((step, step.for_s or step.at_most_s or 0.0))
        if _cranks(step):
            break
    return out


# -- while cranking --------------------------------------------------------------------------------


def starting_numbers(job: WholeJob, row: Row) -> Iterator[Number]:
    """Unfold what the battery keeps while the starter turns, and what unit and starter get.

    Source: each number names its own.
    """
    battery_C, charge = float(row["battery_C"]), float(row["charge"])
    engine, rated = job.vehicle.engine, job.vehicle.battery.cca_A
    cca = min(max(rated, CCA_A[0]), CCA_A[1])
    rested = min(open_circuit_V(charge), open_circuit_V(charge, battery_C))
    yield _rested(charge, battery_C, rested)
    warm = practice("crank_A_base") + practice("crank_A_per_cylinder") * engine.cylinders
    diesel = engine.ignition == "compression"
    if diesel:
        warm *= practice("crank_compression_factor")
    amps, need = cranking_A(engine, battery_C), need_share(battery_C)
    cold_table = citation("battery-cold-table")
    yield Number(
        "starter's current",
        f"{amps:.3g} A",
        f"I = ({practice('crank_A_base'):g} A + {practice('crank_A_per_cylinder'):g} A · cylinders)"
        f"{' · compression' if diesel else ''} · cold = {warm:g} A ({engine.cylinders} cylinders) "
        f"· {need:.3g} (engine at {battery_C:g} °C)",
        f"{citation('practice-cranking')}; in the cold: {cold_table}",
        (
            practice_row("crank_A_base", "{} A, any starter"),
            practice_row("crank_A_per_cylinder", "{} A, each cylinder"),
            *(
                [practice_row("crank_compression_factor", "{} times for compression ignition")]
                if diesel
                else []
            ),
            *read_between("battery_cold", "battery_C", "need_share", battery_C, ("°C", "times")),
        ),
    )
    ohm = internal_ohm(cca, battery_C, charge)
    emptier = charge_resistance_factor(charge)
    full, power = open_circuit_V(1.0), power_share(CCA_C) / power_share(battery_C)
    taken = "" if cca == rated else f" (taken for {rated:g} A)"
    yield Number(
        "battery's resistance",
        f"{1000 * ohm:.3g} mΩ",
        f"R = (U full − {CCA_V:g} V) / CCA · cold · charge = ({full:g} V − {CCA_V:g} V) / "
        f"{cca:g} A{taken} · {power:.3g} · {emptier:.3g}",
        f"SAE J537: {CCA_V:g} V after 30 s at {CCA_C:g} °C; cold: {cold_table}; "
        "charge: 1 / (0.4 + 0.6 charge), common practice, no source",
        tuple(read_between("battery_cold", "battery_C", "power_share", battery_C, ("°C", "of it"))),
    )
    yield Number(
        "battery while cranking",
        f"{row['battery_V']:g} V",
        f"U = U0 − R · I = {rested:.4g} V − {1000 * ohm:.4g} mΩ · {amps:.4g} A",
        "Ohm's law",
    )
    weak = internal_ohm(cca, battery_C, charge, weak=True)
    yield Number(
        "a battery that just passes its load test",
        f"{row['weak_battery_V']:g} V",
        f"U = U0 − R · I = {rested:.4g} V − {1000 * weak:.4g} mΩ · {amps:.4g} A, with R from "
        f"{load_test_least_V(battery_C):.3g} V at half of {cca:g} A",
        citation("bci-load-test"),
        tuple(read_between("battery_load_test", "battery_C", "least_V", battery_C, ("°C", "V"))),
    )
    yield from _at_the_ends(row)


def _rested(charge: float, battery_C: float, rested: float) -> Number:
    hot = correction_V(battery_C)
    less = f" − {hot:.2g} V (at {battery_C:g} °C)" if hot > 0 else "; no gain taken for the cold"
    return Number(
        "rested battery",
        f"{rested:.4g} V",
        f"U0 = table at {100 * charge:g} % charge = {open_circuit_V(charge):.4g} V{less}",
        citation("battery-charge-table"),
        tuple(
            read_between(
                "battery_charge", "charge", "open_circuit_V", charge, ("of its charge", "V")
            )
        ),
    )


def _at_the_ends(row: Row) -> Iterator[Number]:
    """Volts at the unit and at each starter circuit."""
    if row["unit_V"] is not None:
        yield Number(
            "unit while cranking",
            f"{row['unit_V']:g} V",
            f"the battery at {row['battery_V']:g} V less what its feed and ground lose; "
            f"{row['unit_least_V']:g} V is the least",
            f"{SOLVED}; ISO 16750-2, Table 1, code A (from memory)",
        )
    for circuit, volts in row["pull_in_V"].items():
        yield Number(
            f"{circuit} to pull in",
            f"{volts:g} V",
            f"on the rested battery, before it sags; {SOLENOID_LEAST_V:g} V is the least where "
            "it is fed",
            f"{SOLVED}; a solenoid pulls in from two thirds of 12 V: common practice, no source",
        )
        yield Number(
            f"{circuit} while cranking",
            f"{row['starter_V'][circuit]:g} V",
            f"the battery at {row['battery_V']:g} V less what the way there loses",
            SOLVED,
        )


def starting_inputs(job: WholeJob, wiring: Wiring, row: Row, lines: Lines) -> list[Point]:
    """Give what went into it: battery, engine, the step that cranks, the unit's feed, relays.

    Source: none, the records.
    """
    out = [
        _battery(job, lines, "cca_A", "cold cranking", "A"),
        _vehicle(
            job,
            lines,
            "engine",
            f"{job.vehicle.engine.cylinders} cylinders, "
            f"{job.vehicle.engine.ignition.replace('_', ' ')}",
        ),
    ]
    for step, lasts in _to_cranking(steps_of(job, wiring)):
        if _cranks(step):
            out.append(_step(job, step, lasts, lines))
    logic = job.unit.logic_from
    ends = [f"unit.{logic}"] if logic else []
    ends += [f"unit.{d.id}" for d in job.unit.leads if d.way == "ground"][:1]
    ends += [f"vehicle.{c}" for c in row["pull_in_V"]]
    for run in wiring.runs:
        if any(end.startswith(tuple(ends)) for end in run.ends):
            size = f"{run.size_mm2:g} mm²" if run.size_mm2 else "no size given"
            says = f"{run.from_} → {run.to}, {size}"
            out.append(Point(f"run {run.id}", says, lines.run(wiring, run.id)))
    for name in row["let_go"]:
        fitted = next((p for p in wiring.parts if p.id == name), None)
        if fitted is not None:
            out.append(Point(f"part {name}", fitted.of, lines.part(wiring, name)))
            out.append(Point(f"article {fitted.of}", "its drop-out", lines.article(job, fitted.of)))
    return out


# -- parked ----------------------------------------------------------------------------------------


def parked_numbers(job: WholeJob, wiring: Wiring, row: Row, charge: float) -> Iterator[Number]:
    """Unfold the key-off current, the days it leaves, and what a start costs.

    Source: each number names its own.
    """
    if row["wiring_mA"] is None:
        yield Number("through the wiring", "not reckoned", "battery and ground are joined", SOLVED)
        return
    yield Number(
        "through the wiring",
        f"{row['wiring_mA']:g} mA",
        f"I = I (wired car) − I (factory car), key out, at {RESTED_V:g} V; less than "
        f"{NOTICED_MA:g} mA is the pull of the unit's inputs and counts with its own",
        SOLVED,
    )
    noticed = row["wiring_mA"] if row["wiring_mA"] >= NOTICED_MA else 0.0
    yield Number(
        "while parked",
        f"{row['total_mA']:g} mA",
        f"I = car + unit + wiring = {row['car_mA']:g} mA + {row['unit_mA']:g} mA + {noticed:g} mA; "
        f"{row['limit_mA']:g} mA is the most",
        citation("practice-key-off"),
        (practice_row("key_off_most", "{} mA, the most while parked"),),
    )
    capacity = job.vehicle.battery.capacity_Ah
    drawn = max(row["total_mA"], 0.1)
    spare = max(0.0, charge - 0.5)
    battery_C = row["battery_C"]
    for name, at_C, days in (
        ("days to half charge", 25.0, row["days_to_half"]),
        (f"days at {battery_C:g} °C", battery_C, row["days_to_half_cold"]),
    ):
        share = capacity_share(at_C)
        yield Number(
            name,
            f"{days:g} days",
            f"t = (charge − 0.5) · capacity · cold / I / 24 h = {spare:.3g} · {capacity:g} Ah · "
            f"{share:.3g} ({at_C:g} °C) / {drawn:g} mA / 24 h",
            f"charge over current; cold: {citation('battery-handbook')}",
            ()
            if at_C >= 25
            else (practice_row("capacity_per_K_below_25", "{} less for each kelvin below 25 °C"),),
        )
    if row["start_Ah"] is not None:
        yield from _start(job, wiring, row)


def _start(job: WholeJob, wiring: Wiring, row: Row) -> Iterator[Number]:
    """What one start takes, and when it is put back."""
    amps = cranking_A(job.vehicle.engine, row["battery_C"])
    steps = _to_cranking(steps_of(job, wiring))
    turning = sum(amps * lasts for step, lasts in steps if _cranks(step)) / 3600
    cranking = " + ".join(f"{amps:.4g} A · {lasts:g} s" for step, lasts in steps if _cranks(step))
    told = ", ".join(f"{step.step} {lasts:g} s" for step, lasts in steps)
    starter = f"{cranking} of the starter" if cranking else "no starter"
    yield Number(
        "a start takes",
        f"{row['start_Ah']:g} Ah",
        f"Q = Σ I · t over the steps at their full length ({told}), one try: {starter} = "
        f"{turning:.3g} Ah, and {max(0.0, row['start_Ah'] - turning):.3g} Ah of the loads at "
        f"{RESTED_V:g} V",
        f"{SOLVED}; starter: {citation('practice-cranking')}",
    )
    yield Number(
        "earned back in",
        f"{row['minutes_to_earn_back']:g} min",
        f"t = Q / kept / surplus = {row['start_Ah']:g} Ah · 60 / "
        f"{practice('coulomb_efficiency'):g} / {practice('idle_surplus_A'):g} A",
        citation("practice-cranking"),
        (
            practice_row("coulomb_efficiency", "{} of the charge is kept"),
            practice_row("idle_surplus_A", "{} A left for the battery at idle"),
        ),
    )


def parked_inputs(job: WholeJob, wiring: Wiring, lines: Lines) -> list[Point]:
    """Give what went into it: battery, key-off currents, the steps of a start.

    Source: none, the records.
    """
    unit = job.unit
    given = "key_off_mA" in unit.model_fields_set
    says = f"{unit.key_off_mA:g} mA key-off" + ("" if given else ", the package's default")
    return [
        _battery(job, lines, "capacity_Ah", "capacity", "Ah"),
        _battery(job, lines, "key_off_mA", "key-off", "mA"),
        Point("unit", says, lines.where("unit", "key_off_mA"), missing=not given),
        *(_step(job, step, s, lines) for step, s in _to_cranking(steps_of(job, wiring))),
    ]


# -- records ---------------------------------------------------------------------------------------


def _battery(job: WholeJob, lines: Lines, key: str, name: str, unit: str) -> Point:
    battery = job.vehicle.battery
    given = key in battery.model_fields_set
    says = f"{name} {getattr(battery, key):g} {unit}" + ("" if given else ", the package's default")
    return Point(f"battery {key}", says, lines.where("vehicle", "battery", key), missing=not given)


def _vehicle(job: WholeJob, lines: Lines, key: str, says: str) -> Point:
    given = key in job.vehicle.model_fields_set
    told = says if given else f"{says}, the package's default"
    return Point(key, told, lines.where("vehicle", key), missing=not given)


def _step(job: WholeJob, step: Step, lasts_s: float, lines: Lines) -> Point:
    says = f"drives {', '.join(step.drives)}, {lasts_s:g} s at most"
    return Point(f"step {step.step}", says, lines.step(job, step.step))
