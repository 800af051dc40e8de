"""A push-button car whose unit imitates the driver: foot on the brake, press, and a press to end.

The foot's side of the brake wire goes to the unit's own input; the control's side is switched over
to the battery by K1. K2 takes the foot away while the ending press is given: a control that saw the
brake with a stalled engine would crank.
"""

from __future__ import annotations

from prove.base import Case

BY_KEY = ("ign", "acc", "start")


def imitating() -> Case:
    """Sound: the unit presses the button, and ends every start with a press."""
    case = Case()
    case.vehicle["start"] = "push_button"
    case.circuit("button", function="start_button", rest="open", active="ground", load_A=0.02)
    case.unit["leads"] = [d for d in case.unit["leads"] if d["id"] not in BY_KEY]
    case.without("r_ign", "r_acc", "r_start")
    signal = {"way": "out", "active": "ground", "limit_A": 0.5, "suppressed": True}
    case.lead("button", does=["start_button"], **signal)
    case.lead("foot", does=["brake"], **signal)
    case.lead("hide", does=["ignition_signal"], **signal)
    case.lead("ign_in", way="in", senses="ignition", active="battery", pull="down")
    case.cuts = ["brake"]
    case.parts = {"K1": "relay", "K2": "relay", "F1": "fuse-15"}
    case.run("r_button", "unit.button", "vehicle.button")
    case.run("r_ign_in", "unit.ign_in", "vehicle.ign")
    case.run("r_brake", "vehicle.brake.source", "unit.brake_in")
    case.run("r_pedal", "vehicle.brake.source", "K2.30")
    case.run("r_hidden", "K2.87a", "K1.87a")
    case.run("r_control", "K1.30", "vehicle.brake.load")
    case.run("r_fused", "F1.b", "vehicle.batt")
    case.run("r_press", "K1.87", "F1.a")
    case.run("r_coil_1", "K1.86", "F1.a")
    case.run("r_foot", "K1.85", "unit.foot")
    case.run("r_coil_2", "K2.86", "F1.a")
    case.run("r_hide", "K2.85", "unit.hide")
    lit = ["parking_light"]
    press = {"until": "engine_running", "at_most_s": 6, "on_timeout": "end"}
    case.unit["sequence"] = [
        {"step": "acknowledge", "drives": lit, "like": "off", "for_s": 1},
        {"step": "foot", "drives": [*lit, "brake"], "like": "off", "for_s": 0.5},
        {"step": "push", "drives": [*lit, "brake", "start_button"], "like": "start", **press},
        {"step": "run", "drives": [*lit, "running_signal"], "like": "run", "at_most_s": 1200},
    ]
    case.unit["tries"] = 1
    case.unit["ending"] = {"drives": ["start_button", "ignition_signal"], "pulse_s": 0.5}
    return case


def never_presses_again() -> Case:
    """The unit goes idle and the car runs on by itself."""
    case = imitating()
    case.unit.pop("ending")
    return case


def foot_in_the_way() -> Case:
    """The ending press meets a foot on the brake and an engine that stalled: it cranks."""
    case = imitating()
    case.without("r_hide")
    return case


def hears_its_own_foot() -> Case:
    """The brake input hangs on the imitated side: the unit ends its own start."""
    case = imitating()
    case.run("r_brake", "vehicle.brake.load", "unit.brake_in")
    return case


def cannot_tell_on_from_off() -> Case:
    """Nothing tells the unit that the ignition is on, so it never presses to end."""
    case = imitating()
    case.without("r_ign_in")
    return case


def stop_button_starts() -> Case:
    """A stop command presses the button whatever the car does: with the brake held it cranks."""
    case = imitating()
    case.unit["commands"] = {"stop": [{"drives": ["start_button"], "pulse_s": 0.5}]}
    return case


def takes_a_driven_car() -> Case:
    """A start is not refused with the ignition on: the press turns a running car off."""
    case = imitating()
    case.unit["refuses"] = ["service"]
    return case


def key_left_at_home() -> Case:
    """A smart key that is away, and nothing in its place."""
    case = imitating()
    case.vehicle["immobilizer"] = {"kind": "smart_key"}
    return case


SPOILT = {
    "never_presses_again": ("hood-ends", never_presses_again),
    "foot_in_the_way": ("brake-ends", foot_in_the_way),
    "hears_its_own_foot": ("can-start", hears_its_own_foot),
    "cannot_tell_on_from_off": ("start-ends", cannot_tell_on_from_off),
    "stop_button_starts": ("crank-only-when-safe", stop_button_starts),
    "takes_a_driven_car": ("key-has-last-word", takes_a_driven_car),
    "key_left_at_home": ("can-start", key_left_at_home),
}
