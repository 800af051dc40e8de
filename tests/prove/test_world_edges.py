"""The world, clause by clause: each term of a rule where it stands alone."""

from __future__ import annotations

import copy
from collections.abc import Callable

import prove.sabotage_hostile
import prove.sound_hostile
import pytest
from prove.base import Case
from prove.sound import SOUND
from prove.test_world_car import relay, told
from prove.test_world_rules import broken, started

from startwright.prove import play, prove

# ---- hazards ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("run", "rule"),
    [("r_brake", "brake-ends"), ("r_hood", "hood-ends")],
)
def test_a_starter_fed_without_ignition_counts_alone(run: str, rule: str) -> None:
    result = told(Case().without(run, "r_ign"))[rule]
    assert result.holds is False
    assert result.trace is not None
    assert result.trace.endswith("→ starter on")


def test_a_gap_in_an_ignition_that_the_engine_does_not_need_is_a_gap() -> None:
    """The brake cuts a second ignition, live in run alone: the engine runs on all the same."""
    case = SOUND["second_ignition_live_in_run_alone"]()
    run = next(k for k, ends in case.runs.items() if "vehicle.ign_2" in ends)
    other = next(e for e in case.runs[run] if e != "vehicle.ign_2")
    case.cuts = ["ign_2"]
    case.run(run, other, "vehicle.ign_2.load")
    case.parts["K9"] = "relay"
    case.run("k_86", "vehicle.brake", "K9.86")
    case.run("k_85", "K9.85", "ground.body")
    case.run("k_30", "K9.30", "vehicle.ign_2.source")
    case.run("k_87a", "K9.87a", "vehicle.ign_2.load")
    trace = told(case)["key-has-last-word"].trace
    assert trace is not None
    assert trace.partition(" → ")[0].endswith("key run · brake press")


@pytest.mark.parametrize("function", ["lock", "unlock", "driver_unlock"])
def test_each_lock_that_the_horn_lead_moves_is_found(function: str) -> None:
    case = SOUND["separate_driver_unlock"]()
    wire = next(c["id"] for c in case.vehicle["circuits"] if c["function"] == function)
    case.run("r_horn", "unit.horn", f"vehicle.{wire}")
    case.unit["commands"] = {"trunk": [{"drives": ["horn"], "pulse_s": 0.5}]}
    result = told(case)["locks-on-command"]
    assert result.holds is False
    assert result.trace is not None
    assert result.trace.startswith("command trunk")


@pytest.mark.parametrize(("ohm", "seen"), [(1600, True), (1400, False)])
def test_a_key_is_seen_at_a_lead_above_sixty_hundredths_of_the_rail(ohm: int, seen: bool) -> None:
    """The unit's ignition lead between 1000 ohm to the ignition and so many to ground."""
    case = Case()
    for name, value in (("up", 1000), ("down", ohm)):
        case.stock["parts"].append({"id": name, "kind": "resistor", "ohm": value, "watt": 5})
    case.parts |= {"R1": "up", "R2": "down"}
    case.run("r_ign", "vehicle.ign", "R1.a")
    case.run("s1", "R1.b", "unit.ign")
    case.run("s2", "unit.ign", "R2.a")
    case.run("s3", "R2.b", "ground.body")
    clock, _ = play(case.job(), case.wiring(), "key run · command start")
    assert clock.idle is seen


# ---- damage -------------------------------------------------------------------------------------


def thin(run: str, case: Case | None = None) -> set[str]:
    """The things beyond their limit once a run is as thin as a hair."""
    case = case or Case()
    wiring = case.wiring()
    runs = [r.model_copy(update={"size_mm2": 0.1}) if r.id == run else r for r in wiring.runs]
    wiring = wiring.model_copy(update={"runs": runs})
    rules = {r.rule: r for r in prove(case.job(), wiring).rules}
    assert rules["within-limits"].holds is False
    return set(rules["within-limits"].runs)


@pytest.mark.parametrize("run", ["r_ign", "r_feed"])
def test_a_run_too_thin_is_found_behind_a_contact_and_on_the_feed(run: str) -> None:
    assert thin(run) == {run}


def contact_too_small() -> Case:
    return relay(Case(), contact_A=5)


def diode_too_small() -> Case:
    case = Case()
    case.parts["D1"] = "diode"
    case.run("r_acc", "unit.acc", "D1.anode")
    case.run("d2", "D1.cathode", "vehicle.acc")
    return case


def fuse_behind_a_contact() -> Case:
    case = Case()
    case.circuit("acc", load_A=20)
    case.parts["F1"] = "fuse-15"
    case.run("r_acc", "unit.acc", "F1.a")
    case.run("f2", "F1.b", "vehicle.acc")
    return case


def starter_too_large_for_its_lead() -> Case:
    """28 A at 9.0 V, and for four seconds only: the 25 A of a lead are its limit."""
    case = Case()
    case.size_mm2 = 10
    case.circuit("starter", load_A=45)
    return case


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (contact_too_small, "K1"),
        (diode_too_small, "D1"),
        (fuse_behind_a_contact, "F1"),
        (starter_too_large_for_its_lead, "unit.start"),
    ],
)
def test_each_thing_is_held_to_its_own_limit(make: Callable[[], Case], named: str) -> None:
    result = told(make())["within-limits"]
    assert result.holds is False
    assert named in result.says


