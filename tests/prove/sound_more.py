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


@sound
def battery_feed_cut_joined_and_tapped_behind() -> Case:
    c = Case()
    c.cuts.append("batt")
    c.run("r_join", "vehicle.batt.source", "vehicle.batt.load")
    c.run("r_feed", "vehicle.batt.load", "unit.feed")
    c.size_mm2 = 6.0
    return c


@sound
def ground_cut_and_joined() -> Case:
    c = Case()
    c.circuit("earth", function="ground")
    c.cuts.append("earth")
    c.run("r_join", "vehicle.earth.source", "vehicle.earth.load")
    c.run("r_gnd", "unit.gnd", "vehicle.earth.load")
    return c


@sound
def brake_lamps_by_side() -> Case:
    """Each lamp has a switch of its own, the turn signal's; the pedal lights both."""
    c = Case()
    c.circuit("brake", side="right")
    c.circuit("brake_left", function="brake", side="left", rest="open", active="battery", load_A=2)
    return c


@sound
def interface_fed_by_a_relay() -> Case:
    """An interface without a wake pin is enabled by its supply: a relay gives it while starting."""
    c = plain.transponder_with_interface()
    record = c.stock["parts"][-1]
    record["needs"] = {"power": "battery", "earth": "ground", "bus": "data"}
    record["pins"] = ["power", "earth", "bus"]
    c.without("x1", "x3")
    c.parts["K9"] = "relay"
    c.run("y1", "vehicle.batt", "K9.86")
    c.run("y2", "K9.85", "unit.run_sig")
    c.run("y3", "vehicle.batt", "K9.30")
    c.run("y4", "K9.87", "X1.power")
    return c


@sound
def interface_fed_by_an_output_of_the_unit() -> Case:
    c = interface_fed_by_a_relay().without("y1", "y2", "y3")
    c.parts.pop("K9")
    c.lead("power", way="out", does=["running_signal"], active="battery", limit_A=10)
    c.run("y4", "unit.power", "X1.power")
    return c


@sound
def second_feed_through_a_relay() -> Case:
    """The accessory's feed hangs on a relay that the running signal works."""
    c = Case()
    c.parts["K1"] = "relay"
    c.lead("feed_2", way="feed", limit_A=10, fuse_A=10)
    c.lead("acc", fed_by="feed_2")
    c.run("k_30", "vehicle.batt", "K1.30")
    c.run("k_87", "K1.87", "unit.feed_2")
    c.run("k_86", "vehicle.batt", "K1.86")
    c.run("k_85", "K1.85", "unit.run_sig")
    return c


@sound
def key_fed_circuit_loaded_within_the_fuse_of_the_car() -> Case:
    c = Case()
    c.circuit("ign", fuse_A=20)
    c.stock["parts"].append({"id": "r-3", "kind": "resistor", "ohm": 3, "watt": 150})
    c.parts["R1"] = "r-3"
    c.run("a1", "vehicle.ign", "R1.a")
    c.run("a2", "R1.b", "ground.body")
    return c


@sound
def circuit_that_draws_more_than_its_fuse_by_its_own_record() -> Case:
    """What the car does by itself is not the wiring's doing."""
    c = Case()
    c.circuit("ign", fuse_A=5)
    return c


@sound
def manual_gearbox_with_a_procedure() -> Case:
    c = Case()
    c.vehicle["gearbox"] = "manual"
    c.unit["manual_gearbox"] = "left in neutral with the parking brake set, the doors shut after"
    return c


@sound
def grounded_by_its_second_ground_lead() -> Case:
    c = Case()
    c.lead("gnd_2", way="ground")
    c.run("r_gnd", "unit.gnd_2", "ground.body")
    return c


@sound
def interface_made_for_this_car() -> Case:
    c = plain.transponder_with_interface()
    c.stock["parts"][-1]["model_fit"] = ["another-car", "test-car"]
    return c
