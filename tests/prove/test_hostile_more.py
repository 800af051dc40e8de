"""Strange records: refused with what would be right, or taken at their word; never a traceback."""

from __future__ import annotations

import json
from typing import Any

import pytest
from prove import push_button, sound, sound_hostile
from prove.base import Case
from prove.sabotage_hostile import steps

from startwright.prove import play, prove
from startwright.records import RecordError
from startwright.records.read import parse
from startwright.records.words import WORKED


def _refused(record: dict[str, Any]) -> RecordError:
    with pytest.raises(RecordError) as refused:
        parse(json.dumps(record), "strange.json")
    return refused.value


@pytest.mark.parametrize("what", ["ignition", "starter", "tach", "srs", "battery", "immobilizer"])
def test_no_wire_works_a_switch(what: str) -> None:
    c = Case()
    odd = {"id": "odd", "kind": "switch", "operated_by": what, "contact_at_rest": "closed"}
    c.stock["parts"].append(odd)
    error = _refused(c.stock)
    assert "operated_by" in str(error)
    assert "hood" in str(error)


@pytest.mark.parametrize("what", sorted(WORKED - {"hood"}))
def test_whatever_works_a_switch_can_be_told(what: str) -> None:
    """The hood's wire goes through it; the line that opens it is read and played again."""
    c = Case()
    odd = {"id": "odd", "kind": "switch", "operated_by": what, "contact_at_rest": "closed"}
    c.stock["parts"].append(odd)
    c.parts["S1"] = "odd"
    c.run("r_hood", "vehicle.hood", "S1.a")
    c.run("s2", "S1.b", "unit.hood_in")
    report = prove(c.job(), c.wiring())
    broken = {r.rule for r in report.rules if r.holds is False}
    assert "hood-ends" in broken or what in ("brake", "park_neutral")
    for result in report.rules:
        if result.holds is False and result.trace is not None:
            assert all(play(c.job(), c.wiring(), result.trace)[1]), result.trace


def _setting(c: Case, sets: str, values: Any, default: Any) -> None:
    c.unit["settings"] = [{"id": "s", "values": values, "default": default, "sets": sets}]


def test_pause_set_to_nothing_is_nothing() -> None:
    c = Case()
    _setting(c, "pause_s", {"min": 0, "max": 10, "step": 1}, 5)
    c.settings["s"] = 0
    assert prove(c.job(), c.wiring()).verdict == "proven"
    assert "wait 5 s" not in json.dumps(prove(c.job(), c.wiring()).model_dump())


def test_a_list_of_numbers_is_numbers_too() -> None:
    """A run time chosen from a list is what the unit runs for."""
    c = Case()
    _setting(c, "run.at_most_s", {"600": "ten minutes", "3600": "an hour"}, "600")
    assert prove(c.job(), c.wiring()).verdict == "proven"
    c.settings["s"] = "3600"
    report = prove(c.job(), c.wiring())
    assert [r.rule for r in report.rules if r.holds is False] == ["start-ends"]


@pytest.mark.parametrize(
    ("sets", "values", "default", "found"),
    [
        ("tires", {"min": 1, "max": 5, "step": 1}, 3, "sets: tires"),
        ("run.at_most", {"min": 1, "max": 5, "step": 1}, 3, "sets: run.at_most"),
        ("tries", {"min": 0, "max": 5, "step": 1}, 3, "the value 0"),
        ("run.at_most_s", {"min": -5, "max": 5, "step": 1}, 3, "the value -5"),
        ("run.at_most_s", {"short": "…", "long": "…"}, "long", "words"),
    ],
)
def test_a_setting_sets_a_number_that_is_there(
    sets: str, values: Any, default: Any, found: str
) -> None:
    c = Case()
    _setting(c, sets, values, default)
    error = _refused(c.unit)
    assert found in str(error)
    assert "settings" in str(error)


def test_a_number_is_set_by_one_setting() -> None:
    """Three tries by one and nine by the other: nobody knows which of them counts."""
    c = Case()
    _setting(c, "tries", {"min": 1, "max": 9, "step": 1}, 3)
    c.unit["settings"].append({**c.unit["settings"][0], "id": "t", "default": 9})
    assert "which another setting sets too" in str(_refused(c.unit))


