"""Sound wirings of many kinds: each must be proven."""

from __future__ import annotations

from collections.abc import Callable

from prove.base import Case

SOUND: dict[str, Callable[[], Case]] = {}


def sound(make: Callable[[], Case]) -> Callable[[], Case]:
    SOUND[make.__name__] = make
    return make


@sound
def plain() -> Case:
    return Case()


@sound
def volts() -> Case:
    c = Case().without("r_tach")
    c.settings["engine_sense"] = "volts"
    return c


@sound
def charge_lamp() -> Case:
    c = Case().without("r_tach")
    c.circuit("lamp", function="charge_lamp", rest="ground", active="battery", load_A=0.2)
    c.lead("lamp_in", way="in", senses="charge_lamp", active="battery", pull="down")
    c.run("r_lamp", "vehicle.lamp", "unit.lamp_in")
    c.settings["engine_sense"] = "charge_lamp"
    return c


@sound
def idle_stop() -> Case:
    c = Case()
    c.vehicle["engine"] = {"idle_stop": True}
    return c


@sound
def diesel_with_wait_lamp() -> Case:
    c = Case()
    c.vehicle["engine"] = {"ignition": "compression", "fuel": "diesel"}
    c.circuit("glow", function="wait_to_start", rest="open", active="ground", load_A=0.1)
    c.lead("glow_in", way="in", senses="wait_to_start", active="ground", pull="up")
    c.run("r_glow", "vehicle.glow", "unit.glow_in")
    return c


@sound
def service_switch() -> Case:
    c = Case()
    c.lead("svc_in", way="in", senses="service", active="ground", pull="up")
    c.parts["S1"] = "svc"
    c.run("r_s1", "unit.svc_in", "S1.a")
    c.run("r_s2", "S1.b", "ground.body")
    return c


@sound
def added_hood_switch() -> Case:
    c = Case().without("hood", "r_hood")
    c.parts["S1"] = "hood-pin"
    c.run("r_s1", "unit.hood_in", "S1.a")
    c.run("r_s2", "S1.b", "ground.body")
    return c


@sound
def tells_park_alone() -> Case:
    c = Case()
    c.circuit("lever", tells="park")
    return c


@sound
def no_interlock_but_sensed() -> Case:
    c = Case()
    c.circuit("starter", interlock="none")
    return c


@sound
def mechanical_interlock() -> Case:
    c = Case()
    c.circuit("starter", interlock="mechanical")
    return c


@sound
def lights_by_side_with_diodes() -> Case:
    c = Case().without("lights", "r_lamps")
    for side in ("left", "right"):
        c.circuit(
            f"park_{side}",
            function="parking_light",
            side=side,
            rest="open",
            active="battery",
            load_A=1.5,
        )
        c.parts[f"D_{side}"] = "diode"
        c.run(f"r_{side}_1", "unit.lamps", f"D_{side}.anode")
        c.run(f"r_{side}_2", f"D_{side}.cathode", f"vehicle.park_{side}")
    return c


@sound
def lights_switched_to_ground() -> Case:
    c = Case()
    c.circuit("lights", rest="battery", active="ground", load_A=0.2)
    c.lead("lamps", active="ground", limit_A=0.5)
    return c


@sound
def second_ignition_by_relay() -> Case:
    c = Case()
    c.circuit("ign_2", function="ignition", number=2, live=["run", "start"], load_A=12)
    c.parts["K1"] = "relay"
    c.parts["F1"] = "fuse-30"
    c.run("k_coil", "K1.86", "F1.b")
    c.run("k_sig", "K1.85", "unit.run_sig")
    c.run("k_feed", "vehicle.batt", "F1.a")
    c.run("k_in", "F1.b", "K1.30")
    c.run("k_out", "K1.87", "vehicle.ign_2")
    return c


@sound
def second_ignition_live_in_run_alone() -> Case:
    c = Case()
    c.circuit("ign_2", function="ignition", number=2, live=["run"], load_A=6)
    c.lead("acc2", way="out", does=["accessory"], active="battery", limit_A=25)
    c.run("r_ign_2", "unit.acc2", "vehicle.ign_2")
    return c


