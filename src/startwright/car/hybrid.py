"""A hybrid: a start makes the car *ready*, and its own computer starts and stops the engine then.

Ready stands where another car's engine runs (`RUNNING`): the car may be driven away by its motor,
its converter charges the battery, and a further start has nothing to do. Whether the engine itself
turns is a variable of its own, which the tach alone tells; it comes and goes at any time. Where no
starter circuit is on record, the button's press with the brake, out of gear, is the start.

Source of the behaviour: common practice, no source.
"""

from __future__ import annotations

from startwright.records.vehicle import Vehicle

TURNS = "car.turns"
"""The variable of state: whether a ready hybrid's engine turns."""


def is_hybrid(vehicle: Vehicle) -> bool:
    """Whether the car's computer starts and stops the engine once the car is ready."""
    return vehicle.powertrain == "hybrid" or vehicle.engine.fuel == "hybrid"
