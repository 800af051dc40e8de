"""What was found, written into the vehicle record; what contradicts it, shown."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import Field, ValidationError

from startwright.identify.places import NEVER
from startwright.identify.report import IdentifyReport, WireVerdict
from startwright.records.base import Record
from startwright.records.recordings import WirePlace
from startwright.records.vehicle import Circuit, How, StepsOhm, Vehicle
from startwright.records.words import COLOURS, KEY_FED


class Conflict(Record):
    """Where what was measured and what the record said do not agree."""

    circuit: str
    wire: str
    key: str
    said: str
    measured: str
    how: str
    kept: str


class Skipped(Record):
    """A wire that was found and not written, with the reason."""

    wire: str
    because: str


class Applied(Record):
    """The vehicle as it is known now, with conflicts and what was left out."""

    vehicle: Vehicle
    conflicts: list[Conflict] = Field(default_factory=list)
    skipped: list[Skipped] = Field(default_factory=list)
    written: list[str] = Field(default_factory=list)


def apply_found(
    vehicle: Vehicle,
    found: IdentifyReport | Sequence[WireVerdict],
    wires: Mapping[str, WirePlace] | None = None,
    *,
    date: datetime.date | None = None,
    by: str | None = None,
) -> tuple[Vehicle, list[Conflict]]:
    """The vehicle with every decided wire in it as `measured`, and the conflicts.

    As `apply_with_reasons`, without what was skipped.
    """
    applied = apply_with_reasons(vehicle, found, wires, date=date, by=by)
    return applied.vehicle, applied.conflicts


def apply_with_reasons(
    vehicle: Vehicle,
    found: IdentifyReport | Sequence[WireVerdict],
    wires: Mapping[str, WirePlace] | None = None,
    *,
    date: datetime.date | None = None,
    by: str | None = None,
) -> Applied:
    """Write what was found into a copy of the vehicle record.

    A wire belongs to the circuit that has its plug and pin, else to the one of its function, place
    and colour, else to the only one of its function that nobody has measured; else it is a new
    circuit. What was measured wins over manual, told and guessed, and every difference is a
    conflict; what was measured before is kept and the difference shown. Wires that are not known,
    and wires to be left alone for what they may be, are not written; `data`, `srs` and
    `high_voltage` are, so that they can be avoided.

    Parameters
    ----------
    vehicle : Vehicle
        The record as it was; it is not changed.
    found : IdentifyReport or sequence of WireVerdict
        The verdicts.
    wires : mapping, optional
        Place, plug, pin and colour of each wire, where the verdicts do not carry them.
    date, by : optional
        When it was measured and by whom.
    """
    verdicts = list(found.wires if isinstance(found, IdentifyReport) else found)
    circuits = list(vehicle.circuits)
    conflicts: list[Conflict] = []
    skipped: list[Skipped] = []
    written: list[str] = []
    taken: set[str] = set()
    for verdict in verdicts:
        if verdict.function is None:
            skipped.append(Skipped(wire=verdict.wire, because="not known yet"))
            continue
        if verdict.leave_alone and verdict.function not in NEVER:
            skipped.append(Skipped(wire=verdict.wire, because="to be left alone"))
            continue
        values = _values(verdict, (wires or {}).get(verdict.wire), date, by)
        match = _match(circuits, values, taken)
        if match is None:
            values["id"] = _free_id(verdict, circuits)
            number = sum(c.function == verdict.function for c in circuits) + 1
            if verdict.function in KEY_FED - {"key_sense"} and number <= 9:
                values["number"] = number
            if verdict.function == "starter":
                values.setdefault("interlock", "none")
            circuit, why = _built(values)
            if circuit is None:
                skipped.append(Skipped(wire=verdict.wire, because=why))
                continue
            circuits.append(circuit)
        else:
            old = circuits[match]
            merged, new = _merged(old, values, verdict.wire)
            circuit, why = _built(merged)
            if circuit is None:
                skipped.append(Skipped(wire=verdict.wire, because=why))
                continue
            conflicts += new
            circuits[match] = circuit
        taken.add(circuit.id)
        written.append(circuit.id)
    updated = vehicle.model_copy(update={"circuits": circuits})
    return Applied(vehicle=updated, conflicts=conflicts, skipped=skipped, written=written)


def _values(
    verdict: WireVerdict, place: WirePlace | None, date: datetime.date | None, by: str | None
) -> dict[str, Any]:
    """What a verdict says about a circuit."""
    evidence = [f"{verdict.wire}: probability {verdict.probability:g}", *verdict.evidence]
    values: dict[str, Any] = {
        "function": verdict.function,
        "place": verdict.place or (place.place if place else None),
        "plug": verdict.plug or (place.plug if place else None),
        "pin": verdict.pin or (place.pin if place else None),
        "known": How(how="measured", date=date, by=by, evidence=evidence[:20]),
    }
    colour = verdict.colour or (place.colour if place else None)
    if colour and all(part in COLOURS for part in colour.split("/")):
        values["colour"] = colour
    if verdict.function in KEY_FED:
        if verdict.live is not None and verdict.function != "battery":
            values["live"] = verdict.live
        if verdict.active is not None:
            values["active"] = verdict.active
    elif verdict.function not in (*NEVER, "ground", "tach", "immobilizer"):
        values["active"] = verdict.active
        if verdict.rest is not None and verdict.rest != verdict.active:
            values["rest"] = verdict.rest
    if verdict.steps_ohm:
        values["style"] = "ladder"
        values["also"] = ["unlock"]
        values["steps_ohm"] = StepsOhm(**verdict.steps_ohm)
    return {k: v for k, v in values.items() if v is not None}


def _match(circuits: Sequence[Circuit], values: Mapping[str, Any], taken: set[str]) -> int | None:
    """The circuit that a wire belongs to."""
    plug, pin = values.get("plug"), values.get("pin")
    if plug and pin:
        for i, c in enumerate(circuits):
            if c.plug == plug and c.pin == pin and c.id not in taken:
                return i
    same = [
        i for i, c in enumerate(circuits) if c.function == values["function"] and c.id not in taken
    ]
    colour, place = values.get("colour"), values.get("place")
    if colour:
        closer = [i for i in same if circuits[i].colour == colour]
        closer = [i for i in closer if circuits[i].place in (None, place)] or closer
        if len(closer) == 1:
            return closer[0]
    live = values.get("live")
    if live is not None:
        closer = [i for i in same if set(circuits[i].live or ()) == set(live)]
        if len(closer) == 1:
            same = closer
    unmeasured = [
        i
        for i in same
        if (circuits[i].known is None or _how(circuits[i]) != "measured")
        and not (pin and circuits[i].pin and circuits[i].pin != pin and circuits[i].plug == plug)
    ]
    return unmeasured[0] if len(unmeasured) == 1 else None


def _how(circuit: Circuit) -> str:
    return circuit.known.how if circuit.known is not None else "guessed"


def _merged(
    old: Circuit, values: Mapping[str, Any], wire: str
) -> tuple[dict[str, Any], list[Conflict]]:
    """Old and new values together; what was measured before stays, everything else gives way."""
    merged = {k: getattr(old, k) for k in type(old).model_fields if k in old.model_fields_set}
    keep_old = _how(old) == "measured"
    conflicts: list[Conflict] = []
    for key, value in values.items():
        if key == "known":
            continue
        before = merged.get(key)
        same = set(before) == set(value) if isinstance(before, list) else before == value
        if key == "live" and before is not None:
            # positions that the recording did not show say nothing against the record
            same = set(value) <= set(before) and ("start" in value) == ("start" in before)
            if same:
                continue
        if before is not None and not same:
            conflicts.append(
                Conflict(
                    circuit=old.id,
                    wire=wire,
                    key=key,
                    said=_text(before),
                    measured=_text(value),
                    how=_how(old),
                    kept="said" if keep_old else "measured",
                )
            )
            if keep_old:
                continue
        merged[key] = value
    if "function" in {c.key for c in conflicts} and not keep_old:
        # another function than the record's: what belonged to the old one goes with it
        for key in ("rest", "active", "live", "style", "steps_ohm", "pulse_s", "interlock"):
            if key not in values:
                merged.pop(key, None)
        if values["function"] == "starter":
            merged.setdefault("interlock", "none")
    if not keep_old or not conflicts:
        merged["known"] = values["known"]
    return merged, conflicts


def _text(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(str(v) for v in value)
    return str(value)


def _built(values: Mapping[str, Any]) -> tuple[Circuit | None, str]:
    try:
        return Circuit(**values), ""
    except ValidationError as error:
        return None, "; ".join(str(e["msg"]) for e in error.errors()[:3])


def _free_id(verdict: WireVerdict, circuits: Sequence[Circuit]) -> str:
    base = re.sub(r"[^a-z0-9_-]", "_", str(verdict.function))
    known = {c.id for c in circuits}
    if base not in known:
        return base
    number = 2
    while f"{base}_{number}" in known:
        number += 1
    return f"{base}_{number}"