@pytest.mark.parametrize(("step", "holds"), [("starter", True), ("acc", False)])
def test_what_lasts_a_crank_is_held_to_the_fuses_time(step: str, holds: bool) -> None:
    """A 15 A fuse carries 15.6 A for the four seconds of a crank, and not for a whole run."""
    case = Case()
    case.circuit("starter", load_A=25 if step == "starter" else 10)
    case.circuit("acc", load_A=15.6 if step == "acc" else 8)
    run, lead = {"starter": ("r_start", "start"), "acc": ("r_acc", "acc")}[step]
    case.parts["F1"] = "fuse-15"
    case.run(run, f"unit.{lead}", "F1.a")
    case.run("f2", "F1.b", f"vehicle.{step}")
    assert told(case)["within-limits"].holds is holds


@pytest.mark.parametrize(("forward", "bad"), [(True, True), (False, False)])
def test_a_diode_is_a_short_in_its_forward_direction_alone(forward: bool, bad: bool) -> None:
    case = Case()
    case.parts["D1"] = "diode"
    ends = ("D1.anode", "D1.cathode") if forward else ("D1.cathode", "D1.anode")
    case.run("d1", "vehicle.batt", ends[0])
    case.run("d2", ends[1], "ground.body")
    assert ("no-short" in broken(case)) is bad


def test_a_level_on_a_wire_that_floats_in_the_factory_car_is_a_difference() -> None:
    """A lamp wire that nothing holds, pulled up behind a resistor: it acts as before."""
    case = Case()
    case.circuit("dome", function="dome_light", rest="open", active="ground", load_A=0)
    assert "car-unchanged" not in broken(case)
    case.parts["R1"] = "r-1000"
    case.run("p1", "vehicle.batt", "R1.a")
    case.run("p2", "R1.b", "vehicle.dome")
    assert "car-unchanged" in broken(case)


@pytest.mark.parametrize(
    ("switch", "lead", "part", "holds"),
    [
        ("transistor", False, False, False),
        ("transistor", True, False, True),
        ("transistor", False, True, True),
        ("relay", False, False, None),
    ],
)
def test_one_suppressor_is_enough_and_a_relay_lead_needs_none(
    switch: str, lead: bool, part: bool, holds: bool | None
) -> None:
    case = Case()
    case.lead("run_sig", switch=switch, suppressed=lead)
    case.parts["K1"] = "relay" if part else "relay-bare"
    case.run("k_86", "vehicle.batt", "K1.86")
    case.run("k_85", "K1.85", "unit.run_sig")
    assert told(case)["coils-suppressed"].holds is holds


# ---- works --------------------------------------------------------------------------------------


def test_a_starter_past_the_interlock_is_excused_by_another_that_cranks() -> None:
    case = SOUND["second_starter_past_the_interlock_left_dead"]()
    assert told(case)["as-under-the-key"].holds is True
    for circuit in case.vehicle["circuits"]:
        if circuit["function"] == "starter" and circuit.get("interlock") != "upstream":
            circuit["leave_dead"] = "for the test"
    assert told(case)["as-under-the-key"].holds is False


def test_each_step_must_be_reached() -> None:
    """What the unit does in its last step was never looked at: no tach ever brings it about."""
    case = Case()
    assert told(case)["as-under-the-key"].exercised is True
    case.run("r_tach", "vehicle.ign", "unit.tach_in")
    assert told(case)["as-under-the-key"].exercised is False
    assert "can-be-tried" in broken(case)


ON = ["ignition", "accessory"]
NEVER = {
    "behind one that only ends": [
        *started(),
        {"step": "never", "drives": ["horn"], "like": "accessory", "for_s": 5},
    ],
    "waits for what was waited for": [
        *started()[:2],
        {"step": "never", "drives": ON, "like": "run", "until": "engine_running", "at_most_s": 2},
        started()[2],
    ],
    "over as it begins": [
        *started()[:2],
        {"step": "never", "drives": ON, "like": "run", "for_s": 3, "or_until": "engine_running"},
        started()[2],
    ],
}


@pytest.mark.parametrize("why", NEVER)
def test_a_step_that_no_input_brings_about_is_no_reproach(why: str) -> None:
    """The unit's own program never comes there, whatever it reads: no wiring could show it."""
    case = Case()
    case.unit["sequence"] = NEVER[why]
    report = prove(case.job(), case.wiring())
    assert report.verdict == "proven"
    assert [a for a in report.assumes if a.startswith("steps ") and a.endswith(": never")]


@pytest.mark.parametrize("why", ["waits for what was waited for", "over as it begins"])
def test_the_same_step_is_tried_where_the_unit_goes_by_time(why: str) -> None:
    """A unit that cannot hear the engine comes there, and what it does there is looked at."""
    case = Case().without("r_tach")
    case.settings["engine_sense"] = "timed"
    case.unit["sequence"] = copy.deepcopy(NEVER[why])
    result = told(case)["as-under-the-key"]
    assert (result.holds, result.exercised) == (True, True)
    case.unit["sequence"][2]["drives"] = ["ignition"]
    result = told(case)["as-under-the-key"]
    assert result.holds is False
    assert "the unit in step never" in result.says
