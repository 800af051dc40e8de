"""What comes apart or is taken away: joints of cut lines that open, lights that a step darkens."""

from collections.abc import Callable

import pytest
from prove import sound
from prove.base import Case

from startwright.car.build import wire_up
from startwright.prove import play, prove
from startwright.prove.faults import fault_named
from startwright.prove.fixed import coils_suppressed
from startwright.prove.judge import Judge
from startwright.prove.model import Model
from startwright.prove.search import search


def tach_in_two() -> Case:
    """The tach wire is cut, and a run joins its two sides again."""
    case = sound.plain().without("r_tach")
    case.cuts.append("tach")
    case.run("r_tach", "vehicle.tach.source", "unit.tach_in")
    case.run("r_join", "vehicle.tach.source", "vehicle.tach.load")
    return case


def tach_through_a_fuse() -> Case:
    """A fuse joins the two sides."""
    case = tach_in_two().without("r_join")
    case.parts["F9"] = "fuse-15"
    case.run("r_a", "vehicle.tach.source", "F9.a")
    case.run("r_b", "F9.b", "vehicle.tach.load")
    return case


@pytest.mark.parametrize(
    ("make", "fault"),
    [
        (tach_in_two, "r_join open"),
        (tach_through_a_fuse, "F9 open"),
        (tach_through_a_fuse, "r_b open"),
    ],
)
def test_a_joint_of_a_cut_line_that_opens_is_damage_and_shows(
    make: Callable[[], Case], fault: str
) -> None:
    case = make()
    healthy = Model(wire_up(case.job(), case.wiring()))
    judge = Judge(healthy, search(healthy))
    assert not judge.before
    struck = fault_named(healthy.car, fault)
    assert struck is not None
    result = judge.result(struck)
    assert (result.worst, result.breaks, result.noticed) == ("damage", ["car-unchanged"], True)


def test_the_same_left_out_by_hand_is_a_breach() -> None:
    case = tach_in_two().without("r_join")
    report = prove(case.job(), case.wiring())
    assert [r.rule for r in report.rules if r.holds is False] == ["car-unchanged"]


# ---- led away -------------------------------------------------------------------------------


def coil_beside_the_tach(*between: tuple[str, str, str]) -> Case:
    """A relay's coil hangs on the tach wire behind something: a part, its near end, its far end."""
    case = sound.plain()
    case.parts["K9"] = "relay"
    at = "vehicle.tach"
    for kind, near, far in between:
        case.parts["P9"] = kind
        case.run("r_p9", at, f"P9.{near}")
        at = f"P9.{far}"
    case.run("r_k9", at, "K9.86")
    case.run("r_k9g", "K9.85", "ground.body")
    return case


@pytest.mark.parametrize(
    "between",
    [
        (),
        (("diode", "anode", "cathode"),),
        (("r-330", "a", "b"),),
        (("svc", "a", "b"),),
        (("relay", "30", "87a"),),
    ],
    ids=["direct", "diode", "resistor", "switch", "resting contact"],
)
def test_a_coil_on_the_tach_wire_is_found_behind_anything(
    between: tuple[tuple[str, str, str], ...],
) -> None:
    case = coil_beside_the_tach(*between)
    report = prove(case.job(), case.wiring())
    broken = {r.rule: r.says for r in report.rules if r.holds is False}
    assert "tach does not behave as before" in broken["car-unchanged"]


# ---- taken away -----------------------------------------------------------------------------


def lights_parted_while_running() -> Case:
    """A relay parts the lamps from their switch while the unit runs; the unit lights the switch."""
    case = sound.plain().without("r_lamps")
    case.cuts.append("lights")
    case.parts["K9"] = "relay"
    case.run("r_lamps", "vehicle.lights.source", "unit.lamps")
    case.run("r_part", "vehicle.lights.source", "K9.30")
    case.run("r_on", "K9.87a", "vehicle.lights.load")
    case.run("r_coil", "vehicle.batt", "K9.86")
    case.run("r_coil_g", "K9.85", "unit.run_sig")
    return case


def test_a_step_that_calls_the_lights_may_not_take_them_away() -> None:
    case = lights_parted_while_running()
    report = prove(case.job(), case.wiring())
    broken = {r.rule: r for r in report.rules if r.holds is False}
    assert [*broken] == ["only-what-is-called"]
    assert "lights" in broken["only-what-is-called"].says


# ---- what the wiring alone decides ------------------------------------------------------------


