"""A played line over time: what the unit does when, and the volts of every wire that is joined.

The states are those of the clocked replay at the proof's corner voltages. While the starter turns
the rail sags; a chosen temperature puts the battery's own sag in place of the corner, and says
where a relay would no longer hold at it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Literal

import numpy as np

from startwright.car.build import Car, wire_up
from startwright.car.circuits import is_feed, terminals_of
from startwright.car.surroundings import RAILS, values
from startwright.physics.battery import RANGE_C, cranking_V
from startwright.prove.clocked import Clock, Moment, meets
from startwright.prove.clocked import play as play_line
from startwright.prove.model import ENGINE, Model
from startwright.prove.standing import Standing, level_of, stand_through
from startwright.prove.tables import TooLarge
from startwright.prove.tell import describe
from startwright.prove.view import Marks
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.reports import (
    Timeline,
    TimelineMoment,
    TimelineStep,
    TimelineTrace,
)
from startwright.records.scenario import Scenario, parse_scenario
from startwright.records.wiring import Run, Wiring
from startwright.records.words import KEY_POSITIONS

NO_VOLTS = frozenset({"ground", "tach", "srs", "data", "high_voltage"})
"""Circuits without volts of their own to show: ground, pulses, and what is never touched."""


def timeline(
    job: WholeJob,
    wiring: Wiring,
    line: str | Scenario,
    *,
    battery_C: float | None = None,
    where: str = "scenario",
) -> Timeline:
    """Play a line from the parked car and give its steps in seconds and its wires in volts.

    Parameters
    ----------
    job : WholeJob
    wiring : Wiring
    line : str or Scenario
        ``command start · wait 5 s · brake press``; a fault may stand in it (``fault r7 open``).
    battery_C : float, optional
        Temperature of battery and engine, -40 to 60 °C: the rail then sags to what the vehicle's
        battery gives while it cranks. By default the proof's corner voltage, 9.0 V.
    where : str
        Where the line stands, for an error.

    Returns
    -------
    Timeline
        Each trace has one value a moment; a value stands until the next moment.

    Raises
    ------
    RecordError
        For a line that cannot be read or played, or a temperature out of range.

    Source: corner voltages common practice, no source; the sag in the cold as
    `startwright.physics.battery.cranking_V`.
    """
    scenario = parse_scenario(line, where) if isinstance(line, str) else line
    model = Model(wire_up(job, wiring))
    try:
        clock = play_line(model, scenario)
        met = [meets(clock.model, clock.row(), e) for e in scenario.expects]
    except RecordError as error:
        at = error.where.replace("scenario", where, 1)
        raise RecordError(error.what, at, error.expected) from None
    sag_V = _sag_V(job, battery_C)
    parts = stand_through(model.car, clock.log, sag_V)
    return Timeline(
        line=str(scenario),
        ends_s=_s(clock.at_s),
        holds=not clock.flaws and all(met),
        expects=[
            {"expect": str(e), "met": bool(m)} for e, m in zip(scenario.expects, met, strict=True)
        ],
        flaws=list(clock.flaws),
        moments=_moments(clock, parts),
        steps=_steps(clock),
        traces=list(_traces(model.car, parts)),
        runs=[_run(run, parts) for run in wiring.runs],
        cranking_V=round(RAILS["crank"] if sag_V is None else sag_V, 3),
        battery_C=battery_C,
        notes=_notes(job, parts, battery_C, sag_V),
        shorts=_shorts(clock),
    )


def _sag_V(job: WholeJob, battery_C: float | None) -> float | None:
    if battery_C is None:
        return None
    low, high = RANGE_C
    battery = job.vehicle.battery
    if not low <= battery_C <= high:
        raise RecordError(f"a battery at {battery_C:g} °C", "battery_C", f"{low:g} to {high:g} °C")
    try:
        return cranking_V(battery.cca_A, job.vehicle.engine, battery_C)
    except ValueError as error:
        raise RecordError(
            f"a battery of {battery.cca_A:g} A", f"vehicle {job.vehicle.id}: battery", str(error)
        ) from error


# ---- moments and steps --------------------------------------------------------------------------


def _s(seconds: float) -> float:
    return round(seconds, 3)


def _step_of(model: Model, row: dict[str, int]) -> tuple[str, int]:
    """The step the unit is in, and which try it is; idle is no try."""
    start = model.starts[row["start"]]
    name = model.unit.steps[start.step].step if start.mode == "step" else start.mode
    return name, start.tries + 1 if start.mode in ("step", "pause") else 0


def _moments(clock: Clock, parts: Sequence[Standing]) -> list[TimelineMoment]:
    rails = [float(v) for p in parts for v in p.rail_V]
    out = []
    for moment, rail_V in zip(clock.log, rails, strict=True):
        step, tries = _step_of(clock.model, moment.row)
        out.append(
            TimelineMoment(
                time_s=_s(moment.at_s),
                what=in_words(moment.what),
                by=_by(moment.what),
                stands=describe(clock.model, moment.row),
                step=step,
                tries=tries,
                engine=ENGINE[moment.row["motion"]],
                key=KEY_POSITIONS[moment.row["key"]],
                rail_V=round(rail_V, 3),
                driven=driven(moment),
            )
        )
    return out


def driven(moment: Moment) -> list[str]:
    """The unit's outputs that are on in a moment, by lead."""
    return [n.removeprefix("out.") for n, on in moment.row.items() if n[:4] == "out." and on]


