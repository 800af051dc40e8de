"""What a hostile engineer would try: each is breached by the rule that is meant for it."""

from __future__ import annotations

from typing import Any

from prove import sound, sound_hostile
from prove.base import Case
from prove.sabotage import breaks

ON = ["parking_light", "ignition", "accessory", "running_signal"]
CRANK = ["parking_light", "ignition", "running_signal", "starter"]


def steps(*cranks: dict[str, Any], after: dict[str, Any] | None = None) -> list[dict[str, Any]]:
    """A sequence with these crank steps, and something between them and the run."""
    out: list[dict[str, Any]] = [
        {"step": "settle", "drives": ON, "like": "run", "for_s": 2, "or_until": "wait_over"}
    ]
    out += [
        {"step": f"crank-{k}", "drives": CRANK, "like": "start", **c} for k, c in enumerate(cranks)
    ]
    if after is not None:
        out.append({"step": "between", "drives": ON, "like": "run", **after})
    return [*out, {"step": "run", "drives": ON, "like": "run", "at_most_s": 1200}]


# ---- the unit's own numbers ---------------------------------------------------------------------


@breaks("start-ends")
def runs_while_a_stuck_wait_lamp_is_lit() -> Case:
    """A step after the crank that only the wait lamp ends."""
    c = sound.diesel_with_wait_lamp()
    crank = {"until": "engine_running", "at_most_s": 4, "on_timeout": "retry"}
    c.unit["sequence"] = steps(crank, after={"until": "wait_over"})
    return c


@breaks("start-ends")
def cranks_in_four_steps_of_fifteen_seconds() -> Case:
    c = Case()
    crank = {"until": "engine_running", "at_most_s": 15, "on_timeout": "next"}
    c.unit["sequence"] = steps(crank, crank, crank, crank)
    return c


@breaks("no-crank-into-running")
def cranks_blindly_in_steps_of_half_a_second() -> Case:
    """No step is longer than the overrun, but eight of them in a row are."""
    c = Case().without("r_tach")
    c.unit["sequence"] = steps(*[{"for_s": 0.5}] * 8)
    return c


@breaks("brake-ends")
def brake_input_that_takes_its_time() -> Case:
    c = Case()
    c.lead("brake_in", debounce_s=20)
    return c


@breaks("hood-ends")
def hood_input_that_takes_its_time() -> Case:
    c = Case()
    c.lead("hood_in", debounce_s=3)
    return c


@breaks("leaving-park-ends")
def lever_input_that_takes_its_time() -> Case:
    c = Case()
    c.lead("lever_in", debounce_s=1)
    return c


@breaks("brake-ends")
def second_brake_input_hides_a_slow_one() -> Case:
    """The quick one hangs on the horn; only the slow one sees the brake."""
    c = Case()
    c.circuit("bell", function="horn", rest="open", active="battery", load_A=1)
    c.lead("brake_in", debounce_s=5)
    c.lead("brake_2", way="in", senses="brake", active="battery", pull="down")
    c.run("r_brake_2", "vehicle.bell", "unit.brake_2")
    return c


@breaks("crank-only-when-safe")
def unlock_button_turns_the_starter() -> Case:
    c = Case()
    c.unit["commands"] = {
        "lock": [{"drives": ["lock"]}],
        "unlock": [{"drives": ["unlock", "starter"]}],
    }
    return c


# ---- where current finds another way ------------------------------------------------------------


@breaks("crank-only-when-safe")
def starter_joined_to_the_accessory() -> Case:
    c = Case()
    c.run("r_x", "vehicle.acc", "vehicle.starter")
    return c


@breaks("leaving-park-ends")
def lever_sensed_through_the_starter_coil() -> Case:
    """The input sees ground through the car's starter relay, whatever the lever does."""
    c = Case()
    c.circuit("starter", interlock="none")
    c.run("r_lever", "vehicle.starter", "unit.lever_in")
    return c


@breaks("hood-ends")
def hood_switch_bridged_for_service() -> Case:
    """A service switch in the hood wire takes the hood away."""
    c = Case().without("r_hood")
    c.parts["S1"] = "svc"
    c.run("s1", "vehicle.hood", "S1.a")
    c.run("s2", "S1.b", "unit.hood_in")
    return c


@breaks("brake-ends")
def brake_input_behind_a_resistor() -> Case:
    """The resistor and the input's pull-down divide the brake's volts below the threshold."""
    c = Case().without("r_brake")
    c.stock["parts"].append({"id": "r-22k", "kind": "resistor", "ohm": 22_000, "watt": 0.5})
    c.parts["R1"] = "r-22k"
    c.run("b1", "vehicle.brake", "R1.a")
    c.run("b2", "R1.b", "unit.brake_in")
    return c


