"""What breaks a searched rule by the wiring alone, before any search."""

from __future__ import annotations

from startwright.prove.fixed import by_wiring, coils_suppressed, hands_off
from startwright.prove.model import Model


def decided(model: Model, slug: str) -> bool | None:
    """Whether the wiring alone decides that a rule is broken (True), or is not (False).

    None where the states have to be searched.
    """
    if slug == "hands-off":
        return hands_off(model.car).holds is False
    if slug == "coils-suppressed":
        return coils_suppressed(model.car).holds is False
    said, _ = by_wiring(model, slug)
    return True if said else None