@pytest.mark.parametrize("joined", [True, False])
def test_an_output_works_at_a_level_or_the_wiring_is_refused(joined: bool) -> None:
    c = sound.level_chosen_by_setting()
    c.unit["settings"][0] |= {"values": {"plus": "", "battery": ""}, "default": "plus"}
    c.settings.clear()
    if not joined:
        c.without("r_lamps")
        assert prove(c.job(), c.wiring()).verdict == "breached"
        return
    with pytest.raises(RecordError, match="works at 'plus'"):
        prove(c.job(), c.wiring())


def test_a_unit_without_steps_starts_nothing() -> None:
    c = Case()
    c.unit["sequence"] = []
    broken = {r.rule: r for r in prove(c.job(), c.wiring()).rules if r.holds is False}
    assert set(broken) == {"can-be-tried", "can-start", "runs", "can-stop"}


def test_a_crank_of_no_time_never_starts() -> None:
    c = Case()
    c.unit["sequence"] = steps({"until": "engine_running", "at_most_s": 4})
    _setting(c, "crank-0.at_most_s", {"min": 0, "max": 4, "step": 1}, 0)
    broken = {r.rule for r in prove(c.job(), c.wiring()).rules if r.holds is False}
    assert "can-start" in broken


def _renamed(c: Case, **names: str) -> Case:
    """The circuits called otherwise, all at once, with the runs that meet them."""
    for circuit in c.vehicle["circuits"]:
        circuit["id"] = names.get(circuit["id"], circuit["id"])
    for run, ends in c.runs.items():
        one, other = (
            f"vehicle.{names.get(e[8:], e[8:])}" if e.startswith("vehicle.") else e for e in ends
        )
        c.runs[run] = (one, other)
    return c


def test_circuits_called_like_other_functions_are_told_apart() -> None:
    """The ignition is called `starter` and the starter `ignition`: a line means the circuit."""
    c = _renamed(Case(), ign="starter", starter="ignition")
    c.without("r_brake")
    told = {r.rule: r for r in prove(c.job(), c.wiring()).rules}["brake-ends"]
    assert told.trace == "command start · wait 1 s · brake press → starter on"
    assert all(play(c.job(), c.wiring(), told.trace)[1])
    _, met = play(c.job(), c.wiring(), f"{told.trace}, ignition off")
    assert all(met)


def test_circuits_called_engine_and_unit() -> None:
    """No line can ask for them; the breach is told all the same."""
    c = Case()
    for name in ("engine", "unit"):
        c.circuit(name, function="accessory", live=["accessory", "run"], load_A=1)
        c.run(f"r_{name}", f"vehicle.{name}", "vehicle.lights")
    result = {r.rule: r for r in prove(c.job(), c.wiring()).rules}["car-unchanged"]
    assert result.holds is False
    assert result.trace is not None
    assert all(play(c.job(), c.wiring(), result.trace)[1])
    assert "engine" in result.says


@pytest.mark.parametrize(
    ("lead", "on", "off"), [("brake_in", 3, 6), ("hood_in", 6, 3), ("lever_in", 4, 3.9)]
)
def test_thresholds_the_wrong_way_round_are_refused(lead: str, on: float, off: float) -> None:
    c = Case()
    c.lead(lead, on_V=on, off_V=off)
    error = _refused(c.unit)
    assert f"on_V: {on:g}" in str(error)
    c.lead(lead, on_V=off, off_V=on)
    assert prove(c.job(), c.wiring()).verdict == "proven"


def test_a_tach_wire_shorted_is_heard_no_more() -> None:
    """The unit goes on cranking by its clock, as with the wire open."""
    c = Case()
    report = prove(c.job(), c.wiring(), faults=True)
    assert report.faults is not None
    faults = {f.fault: f for f in report.faults}
    for mode in ("open", "short to ground", "short to battery"):
        fault = faults[f"r_tach {mode}"]
        assert fault.worst == "hazard"
        assert "no-crank-into-running" in fault.breaks
        assert fault.trace is not None
        assert all(play(c.job(), c.wiring(), fault.trace)[1])


def test_an_interface_that_has_lost_a_pin_satisfies_no_car() -> None:
    c = sound.transponder_with_interface()
    report = prove(c.job(), c.wiring(), faults=True)
    assert report.faults is not None
    faults = {f.fault: f for f in report.faults}
    for run in ("x1", "x2", "x3", "x4"):
        assert faults[f"{run} open"].breaks == ["can-start", "can-stop", "runs"]
        assert faults[f"{run} open"].noticed
    for rail in ("ground", "battery"):
        assert "can-start" in faults[f"x4 short to {rail}"].breaks


