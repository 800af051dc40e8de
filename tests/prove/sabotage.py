"""Sound wirings spoilt in one way each, with a rule that must be breached."""

from __future__ import annotations

from collections.abc import Callable

from prove import sound
from prove.base import Case

SPOILT: dict[str, tuple[str, Callable[[], Case]]] = {}


def breaks(rule: str) -> Callable[[Callable[[], Case]], Callable[[], Case]]:
    def keep(make: Callable[[], Case]) -> Callable[[], Case]:
        SPOILT[make.__name__] = (rule, make)
        return make

    return keep


@breaks("hood-ends")
def hood_not_sensed() -> Case:
    return Case().without("r_hood")


@breaks("crank-only-when-safe")
def hood_not_sensed_while_cranking() -> Case:
    return Case().without("r_hood")


@breaks("brake-ends")
def brake_not_sensed() -> Case:
    return Case().without("r_brake")


@breaks("brake-ends")
def brake_input_on_the_horn() -> Case:
    c = Case()
    c.circuit("bell", function="horn", rest="open", active="battery", load_A=1)
    c.run("r_brake", "vehicle.bell", "unit.brake_in")
    return c


@breaks("leaving-park-ends")
def lever_input_grounded() -> Case:
    c = Case()
    c.run("r_lever", "ground.body", "unit.lever_in")
    return c


@breaks("crank-only-when-safe")
def lever_input_grounded_cranks_in_gear() -> Case:
    return lever_input_grounded()


@breaks("leaving-park-ends")
def neutral_counts_as_park() -> Case:
    """The car tells park alone, the unit is on a switch for park and neutral."""
    c = Case()
    c.circuit("lever_park", function="park_neutral", rest="open", active="ground", tells="park")
    return c


@breaks("hood-ends")
def hood_guard_left_out_of_the_unit() -> Case:
    c = Case()
    c.unit["guards"] = [
        {"input": "brake", "reads": "inactive"},
        {"input": "park_neutral", "reads": "active"},
    ]
    return c


@breaks("no-crank-into-running")
def no_engine_signal() -> Case:
    return Case().without("r_tach")


@breaks("no-crank-into-running")
def tach_on_the_wrong_wire() -> Case:
    c = Case()
    c.run("r_tach", "vehicle.ign", "unit.tach_in")
    return c


