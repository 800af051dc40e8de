"""A key with a resistor in its blade: the car measures it, and a wiring may put one in its place.

The circuits of the function `immobilizer` are the line: from the first the car's computer reads
against its own pull-up, a second one (if on record) leads back to ground. With a key in the lock
its resistor lies between them. Whether the computer is satisfied follows from the network: a
resistor put in its place, a line cut and not joined, both resistors at once.

Source of the shape: common practice, no source. Where no line or no resistance is on record, a key
in the lock counts and nothing else.
"""

from __future__ import annotations

from startwright.car.circuits import (
    BATTERY,
    GROUND,
    LADDER_PULL_OHM,
    LADDER_SHARE,
    Act,
    acts_of,
    terminals_of,
)
from startwright.car.surroundings import key_in
from startwright.network.elements import Builder
from startwright.records.vehicle import Circuit, Vehicle
from startwright.records.words import KEY_POSITIONS

RETURN_OHM = 0.1
"""The second wire's way to ground in the car's computer (assumed, no source)."""


def key_line(vehicle: Vehicle) -> Circuit | None:
    """The circuit at which the car measures the key's resistance, if it is on record."""
    immobilizer = vehicle.immobilizer
    if immobilizer.kind != "resistor_key" or immobilizer.key_ohm is None:
        return None
    return next(iter(vehicle.of("immobilizer")), None)


def add_key_resistor(b: Builder, vehicle: Vehicle, cuts: frozenset[str]) -> None:
    """Add the pull-up, the way back, and the resistor in the key."""
    line = key_line(vehicle)
    if line is None:
        return
    assert vehicle.immobilizer.key_ohm is not None
    source, load = terminals_of(line, line.id in cuts)
    name = f"vehicle.{line.id}"
    b.resistor(f"{name}#pull", BATTERY, load, LADDER_PULL_OHM)
    back = GROUND
    for other in vehicle.of("immobilizer")[1:2]:
        back, far = terminals_of(other, other.id in cuts)
        b.resistor(f"vehicle.{other.id}#return", far, GROUND, RETURN_OHM)
    b.contact(f"{name}#lock", source, f"{name}#key", "key", key_in(KEY_POSITIONS[1:]))
    b.resistor(f"{name}#pellet", f"{name}#key", back, vehicle.immobilizer.key_ohm)


def all_acts(vehicle: Vehicle) -> tuple[Act, ...]:
    """What every circuit does; the key's line says `immobilizer` while the car is satisfied."""
    line = key_line(vehicle)
    out: list[Act] = []
    for circuit in vehicle.circuits:
        if circuit is line:
            assert vehicle.immobilizer.key_ohm is not None
            low, high = (vehicle.immobilizer.key_ohm * (1 + s * LADDER_SHARE) for s in (-1, 1))
            low, high = (ohm / (ohm + LADDER_PULL_OHM) for ohm in (low, high))
            out.append(Act(circuit.id, "immobilizer", low, high))
        else:
            out += acts_of(circuit)
    return tuple(out)
