"""What breaks a searched rule by the wiring alone, before any search."""

from __future__ import annotations

from startwright.car.build import Car
from startwright.prove.fixed import (
    coils_suppressed,
    hands_off,
    joined_rails,
    numbers_end,
    severed,
    slow_inputs,
)


def decided(car: Car, slug: str) -> bool | None:
    """Whether the wiring alone decides that a rule is broken (True), or is not (False).

    None where the states have to be searched.
    """
    if slug == "hands-off":
        return hands_off(car).holds is False
    if slug == "coils-suppressed":
        return coils_suppressed(car).holds is False
    found = list(slow_inputs(car, slug))
    if slug == "car-unchanged":
        found += severed(car)
    if slug == "start-ends":
        found.append(numbers_end(car))
    if slug == "no-short":
        found.append(joined_rails(car))
    return True if any(found) else None