@sound
def second_ignition_held_in_crank_with_reason() -> Case:
    c = Case()
    c.circuit(
        "ign_2",
        function="ignition",
        number=2,
        live=["run"],
        load_A=6,
        may_hold_in_crank="the maker's bulletin says so",
    )
    c.lead("ign2", way="out", does=["ignition"], active="battery", limit_A=25)
    c.run("r_ign_2", "unit.ign2", "vehicle.ign_2")
    return c


@sound
def window_feed_left_dead() -> Case:
    c = Case()
    c.circuit(
        "windows",
        function="accessory",
        live=["accessory", "run"],
        load_A=4,
        leave_dead="49 CFR 571.118",
    )
    return c


@sound
def two_starters() -> Case:
    c = Case()
    c.circuit("starter_2", function="starter", live=["start"], load_A=8, interlock="downstream")
    c.run("r_start_2", "unit.start", "vehicle.starter_2")
    return c


@sound
def transponder_with_interface() -> Case:
    c = Case()
    c.vehicle["immobilizer"] = {"kind": "transponder"}
    c.parts["X1"] = "bypass"
    c.run("x1", "vehicle.batt", "X1.power")
    c.run("x2", "X1.earth", "ground.body")
    c.run("x3", "X1.wake", "unit.run_sig")
    c.run("x4", "X1.bus", "vehicle.bus")
    return c


@sound
def reversing_locks_with_two_relays() -> Case:
    c = Case().without("r_lock", "r_unlock")
    for name in ("lock", "unlock"):
        c.circuit(name, style="reversing", rest="ground", active="battery", load_A=8)
        relay = f"K_{name}"
        c.parts[relay] = "relay"
        c.cuts.append(name)
        c.run(f"{name}_30", f"{relay}.30", f"vehicle.{name}.load")
        c.run(f"{name}_87a", f"{relay}.87a", f"vehicle.{name}.source")
        c.run(f"{name}_87", f"{relay}.87", "F1.b")
        c.run(f"{name}_86", f"{relay}.86", "F1.b")
        c.run(f"{name}_85", f"{relay}.85", f"unit.{name}")
    c.parts["F1"] = "fuse-15"
    c.run("f1", "vehicle.batt", "F1.a")
    return c


@sound
def coded_lock_switch() -> Case:
    c = Case().without("lock", "unlock", "r_lock", "r_unlock")
    c.circuit(
        "switch",
        function="lock",
        also=["unlock"],
        style="ladder",
        steps_ohm={"rest": 4700, "lock": 330, "unlock": 1000},
    )
    for name, part in (("lock", "r-330"), ("unlock", "r-1000")):
        c.parts[f"R_{name}"] = part
        c.run(f"{name}_1", f"unit.{name}", f"R_{name}.a")
        c.run(f"{name}_2", f"R_{name}.b", "vehicle.switch")
    return c


@sound
def driver_first() -> Case:
    c = Case()
    c.wants.append("driver_first_unlock")
    c.circuit("unlock", presses=2)
    return c


@sound
def separate_driver_unlock() -> Case:
    c = Case()
    c.wants.append("driver_first_unlock")
    c.circuit(
        "unlock_driver",
        function="driver_unlock",
        style="pulse",
        rest="battery",
        active="ground",
        pulse_s=0.5,
        load_A=0.2,
    )
    c.lead("driver", way="out", does=["driver_unlock"], active="ground", limit_A=0.5)
    c.run("r_driver", "unit.driver", "vehicle.unlock_driver")
    c.unit["commands"] = {
        "lock": [
            {"drives": ["lock"], "pulse_s": 0.8},
            {"drives": ["parking_light"], "pulse_s": 0.3},
        ],
        "lock_again": [{"drives": ["horn"], "pulse_s": 0.05}],
        "unlock": [{"drives": ["driver_unlock"], "pulse_s": 0.8}],
        "unlock_again": [{"drives": ["unlock"], "pulse_s": 0.8}],
    }
    return c


@sound
def panic_too() -> Case:
    c = Case()
    c.wants.append("panic")
    return c


