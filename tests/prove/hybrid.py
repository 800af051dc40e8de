"""Hybrids: a start makes the car ready, and its engine then comes and goes by itself."""

from __future__ import annotations

from prove import push_button
from prove.base import Case


def _hybrid(case: Case, signal: str) -> Case:
    """A hybrid whose unit goes by the charge of its converter, or by time."""
    case.vehicle["powertrain"] = "hybrid"
    case.without("r_tach")
    case.settings["engine_sense"] = signal
    return case


def by_key() -> Case:
    """Sound: turned on by key, its start signal at the ignition switch; the unit goes by volts."""
    return _hybrid(Case(), "volts")


def by_charge_lamp() -> Case:
    """Sound: the unit goes by the wire that tells that the converter charges."""
    case = _hybrid(Case(), "charge_lamp")
    case.circuit("ready", function="charge_lamp", rest="ground", active="battery", load_A=0.1)
    case.lead("charge_in", way="in", senses="charge_lamp", active="battery", pull="down")
    case.run("r_ready", "unit.charge_in", "vehicle.ready")
    return case


def by_button() -> Case:
    """Sound: foot and press imitated, no starter circuit at all; the unit goes by volts."""
    case = _hybrid(push_button.imitating(), "volts")
    case.vehicle["circuits"] = [c for c in case.vehicle["circuits"] if c["function"] != "starter"]
    return case


def listens_to_the_tach() -> Case:
    """The engine of a ready car rests, so the unit asks again and again."""
    case = Case()
    case.vehicle["powertrain"] = "hybrid"
    return case


def by_time() -> Case:
    """The unit goes on asking a car that has long been ready."""
    return _hybrid(Case(), "timed")


def foot_in_the_way() -> Case:
    """The ending press meets a foot on the brake: it makes a car ready that has just gone off."""
    case = by_button()
    case.without("r_hide")
    return case


def hood_unheard() -> Case:
    case = by_button()
    case.without("r_hood")
    return case


SOUND = {"key": by_key, "charge lamp": by_charge_lamp, "button": by_button}
SPOILT = {
    "listens_to_the_tach": ("no-crank-into-running", listens_to_the_tach),
    "by_time": ("no-crank-into-running", by_time),
    "foot_in_the_way": ("no-crank-into-running", foot_in_the_way),
    "hood_unheard": ("crank-only-when-safe", hood_unheard),
}