def locks_alone() -> Case:
    """Nothing but the locks is connected, and nothing else is wanted."""
    case = sound.plain()
    keep = {"r_feed", "r_gnd", "r_lock", "r_unlock"}
    case = case.without(*(name for name in [*case.runs] if name not in keep))
    case.wants = ["lock_unlock"]
    return case


def test_locks_alone_are_not_accused_of_starts_that_cannot_be() -> None:
    case = locks_alone()
    case.unit["tries"] = 6
    case.run("r_brake", "vehicle.brake", "unit.brake_in")
    case.lead("brake_in", debounce_s=1)
    report = prove(case.job(), case.wiring())
    assert report.verdict == "proven"
    case.wants.append("remote_start")
    wanted = prove(case.job(), case.wiring())
    broken = {r.rule for r in wanted.rules if r.holds is False}
    assert {"start-ends", "brake-ends"} <= broken


def test_an_ignition_input_that_starts_hang_on_may_take_half_a_second() -> None:
    case = sound.plain()
    case.lead("ign_in", way="in", senses="ignition", active="battery", pull="down")
    case.run("r_sense", "vehicle.ign", "unit.ign_in")
    quick = prove(case.job(), case.wiring())
    assert "key-has-last-word" not in {r.rule for r in quick.rules if r.holds is False}
    case.lead("ign_in", debounce_s=20)
    slow = {r.rule: r.says for r in prove(case.job(), case.wiring()).rules if r.holds is False}
    assert "ign_in takes 20 s" in slow["key-has-last-word"]


def test_a_suppressor_may_end_at_another_terminal_of_the_battery() -> None:
    case = sound.plain()
    case.circuit("batt_2", function="battery", fuse_A=30)
    case.parts |= {"K9": "relay-bare", "D9": "diode"}
    case.run("r_86", "vehicle.batt", "K9.86")
    case.run("r_85", "K9.85", "unit.run_sig")
    case.lead("run_sig", suppressed=False)
    bare = {r.rule: r.holds for r in prove(case.job(), case.wiring()).rules}
    assert bare["coils-suppressed"] is False
    case.run("r_d1", "K9.85", "D9.anode")
    case.run("r_d2", "D9.cathode", "vehicle.batt_2")
    held = {r.rule: r.holds for r in prove(case.job(), case.wiring()).rules}
    assert held["coils-suppressed"] is True
    car = wire_up(case.job(), case.wiring())
    open_ = fault_named(car, "r_d2 open")
    assert open_ is not None
    assert coils_suppressed(car, open_).holds is False


def test_a_suppressor_behind_a_fuse_comes_off_with_it() -> None:
    case = sound.plain()
    case.circuit("batt_2", function="battery", fuse_A=30)
    case.parts |= {"K9": "relay-bare", "D9": "diode", "F9": "fuse-15"}
    case.run("r_86", "vehicle.batt", "K9.86")
    case.run("r_85", "K9.85", "unit.run_sig")
    case.lead("run_sig", suppressed=False)
    case.run("r_d1", "K9.85", "D9.anode")
    case.run("r_d2", "D9.cathode", "F9.a")
    case.run("r_d3", "F9.b", "vehicle.batt_2")
    car = wire_up(case.job(), case.wiring())
    assert coils_suppressed(car).holds is True
    for name in ("F9 open", "r_d3 open"):
        fault = fault_named(car, name)
        assert fault is not None
        assert coils_suppressed(car, fault).holds is False


# ---- lines behind races -----------------------------------------------------------------------


def brake_behind_a_race(seen_by: str) -> Case:
    """The brake works two relays, each through the other's resting contact; one tells the unit."""
    case = sound.plain().without("r_brake")
    case.parts |= {"K1": "relay", "K2": "relay"}
    for one, other in (("K1", "K2"), ("K2", "K1")):
        case.run(f"r_{one}", "vehicle.brake", f"{one}.30")
        case.run(f"r_{one}_on", f"{one}.87a", f"{other}.86")
        case.run(f"r_{one}_g", f"{one}.85", "ground.body")
    case.run("r_seen", f"{seen_by}.87", "unit.brake_in")
    return case


def test_a_line_that_is_one_of_several_outcomes_says_so() -> None:
    said = []
    for relay in ("K1", "K2"):
        case = brake_behind_a_race(relay)
        report = prove(case.job(), case.wiring())
        broken = {r.rule: r for r in report.rules if r.holds is False}
        assert {"brake-ends", "settles"} <= {*broken}
        found = broken["brake-ends"]
        assert found.trace is not None
        _, met = play(case.job(), case.wiring(), found.trace)
        assert ("one of several outcomes" in found.says) is not all(met)
        said.append(all(met))
    assert sorted(said) == [False, True]