@sound
def trunk_too() -> Case:
    c = Case()
    c.wants.append("trunk_release")
    c.circuit(
        "lid", function="trunk_release", rest="battery", active="ground", load_A=0.2, pulse_s=0.5
    )
    c.lead("trunk", way="out", does=["trunk_release"], active="ground", limit_A=0.5)
    c.run("r_trunk", "unit.trunk", "vehicle.lid")
    return c


@sound
def starter_cut_when_armed() -> Case:
    c = Case().without("r_start")
    c.wants += ["starter_cut", "armed_output"]
    c.cuts.append("starter")
    c.parts["K1"] = "relay"
    c.parts["F1"] = "fuse-15"
    c.run("f1", "vehicle.batt", "F1.a")
    c.run("k_86", "K1.86", "F1.b")
    c.run("k_85", "K1.85", "unit.armed")
    c.run("k_30", "K1.30", "vehicle.starter.source")
    c.run("k_87a", "K1.87a", "vehicle.starter.load")
    c.run("r_start", "unit.start", "vehicle.starter.load")
    return c


@sound
def level_chosen_by_setting() -> Case:
    c = Case()
    c.lead(
        "lamps",
        active=None,
        active_by="lamps_level",
        limit_A={"battery": 10, "ground": 0.5},
        switch="relay",
    )
    c.unit["settings"] = [
        {"id": "lamps_level", "values": {"battery": "", "ground": ""}, "default": "ground"}
    ]
    c.settings["lamps_level"] = "battery"
    return c


@sound
def output_chosen_by_setting() -> Case:
    c = Case()
    c.circuit("starter_2", function="starter", live=["start"], load_A=8, interlock="downstream")
    c.lead(
        "flex",
        way="out",
        does=["ignition", "accessory", "starter"],
        chosen_by="flex_does",
        active="battery",
        limit_A=20,
    )
    c.unit["settings"] = [
        {
            "id": "flex_does",
            "values": {"off": "", "ignition": "", "accessory": "", "starter": ""},
            "default": "off",
        }
    ]
    c.settings["flex_does"] = "starter"
    c.run("r_flex", "unit.flex", "vehicle.starter_2")
    return c


@sound
def inverted_brake_by_relay() -> Case:
    """The unit wants the brake at ground: a relay on the brake wire turns it round."""
    c = Case().without("r_brake")
    c.lead("brake_in", active="ground", pull="up")
    c.parts["K1"] = "relay"
    c.run("k_86", "vehicle.brake", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    c.run("k_30", "K1.30", "ground.body")
    c.run("k_87", "K1.87", "unit.brake_in")
    return c


@sound
def feed_through_a_fuse() -> Case:
    c = Case().without("r_feed")
    c.parts["F1"] = "fuse-30"
    c.run("f1", "vehicle.batt", "F1.a")
    c.run("f2", "F1.b", "unit.feed")
    return c


@sound
def key_sensed_at_the_battery_with_live_list() -> Case:
    c = Case()
    c.circuit("batt", live=["out", "off", "accessory", "run", "start"])
    c.circuit("key", function="key_sense", live=["off", "accessory", "run", "start"], load_A=0.1)
    return c


@sound
def accessory_live_in_start_too() -> Case:
    """An accessory circuit that the key keeps alive while cranking, on the ignition lead."""
    c = Case()
    c.circuit("acc", live=["run", "start"])
    c.run("r_acc", "unit.ign", "vehicle.acc")
    return c


@sound
def always_fed_interface_for_the_tach_alone() -> Case:
    c = Case().without("r_tach")
    c.circuit("tach", reach="bus")
    c.stock["parts"].append(
        {
            "id": "bus-box",
            "kind": "interface",
            "serves": ["tach"],
            "needs": {"power": "battery", "earth": "ground", "bus": "data"},
            "pins": {"power": "battery", "earth": "ground", "bus": "data", "out": "tach"},
        }
    )
    c.parts["X1"] = "bus-box"
    c.run("x1", "vehicle.batt", "X1.power")
    c.run("x2", "X1.earth", "ground.body")
    c.run("x3", "X1.bus", "vehicle.bus")
    c.run("x4", "X1.out", "unit.tach_in")
    return c


@sound
def main_fuse_larger_than_any_blade() -> Case:
    c = Case()
    c.circuit("batt", fuse_A=150)
    return c
