"""Which wire is it, from meter readings: the same model, one value at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from startwright.identify.behaviours import Behaviour, behaviours
from startwright.identify.features import HUM, QUIET, Features
from startwright.identify.likelihood import Emissions, K, emissions
from startwright.identify.next_check import next_checks
from startwright.identify.places import hints, never_touched
from startwright.identify.posterior import Scored, spread, weigh
from startwright.identify.report import IdentifyReport
from startwright.identify.segments import Table
from startwright.identify.situations import expected_rail_V, situate
from startwright.identify.verdict import decide
from startwright.records.errors import RecordError
from startwright.records.readings import Reading, Readings
from startwright.records.recordings import WirePlace

LAMP_LIT_V = 4.0
"""A probe lamp that shows at all stands for more than this across it (common practice)."""

LAMP_CAUTION = (
    "no probe lamp on this wire: a lamp draws enough current to fire an airbag or to upset a data "
    "line; use a digital meter of 10 megohm, or leave it alone"
)


def before_probing(place: WirePlace | None, meter: str = "digital") -> str | None:
    """The caution that stands before a probe touches a wire; None where there is none.

    Parameters
    ----------
    place : WirePlace or None
        What is known of where the wire is.
    meter : str
        ``digital`` or ``lamp``.
    """
    never = never_touched(place)
    if never is not None:
        kind, why = never
        if kind == "high_voltage":
            return f"do not probe: {why}; more than 60 V can kill"
        if kind == "srs":
            return f"do not probe: {why}; a probe can fire it"
        return LAMP_CAUTION if meter == "lamp" else f"leave alone: {why}"
    if meter == "lamp" and place is None:
        return "a probe lamp only where the wire is known to be no airbag and no data line"
    return None


def identify_readings(
    readings: Readings | Sequence[Reading],
    wires: Mapping[str, WirePlace] | None = None,
    *,
    diesel: bool | None = None,
) -> IdentifyReport:
    """Which wire is it, from meter values with what was worked at the time.

    Parameters
    ----------
    readings : Readings or sequence of Reading
        In the order in which they were taken; as few as one.
    wires : mapping, optional
        Where each wire is, where the readings do not say.
    diesel : bool, optional
        Whether the engine is one with glow plugs.

    Raises
    ------
    RecordError
        An action that is none; a voltage that a 12 V car does not have.
    """
    rows = list(readings.readings if isinstance(readings, Readings) else readings)
    names = list(dict.fromkeys(r.wire for r in rows))
    notes: list[str] = []
    verdicts = []
    scored_all: dict[str, tuple[Scored, ...]] = {}
    places: dict[str, WirePlace] = dict(wires or {})
    done: dict[str, list[frozenset[str]]] = {}
    for name in names:
        own = [r for r in rows if r.wire == name]
        for k, reading in enumerate(own):
            if abs(reading.volts_V) > 60:
                raise RecordError(
                    f"{reading.volts_V:g} V on {name!r}",
                    f"readings of {name}[{k}].volts_V",
                    "a voltage of a 12 V car; more than 60 V is not to be touched",
                )
        place = places.get(name) or _place(own)
        if place is not None:
            places[name] = place
        table = situate([r.during for r in own], f"readings of {name}")
        features = _features(own, table)
        emission = _with_lamp(own, emissions(features, 0, table.sure, table.weight))
        hypotheses = spread(_by_meter(diesel), table)
        scored = tuple(weigh(hypotheses, table, features, 0, emission, hints(place)))
        scored_all[name] = scored
        done[name] = [frozenset(r.during) for r in own if r.meter.kind == "digital"]
        loaded = any(r.meter.kind == "lamp" and r.volts_V > LAMP_LIT_V for r in own)
        verdict = decide(name, scored, table, features, 0, place, loaded=loaded)
        if any(r.meter.kind == "lamp" for r in own):
            caution = before_probing(place, "lamp")
            if caution is not None and place is not None:
                verdict = verdict.model_copy(update={"notes": [*verdict.notes, caution]})
        verdicts.append(verdict)
    checks = next_checks(scored_all, verdicts, places, done=done)
    return IdentifyReport(wires=verdicts, next_checks=checks, notes=notes)


def _by_meter(diesel: bool | None) -> list[Behaviour]:
    """The behaviours as a meter meets them: a pump primes for two seconds, a probe takes eight."""
    return [
        replace(b, prior=0.25 * b.prior) if b.name.startswith("pump or heater relay") else b
        for b in behaviours(diesel)
    ]


def _place(own: Sequence[Reading]) -> WirePlace | None:
    for reading in own:
        if reading.place or reading.plug or reading.pin or reading.colour:
            return WirePlace(reading.wire, reading.place, reading.plug, reading.pin, reading.colour)
    return None


def _features(own: Sequence[Reading], table: Table) -> Features:
    n = len(own)
    volts = np.array([r.volts_V for r in own], dtype=np.float64)[:, None]
    rail = expected_rail_V(table)
    # the battery of this car: what the wire itself shows at its highest, if that can be a battery
    for row in range(n):
        if 0.85 * rail[row] < volts[row, 0] < 1.15 * rail[row]:
            rail[row] = max(volts[row, 0], 0.96 * rail[row])
    activity = np.array([[HUM if r.meter.hum else QUIET] for r in own], dtype=np.int64)
    return Features(
        level_V=volts,
        share=volts / rail[:, None],
        rail_V=rail,
        activity=activity,
        low_V=volts,
        high_V=volts,
        pulse_hz=np.zeros((n, 1)),
        slope_V=np.zeros((n, 1)),
        unsteady=np.zeros((n, 1), dtype=bool),
        noise_V=np.array([0.05]),
        fall_s=np.array([np.nan]),
    )


def _with_lamp(own: Sequence[Reading], emission: Emissions) -> Emissions:
    """A lamp pulls every pull-up down: only a true feed lights it; ground and nothing do not."""
    log = emission.log.copy()
    for row, reading in enumerate(own):
        if reading.meter.kind != "lamp":
            continue
        lit = reading.volts_V > LAMP_LIT_V
        for name, k in K.items():
            lights = name in ("battery", "pwm", "flash")
            log[k, row] = np.log(0.98 if lights == lit else 0.02)
    return Emissions(log, emission.anything, emission.levels_V, emission.cost)
