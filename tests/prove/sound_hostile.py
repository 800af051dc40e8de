"""Sound wirings done another way than most would: each must be proven."""

from __future__ import annotations

from prove import sound as plain
from prove.base import Case
from prove.sound import sound


@sound
def accessory_of_thirty_amperes() -> Case:
    """A load of less than half an ohm is still a load."""
    c = Case()
    c.circuit("acc", load_A=30)
    c.lead("acc", limit_A=40)
    c.lead("feed", limit_A=80, fuse_A=80)
    c.circuit("batt", fuse_A=80)
    c.size_mm2 = 10.0
    return c


@sound
def hood_switch_that_opens() -> Case:
    """The hood's circuit rests at ground and opens with the hood."""
    c = Case()
    c.circuit("hood", rest="ground", active="open")
    c.lead("hood_in", active="battery", pull="up", on_V=6, off_V=3)
    return c


@sound
def lever_told_by_battery() -> Case:
    c = Case()
    c.circuit("lever", rest="open", active="battery")
    c.lead("lever_in", active="battery", pull="down")
    return c


@sound
def lever_inverted_by_a_resting_contact() -> Case:
    """The car tells drive with battery: a relay's resting contact gives ground in park."""
    c = Case()
    c.circuit("lever", rest="battery", active="open", load_A=0.5)
    c.without("r_lever")
    c.parts["K1"] = "relay"
    c.run("k_86", "vehicle.lever", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    c.run("k_30", "K1.30", "ground.body")
    c.run("k_87a", "K1.87a", "unit.lever_in")
    return c


@sound
def starter_worked_by_ground() -> Case:
    """The start signal of this car is ground."""
    c = Case()
    c.circuit("starter", active="ground", load_A=0.3)
    c.lead("start", active="ground", limit_A=0.5)
    return c


@sound
def starter_by_relay_from_a_small_lead() -> Case:
    c = Case().without("r_start")
    c.lead("start", does=["starter_signal"], active="ground", limit_A=0.5)
    c.unit["sequence"] = [
        {
            "step": "settle",
            "drives": ["parking_light", "ignition", "accessory", "running_signal"],
            "like": "run",
            "for_s": 2,
        },
        {
            "step": "crank",
            "drives": ["parking_light", "ignition", "running_signal", "starter_signal"],
            "like": "start",
            "until": "engine_running",
            "at_most_s": 4,
            "on_timeout": "retry",
        },
        {
            "step": "run",
            "drives": ["parking_light", "ignition", "accessory", "running_signal"],
            "like": "run",
            "at_most_s": 1200,
        },
    ]
    c.parts |= {"K1": "relay", "F1": "fuse-30"}
    c.run("f1", "vehicle.batt", "F1.a")
    c.run("k_86", "F1.b", "K1.86")
    c.run("k_85", "K1.85", "unit.start")
    c.run("k_30", "F1.b", "K1.30")
    c.run("k_87", "K1.87", "vehicle.starter")
    return c


@sound
def unit_ignition_lead_through_a_brake_relay() -> Case:
    """The brake cuts the unit's ignition feed in wire as well as in the unit."""
    c = Case().without("r_ign")
    c.parts["K1"] = "relay"
    c.run("k_30", "unit.ign", "K1.30")
    c.run("k_87a", "K1.87a", "vehicle.ign")
    c.run("k_86", "vehicle.brake", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    return c


@sound
def two_hood_switches_one_after_the_other() -> Case:
    """The car's own and an added one, each to ground: either opens the start."""
    c = Case()
    c.parts["S1"] = "hood-pin"
    c.run("r_s1", "unit.hood_in", "S1.a")
    c.run("r_s2", "S1.b", "ground.body")
    return c


@sound
def sides_joined_by_a_relay_only_while_flashing() -> Case:
    """Left and right each on a contact of its own, both coils on the lamps lead."""
    c = Case().without("lights", "r_lamps")
    c.parts["F1"] = "fuse-15"
    c.run("f1", "vehicle.batt", "F1.a")
    for side in ("left", "right"):
        c.circuit(
            f"park_{side}",
            function="parking_light",
            side=side,
            rest="open",
            active="battery",
            load_A=1.5,
        )
        c.parts[f"K_{side}"] = "relay"
        c.parts[f"D_{side}"] = "diode"
        c.run(f"k_86_{side}", "unit.lamps", f"K_{side}.86")
        c.run(f"k_85_{side}", f"K_{side}.85", "ground.body")
        c.run(f"k_30_{side}", "F1.b", f"D_{side}.anode")
        c.run(f"k_d_{side}", f"D_{side}.cathode", f"K_{side}.30")
        c.run(f"k_87_{side}", f"K_{side}.87", f"vehicle.park_{side}")
    return c


@sound
def suppressor_diode_across_a_bare_coil() -> Case:
    c = plain.second_ignition_by_relay()
    c.parts |= {"K1": "relay-bare", "D1": "diode"}
    c.lead("run_sig", suppressed=False)
    c.run("d1", "K1.85", "D1.anode")
    c.run("d2", "D1.cathode", "K1.86")
    return c


@sound
def tach_wire_cut_and_joined_again() -> Case:
    c = Case()
    c.cuts.append("tach")
    c.run("r_join", "vehicle.tach.source", "vehicle.tach.load")
    c.run("r_tach", "vehicle.tach.load", "unit.tach_in")
    return c


@sound
def interface_enabled_by_ignition_and_running_signal() -> Case:
    c = plain.transponder_with_interface()
    c.stock["parts"][-1]["needs"]["ign"] = "ignition"
    c.stock["parts"][-1]["pins"].append("ign")
    c.run("x5", "X1.ign", "vehicle.ign")
    return c


@sound
def ends_by_a_key_sense_that_is_not_sensed() -> Case:
    """A key buzzer circuit that nothing meets stays as it is."""
    c = Case()
    c.circuit("key", function="key_sense", live=["off", "accessory", "run", "start"], load_A=0.1)
    return c


@sound
def second_starter_past_the_interlock_left_dead() -> Case:
    """A second starter wire that lies past the car's switch is fed by nobody: one cranks."""
    c = Case()
    c.circuit("starter_2", function="starter", live=["start"], load_A=8, interlock="upstream")
    return c


@sound
def second_accessory_on_the_same_lead() -> Case:
    c = Case()
    c.circuit("acc_2", function="accessory", live=["accessory", "run"], load_A=3)
    c.run("r_acc_2", "unit.acc", "vehicle.acc_2")
    return c


@sound
def two_ignitions_live_alike_on_one_lead() -> Case:
    c = Case()
    c.circuit("ign_2", function="ignition", number=2, live=["run", "start"], load_A=6)
    c.run("r_ign_2", "unit.ign", "vehicle.ign_2")
    return c


@sound
def debounce_of_half_a_second() -> Case:
    c = Case()
    for lead in ("brake_in", "hood_in", "lever_in"):
        c.lead(lead, debounce_s=0.5)
    return c


def _resistor_key() -> Case:
    c = Case()
    c.vehicle["immobilizer"] = {"kind": "resistor_key", "key_ohm": 1130}
    c.circuit("key_1", function="immobilizer", number=1)
    c.stock["parts"].append({"id": "r-1130", "kind": "resistor", "ohm": 1130, "watt": 0.5})
    c.parts |= {"K1": "relay", "R1": "r-1130", "F1": "fuse-15"}
    c.run("f1", "vehicle.batt", "F1.a")
    c.run("k_86", "F1.b", "K1.86")
    c.run("k_85", "K1.85", "unit.run_sig")
    return c


@sound
def key_resistor_in_a_cut() -> Case:
    """While the unit starts, a relay takes the key's place with a resistor of the same value."""
    c = _resistor_key()
    c.cuts.append("key_1")
    c.run("k_30", "K1.30", "vehicle.key_1.load")
    c.run("k_87a", "K1.87a", "vehicle.key_1.source")
    c.run("k_87", "K1.87", "R1.a")
    c.run("k_r", "R1.b", "ground.body")
    return c


@sound
def key_resistor_between_two_wires() -> Case:
    c = key_resistor_in_a_cut()
    c.circuit("key_2", function="immobilizer", number=2)
    c.run("k_r", "R1.b", "vehicle.key_2")
    return c


@sound
def key_resistor_beside_the_key() -> Case:
    """No cut: with the key out the resistor alone is there."""
    c = _resistor_key()
    c.run("k_30", "K1.30", "vehicle.key_1")
    c.run("k_87", "K1.87", "R1.a")
    c.run("k_r", "R1.b", "ground.body")
    return c


def _bypass(**changes: object) -> Case:
    """The transponder's interface with its record written another way."""
    c = plain.transponder_with_interface()
    record = c.stock["parts"][-1]
    for key in ("needs", "pins"):
        record.pop(key)
    record |= changes
    return c


@sound
def interface_pins_named_by_what_they_meet() -> Case:
    """`pins` from what a pin is for to the pin; every one of them needed."""
    c = _bypass(
        pins={"battery": "red", "ground": "black", "running_signal": "5", "data": "6"},
        needs=["battery", "ground", "running_signal", "data"],
    )
    for run, old, new in (("x1", "power", "red"), ("x2", "earth", "black"), ("x3", "wake", "5"),
                          ("x4", "bus", "6")):  # fmt: skip
        a, b = c.runs[run]
        c.runs[run] = (a.replace(f"X1.{old}", f"X1.{new}"), b.replace(f"X1.{old}", f"X1.{new}"))
    return c


@sound
def interface_pins_that_say_what_they_meet() -> Case:
    """`pins` from the pin to what it is for, `needs` a list of those."""
    return _bypass(
        pins={"power": "battery", "earth": "ground", "wake": "running_signal", "bus": "data"},
        needs=["battery", "ground", "running_signal", "data"],
    )


@sound
def interface_needs_named_by_function() -> Case:
    return _bypass(
        pins=["power", "earth", "wake", "bus"],
        needs={"battery": "power", "ground": "earth", "running_signal": "wake", "data": "bus"},
    )