@breaks("hood-ends")
def hood_diode_turned_round() -> Case:
    c = Case().without("r_hood")
    c.parts["D1"] = "diode"
    c.run("h1", "vehicle.hood", "D1.anode")
    c.run("h2", "D1.cathode", "unit.hood_in")
    return c


@breaks("hood-ends")
def hood_wire_through_a_resting_contact() -> Case:
    """The hood is seen only while the unit does not run: a relay takes it away."""
    c = Case().without("r_hood")
    c.parts["K1"] = "relay"
    c.run("k_30", "K1.30", "unit.hood_in")
    c.run("k_87a", "K1.87a", "vehicle.hood")
    c.run("k_86", "unit.ign", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    return c


@breaks("brake-ends")
def ignition_relay_with_its_coil_on_the_brake_lamps() -> Case:
    """The coil's ground is the brake bulbs': with the brake pressed both ends stand at battery."""
    c = Case()
    c.circuit("ign_2", function="ignition", number=2, live=["run", "start"], load_A=5)
    c.parts["K1"] = "relay"
    c.run("k_86", "unit.lamps", "K1.86")
    c.run("k_85", "K1.85", "vehicle.brake")
    c.run("k_30", "vehicle.batt", "K1.30")
    c.run("k_87a", "K1.87a", "vehicle.ign_2")
    return c


@breaks("start-ends")
def ignition_on_the_resting_contact() -> Case:
    """87a for 87: the ignition is fed whenever the unit does nothing."""
    c = sound.second_ignition_by_relay()
    c.run("k_out", "K1.87a", "vehicle.ign_2")
    return c


@breaks("start-ends")
def relay_latched_by_the_circuit_it_feeds() -> Case:
    """Once the key or the unit has fed the ignition it never goes out."""
    c = Case()
    c.parts["K1"] = "relay"
    c.run("k_86", "vehicle.ign", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    c.run("k_30", "vehicle.batt", "K1.30")
    c.run("k_87", "K1.87", "vehicle.ign")
    return c


@breaks("key-has-last-word")
def relay_latched_keeps_the_engine_from_stopping_by_key() -> Case:
    return relay_latched_by_the_circuit_it_feeds()


@breaks("key-has-last-word")
def charge_lamp_line_feeds_the_ignition_back() -> Case:
    """The running engine's own charge line keeps the ignition alive after key off."""
    c = Case()
    c.circuit("lamp", function="charge_lamp", rest="ground", active="battery", load_A=0.2)
    c.parts["D1"] = "diode"
    c.run("d1", "vehicle.lamp", "D1.anode")
    c.run("d2", "D1.cathode", "vehicle.ign")
    return c


@breaks("no-crank-into-running")
def charge_lamp_input_on_a_dead_wire() -> Case:
    c = sound.charge_lamp()
    c.run("r_lamp", "vehicle.brake", "unit.lamp_in")
    return c


@breaks("no-crank-into-running")
def tach_behind_a_relay() -> Case:
    """What is not joined to the tach wire for good is no tach."""
    c = Case().without("r_tach")
    c.parts["K1"] = "relay"
    c.run("t1", "vehicle.tach", "K1.30")
    c.run("t2", "K1.87", "unit.tach_in")
    return c


@breaks("no-crank-into-running")
def tach_on_the_data_line() -> Case:
    c = Case()
    c.run("r_tach", "vehicle.bus", "unit.tach_in")
    return c


@breaks("car-unchanged")
def tach_wire_cut_in_two() -> Case:
    """The unit hears the engine, the car's own computer no more."""
    c = Case()
    c.cuts.append("tach")
    c.run("r_tach", "vehicle.tach.source", "unit.tach_in")
    return c


@breaks("car-unchanged")
def tach_wire_cut_by_the_way() -> Case:
    c = sound.volts()
    c.cuts.append("tach")
    return c


@breaks("car-unchanged")
def lights_joined_through_two_relays_at_rest() -> Case:
    """Left and right meet through two resting contacts."""
    c = sound.lights_by_side_with_diodes()
    for side in ("left", "right"):
        c.parts[f"K_{side}"] = "relay"
        c.run(f"k_{side}", f"K_{side}.30", f"vehicle.park_{side}")
    c.run("k_join", "K_left.87a", "K_right.87a")
    return c


@breaks("only-what-is-called")
def ignition_feeds_back_into_the_accessory_by_a_relay() -> Case:
    c = sound.second_ignition_by_relay()
    c.run("k_back", "K1.87", "vehicle.lights")
    return c


@breaks("locks-on-command")
def lock_and_unlock_on_one_lead() -> Case:
    c = Case()
    c.run("r_unlock", "unit.lock", "vehicle.unlock")
    return c


@breaks("locks-on-command")
def unlocks_while_it_starts() -> Case:
    """The running signal opens the doors."""
    c = Case()
    c.run("r_oops", "unit.run_sig", "vehicle.unlock")
    return c


@breaks("car-unchanged")
def lock_motor_without_its_rest_at_ground() -> Case:
    return sound.reversing_locks_with_two_relays().without("lock_87a")


@breaks("no-short")
def lock_motor_fed_against_its_own_switch() -> Case:
    """The relay's contact meets the uncut motor wire, which rests at ground."""
    c = sound.reversing_locks_with_two_relays()
    c.cuts.remove("lock")
    c.run("lock_30", "K_lock.30", "vehicle.lock")
    c.runs.pop("lock_87a")
    return c


@breaks("immobilizer-only-while-starting")
def interface_enabled_by_the_ignition_wire() -> Case:
    """With the key on it is enabled, whether the unit starts or not."""
    c = sound.transponder_with_interface()
    c.stock["parts"][-1]["needs"]["wake"] = "running_signal battery"
    c.run("x3", "X1.wake", "vehicle.ign")
    return c


@breaks("immobilizer-only-while-starting")
def interface_enabled_while_armed() -> Case:
    c = sound.transponder_with_interface()
    c.run("x3", "X1.wake", "unit.armed")
    return c


# ---- what may not be touched, and limits --------------------------------------------------------


@breaks("hands-off")
def data_line_reached_through_an_interface_pin() -> Case:
    """A second run from the pin that may meet the data line."""
    c = sound.transponder_with_interface()
    c.run("x9", "X1.bus", "unit.horn")
    return c


@breaks("hands-off")
def data_line_loaded_at_an_interface_pin() -> Case:
    c = sound.transponder_with_interface()
    c.parts["R1"] = "r-1000"
    c.run("x8", "R1.b", "ground.body")
    c.run("x9", "X1.bus", "R1.a")
    return c


@breaks("hands-off")
def data_line_cut() -> Case:
    c = sound.transponder_with_interface()
    c.cuts.append("bus")
    c.run("x4", "X1.bus", "vehicle.bus.source")
    return c


@breaks("coils-suppressed")
def bare_coil_behind_a_contact() -> Case:
    """The transistor lead works the bare coil through another relay's contact."""
    c = sound.second_ignition_by_relay()
    c.parts |= {"K1": "relay-bare", "K2": "relay"}
    c.lead("run_sig", suppressed=False)
    c.run("k_sig", "K1.85", "K2.87")
    c.run("k2_30", "K2.30", "unit.run_sig")
    c.run("k2_86", "K2.86", "unit.ign")
    c.run("k2_85", "K2.85", "ground.body")
    return c


@breaks("within-limits")
def diode_that_cannot_block_twelve_volts() -> Case:
    c = sound.lights_by_side_with_diodes()
    c.stock["parts"].append({"id": "d-10V", "kind": "diode", "forward_A": 6, "reverse_V": 10})
    c.parts["D_left"] = "d-10V"
    return c


@breaks("within-limits")
def resistor_of_unstated_power_across_the_battery() -> Case:
    c = Case()
    c.stock["parts"].append({"id": "r-1", "kind": "resistor", "ohm": 1})
    c.parts["R1"] = "r-1"
    c.run("a1", "vehicle.batt", "R1.a")
    c.run("a2", "R1.b", "ground.body")
    return c


# ---- a key with a resistor ----------------------------------------------------------------------


@breaks("immobilizer-only-while-starting")
def key_resistor_always_there() -> Case:
    c = sound_hostile.key_resistor_beside_the_key()
    c.run("k_30", "vehicle.key_1", "R1.a")
    return c


@breaks("immobilizer-only-while-starting")
def key_resistor_on_the_resting_contact() -> Case:
    c = sound_hostile.key_resistor_beside_the_key()
    c.run("k_87", "K1.87a", "R1.a")
    return c


@breaks("car-unchanged")
def key_line_cut_and_not_joined_at_rest() -> Case:
    return sound_hostile.key_resistor_in_a_cut().without("k_87a")


@breaks("can-start")
def key_resistor_of_another_value() -> Case:
    c = sound_hostile.key_resistor_in_a_cut()
    c.parts["R1"] = "r-330"
    return c


@breaks("can-start")
def key_resistor_that_leads_nowhere() -> Case:
    return sound_hostile.key_resistor_in_a_cut().without("k_r")


# ---- an interface whose record is written from function to pin ----------------------------------


@breaks("immobilizer-only-while-starting")
def interface_pin_by_function_always_enabled() -> Case:
    c = sound_hostile.interface_pins_named_by_what_they_meet()
    c.run("x3", "X1.5", "ground.body")
    return c


@breaks("can-start")
def interface_pin_by_function_left_open() -> Case:
    return sound_hostile.interface_pins_named_by_what_they_meet().without("x4")


@breaks("hands-off")
def interface_supply_pin_by_function_on_the_data_line() -> Case:
    c = sound_hostile.interface_pins_named_by_what_they_meet()
    c.run("x1", "X1.red", "vehicle.bus")
    return c
