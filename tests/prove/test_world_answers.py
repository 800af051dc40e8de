"""The world, clause by clause: verdicts, what does not apply, single faults, lines, statuses."""

from __future__ import annotations

import pytest
from prove.base import Case
from prove.sabotage import SPOILT
from prove.sound import SOUND
from prove.test_world_car import told
from prove.test_world_more import model

from startwright.prove import play, prove
from startwright.prove.faults import single_faults
from startwright.prove.search import search

START_RULES = {
    *("crank-only-when-safe", "no-crank-into-running", "brake-ends", "hood-ends"),
    *("leaving-park-ends", "start-ends", "key-has-last-word", "start-through-interlock"),
    *("as-under-the-key", "can-start", "runs", "can-stop"),
}


# ---- verdicts -----------------------------------------------------------------------------------


def test_proven_says_what_it_assumes() -> None:
    report = prove(Case().job(), Case().wiring())
    assert report.verdict == "proven"
    said = " ".join(report.assumes)
    for word in ("free of faults", "12.6 V", "9.0 V", "14.4 V", "11.8", "7.5 V", "record of unit"):
        assert word in said


def test_every_applicable_rule_was_exercised_where_it_is_proven() -> None:
    for r in prove(Case().job(), Case().wiring()).rules:
        assert r.holds is not False
        assert r.exercised is (r.holds is True), r.rule


def test_a_rule_that_never_came_to_the_test_is_named() -> None:
    """Nothing is unsafe, for nothing moves: that is no proof."""
    rules = told(Case().without("r_start"))
    assert rules["can-be-tried"].holds is False
    for slug in ("crank-only-when-safe", "start-through-interlock"):
        assert rules[slug].holds is True
        assert rules[slug].exercised is False
        assert slug in rules["can-be-tried"].says
    assert "hood-ends" not in rules["can-be-tried"].says


def test_a_search_that_was_stopped_is_not_proven() -> None:
    report = prove(Case().job(), Case().wiring(), most_states=50)
    assert report.verdict == "not finished"
    assert {r.holds for r in report.rules if r.rule in ("hood-ends", "no-short")} == {None}
    stopped = prove(Case().job(), Case().wiring(), progress=lambda states: False)
    assert stopped.verdict == "not finished"


def test_a_search_that_was_stopped_says_of_no_rule_that_it_was_tried() -> None:
    """Nor that a rule which applies does not."""
    report = prove(Case().job(), Case().wiring(), most_states=50)
    said = {r.rule: (r.holds, r.says) for r in report.rules}
    for rule in ("can-be-tried", "hood-ends", "within-limits", "settles"):
        assert said[rule] == (None, "Not decided: the search did not finish."), rule
    assert said["panics"] == (None, "Not wanted.")
    assert said["can-start"][0] is True


def test_a_breach_found_before_it_was_stopped_counts() -> None:
    case = SPOILT["battery_wire_to_ground"][1]()
    assert prove(case.job(), case.wiring(), most_states=50).verdict == "breached"


@pytest.mark.parametrize(
    ("wants", "out"),
    [
        ([], START_RULES | {"locks-on-command", "locks", "unlocks-all", "flashes", "sounds"}),
        (["remote_start"], {"locks-on-command", "locks", "unlocks-all", "flashes", "sounds"}),
        (["lock_unlock"], START_RULES | {"flashes", "sounds"}),
        (["remote_start", "lock_unlock", "light_flash", "horn_chirp"], set()),
    ],
)
def test_what_was_not_asked_for_does_not_apply(wants: list[str], out: set[str]) -> None:
    case = Case()
    case.wants = wants
    rules = told(case)
    never = {"unlocks-driver", "opens-trunk", "panics", "heats-seat", "defogs", "cuts-starter"}
    never |= {"shows-armed", "immobilizer-only-while-starting", "coils-suppressed"}
    assert {s for s, r in rules.items() if r.holds is None} == out | never
    assert not any(r.exercised for r in rules.values() if r.holds is None)


def test_a_breach_is_told_though_nobody_asked_for_the_want() -> None:
    case = Case().without("r_hood")
    case.wants = ["lock_unlock"]
    rules = told(case)
    assert rules["hood-ends"].holds is False
    assert rules["brake-ends"].holds is None


# ---- single faults ------------------------------------------------------------------------------


def test_every_kind_of_single_fault_is_tried() -> None:
    case = SOUND["starter_cut_when_armed"]()
    case.parts["D1"] = "diode"
    case.parts["S1"] = "hood-pin"
    made = model(case)
    tried = {f.fault for f in single_faults(made, search(made)) or []}
    for run in case.runs:
        assert {f"{run} open", f"{run} short to ground", f"{run} short to battery"} <= tried
    for lead in ("ign", "acc", "start", "lamps", "armed"):
        assert {f"unit.{lead} stuck open", f"unit.{lead} stuck closed"} <= tried
    assert {"K1 open", "K1.87a stuck open", "K1.87a stuck closed", "F1 open"} <= tried
    assert {"D1 open", "D1 stuck closed", "S1 stuck open", "S1 stuck closed"} <= tried


def test_a_fault_may_appear_at_any_time() -> None:
    """The tach dies while it runs: the start ends. Dead from the beginning, it cranks on."""
    made = model(Case())
    found = {f.fault: f for f in single_faults(made, search(made)) or []}
    assert "no-crank-into-running" in found["r_tach open"].breaks
    ignition = found["unit.ign stuck closed"]
    assert ignition.worst == "hazard"
    assert ignition.trace is not None
    assert "command" not in ignition.trace.partition("fault")[0]
    for fault in found.values():
        if fault.trace is not None:
            assert "fault" in fault.trace


def test_the_tach_dies_only_by_a_fault() -> None:
    line = "command start · wait 3.5 s · engine starts · wait 5 s"
    _, met = play(Case().job(), Case().wiring(), f"{line} → ignition on, starter off")
    assert all(met)
    _, met = play(Case().job(), Case().wiring(), f"{line} · fault r_tach open → ignition off")
    assert all(met)
