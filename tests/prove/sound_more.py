"""More sound wirings done another way than most would: each must be proven."""

from __future__ import annotations

from prove import sound as plain
from prove.base import Case
from prove.sabotage_hostile import steps
from prove.sound import sound


@sound
def waits_for_a_lamp_that_nothing_senses() -> Case:
    """Where no input hears the lamp such a step is passed over; it lasts no time at all."""
    c = Case()
    crank = {"until": "engine_running", "at_most_s": 4, "on_timeout": "retry"}
    c.unit["sequence"] = steps(crank, after={"until": "wait_over"})
    return c


@sound
def cranks_fifteen_seconds_five_times() -> Case:
    """As much as the rule allows, and no more."""
    c = plain.plain()
    c.unit["sequence"] = steps({"until": "engine_running", "at_most_s": 15, "on_timeout": "retry"})
    c.unit["tries"] = 5
    return c
