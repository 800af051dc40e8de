"""More of what a hostile engineer would try: the unit's own numbers, cuts, feeds and switches."""

from __future__ import annotations

from typing import Any

from prove import sound, sound_more
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


# ---- feeds and grounds of the car that are cut --------------------------------------------------


@breaks("car-unchanged")
def battery_feed_cut_and_left_open() -> Case:
    """The unit has its feed, the car has lost what hung on that wire."""
    c = Case()
    c.cuts.append("batt")
    c.run("r_feed", "vehicle.batt.source", "unit.feed")
    return c


@breaks("can-start")
def unit_fed_from_the_dead_side_of_a_cut() -> Case:
    c = battery_feed_cut_and_left_open()
    c.run("r_feed", "vehicle.batt.load", "unit.feed")
    return c


@breaks("car-unchanged")
def ground_of_the_car_cut() -> Case:
    c = Case()
    c.circuit("earth", function="ground")
    c.cuts.append("earth")
    c.run("r_gnd", "unit.gnd", "vehicle.earth.source")
    return c


@breaks("only-what-is-called")
def battery_feed_taken_away_while_the_engine_runs() -> Case:
    """Its cut is joined again by a resting contact, which the running signal opens."""
    c = Case()
    c.circuit("fuel", function="battery", load_A=10)
    c.cuts.append("fuel")
    c.parts["K1"] = "relay"
    c.run("k_30", "vehicle.fuel.source", "K1.30")
    c.run("k_87a", "K1.87a", "vehicle.fuel.load")
    c.run("k_86", "vehicle.batt", "K1.86")
    c.run("k_85", "K1.85", "unit.run_sig")
    return c


# ---- one pedal, two lamps -----------------------------------------------------------------------


@breaks("car-unchanged")
def brake_lamps_of_both_sides_joined() -> Case:
    """The pedal lights both, but the turn signal one alone."""
    c = sound_more.brake_lamps_by_side()
    c.run("r_join", "vehicle.brake", "vehicle.brake_left")
    return c


@breaks("brake-ends")
def brake_lamps_by_side_and_neither_sensed() -> Case:
    return sound_more.brake_lamps_by_side().without("r_brake")


# ---- an interface without a wake pin ------------------------------------------------------------


@breaks("immobilizer-only-while-starting")
def interface_without_wake_pin_fed_for_good() -> Case:
    c = sound_more.interface_fed_by_a_relay()
    c.run("y4", "vehicle.batt", "X1.power")
    return c


@breaks("immobilizer-only-while-starting")
def interface_without_wake_pin_on_the_resting_contact() -> Case:
    c = sound_more.interface_fed_by_a_relay()
    c.run("y4", "K9.87a", "X1.power")
    return c


@breaks("immobilizer-only-while-starting")
def interface_without_wake_pin_fed_by_the_key() -> Case:
    c = sound_more.interface_fed_by_a_relay()
    c.run("y4", "vehicle.ign", "X1.power")
    return c


@breaks("can-start")
def interface_without_wake_pin_fed_through_a_horn_coil() -> Case:
    c = sound_more.interface_fed_by_a_relay()
    c.run("y4", "vehicle.horn", "X1.power")
    return c


# ---- limits where a feed does not hang on the battery for good ----------------------------------


@breaks("within-limits")
def small_feed_lead_behind_a_relay() -> Case:
    c = sound_more.second_feed_through_a_relay()
    c.lead("feed_2", limit_A=5, fuse_A=5)
    return c


@breaks("within-limits")
def small_feed_lead_behind_a_diode() -> Case:
    c = Case()
    c.stock["parts"].append({"id": "d-20", "kind": "diode", "forward_A": 20, "reverse_V": 400})
    c.parts["D1"] = "d-20"
    c.lead("feed_2", way="feed", limit_A=5, fuse_A=5)
    c.lead("acc", fed_by="feed_2")
    c.run("f1", "vehicle.batt", "D1.anode")
    c.run("f2", "D1.cathode", "unit.feed_2")
    return c


@breaks("within-limits")
def key_fed_circuit_loaded_past_the_fuse_of_the_car() -> Case:
    """Five amperes more through the key's contact and the fuse before it."""
    c = sound_more.key_fed_circuit_loaded_within_the_fuse_of_the_car()
    c.circuit("ign", fuse_A=10)
    return c


