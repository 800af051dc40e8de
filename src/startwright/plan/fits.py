"""What an interface is for: which cars, which immobilizers, whether it gives the engine's speed."""

from __future__ import annotations

from startwright.car.interfaces import fits_model, meaning_of
from startwright.records.stock import Part
from startwright.records.vehicle import Vehicle


def serves(part: Part) -> set[str]:
    """The kinds of immobilizer an interface stands in for."""
    return {part.serves} if isinstance(part.serves, str) else set(part.serves)


def tach_pin(part: Part) -> str | None:
    """The pin at which an interface gives the engine's speed, if it has one."""
    if part.kind != "interface":
        return None
    return next(
        (
            pin
            for pin in part.pin_names
            if pin not in part.needed_pins and "tach" in meaning_of(part, pin).split()
        ),
        None,
    )


def gives_tach(part: Part, vehicle: Vehicle) -> bool:
    """Whether an interface made for this vehicle gives the engine's speed."""
    of_use = serves(part) & {"tach", vehicle.immobilizer.kind}
    return tach_pin(part) is not None and bool(of_use) and fits_model(part, vehicle)


__all__ = ["fits_model", "gives_tach", "serves", "tach_pin"]
