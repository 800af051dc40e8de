"""The timeline: seconds of the unit's record, volts of the network, sag of the battery."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from outside import spice
from prove.base import Case
from prove.push_button import imitating, never_presses_again
from prove.sound import SOUND

from startwright.car.build import wire_up
from startwright.car.fitted import node_of
from startwright.car.surroundings import RAILS
from startwright.example import path as shop
from startwright.network.solve import closed_by
from startwright.physics.battery import cranking_V
from startwright.prove.clocked import play
from startwright.prove.model import Model
from startwright.prove.playing import played
from startwright.prove.standing import stand, stand_through
from startwright.prove.timeline import timeline
from startwright.prove.usual import NAMES, usual_line, usual_lines
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.read import read_job, read_wiring
from startwright.records.reports import Timeline, TimelineTrace
from startwright.records.scenario import parse_scenario
from startwright.records.wiring import Wiring


def relayed() -> Case:
    """The sound job with its horn lead working a relay, and a fuse in the feed."""
    case = Case()
    case.parts = {"K1": "relay", "F1": "fuse-30"}
    case.runs["r_feed"] = ("vehicle.batt", "F1.a")
    case.runs["r_fused"] = ("F1.b", "unit.feed")
    case.runs["r_horn"] = ("unit.horn", "K1.85")
    case.runs["r_coil"] = ("F1.b", "K1.86")
    case.runs["r_com"] = ("K1.30", "ground.body")
    case.runs["r_no"] = ("K1.87", "vehicle.horn")
    return case


def plain_of_the_shop() -> tuple[WholeJob, Wiring]:
    """The first job of the invented shop, with a wiring made by hand."""
    return read_job(shop() / "jobs/plain.yaml"), read_wiring(shop() / "wirings/plain.yaml")


def of(found: Timeline, id: str) -> TimelineTrace:
    return next(t for t in (*found.traces, *found.runs) if t.id == id)


def at(found: Timeline, what: str) -> int:
    return next(k for k, m in enumerate(found.moments) if m.what == what)


def usual(case: Case, name: str, **kind: float) -> Timeline:
    job, wiring = case.job(), case.wiring()
    return timeline(job, wiring, usual_line(job, wiring, name).line, **kind)


# ---- seconds ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_each_usual_line_is_met_and_its_steps_add_up(name: str) -> None:
    found = usual(Case(), name)
    assert found.holds, (found.line, found.expects, found.flaws)
    assert math.isclose(sum(s.lasts_s for s in found.steps), found.ends_s, abs_tol=1e-6)
    for one, next_ in zip(found.steps, found.steps[1:], strict=False):
        assert one.to_s == next_.from_s
    times = [m.time_s for m in found.moments]
    assert times == sorted(times)
    assert times[0] == 0
    assert times[-1] <= found.ends_s
    for trace in (*found.traces, *found.runs):
        assert len(trace.volts_V) == len(trace.levels) == len(found.moments)


def test_a_start_lasts_as_the_record_has_it() -> None:
    found = usual(Case(), "start")
    steps = [(s.step, s.tries, s.lasts_s) for s in found.steps[:3]]
    assert steps == [("acknowledge", 1, 1.0), ("settle", 1, 2.0), ("crank", 1, 0.8)]
    assert found.steps[3].step == "run"


def test_a_start_that_fails_tries_as_often_and_as_long_as_the_record_has_it() -> None:
    case = Case()
    case.unit["tries"] = 2
    case.unit["pause_s"] = 7
    found = usual(case, "failed-start")
    cranks = [s for s in found.steps if s.step == "crank"]
    assert [(s.tries, s.lasts_s) for s in cranks] == [(1, 4.0), (2, 4.0)]
    assert [s.lasts_s for s in found.steps if s.step == "pause"] == [7.0]
    assert found.steps[-1].step == "idle"
    starter = of(found, "starter")
    turning = [m.engine == "turning" for m in found.moments]
    assert turning == [level == "battery" for level in starter.levels]


def test_an_engine_that_fails_or_is_given_up_is_a_moment_of_its_own() -> None:
    """Nothing else moves then: the wires stand as a moment before."""
    line = "command start · wait 3.5 s · engine fails · wait 1 s"
    found = timeline(Case().job(), Case().wiring(), line)
    fails = at(found, "engine fails")
    assert (found.moments[fails].time_s, found.moments[fails].by) == (3.5, "engine")
    assert found.moments[fails].engine == found.moments[fails - 1].engine == "turning"
    assert {t.levels[fails] == t.levels[fails - 1] for t in found.traces} == {True}
    assert "engine fails" in [m.what for m in usual(Case(), "failed-start").moments]
    case = imitating()
    line = "command start · wait 1.6 s · engine gives_up"
    for begun, engine in ((line, "stopped"), ("engine gives_up", "stopped")):
        found = timeline(case.job(), case.wiring(), begun)
        gives_up = at(found, "engine gives_up")
        assert (found.moments[gives_up].by, found.moments[gives_up].engine) == ("engine", engine)


def test_a_unit_without_a_tach_believes_and_the_line_still_ends() -> None:
    case = Case()
    del case.runs["r_tach"]
    found = usual(case, "failed-start")
    assert found.holds
    assert found.ends_s < 60
    assert found.steps[-1].step == "run"


def test_the_driver_takes_over_without_a_gap() -> None:
    found = usual(Case(), "takeover")
    key = at(found, "key run")
    ignition = of(found, "ign")
    assert set(ignition.levels[key:]) == {"battery"}
    assert found.moments[key].step == "run"
    assert found.moments[-1].step == "idle"
    assert found.moments[-1].engine == "running"


def test_the_brake_ends_it_and_the_rail_falls_back() -> None:
    found = usual(Case(), "brake-stop")
    brake = at(found, "brake press")
    assert [found.moments[k].step for k in (brake - 1, brake)] == ["run", "idle"]
    assert [found.moments[k].rail_V for k in (brake - 1, brake)] == [14.4, 12.6]
    assert of(found, "ign").levels[brake] == "ground"
    assert of(found, "brake").levels[brake] == "battery"


def test_every_moment_says_who_made_it() -> None:
    case = Case()
    line = "command start · wait 5 s · fault r_ign open · wait 2 s"
    found = timeline(case.job(), case.wiring(), line)
    said = {m.what: m.by for m in found.moments}
    assert said["parked, key out"] == "parked"
    assert said["command start"] == "hand"
    assert said["time runs out"] == "unit"
    assert said["engine starts"] == "engine"
    assert said["fault r_ign open"] == "fault"


# ---- volts --------------------------------------------------------------------------------------


@pytest.mark.skipif(spice.PROGRAM is None, reason="ngspice is not installed")
@pytest.mark.parametrize("name", NAMES)
def test_volts_agree_with_ngspice(name: str) -> None:
    """Each moment's network solved by an independent program, leak of a 10 megohm meter included.

    Checked against: ngspice 39 (operating point), by node to 0.1 % or 10 mV.
    """
    case = relayed()
    job, wiring = case.job(), case.wiring()
    line = usual_line(job, wiring, name).line
    found = timeline(job, wiring, line.replace("command start", "command lock · command start"))
    car = wire_up(job, wiring)
    clock = play(Model(car), parse_scenario(found.line))
    simulator = spice.InProcess.only()
    compared = 0
    for k, moment in enumerate(clock.log):
        rail_V = found.moments[k].rail_V
        held_V = np.array(
            [rail_V if car.held_at[n] == "battery" else 0.0 for n in car.network.held]
        )
        controls = {c: np.array([moment.row[c]]) for c in car.network.controls()}
        netlist = spice.lines(
            car.network,
            closed_by(car.network, controls)[0],
            held_V,
            leak_S=1e-7,
            leak_to_V=rail_V / 2,
            options=spice.TOLERANCES[1],
        )
        simulator.load(netlist)
        simulator.operate()
        peer = simulator.volts(car.network)
        for trace in found.traces:
            if trace.kind not in ("circuit", "lead") or trace.volts_V[k] is None:
                continue
            terminal = trace.id if trace.kind == "lead" else f"vehicle.{trace.id}"
            ours, theirs = trace.volts_V[k], peer[car.number[node_of(terminal)]]
            assert ours == pytest.approx(theirs, rel=1e-3, abs=1e-2), (moment.what, trace.id)
            compared += 1
    assert compared > 20 * len(clock.log) / 2


def test_volts_and_levels_are_those_of_the_proofs_tables() -> None:
    case = relayed()
    job, wiring = case.job(), case.wiring()
    model = Model(wire_up(job, wiring))
    found = timeline(job, wiring, usual_line(job, wiring, "start").line)
    clock = play(model, parse_scenario(found.line))
    words = {0: "ground", 1: "battery", 2: "between"}
    compared = 0
    for circuit in job.vehicle.circuits:
        trace = next((t for t in found.traces if t.id == circuit.id), None)
        if trace is None:
            continue
        node = model.car.load_node(circuit)
        volts, level = model.wired.volts(node), model.wired.level(node)
        for k, moment in enumerate(clock.log):
            if trace.volts_V[k] is None:
                continue
            row = moment.row
            assert trace.volts_V[k] == pytest.approx(
                float(volts.data[tuple(row[v] for v in volts.over)]), abs=1e-3
            )
            assert trace.levels[k] == words[int(level.data[tuple(row[v] for v in level.over)])]
            compared += 1
    assert compared > 30
    coil = of(found, "K1")
    assert coil.kind == "coil"


def test_a_relay_is_seen_to_pull_in() -> None:
    case = relayed()
    found = timeline(case.job(), case.wiring(), "command lock · wait 1 s · command lock · wait 2 s")
    coil = of(found, "K1")
    assert {"pulled in", "let go"} == set(coil.levels)
    for volts, level in zip(coil.volts_V, coil.levels, strict=True):
        assert volts is not None
        assert (abs(volts) > 7.0) == (level == "pulled in")
        assert of(found, "horn").levels[coil.levels.index("pulled in")] == "ground"


def test_a_wire_that_nothing_holds_floats() -> None:
    found = usual(Case(), "start")
    assert set(of(found, "r_tach").levels) == {"open"}
    assert set(of(found, "r_tach").volts_V) == {None}
    assert set(of(found, "r_gnd").levels) == {"ground"}


def test_a_ladder_in_the_middle_is_held_and_does_not_float() -> None:
    case = Case()
    case.circuit(
        "lock", style="ladder", rest=None, active=None, load_A=None, pulse_s=None,
        steps_ohm={"rest": 1000, "lock": 330},
    )  # fmt: skip
    del case.runs["r_lock"]
    found = timeline(case.job(), case.wiring(), "lock press · wait 1 s")
    lock = of(found, "lock")
    assert lock.levels[0] == "between"
    assert lock.volts_V[0] == pytest.approx(6.3, abs=0.01)
    assert lock.levels[-1] == "ground"


def test_parts_of_a_line_are_solved_as_one_were() -> None:
    case = Case()
    car = wire_up(case.job(), case.wiring())
    log = play(Model(car), parse_scenario("command start · wait 5 s")).log
    (whole,) = stand_through(car, log)
    for k, moment in enumerate(log):
        alone = stand(car, [moment.row])
        np.testing.assert_allclose(whole.node_V[k], alone.node_V[0], atol=1e-9)


# ---- sag ----------------------------------------------------------------------------------------


def test_the_rail_sags_to_the_proofs_corner_or_to_the_batterys_own_sag() -> None:
    case = Case()
    plain = usual(case, "start")
    turning = [k for k, m in enumerate(plain.moments) if m.engine == "turning"]
    assert turning
    assert {plain.moments[k].rail_V for k in turning} == {RAILS["crank"]}
    assert {of(plain, "rail").volts_V[k] for k in turning} == {RAILS["crank"]}
    cold = usual(case, "start", battery_C=-18.0)
    job = case.job()
    sag_V = cranking_V(job.vehicle.battery.cca_A, job.vehicle.engine, -18.0)
    assert {cold.moments[k].rail_V for k in turning} == {round(sag_V, 3)}
    assert sag_V != RAILS["crank"]
    share = of(plain, "starter").volts_V[turning[0]] / RAILS["crank"]
    assert of(cold, "starter").volts_V[turning[0]] == pytest.approx(share * sag_V, rel=1e-3)
    for k in set(range(len(plain.moments))) - set(turning):
        assert cold.moments[k].rail_V == plain.moments[k].rail_V


@pytest.mark.parametrize(
    ("battery_C", "power", "need"), [(-17.8, 0.40, 2.10), (0.0, 0.65, 1.55), (26.7, 1.00, 1.00)]
)
def test_the_sag_by_hand(battery_C: float, power: float, need: float) -> None:
    """The shop's plain car: 480 A cold cranking, four cylinders.

    SAE J537: the rating is what a full battery (12.65 V) gives at -18 degC and 7.2 V, so it has
    (12.65 - 7.2) / 480 ohm there. Battery trade table: at 0, 32, 80 degF it gives 40, 65, 100 % of
    its power, and the engine needs 210, 155, 100 %. 150 A warm: common practice, no source.
    """
    ohm = (12.65 - 7.2) / 480 * 0.40 / power
    by_hand_V = 12.65 - ohm * 150 * need
    job, wiring = plain_of_the_shop()
    line = usual_line(job, wiring, "start").line
    found = timeline(job, wiring, line, battery_C=battery_C)
    assert found.cranking_V == pytest.approx(by_hand_V, abs=0.05)
    assert [m.rail_V for m in found.moments if m.engine == "turning"] == [found.cranking_V]


def test_the_starter_circuit_by_hand() -> None:
    """10 A at 14.4 V is 1.44 ohm; at 9.0 V it draws 6.2 A through the unit's contact and 0.7 m.

    Copper 17.24 ohm mm2/km (IEC 60228): 0.7 m of 2.5 mm2 has 4.8 milliohm, the contact 5, a plug
    and a splice together about one (common practice, no source).
    """
    job, wiring = plain_of_the_shop()
    found = timeline(job, wiring, usual_line(job, wiring, "start").line)
    (cranking,) = (k for k, m in enumerate(found.moments) if m.engine == "turning")
    ohm = 0.005 + 17.24e-3 * 0.7 / 2.5 + 0.001
    by_hand_V = 9.0 * 1.44 / (1.44 + ohm)
    assert of(found, "starter_1").volts_V[cranking] == pytest.approx(by_hand_V, abs=0.01)
    assert of(found, "acc_1").volts_V[cranking] == pytest.approx(0.0, abs=0.01)
    steps = [(s.step, s.from_s) for s in found.steps]
    assert steps == [("acknowledge", 0.0), ("settle", 1.0), ("crank", 3.0), ("run", 3.8)]


def test_a_low_battery_never_sags_to_more_than_its_corner() -> None:
    case = Case()
    line = "battery low · command start · wait 5 s"
    warm = timeline(case.job(), case.wiring(), line, battery_C=25.0)
    assert min(m.rail_V for m in warm.moments) == RAILS["low_crank"]


def test_a_low_battery_is_told_by_its_own_corner() -> None:
    case = Case()
    job, wiring = case.job(), case.wiring()
    low = timeline(job, wiring, "battery low · command start · wait 5 s")
    assert "9 V (7.5 V with the battery low)" in low.notes[0]
    assert "7.5" not in usual(case, "start").notes[0]


def test_a_relay_that_would_let_go_in_the_cold_is_named() -> None:
    case = Case()
    case.vehicle["battery"] = {"cca_A": 330}
    case.vehicle["engine"] = {"cylinders": 4}
    case.parts = {"K1": "relay"}
    relay = next(p for p in case.stock["parts"] if p["id"] == "relay")
    relay.update(pull_in_V=7.0, drop_out_V=6.5)
    case.runs["r_start"] = ("unit.start", "K1.86")
    case.runs["r_coil"] = ("K1.85", "ground.body")
    case.runs["r_com"] = ("vehicle.batt", "K1.30")
    case.runs["r_no"] = ("K1.87", "vehicle.starter")
    cold = usual(case, "start", battery_C=-22.0)
    assert 3 < cold.cranking_V < 6.5
    assert any("K1 would let go" in note for note in cold.notes)
    assert not any("would let go" in n for n in usual(case, "start", battery_C=20.0).notes)
    relay.update(drop_out_V=1.5)  # below pull-in it stays, until it has less than drop-out
    assert not any("would let go" in n for n in usual(case, "start", battery_C=-22.0).notes)


def test_a_battery_that_gives_nothing_in_the_cold_leaves_every_wire_at_ground() -> None:
    case = Case()
    case.vehicle["battery"] = {"cca_A": 60}
    dead = usual(case, "start", battery_C=-40.0)
    turning = next(k for k, m in enumerate(dead.moments) if m.engine == "turning")
    assert dead.cranking_V == dead.moments[turning].rail_V == 0
    assert of(dead, "starter").levels[turning] == "ground"


def test_a_temperature_out_of_range_is_an_error() -> None:
    with pytest.raises(RecordError, match="a battery at 300"):
        usual(Case(), "start", battery_C=300.0)


# ---- lines --------------------------------------------------------------------------------------


def test_a_parking_brake_that_the_unit_wants_is_set_first() -> None:
    case = Case()
    case.circuit("pb", function="parking_brake", rest="open", active="ground", load_A=0.05)
    case.lead("pb_in", way="in", senses="parking_brake", active="ground", pull="up")
    case.runs["r_pb"] = ("vehicle.pb", "unit.pb_in")
    case.unit["guards"] = [
        {"input": "hood", "reads": "inactive"},
        {"input": "brake", "reads": "inactive"},
        {"input": "park_neutral", "reads": "active"},
        {"input": "parking_brake", "reads": "active"},
    ]
    for line in usual_lines(case.job(), case.wiring()):
        assert line.line.startswith("parking_brake set · command start")
    assert usual(case, "start").holds


@pytest.mark.parametrize("make", SOUND.values(), ids=SOUND)
def test_every_sound_wiring_fails_and_is_taken_over_as_it_should(make: Callable[[], Case]) -> None:
    case = make()
    job, wiring = case.job(), case.wiring()
    lines = {u.name: u.line for u in usual_lines(job, wiring)}
    assert tuple(lines) == NAMES
    for name in ("failed-start", "takeover"):
        found = timeline(job, wiring, lines[name])
        assert found.holds, (found.line, found.expects, found.flaws)


@pytest.mark.parametrize("name", NAMES)
def test_a_start_by_an_imitated_press_of_the_button(name: str) -> None:
    found = usual(imitating(), name)
    assert found.holds, (found.line, found.expects, found.flaws)
    pushed = next(s for s in found.steps if s.step == "push")
    assert (pushed.from_s, pushed.lasts_s) == (1.5, 6.0 if name == "failed-start" else 0.8)
    if name != "start":
        rest = {s.step: s.lasts_s for s in found.steps if s.step in ("release", "ending")}
        assert rest == {"release": 0.3, "ending": 0.5} or name == "takeover"
        assert found.moments[-1].rail_V == 12.6


def test_a_unit_that_never_presses_again_leaves_the_engine_running() -> None:
    found = usual(never_presses_again(), "brake-stop")
    assert [e["met"] for e in found.expects] == [False, False]
    assert found.moments[-1].engine == "running"


def test_a_wiring_that_starts_nothing_says_so() -> None:
    case = Case()
    del case.runs["r_gnd"]
    found = usual(case, "start")
    assert not found.holds
    assert [e["met"] for e in found.expects] == [False, True]


def test_a_name_that_is_none_is_an_error() -> None:
    case = Case()
    with pytest.raises(RecordError, match="no line is called 'stop'"):
        usual_line(case.job(), case.wiring(), "stop")


def test_a_played_line_has_the_levels_of_every_run() -> None:
    case = Case()
    job, wiring = case.job(), case.wiring()
    line = usual_line(job, wiring, "start").line
    told = played(job, wiring, line)
    found = timeline(job, wiring, line)
    assert told.holds == found.holds
    for k, moment in enumerate(told.moments):
        assert moment.levels == {run.id: run.levels[k] for run in found.runs}
        assert moment.levels.keys() == {run.id for run in wiring.runs}
    assert told.as_json()["moments"][2]["levels"]["r_ign"] == "battery"


def test_a_wait_of_more_timers_than_are_worked_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """A lamp that stays lit holds a step on, looked at ten times a second."""
    case = SOUND["diesel_with_wait_lamp"]()
    model = Model(wire_up(case.job(), case.wiring()))
    lamp = "wait_lamp" if "wait_lamp" in model.surroundings else "wait_to_start"
    line = parse_scenario(f"{lamp} on · command start · wait 20 s")
    assert play(model, line).flaws == []
    monkeypatch.setattr("startwright.prove.clocked.INSTANTS", 50)
    assert any("more than 50 timers" in flaw for flaw in play(model, line).flaws)
