"""More of what a hostile engineer would try: what is wired counts, not what it is called."""

from __future__ import annotations

from prove import sound, sound_wired
from prove.base import Case
from prove.sabotage import breaks
from prove.sabotage_hostile import steps
from prove.test_soundness import ignition_that_a_turned_key_drops

MINUTE = {"until": "engine_running", "at_most_s": 60, "on_timeout": "end"}


def _cranking_by(case: Case, signal: str) -> Case:
    """A unit that cranks for a minute in a step that drives another function than the starter."""
    case.unit["sequence"] = steps(MINUTE)
    for step in case.unit["sequence"]:
        step["drives"] = [signal if d == "starter" else d for d in step["drives"]]
    return case


# ---- a start that lasts too long ----------------------------------------------------------------


@breaks("start-ends")
def cranks_a_minute_by_a_lead_of_another_name() -> Case:
    c = Case()
    c.lead("start", does=["rear_defogger"])
    return _cranking_by(c, "rear_defogger")


@breaks("start-ends")
def cranks_a_minute_by_a_relay_on_the_ignition_signal() -> Case:
    c = Case().without("r_start")
    signal = {"does": ["ignition_signal"], "active": "ground", "suppressed": True}
    c.lead("signal", way="out", limit_A=0.5, **signal)
    c.parts["K1"] = "relay"
    c.run("k_30", "vehicle.batt", "K1.30")
    c.run("k_87", "K1.87", "vehicle.starter")
    c.run("k_86", "vehicle.batt", "K1.86")
    c.run("k_85", "K1.85", "unit.signal")
    return _cranking_by(c, "ignition_signal")


# ---- inputs that see too late, or nothing -------------------------------------------------------


@breaks("hood-ends")
def hood_on_a_slow_input_for_doors() -> Case:
    """The guard that the hood moves is called another; its input takes twenty seconds."""
    c = sound_wired.hood_on_the_input_for_doors()
    c.lead("door_in", debounce_s=20)
    return c


@breaks("brake-ends")
def brake_on_a_slow_input_for_doors_through_a_relay() -> Case:
    c = sound_wired.hood_on_the_input_for_doors().without("r_brake", "r_hood")
    c.lead("door_in", debounce_s=2)
    c.parts["K1"] = "relay"
    c.run("k_86", "vehicle.brake", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    c.run("k_30", "K1.30", "ground.body")
    c.run("k_87", "K1.87", "unit.door_in")
    return c


@breaks("leaving-park-ends")
def lever_told_by_a_wire_that_nothing_holds() -> Case:
    """Out of park the wire floats and the input has no pull: it may read what it read before."""
    c = Case()
    c.circuit("lever", load_A=0)
    c.lead("lever_in", pull="none", on_V=2.0, off_V=3.5)
    return c


@breaks("hood-ends")
def hood_told_by_a_wire_that_nothing_holds() -> Case:
    c = Case()
    c.circuit("hood", rest="ground", active="open", load_A=0)
    c.lead("hood_in", active="battery", pull="none", on_V=3.0, off_V=2.0)
    return c


# ---- what a record declares ---------------------------------------------------------------------


@breaks("key-has-last-word")
def gap_in_a_unit_that_holds_after_the_key() -> Case:
    """What it declares is about key off; the takeover may not gap all the same."""
    c = ignition_that_a_turned_key_drops()
    c.unit["holds_after_key"] = True
    return c


@breaks("within-limits")
def switch_that_carries_more_than_its_record_says() -> Case:
    c = Case()
    small = {"operated_by": "trunk", "contact_at_rest": "closed", "contact_A": 5}
    c.stock["parts"].append({"id": "small", "kind": "switch", **small})
    c.parts["S1"] = "small"
    c.run("r_acc", "unit.acc", "S1.a")
    c.run("s2", "S1.b", "vehicle.acc")
    return c


# ---- a starter kept from the key ----------------------------------------------------------------


@breaks("only-what-is-called")
def starter_kept_from_the_key_while_a_horn_sounds() -> Case:
    """Kept from it in the unit's own steps it is let be; not beside them."""
    c = sound_wired.starter_kept_from_the_key_while_running().without("r_horn")
    c.lead("horn", suppressed=True)
    c.run("k_85", "K1.85", "unit.horn")
    return c


@breaks("only-what-is-called")
def ignition_signal_feeds_the_starter_back() -> Case:
    """The contact that should keep the key away brings the unit's ignition to it."""
    c = sound.plain()
    c.parts["K1"] = "relay"
    c.run("k_86", "vehicle.batt", "K1.86")
    c.run("k_85", "K1.85", "unit.run_sig")
    c.run("k_30", "unit.ign", "K1.30")
    c.run("k_87", "K1.87", "vehicle.starter")
    return c


@breaks("only-what-is-called")
def armed_signal_brings_the_battery_to_the_key() -> Case:
    """A relay that should keep the key from the starter feeds the key's side of the cut."""
    c = sound.starter_cut_when_armed()
    c.run("k_87", "K1.87", "F1.b")
    return c


@breaks("crank-only-when-safe")
def manual_gearbox_with_a_blank_procedure() -> Case:
    c = Case()
    c.vehicle["gearbox"] = "manual"
    c.unit["manual_gearbox"] = " "
    return c


@breaks("only-what-is-called")
def accessory_taken_away_as_the_key_comes_to_run() -> Case:
    """The step calls for the accessory; it is dead all the same once the driver's key is in run."""
    c = Case().without("r_lock", "r_unlock", "r_horn")
    c.wants = ["remote_start"]
    c.circuit("blower", function="accessory", live=["run"], load_A=5, leave_dead=True)
    c.circuit("acc", live=["run", "start"])
    c.lead("acc", does=["ignition"])
    c.cuts = ["acc"]
    c.parts["K1"] = "relay"
    c.run("r_source", "vehicle.acc.source", "K1.87a")
    c.run("r_acc", "unit.acc", "K1.87a")
    c.run("r_load", "K1.30", "vehicle.acc.load")
    c.run("r_86", "vehicle.blower", "K1.86")
    c.run("r_85", "K1.85", "unit.run_sig")
    return c