@breaks("key-has-last-word")
def blind_to_the_ignition() -> Case:
    """The ignition lead works a relay, so the unit cannot see that the key is on."""
    c = Case().without("r_ign")
    c.parts["K1"] = "relay"
    c.parts["F1"] = "fuse-30"
    c.run("k_86", "unit.ign", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    c.run("f1", "vehicle.batt", "F1.a")
    c.run("k_30", "F1.b", "K1.30")
    c.run("k_87", "K1.87", "vehicle.ign")
    return c


@breaks("start-ends")
def relay_that_holds_itself() -> Case:
    c = Case()
    c.circuit("ign_2", function="ignition", number=2, live=["run", "start"], load_A=12)
    c.parts["K1"] = "relay"
    c.parts["D1"] = "diode"
    c.run("k_86", "unit.ign", "D1.anode")
    c.run("k_86b", "D1.cathode", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    c.run("k_30", "vehicle.batt", "K1.30")
    c.run("k_87", "K1.87", "vehicle.ign_2")
    c.run("k_hold", "K1.87", "K1.86")
    return c


@breaks("brake-ends")
def ignition_straight_from_a_switch_relay() -> Case:
    """The ignition relay is worked by the brake wire."""
    c = Case().without("r_ign")
    c.parts["K1"] = "relay"
    c.run("k_86", "vehicle.brake", "K1.86")
    c.run("k_85", "K1.85", "unit.run_sig")
    c.run("k_30", "vehicle.batt", "K1.30")
    c.run("k_87", "K1.87", "vehicle.ign")
    c.run("r_ign", "unit.ign", "vehicle.ign")
    c.without("r_brake")
    return c


@breaks("locks-on-command")
def lock_and_unlock_swapped() -> Case:
    c = Case()
    c.run("r_lock", "unit.lock", "vehicle.unlock")
    c.run("r_unlock", "unit.unlock", "vehicle.lock")
    return c


@breaks("locks-on-command")
def unlock_with_the_horn() -> Case:
    c = Case()
    c.run("r_more", "unit.horn", "vehicle.unlock")
    return c


@breaks("start-through-interlock")
def fed_past_the_interlock() -> Case:
    c = Case()
    c.circuit("starter", interlock="upstream")
    return c


@breaks("immobilizer-only-while-starting")
def interface_always_enabled() -> Case:
    c = sound.transponder_with_interface()
    c.run("x3", "X1.wake", "ground.body")
    return c


@breaks("no-short")
def ground_output_on_a_fed_lamp() -> Case:
    c = Case()
    c.lead("lamps", active="ground", limit_A=10)
    return c


@breaks("no-short")
def battery_output_on_a_grounded_switch() -> Case:
    c = Case()
    c.lead("horn", active="battery")
    return c


@breaks("no-short")
def reversing_lock_without_a_cut() -> Case:
    c = Case()
    for name in ("lock", "unlock"):
        c.circuit(name, style="reversing", rest="ground", active="battery", load_A=8)
        c.lead(name, active="battery", limit_A=15)
    return c


@breaks("no-short")
def battery_wire_to_ground() -> Case:
    c = Case()
    c.run("r_oops", "vehicle.batt", "ground.body")
    return c


@breaks("no-short")
def fuse_between_battery_and_ground() -> Case:
    c = Case()
    c.parts["F1"] = "fuse-15"
    c.run("r_1", "vehicle.batt", "F1.a")
    c.run("r_2", "F1.b", "ground.body")
    return c


@breaks("no-short")
def suppressor_the_wrong_way_round() -> Case:
    c = sound.second_ignition_by_relay()
    c.parts["D1"] = "diode"
    c.run("d1", "F1.b", "D1.anode")
    c.run("d2", "D1.cathode", "K1.85")
    return c


@breaks("car-unchanged")
def sides_of_the_lights_joined() -> Case:
    c = sound.lights_by_side_with_diodes()
    c.run("r_join", "vehicle.park_left", "vehicle.park_right")
    return c


@breaks("car-unchanged")
def accessory_joined_to_ignition() -> Case:
    c = Case()
    c.run("r_join", "vehicle.acc", "vehicle.ign")
    return c


@breaks("car-unchanged")
def starter_cut_not_joined_again() -> Case:
    return sound.starter_cut_when_armed().without("k_87a")


@breaks("car-unchanged")
def diode_the_wrong_way_feeds_back() -> Case:
    """A diode from the accessory circuit to the ignition circuit: accessory runs the ignition."""
    c = Case()
    c.parts["D1"] = "diode"
    c.run("d1", "vehicle.acc", "D1.anode")
    c.run("d2", "D1.cathode", "vehicle.ign")
    return c


@breaks("only-what-is-called")
def horn_with_the_lights() -> Case:
    c = Case()
    c.circuit("bell", function="horn", rest="open", active="battery", load_A=1)
    c.parts["D1"] = "diode"
    c.run("d1", "unit.lamps", "D1.anode")
    c.run("d2", "D1.cathode", "vehicle.bell")
    return c


@breaks("within-limits")
def lead_overloaded() -> Case:
    c = Case()
    c.lead("acc", limit_A=5)
    return c


@breaks("within-limits")
def feed_overloaded() -> Case:
    c = Case()
    c.lead("feed", limit_A=15, fuse_A=15)
    return c


@breaks("within-limits")
def fuse_in_the_feed_too_small() -> Case:
    c = sound.feed_through_a_fuse()
    c.parts["F1"] = "fuse-15"
    return c


@breaks("within-limits")
def car_fuse_overloaded() -> Case:
    c = Case()
    c.circuit("batt", fuse_A=10)
    return c


@breaks("within-limits")
def transistor_lead_on_the_lamps() -> Case:
    c = Case()
    c.lead("lamps", limit_A=0.5, switch="transistor")
    return c


@breaks("hands-off")
def airbag_wire_touched() -> Case:
    c = Case()
    c.run("r_oops", "unit.horn", "vehicle.airbag")
    return c


@breaks("hands-off")
def data_wire_on_a_lead() -> Case:
    c = Case()
    c.run("r_oops", "unit.run_sig", "vehicle.bus")
    return c


@breaks("hands-off")
def data_wire_on_a_supply_pin() -> Case:
    c = sound.transponder_with_interface()
    c.run("x3", "X1.wake", "vehicle.bus")
    return c


@breaks("coils-suppressed")
def bare_coil_on_a_transistor() -> Case:
    c = sound.second_ignition_by_relay()
    c.parts["K1"] = "relay-bare"
    c.lead("run_sig", suppressed=False)
    return c


@breaks("settles")
def buzzer() -> Case:
    """A relay whose coil hangs on its own resting contact."""
    c = Case()
    c.parts["K1"] = "relay"
    c.run("k_30", "unit.acc", "K1.30")
    c.run("k_86", "K1.87a", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    return c


@breaks("settles")
def two_relays_race() -> Case:
    """Each relay's resting contact feeds the other's coil: the first to pull in locks the other."""
    c = Case()
    c.parts["K1"] = "relay"
    c.parts["K2"] = "relay"
    for one, other in (("K1", "K2"), ("K2", "K1")):
        c.run(f"{one}_30", "unit.acc", f"{one}.30")
        c.run(f"{one}_87a", f"{one}.87a", f"{other}.86")
        c.run(f"{one}_85", f"{one}.85", "ground.body")
    return c


@breaks("start-ends")
def runs_without_end() -> Case:
    c = Case()
    c.unit["settings"] = [
        {
            "id": "run_time",
            "values": {"min": 600, "max": 7200, "step": 600, "unit": "s"},
            "default": 1200,
            "sets": "run.at_most_s",
        }
    ]
    c.settings["run_time"] = 3600
    return c


@breaks("start-ends")
def too_many_tries() -> Case:
    c = Case()
    c.unit["tries"] = 8
    return c


@breaks("within-limits")
def car_fuse_smaller_than_any_blade() -> Case:
    c = Case()
    c.circuit("batt", fuse_A=0.5)
    return c
