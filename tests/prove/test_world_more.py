"""The description of the world held sentence by sentence: each test fails where one is broken."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from prove.base import Case
from prove.sound import SOUND
from prove.test_bestiary import records

from startwright.car.build import wire_up
from startwright.car.control_unit import ControlUnit, Press, Reads, Start
from startwright.prove import play, prove
from startwright.prove.explore import explore
from startwright.prove.model import RUNNING, Model
from startwright.prove.space import Space
from startwright.prove.tables import RAIL_V

CRANK = 2
WELL = Reads(guards=True, engine=False, waiting=False, ignition=False, service=False)


def model(case: Case) -> Model:
    return Model(wire_up(case.job(), case.wiring()))


def unit(**changes: Any) -> ControlUnit:
    case = Case()
    case.unit |= changes
    return model(case).unit


def reached(case: Case) -> dict[str, np.ndarray]:
    made = model(case)
    return Space(made).unpack(explore(made).packed)


def holds(case: Case, line: str) -> bool:
    _, met = play(case.job(), case.wiring(), line)
    return all(met)


# ---- one step, rails and levels -----------------------------------------------------------------


def test_feeds_stand_at_corner_voltages() -> None:
    """12.6 V at rest, 9.0 V while the starter turns, 14.4 V running; 11.8 and 7.5 V when low."""
    assert RAIL_V.tolist() == [[12.6, 11.8], [9.0, 7.5], [14.4, 14.4]]


def test_rest_open_and_active_ground_is_the_network_of_rest_battery() -> None:
    one, other = Case(), Case()
    one.circuit("horn", rest="open")
    other.circuit("horn", rest="battery")
    assert prove(one.job(), one.wiring()).rules == prove(other.job(), other.wiring()).rules


@pytest.mark.parametrize(("ohm", "on"), [(4.7, True), (8.8, True), (13.0, False)])
def test_a_circuit_acts_above_sixty_hundredths_of_the_rail(ohm: float, on: bool) -> None:
    """A lamp of 14.4 ohm behind a resistor: 75, 62 and 53 hundredths of the rail."""
    c = Case()
    c.circuit("lights", load_A=1.0)
    c.stock["parts"].append({"id": "r", "kind": "resistor", "ohm": ohm, "watt": 50})
    c.parts["R1"] = "r"
    c.run("r_lamps", "unit.lamps", "R1.a")
    c.run("r_lamps_2", "R1.b", "vehicle.lights")
    assert holds(c, f"command start → parking_light {'on' if on else 'off'}")


def test_circuits_with_a_side_have_a_factory_switch_each() -> None:
    free = model(SOUND["lights_by_side_with_diodes"]()).free
    assert {"parking_light_left", "parking_light_right"} <= set(free)


def test_an_input_between_its_thresholds_stays_as_it_was() -> None:
    """The same volts read active after a press and inactive after none."""
    job, wiring = records("nothing-wrong")
    made = Model(wire_up(job, wiring))
    assert all(0 in t.data and 1 in t.data for _, t in made.inputs.values())
    c = Case()
    c.lead("brake_in", on_V=13.0, off_V=3.0)  # only the running engine's rail switches it
    columns = reached(c)
    pressed = columns["brake"] == 1
    assert set(columns["in.brake_in"][pressed].tolist()) == {0, 1}


# ---- the unit -----------------------------------------------------------------------------------


def test_a_start_commanded_during_a_start_is_ignored() -> None:
    u = unit()
    for k in range(len(u.steps)):
        here = Start("step", k)
        assert u.move(here, WELL, "start") == u.move(here, WELL, "none")


def test_a_step_whose_until_is_already_true_is_passed_over() -> None:
    u = unit()
    runs = WELL._replace(engine=True)
    assert u.move(Start("step", CRANK - 1), runs, "time").step == CRANK + 1


def test_once_the_engine_has_run_a_stall_ends_the_start() -> None:
    u = unit()
    assert u.move(Start("step", CRANK + 1, ran=True), WELL, "none") == Start()
    assert u.move(Start("step", CRANK, ran=False), WELL, "time").mode == "pause"


def test_in_the_pause_nothing_is_driven_and_guards_are_watched() -> None:
    u = unit()
    pause = Start("pause", CRANK, 1)
    assert u.drives(pause) == frozenset()
    assert u.move(pause, WELL._replace(guards=False), "none") == Start()
    assert u.move(pause, WELL, "time") == Start("step", CRANK - 1, 1)


def test_tries_are_counted() -> None:
    u = unit(tries=2)
    assert u.move(Start("step", CRANK, 1), WELL, "time") == Start()


@pytest.mark.parametrize("what", ["ignition", "service"])
def test_a_start_is_refused(what: str) -> None:
    assert unit().move(Start(), WELL._replace(**{what: True}), "start") == Start()
    assert unit(refuses=[]).move(Start(), WELL._replace(**{what: True}), "start") != Start()


def test_ignition_and_service_do_not_end_a_start() -> None:
    here = Start("step", CRANK + 1, ran=True)
    reads = WELL._replace(engine=True, ignition=True, service=True)
    assert unit().move(here, reads, "none") == here


def test_again_means_within_its_window() -> None:
    u = unit()
    once = u.press(Press(), "unlock")
    assert once.again == "unlock"
    assert u.press(once, "unlock").command == "unlock_again"
    assert u.press(u.window_over(once), "unlock").command == "unlock"


def test_a_new_pulse_replaces_the_one_under_way() -> None:
    u = unit()
    assert u.press(u.press(Press(), "lock"), "unlock").command == "unlock"


def test_a_tach_lead_on_anything_else_hears_nothing() -> None:
    """Even where the setting says volts: a connected tach lead is what the unit goes by."""
    c = Case()
    c.settings["engine_sense"] = "volts"
    c.run("r_tach", "vehicle.ign", "unit.tach_in")
    broken = {r.rule for r in prove(c.job(), c.wiring()).rules if r.holds is False}
    assert "no-crank-into-running" in broken


def test_an_unconnected_input_reads_inactive() -> None:
    assert not reached(Case().without("r_hood"))["hood"][0]
    assert "in.hood_in" not in reached(Case().without("r_hood"))


def test_a_unit_without_ground_or_feed_drives_nothing() -> None:
    for run in ("r_gnd", "r_feed"):
        assert set(reached(Case().without(run))["start"].tolist()) == {0}


# ---- engine, interlock, fed ---------------------------------------------------------------------


def test_a_stop_by_the_cars_own_idle_stop_is_no_stall() -> None:
    line = "command start · wait 3 s · engine starts · wait 5 s · engine stops → ignition on"
    assert holds(SOUND["idle_stop"](), line)
    stalled = line.replace("engine stops → ignition on", "engine stalls → ignition off")
    assert holds(SOUND["plain"](), stalled)


def test_a_mechanical_interlock_keeps_the_key_from_start_out_of_park() -> None:
    columns = reached(SOUND["mechanical_interlock"]())
    assert not ((columns["key"] == 4) & (columns["gear"] == 2)).any()
    columns = reached(SOUND["plain"]())
    assert ((columns["key"] == 4) & (columns["gear"] == 2)).any()


def test_a_downstream_interlock_lets_no_starter_turn_out_of_park() -> None:
    assert holds(Case(), "key insert · key start → starter on")
    columns = reached(Case())
    assert not ((columns["motion"] == 1) & (columns["gear"] == 2)).any()


def test_the_engine_stops_when_ignition_is_lost() -> None:
    columns = reached(Case())
    running = columns["motion"] == RUNNING
    assert not (running & (columns["key"] < 3) & (columns["start"] == 0)).any()


@pytest.mark.parametrize(("tells", "broken"), [("park", True), (None, False)])
def test_neutral_ends_only_where_the_car_tells_park(tells: str | None, broken: bool) -> None:
    """A second lever wire, unsensed, that tells park alone makes neutral out of park."""
    c = Case()
    c.circuit("lever_2", function="park_neutral", rest="open", active="ground", tells=tells)
    rule = next(r for r in prove(c.job(), c.wiring()).rules if r.rule == "leaving-park-ends")
    assert rule.holds is not broken


def test_a_rule_that_was_not_asked_for_does_not_apply() -> None:
    c = Case()
    c.wants = ["remote_start"]
    rules = {r.rule: r.holds for r in prove(c.job(), c.wiring()).rules}
    assert rules["locks"] is None
    assert rules["locks-on-command"] is None
    assert rules["can-start"] is True