def test_what_no_record_limits_is_assumed_in_words() -> None:
    c = Case()
    c.size_mm2 = None
    c.lead("ign", limit_A=None)
    said = " ".join(prove(c.job(), c.wiring()).assumes)
    assert "size no record states are thick enough: r_feed, " in said
    assert "limit no record states carry what hangs on them: ign" in said


def test_an_interface_that_gives_the_tach_lives_on_its_own_pins() -> None:
    c = sound.always_fed_interface_for_the_tach_alone()
    report = prove(c.job(), c.wiring(), faults=True)
    assert report.faults is not None
    faults = {f.fault: f for f in report.faults}
    for run in ("x1", "x2", "x3", "x4"):
        assert "no-crank-into-running" in faults[f"{run} open"].breaks


def test_a_suppressor_that_comes_off_is_damage() -> None:
    """Nothing is seen of it until the lead dies."""
    c = sound_hostile.suppressor_diode_across_a_bare_coil()
    report = prove(c.job(), c.wiring(), faults=True)
    assert report.faults is not None
    faults = {f.fault: f for f in report.faults}
    for name in ("d1 open", "d2 open", "D1 open"):
        assert (faults[name].worst, faults[name].breaks) == ("damage", ["coils-suppressed"])
        assert not faults[name].noticed
    assert "coils-suppressed" not in faults["K1 open"].breaks


def test_a_blade_that_sticks_reaches_no_other_contact() -> None:
    """A changeover relay joins 30 with 87 or with 87a: welded to one it never meets the other."""
    c = sound.reversing_locks_with_two_relays()
    report = prove(c.job(), c.wiring(), faults=True)
    assert report.faults is not None
    faults = {f.fault: f for f in report.faults}
    assert "no-short" not in faults["K_lock.87 stuck closed"].breaks
    assert faults["K_lock.87 stuck closed"].worst == "hazard"
    assert faults["K_lock.87a stuck closed"].breaks == ["locks"]


def test_a_coil_between_the_rails_that_opens_lets_go() -> None:
    """The unit's feed hangs on a relay that is always in; what its coil lies at does not change."""
    c = Case().without("r_feed")
    c.parts["K1"] = "relay"
    c.run("k_30", "vehicle.batt", "K1.30")
    c.run("k_87", "K1.87", "unit.feed")
    c.run("k_86", "vehicle.batt", "K1.86")
    c.run("k_85", "K1.85", "ground.body")
    report = prove(c.job(), c.wiring(), faults=True)
    assert report.verdict == "proven"
    assert report.faults is not None
    faults = {f.fault: f for f in report.faults}
    assert "can-start" in faults["K1 open"].breaks
    assert faults["K1 open"].noticed


def _imitated(**changes: dict[str, Any]) -> set[str]:
    c = push_button.imitating()
    for step in c.unit["sequence"]:
        step |= changes.get(step["step"], {})
    return {r.rule for r in prove(c.job(), c.wiring()).rules if r.holds is False}


def test_an_imitated_start_ends_in_time_too() -> None:
    """Two hours are too long; a button held down cranks no longer than the car does."""
    assert _imitated(run={"at_most_s": 7200}) == {"start-ends"}
    assert _imitated(run={"at_most_s": 1800}) == set()
    assert _imitated(push={"at_most_s": 20}) == set()


def test_an_imitated_start_is_tried_five_times_at_most() -> None:
    c = push_button.imitating()
    wink, foot, push, run = c.unit["sequence"]
    presses = [
        {**step, "step": f"{step['step']}-{k}", "on_timeout": "next"}
        for k in range(6)
        for step in (foot, push)
    ]
    c.unit["sequence"] = [wink, *presses, run]
    broken = {r.rule for r in prove(c.job(), c.wiring()).rules if r.holds is False}
    assert "start-ends" in broken


def test_a_level_without_a_limit_of_its_own_is_held_to_the_least() -> None:
    c = sound.level_chosen_by_setting()
    c.lead("lamps", limit_A={"ground": 0.5})
    broken = {r.rule for r in prove(c.job(), c.wiring()).rules if r.holds is False}
    assert broken == {"within-limits"}