def in_words(what: str) -> str:
    """What happened, as a line says it: ``hood 1`` is the hood opened."""
    name, _, number = what.rpartition(" ")
    if not name or not number.isdigit():
        return {"timer": "time runs out", "parked": "parked, key out"}.get(what, what)
    return f"{name} {values(name)[int(number)]}"


def _by(what: str) -> Literal["parked", "hand", "unit", "engine", "fault"]:
    """Who made it happen."""
    if what == "parked":
        return "parked"
    if what.startswith("fault "):
        return "fault"
    if what.startswith("engine "):
        return "engine"
    return "unit" if what in ("timer", "pulse over", "window over") else "hand"


def _steps(clock: Clock) -> list[TimelineStep]:
    """The unit's steps one after another; together they last as long as the line.

    The one it is left in is told even where the line ends with it.
    """
    stays = [(_step_of(clock.model, m.row), m.at_s) for m in clock.log]
    begun = [(step, next(at)[1]) for step, at in groupby(stays, key=lambda stay: stay[0])]
    ends = [at for _, at in begun[1:]] + [clock.at_s]
    return [
        TimelineStep(
            step=step,
            tries=tries,
            from_s=_s(at),
            to_s=_s(end),
            lasts_s=_s(end - at),
        )
        for k, (((step, tries), at), end) in enumerate(zip(begun, ends, strict=True))
        if end > at or k == len(begun) - 1
    ]


# ---- volts --------------------------------------------------------------------------------------


def _rounded(volts_V: float | None) -> float | None:
    return None if volts_V is None else round(volts_V, 3) + 0.0


def _trace(
    id: str, kind: Literal["circuit", "lead"], name: str, terminal: str, parts: Sequence[Standing]
) -> TimelineTrace:
    return TimelineTrace(
        id=id,
        kind=kind,
        name=name,
        volts_V=[_rounded(v) for p in parts for v in p.volts(terminal)],
        levels=[level for p in parts for level in p.levels(terminal)],
    )


def _run(run: Run, parts: Sequence[Standing]) -> TimelineTrace:
    return TimelineTrace(
        id=run.id,
        kind="run",
        name=f"{run.from_} to {run.to}",
        volts_V=[_rounded(v) for p in parts for v in p.run_volts(run)],
        levels=[level for p in parts for level in p.run_levels(run)],
    )


