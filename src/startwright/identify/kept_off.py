"""Wires that the record has as ones never to be used: no recording and no meter makes them usable.

A data line under a logic probe looks like any switched wire, and an airbag wire must not be probed
at all. Who knows better puts the record right by hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from startwright.identify.report import WireVerdict
from startwright.records.recordings import WirePlace
from startwright.records.vehicle import Circuit, Vehicle

KEEP_OFF = {
    "srs": "the record has it as an airbag wire; a probe can fire it",
    "high_voltage": "the record has it as high voltage; it can kill",
    "data": "the record has it as a data line; a load upsets the car",
    "immobilizer": "the record has it as a wire of the immobilizer",
}
"""Functions of a record that are never given up to what was found, and why to keep off."""


def keeper(circuits: Iterable[Circuit], place: WirePlace) -> Circuit | None:
    """The circuit to be kept off that this wire is in the record, if it is one.

    It is that of the same plug and pin; where plug or pin is not written on one side, that of the
    same name, or of the same plug (without one, place) and colour.
    """
    for circuit in circuits:
        if circuit.function in KEEP_OFF and _same_wire(circuit, place):
            return circuit
    return None


def _same_wire(circuit: Circuit, wire: WirePlace) -> bool:
    plugs, pins = _pair(circuit.plug, wire.plug), _pair(circuit.pin, wire.pin)
    for a, b in (plugs, pins):
        if a and b and a != b:
            return False
    if all((*plugs, *pins)) or circuit.id == wire.wire:
        return True
    a, b = plugs if all(plugs) else _pair(circuit.place, wire.place)
    return bool(a) and a == b and circuit.colour is not None and circuit.colour == wire.colour


def _pair(a: str | None, b: str | None) -> tuple[str, str]:
    """Both as they are compared: without regard to case and blanks."""
    return " ".join((a or "").split()).casefold(), " ".join((b or "").split()).casefold()


def seat(verdict: WireVerdict, place: WirePlace | None) -> WirePlace:
    """Where the wire of a verdict is: as the verdict says, else as the list of wires does."""
    return WirePlace(
        verdict.wire,
        verdict.place or (place.place if place else None),
        verdict.plug or (place.plug if place else None),
        verdict.pin or (place.pin if place else None),
        verdict.colour or (place.colour if place else None),
    )


def keep_off(
    vehicle: Vehicle,
    verdicts: Iterable[WireVerdict],
    wires: Mapping[str, WirePlace] | None = None,
) -> list[WireVerdict]:
    """The verdicts as they may be shown: a wire that the record keeps off is to be left alone.

    `apply_with_reasons` holds to the same and shows the conflict; give it the verdicts as found.
    """
    shown = []
    for verdict in verdicts:
        kept = keeper(vehicle.circuits, seat(verdict, (wires or {}).get(verdict.wire)))
        if kept is not None and verdict.function != kept.function:
            note = f"leave alone: {KEEP_OFF[kept.function]}"
            change = {"function": None, "active": None, "leave_alone": True, "notes": [note]}
            verdict = verdict.model_copy(update=change)
        shown.append(verdict)
    return shown
