"""Which wire is it, from meter readings: the same model, one value at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from startwright.identify.metered import LAMP_LIT_V, weigh_values
from startwright.identify.next_check import next_checks
from startwright.identify.places import before_probing, hints
from startwright.identify.posterior import Scored
from startwright.identify.report import IdentifyReport
from startwright.identify.verdict import decide
from startwright.records.errors import RecordError
from startwright.records.readings import Reading, Readings
from startwright.records.recordings import WirePlace


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
        it = weigh_values(own, hints(place), diesel=diesel, where=f"readings of {name}")
        scored_all[name] = it.scored
        done[name] = [frozenset(r.during) for r in own if r.meter.kind == "digital"]
        loaded = any(r.meter.kind == "lamp" and r.volts_V > LAMP_LIT_V for r in own)
        verdict = decide(name, it.scored, it.table, it.features, 0, place, loaded=loaded)
        if any(r.meter.kind == "lamp" for r in own):
            caution = before_probing(place, "lamp")
            if caution is not None and place is not None:
                verdict = verdict.model_copy(update={"notes": [*verdict.notes, caution]})
        verdicts.append(verdict)
    checks = next_checks(scored_all, verdicts, places, done=done)
    return IdentifyReport(wires=verdicts, next_checks=checks, notes=notes)


def _place(own: Sequence[Reading]) -> WirePlace | None:
    for reading in own:
        if reading.place or reading.plug or reading.pin or reading.colour:
            return WirePlace(reading.wire, reading.place, reading.plug, reading.pin, reading.colour)
    return None