@breaks("within-limits")
def horn_switch_loaded_past_the_fuse_of_the_car() -> Case:
    c = Case()
    c.circuit("horn", active="battery", fuse_A=0.5)
    c.lead("horn", active="battery", limit_A=2)
    c.stock["parts"].append({"id": "r-30", "kind": "resistor", "ohm": 30, "watt": 15})
    c.parts["R1"] = "r-30"
    c.run("a1", "vehicle.horn", "R1.a")
    c.run("a2", "R1.b", "ground.body")
    return c


# ---- gearbox, and guards that watch the engine --------------------------------------------------


@breaks("crank-only-when-safe")
def manual_gearbox_without_a_procedure() -> Case:
    """The lever is sensed, but nothing makes sure that the car was left in neutral."""
    c = Case()
    c.vehicle["gearbox"] = "manual"
    return c


@breaks("runs")
def guard_that_wants_the_engine_to_stand() -> Case:
    """The start ends as soon as the tach is heard."""
    c = Case()
    c.unit["guards"] = [
        {"input": "hood", "reads": "inactive"},
        {"input": "brake", "reads": "inactive"},
        {"input": "park_neutral", "reads": "active"},
        {"input": "tach", "reads": "inactive"},
    ]
    return c


# ---- the tach wire ------------------------------------------------------------------------------


@breaks("no-crank-into-running")
def tach_wire_to_ground() -> Case:
    c = Case()
    c.run("r_x", "vehicle.tach", "ground.body")
    return c


@breaks("car-unchanged")
def relay_coil_on_the_tach_wire() -> Case:
    """Pulses of some milliamperes are lost in a coil: the car's own computer hears them no more."""
    c = Case()
    c.parts["K1"] = "relay"
    c.run("k_86", "vehicle.tach", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    return c


@breaks("no-crank-into-running")
def tach_input_that_takes_its_time() -> Case:
    """It hears the engine three seconds late, and cranks as long."""
    c = Case()
    c.lead("tach_in", debounce_s=3)
    return c


@breaks("no-crank-into-running")
def charge_lamp_input_that_takes_its_time() -> Case:
    c = sound.charge_lamp()
    c.lead("lamp_in", debounce_s=2)
    return c


# ---- a unit with two ground leads ---------------------------------------------------------------


@breaks("no-short")
def second_ground_lead_on_the_battery() -> Case:
    """The two hang together inside the unit."""
    c = Case()
    c.lead("gnd_2", way="ground")
    c.run("r_gnd_2", "unit.gnd_2", "vehicle.batt")
    return c


@breaks("car-unchanged")
def second_ground_lead_on_the_horn_wire() -> Case:
    c = Case()
    c.lead("gnd_2", way="ground")
    c.run("r_gnd_2", "unit.gnd_2", "vehicle.horn")
    return c


# ---- an interface for another car ---------------------------------------------------------------


@breaks("can-start")
def interface_made_for_another_car() -> Case:
    c = sound.transponder_with_interface()
    c.stock["parts"][-1]["model_fit"] = ["another-car"]
    return c


@breaks("no-crank-into-running")
def tach_from_an_interface_without_supply() -> Case:
    return sound.always_fed_interface_for_the_tach_alone().without("x1")


# ---- while a button's pulse lasts ---------------------------------------------------------------


@breaks("crank-only-when-safe")
def hood_wire_taken_away_by_the_lock_pulse() -> Case:
    """For 0.8 s the hood is not seen: the line presses the button when it counts."""
    c = Case().without("r_hood", "r_lock", "r_unlock")
    c.wants.remove("lock_unlock")
    c.lead("lock", suppressed=True)
    c.parts["K1"] = "relay"
    c.run("k_30", "K1.30", "unit.hood_in")
    c.run("k_87a", "K1.87a", "vehicle.hood")
    c.run("k_86", "vehicle.batt", "K1.86")
    c.run("k_85", "unit.lock", "K1.85")
    return c


@breaks("brake-ends")
def brake_wire_taken_away_while_the_horn_chirps() -> Case:
    c = Case().without("r_brake", "r_horn")
    c.wants.remove("horn_chirp")
    c.lead("horn", suppressed=True)
    c.parts["K1"] = "relay"
    c.run("k_30", "K1.30", "unit.brake_in")
    c.run("k_87a", "K1.87a", "vehicle.brake")
    c.run("k_86", "vehicle.batt", "K1.86")
    c.run("k_85", "unit.horn", "K1.85")
    return c
