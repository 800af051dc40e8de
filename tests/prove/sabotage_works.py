"""Sound wirings spoilt so that something wanted no longer works, with the rule that says so."""

from prove import sound
from prove.base import Case
from prove.sabotage import breaks


@breaks("can-start")
def brake_input_on_the_lights() -> Case:
    """The unit's own flash reads as the brake: it never starts."""
    c = Case()
    c.run("r_brake", "vehicle.lights", "unit.brake_in")
    return c


@breaks("can-start")
def interface_pin_left_open() -> Case:
    return sound.transponder_with_interface().without("x4")


@breaks("can-start")
def no_interface() -> Case:
    c = Case()
    c.vehicle["immobilizer"] = {"kind": "transponder"}
    return c


@breaks("can-start")
def unknown_immobilizer() -> Case:
    c = Case()
    c.vehicle["immobilizer"] = {"kind": "unknown"}
    return c


@breaks("as-under-the-key")
def accessory_forgotten() -> Case:
    return Case().without("r_acc")


@breaks("as-under-the-key")
def second_starter_forgotten() -> Case:
    return sound.two_starters().without("r_start_2")


@breaks("as-under-the-key")
def second_ignition_held_in_crank() -> Case:
    c = sound.second_ignition_live_in_run_alone()
    c.run("r_ign_2", "unit.ign", "vehicle.ign_2")
    return c


@breaks("as-under-the-key")
def flexible_output_left_at_its_default() -> Case:
    c = sound.output_chosen_by_setting()
    c.settings.clear()
    return c


@breaks("as-under-the-key")
def ignition_and_accessory_swapped() -> Case:
    c = Case()
    c.run("r_ign", "unit.ign", "vehicle.acc")
    c.run("r_acc", "unit.acc", "vehicle.ign")
    return c


@breaks("can-start")
def unit_without_ground() -> Case:
    return Case().without("r_gnd")


@breaks("can-start")
def unit_without_feed() -> Case:
    return Case().without("r_feed")


@breaks("can-start")
def starter_forgotten() -> Case:
    return Case().without("r_start")


@breaks("can-start")
def lever_not_sensed() -> Case:
    return Case().without("r_lever")


@breaks("can-start")
def ignition_forgotten() -> Case:
    return Case().without("r_ign")


@breaks("locks")
def lock_forgotten() -> Case:
    return Case().without("r_lock")


@breaks("locks")
def lock_pulse_too_short() -> Case:
    c = Case()
    c.circuit("lock", pulse_s=2.0)
    return c


@breaks("unlocks-all")
def unlock_needs_more_presses() -> Case:
    c = Case()
    c.circuit("unlock", presses=3)
    return c


@breaks("unlocks-driver")
def first_press_opens_all() -> Case:
    c = Case()
    c.wants.append("driver_first_unlock")
    return c


@breaks("flashes")
def lights_forgotten() -> Case:
    return Case().without("r_lamps")


@breaks("flashes")
def one_side_of_the_lights_forgotten() -> Case:
    return sound.lights_by_side_with_diodes().without("r_left_2")


@breaks("sounds")
def horn_forgotten() -> Case:
    return Case().without("r_horn")


@breaks("cuts-starter")
def cut_without_effect() -> Case:
    c = sound.starter_cut_when_armed()
    c.run("k_87", "K1.87", "vehicle.starter.load")
    return c


@breaks("can-start")
def unit_earthed_through_the_brake_bulbs() -> Case:
    c = Case()
    c.run("r_gnd", "unit.gnd", "vehicle.brake")
    return c


@breaks("can-start")
def interface_ignition_pin_on_the_horn() -> Case:
    c = sound.transponder_with_interface()
    c.stock["parts"][-1]["needs"]["ign"] = "ignition"
    c.stock["parts"][-1]["pins"].append("ign")
    c.run("x5", "X1.ign", "vehicle.horn")
    return c


@breaks("can-start")
def interface_fed_from_the_horn_wire() -> Case:
    c = sound.transponder_with_interface()
    c.run("x1", "vehicle.horn", "X1.power")
    return c
