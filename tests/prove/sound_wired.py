"""Sound wirings in which a lead or a relay does what its name does not say."""

from __future__ import annotations

from prove import sound as plain
from prove.base import Case
from prove.sound import sound


def hood_on_the_input_for_doors() -> Case:
    """The unit has no hood input: its guard on the doors is used for it, which no planner does."""
    c = Case().without("r_hood")
    c.unit["leads"] = [d for d in c.unit["leads"] if d["id"] != "hood_in"]
    c.lead("door_in", way="in", senses="door", active="ground", pull="up")
    c.unit["guards"] = [
        {"input": "door", "reads": "inactive"},
        {"input": "brake", "reads": "inactive"},
        {"input": "park_neutral", "reads": "active"},
    ]
    c.run("r_hood", "vehicle.hood", "unit.door_in")
    return c


@sound
def slow_input_for_doors_on_the_doors() -> Case:
    """What neither brake, hood nor lever moves may take its time."""
    c = Case()
    c.circuit("door", function="door", rest="open", active="ground", load_A=0.02)
    c.lead("door_in", way="in", senses="door", active="ground", pull="up", debounce_s=5)
    c.unit["guards"] = [
        {"input": "hood", "reads": "inactive"},
        {"input": "door", "reads": "inactive"},
        {"input": "brake", "reads": "inactive"},
        {"input": "park_neutral", "reads": "active"},
    ]
    c.run("r_door", "vehicle.door", "unit.door_in")
    return c


@sound
def inputs_without_a_pull_on_wires_that_the_car_holds() -> Case:
    c = Case()
    for lead in ("brake_in", "hood_in", "lever_in"):
        c.lead(lead, pull="none")
    return c


@sound
def starter_kept_from_the_key_while_running() -> Case:
    """A relay on the running signal opens the key's starter wire: no hand cranks a running one."""
    c = Case().without("r_start")
    c.cuts.append("starter")
    c.parts["K1"] = "relay"
    c.run("k_86", "vehicle.batt", "K1.86")
    c.run("k_85", "K1.85", "unit.run_sig")
    c.run("k_30", "K1.30", "vehicle.starter.source")
    c.run("k_87a", "K1.87a", "vehicle.starter.load")
    c.run("r_start", "unit.start", "vehicle.starter.load")
    return c


@sound
def starter_kept_from_the_key_while_running_and_armed() -> Case:
    """One relay for both, the two signals parted by diodes."""
    c = plain.starter_cut_when_armed().without("k_85")
    for name, lead in (("D1", "armed"), ("D2", "run_sig")):
        c.parts[name] = "diode"
        c.run(f"{name}_k", f"{name}.cathode", f"unit.{lead}")
        c.run(f"{name}_a", f"{name}.anode", "K1.85")
    return c