def _traces(car: Car, parts: Sequence[Standing]) -> Iterator[TimelineTrace]:
    rail_V = [float(v) for p in parts for v in p.rail_V]
    yield TimelineTrace(
        id="rail",
        kind="rail",
        name="battery rail",
        volts_V=[_rounded(v) for v in rail_V],
        levels=[level_of(v, v) for v in rail_V],
    )
    for circuit in car.job.vehicle.circuits:
        if circuit.function in NO_VOLTS or is_feed(circuit):
            continue
        name = circuit.function.replace("_", " ")
        if len(car.job.vehicle.of(circuit.function)) > 1:
            name += f" ({circuit.id})"
        source, load = terminals_of(circuit, circuit.id in car.wiring.cuts)
        if source != load:
            yield _trace(f"{circuit.id}.source", "circuit", f"{name}, source side", source, parts)
            name += ", load side"
        yield _trace(load.removeprefix("vehicle."), "circuit", name, load, parts)
    for lead in car.job.unit.leads:
        if lead.id not in car.unit.wired or lead.way == "ground" or lead.senses == "tach":
            continue
        does = car.unit.does(lead) if lead.way == "out" else lead.senses
        name = f"lead {lead.id}" + (f", {does.replace('_', ' ')}" if does else "")
        yield _trace(f"unit.{lead.id}", "lead", name, f"unit.{lead.id}", parts)
    for k, coil in enumerate(car.coils):
        yield TimelineTrace(
            id=coil.part,
            kind="coil",
            name=f"coil of {coil.part}",
            volts_V=[
                _rounded(v) for p in parts for v in p.across(p.car.coils[k].a, p.car.coils[k].b)
            ],
            levels=[
                "pulled in" if row[f"coil.{coil.part}"] else "let go"
                for p in parts
                for row in p.rows
            ],
        )


def _notes(
    job: WholeJob, parts: Sequence[Standing], battery_C: float | None, sag_V: float | None
) -> list[str]:
    if battery_C is None or sag_V is None:
        low = any(row["power"] == 1 and row.get("battery", 0) for p in parts for row in p.rows)
        stands_V = f"{RAILS['crank']:g} V"
        if low:
            stands_V += f" ({RAILS['low_crank']:g} V with the battery low)"
        return [f"While the starter turns the rail stands at {stands_V}, as in the proof."]
    battery = job.vehicle.battery
    said = [
        f"At {battery_C:g} °C a battery of {battery.cca_A:g} A cold cranking sags to {sag_V:.1f} V "
        "while the starter turns; the states are those of the proof's corner voltages."
    ]
    lost: dict[str, float] = {}
    for part in parts:
        for coil in part.car.coils:
            for row, volts in zip(part.rows, part.across(coil.a, coil.b), strict=True):
                held = row[f"coil.{coil.part}"] and row["power"] == 1
                if held and abs(volts) <= coil.drop_out_V:
                    lost[coil.part] = abs(volts)
    said += [
        f"{name} would let go: its coil has {volts:.1f} V while the starter turns."
        for name, volts in lost.items()
    ]
    return said


def _shorts(clock: Clock) -> list[str]:
    """Where battery meets ground without a load, since the last fault of the line.

    No fuse blows in a played line: the volts stay those of the corner.
    """
    struck = (k for k, m in enumerate(clock.log) if m.what.startswith("fault "))
    since = clock.log[max(struck, default=0) :]
    rows = {name: np.array([m.row[name] for m in since]) for name in since[0].row}
    try:
        reasons = Marks(clock.model)["short"].parts
    except TooLarge:
        return []
    said = []
    for reason in reasons:
        shorted = np.flatnonzero(reason.full.look(rows))
        if len(shorted):
            at_s = _s(since[shorted[0]].at_s)
            said.append(
                f"From {at_s:g} s on battery meets ground without a load at {reason.label}: a fuse "
                "opens or a wire burns there. The rest is told as if neither did."
            )
    return said
