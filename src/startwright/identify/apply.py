"""What was found, written into the vehicle record; what contradicts it, shown."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import Field, ValidationError

from startwright.identify.kept_off import KEEP_OFF, keeper, seat
from startwright.identify.places import NEVER
from startwright.identify.report import IdentifyReport, WireVerdict
from startwright.records.base import Record
from startwright.records.recordings import WirePlace
from startwright.records.vehicle import Circuit, How, StepsOhm, Vehicle
from startwright.records.words import COLOURS, KEY_FED

_OF_FUNCTION = (
    "number", "also", "live", "rest", "active", "load_A", "inrush_A", "inrush_s", "side", "style",
    "pulse_s", "presses", "steps_ohm", "tells", "interlock", "pulses_per_rev", "reach",
    "may_hold_in_crank",
)  # fmt: skip
"""What a record says of a circuit's function rather than of its wire: it goes with the function."""

_WHERE = ("place", "plug", "pin", "colour")


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
    """A wire that was found and not written, with the reason and what would help."""

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
    conflict; what was measured before is kept and the difference shown. Where the function changes,
    what the record said of the old one (its key positions, levels, load, number) goes with it.
    Wires that are not known, and wires to be left alone for what they may be, are not written;
    `data`, `srs` and `high_voltage` are, so that they can be avoided. A circuit that the record has
    as one of these, or as the immobilizer's, stays what it is, and the conflict is shown.

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
    unnumbered: list[str] = []
    for verdict in verdicts:
        if verdict.function is None:
            skipped.append(Skipped(wire=verdict.wire, because="not known yet"))
            continue
        where = seat(verdict, (wires or {}).get(verdict.wire))
        kept = keeper(vehicle.circuits, where)
        if kept is not None and kept.function != verdict.function:
            because = f"leave alone: {KEEP_OFF[kept.function]}"
            skipped.append(Skipped(wire=verdict.wire, because=because))
            conflicts.append(
                _conflict(kept, verdict.wire, "function", kept.function, verdict.function, "said")
            )
            continue
        if verdict.leave_alone and verdict.function not in NEVER:
            skipped.append(Skipped(wire=verdict.wire, because="to be left alone"))
            continue
        values = _values(verdict, where, date, by)
        match = _match(circuits, values, taken)
        old = None if match is None else circuits[match]
        if old is None:
            merged = {**values, "id": _free_id(verdict, circuits)}
            new: list[Conflict] = []
            if verdict.function == "starter":
                merged.setdefault("interlock", "none")
        else:
            merged, new = _merged(old, values, verdict.wire)
        circuit, because = _built(merged, old)
        if circuit is None:
            skipped.append(Skipped(wire=verdict.wire, because=because))
            conflicts += [c.model_copy(update={"kept": "said"}) for c in new]
            continue
        conflicts += new
        if match is None:
            circuits.append(circuit)
        else:
            circuits[match] = circuit
        changed = old is None or old.function != circuit.function
        if changed and circuit.function in KEY_FED - {"key_sense"}:
            unnumbered.append(circuit.id)
        taken.add(circuit.id)
        written.append(circuit.id)
    updated = vehicle.model_copy(update={"circuits": _numbered(circuits, unnumbered)})
    return Applied(vehicle=updated, conflicts=conflicts, skipped=skipped, written=written)


def _numbered(circuits: Sequence[Circuit], unnumbered: Sequence[str]) -> list[Circuit]:
    """The circuits, each of those named with a number that no other of its function has."""
    numbered = list(circuits)
    waiting = set(unnumbered)
    for i, circuit in enumerate(numbered):
        if circuit.id not in waiting:
            continue
        waiting.discard(circuit.id)
        peers = [
            c
            for c in numbered
            if c.function == circuit.function and c.id != circuit.id and c.id not in waiting
        ]
        taken = {c.number for c in peers}
        free = [n for n in range(1, 10) if n not in taken][sum(c.number is None for c in peers) :]
        if free:
            numbered[i] = circuit.model_copy(update={"number": free[0]})
    return numbered


def _values(
    verdict: WireVerdict, where: WirePlace, date: datetime.date | None, by: str | None
) -> dict[str, Any]:
    """What a verdict says about a circuit."""
    evidence = [f"{verdict.wire}: probability {verdict.probability:g}", *verdict.evidence]
    values: dict[str, Any] = {
        "function": verdict.function,
        "place": where.place,
        "plug": where.plug,
        "pin": where.pin,
        "known": How(how="measured", date=date, by=by, evidence=evidence[:20]),
    }
    colour = where.colour
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
    changed = values["function"] != old.function
    conflicts: list[Conflict] = []
    for key, value in values.items():
        if key == "known":
            continue
        before = merged.get(key)
        same = set(before) == set(value) if isinstance(before, list) else before == value
        if key == "live" and before is not None and not changed:
            # positions that the recording did not show say nothing against the record
            same = set(value) <= set(before) and ("start" in value) == ("start" in before)
            if same:
                continue
        if before is not None and not same:
            kept = "said" if keep_old else "measured"
            conflicts.append(_conflict(old, wire, key, before, value, kept))
            if keep_old:
                continue
        if keep_old and changed and key not in _WHERE:
            continue  # what was measured now is said of another function than the one that stays
        merged[key] = value
    if changed and not keep_old:
        # another function than the record's: what belonged to the old one goes with it
        for key in _OF_FUNCTION:
            if key not in values:
                merged.pop(key, None)
        if values["function"] == "starter":
            merged.setdefault("interlock", "none")
    if not keep_old or not conflicts:
        merged["known"] = values["known"]
    return merged, conflicts


def _conflict(
    circuit: Circuit, wire: str, key: str, said: Any, measured: Any, kept: str
) -> Conflict:
    return Conflict(
        circuit=circuit.id,
        wire=wire,
        key=key,
        said=_text(said),
        measured=_text(measured),
        how=_how(circuit),
        kept=kept,
    )


def _text(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(str(v) for v in value)
    return str(value)


def _built(values: Mapping[str, Any], old: Circuit | None) -> tuple[Circuit | None, str]:
    """The circuit of these values; where they do not hold together, None and what to do."""
    function, rest, active = values["function"], values.get("rest"), values.get("active")
    said = "" if old is None else f"; {old.id} stays as the record has it ({_how(old)})"
    if function in KEY_FED - {"battery"} and values.get("live") is None:
        return None, (
            f"found as {function}, but not in which key positions it stands at its level: "
            f"measure it in accessory, run and start{said}"
        )
    if rest is not None and rest == active and function not in KEY_FED:
        if old is not None and old.rest == rest and old.active != active:
            return None, (
                f"worked it was measured at {active}, and the record ({_how(old)}) has {rest} "
                f"for it at rest: measure it at rest as well, with a load against ground and "
                f"against battery{said}"
            )
        return None, (
            f"at rest it was measured at {rest}, and the record has {active} for it when worked: "
            f"measure it while it is worked as well{said}"
        )
    try:
        return Circuit(**values), ""
    except ValidationError as error:
        return None, "; ".join(str(e["msg"]) for e in error.errors()[:3]) + said


def _free_id(verdict: WireVerdict, circuits: Sequence[Circuit]) -> str:
    base = re.sub(r"[^a-z0-9_-]", "_", str(verdict.function))
    known = {c.id for c in circuits}
    if base not in known:
        return base
    number = 2
    while f"{base}_{number}" in known:
        number += 1
    return f"{base}_{number}"
