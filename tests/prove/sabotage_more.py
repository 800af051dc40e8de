"""More of what a hostile engineer would try: the unit's own numbers, cuts, feeds and switches."""

from __future__ import annotations

from typing import Any

from prove import sound
from prove.base import Case
from prove.sabotage import breaks
from prove.sabotage_hostile import CRANK, ON, steps

CATCH: dict[str, Any] = {"until": "engine_running", "at_most_s": 15, "on_timeout": "next"}

# ---- the unit's own numbers ---------------------------------------------------------------------


@breaks("start-ends")
def cranks_six_times_with_rests_between() -> Case:
    """One try on record, but six cranks of fifteen seconds in it."""
    c = Case()
    sequence = steps()[:1]
    for k in range(6):
        sequence.append({"step": f"crank-{k}", "drives": CRANK, "like": "start", **CATCH})
        sequence.append({"step": f"rest-{k}", "drives": ON, "like": "run", "for_s": 1})
    c.unit["sequence"] = [*sequence, steps()[-1]]
    c.unit["tries"] = 1
    return c


@breaks("start-ends")
def timed_step_after_the_crank_goes_on_while_the_lamp_is_lit() -> Case:
    """`for_s` with `or_until: wait_over`: the timer alone does not end it."""
    c = sound.diesel_with_wait_lamp()
    crank = {"until": "engine_running", "at_most_s": 4, "on_timeout": "retry"}
    c.unit["sequence"] = steps(crank, after={"for_s": 2, "or_until": "wait_over"})
    return c


@breaks("start-ends")
def crank_goes_on_while_the_lamp_is_lit() -> Case:
    c = sound.diesel_with_wait_lamp()
    c.unit["sequence"] = steps({"for_s": 0.5, "or_until": "wait_over"})
    return c


@breaks("start-ends")
def unit_that_hears_nothing_begins_its_run_again() -> Case:
    """Without a tach a run that timed out is tried again: an hour in all."""
    c = Case().without("r_tach")
    c.unit["sequence"] = steps({"for_s": 0.5})
    c.unit["sequence"][-1]["on_timeout"] = "retry"
    return c


# ---- switches that something else works ---------------------------------------------------------


@breaks("hood-ends")
def hood_wire_through_a_switch_on_the_wait_lamp() -> Case:
    """The lamp takes the hood away; the line that shows it turns the lamp on."""
    c = Case()
    c.stock["parts"].append(
        {
            "id": "glow",
            "kind": "switch",
            "operated_by": "wait_to_start",
            "contact_at_rest": "closed",
        }
    )
    c.parts["S1"] = "glow"
    c.run("r_hood", "vehicle.hood", "S1.a")
    c.run("s2", "S1.b", "unit.hood_in")
    return c
