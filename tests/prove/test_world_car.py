"""The world, clause by clause: state, one step, rails and levels, engine, fed by the unit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from prove.base import Case
from prove.sabotage import SPOILT
from prove.sabotage_world import pause_ends_while_the_engine_coasts
from prove.sound import SOUND
from prove.test_world_more import holds, model, reached

from startwright.car.build import wire_up
from startwright.prove import play, prove
from startwright.prove.choices import choices
from startwright.prove.model import COASTING, HOLD, RUNNING, STOPPED, TURNING, Model
from startwright.prove.reaction import Reaction
from startwright.prove.tables import Table
from startwright.prove.view import Marks, Rows, View
from startwright.records.reports import RuleResult
from startwright.records.words import GEARS, KEY_POSITIONS


def told(case: Case) -> dict[str, RuleResult]:
    return {r.rule: r for r in prove(case.job(), case.wiring()).rules}


def relay(case: Case, **changes: Any) -> Case:
    """The starter by a relay of one's own."""
    shelf = {"id": "own", "kind": "relay", "coil_ohm": 85, "contact_A": 40, "suppressed": True}
    case.stock["parts"].append({**shelf, "pull_in_V": 7.0, "drop_out_V": 1.5, **changes})
    case.parts["K1"] = "own"
    case.run("r_start", "unit.start", "K1.86")
    case.run("k_85", "K1.85", "ground.body")
    case.run("k_30", "vehicle.batt", "K1.30")
    case.run("k_87", "K1.87", "vehicle.starter")
    return case


def behind(case: Case, lead: str, ohm: float, circuit: str) -> Case:
    """A run of the plain wiring with a resistor in it."""
    case.stock["parts"].append({"id": "r-own", "kind": "resistor", "ohm": ohm, "watt": 50})
    case.parts["R1"] = "r-own"
    run = next(k for k, ends in case.runs.items() if f"unit.{lead}" in ends)
    case.run(run, f"unit.{lead}", "R1.a")
    case.run("r_behind", "R1.b", f"vehicle.{circuit}")
    return case


# ---- state --------------------------------------------------------------------------------------


def test_the_parked_car_is_the_one_beginning() -> None:
    """Key out, all shut, park, engine stopped, unit idle."""
    clock, met = play(Case().job(), Case().wiring(), "wait 1 s → unit idle, engine stands")
    assert all(met)
    row = clock.log[0].row
    assert KEY_POSITIONS[row["key"]] == "out"
    assert GEARS[row["gear"]] == "park"
    assert (row["motion"], row["start"], row["press"]) == (STOPPED, 0, 0)
    assert not any(row[n] for n in ("hood", "brake", "battery", "horn", "parking_light"))


def test_the_key_moves_by_one_and_springs_back_from_start() -> None:
    moves = {c.name for c in choices(model(Case())) if c.name.startswith("key ")}
    assert moves == {
        *("key insert", "key remove", "key off", "key accessory", "key run", "key start"),
    }
    made = model(Case())
    at = {v.name: np.zeros(1, dtype=np.int32) for v in made.variables}
    at["key"][:] = KEY_POSITIONS.index("start")
    can = {c.name for c in choices(made) if c.name.startswith("key ") and c.when(at)[0]}
    assert can == {"key run"}


def test_a_step_changes_one_surrounding() -> None:
    made = model(SOUND["service_switch"]())
    at = {v.name: np.zeros(1, dtype=np.int32) for v in made.variables}
    for choice in choices(made):
        changed = [n for n, c in choice.change(at).items() if c[0] != at[n][0]]
        if choice.when(at)[0]:
            assert len(set(changed) - {"press"}) <= 1, choice.name
            assert not changed or choice.event == 0 or changed == ["press"], choice.name


def test_what_never_feeds_back_is_quantified_and_told() -> None:
    """The lights' sides are free: the breach that needs one says so at the end of its line."""
    case = SPOILT["sides_of_the_lights_joined"][1]()
    made = model(case)
    assert {"parking_light_left", "parking_light_right"} <= set(made.free)
    trace = told(case)["car-unchanged"].trace
    assert trace is not None
    assert trace.partition(" → ")[0].endswith(" on")


def test_a_coil_between_its_thresholds_stays_as_it_was() -> None:
    """Pulled in by the running engine's rail alone; with the key in run it then stays in."""
    case = relay(Case(), pull_in_V=13.0, drop_out_V=5.0)
    case.run("r_start", "vehicle.ign", "K1.86")
    case.runs.pop("k_87")
    case.run("k_30", "K1.30", "ground.body")
    columns = reached(case)
    still = (columns["key"] == 3) & (columns["motion"] == STOPPED) & (columns["start"] == 0)
    assert set(columns["coil.K1"][still].tolist()) == {0, 1}
    out = (columns["key"] == 0) & (columns["start"] == 0)
    assert set(columns["coil.K1"][out].tolist()) == {0}


def hood_input_without_a_pull(case: Case) -> Table:
    case.lead("hood_in", active="battery", pull="none", on_V=5.0, off_V=3.0)
    return Model(wire_up(case.job(), case.wiring())).inputs["hood_in"][1]


def test_an_input_without_a_pull_reads_half_the_rail_where_something_holds_it_there() -> None:
    case = Case().without("r_hood")
    case.parts |= {"R1": "r-1000", "R2": "r-1000"}
    case.run("h_1", "vehicle.batt", "R1.a")
    case.run("h_2", "R1.b", "unit.hood_in")
    case.run("h_3", "R2.a", "unit.hood_in")
    case.run("h_4", "R2.b", "ground.body")
    table = hood_input_without_a_pull(case)
    assert table.over == ("power",)
    assert table.data.tolist() == [1, HOLD, 1]


def test_an_input_without_a_pull_behind_a_blocking_diode_reads_what_it_read() -> None:
    case = Case().without("r_hood")
    case.parts["D1"] = "diode"
    case.run("h_1", "D1.anode", "unit.hood_in")
    case.run("h_2", "D1.cathode", "vehicle.batt")
    assert (hood_input_without_a_pull(case).data == HOLD).all()


# ---- one step -----------------------------------------------------------------------------------


def test_what_does_not_come_to_rest_is_a_breach() -> None:
    """Cranking sags the rail, the relay lets go, the rail is back, the relay pulls in again."""
    case = relay(Case(), pull_in_V=9.6, drop_out_V=9.5)
    settles = told(case)["settles"]
    assert settles.holds is False
    assert "do not come to rest" in settles.says


@pytest.mark.parametrize(("name", "says"), [("buzzer", "without end"), ("two_relays_race", "race")])
def test_chatter_and_races_are_told_apart(name: str, says: str) -> None:
    settles = told(SPOILT[name][1]())["settles"]
    assert settles.holds is False
    assert says in settles.says


# ---- rails and levels ---------------------------------------------------------------------------


@pytest.mark.parametrize(("drop_out_V", "low"), [(8.0, True), (7.0, False)])
def test_a_low_battery_is_looked_at(drop_out_V: float, low: bool) -> None:
    """Cranking at 7.5 V, the battery low, the starter's relay lets go; at 9.0 V it does not."""
    settles = told(relay(Case(), pull_in_V=8.5, drop_out_V=drop_out_V))["settles"]
    assert settles.holds is not low
    if low:
        assert settles.trace is not None
        assert "battery low" in settles.trace


@pytest.mark.parametrize(("pull_in_V", "turns"), [(12.5, True), (12.7, False)])
def test_a_coil_pulls_in_at_its_own_voltage(pull_in_V: float, turns: bool) -> None:
    case = relay(Case(), pull_in_V=pull_in_V, drop_out_V=1.5)
    line = "command start · engine fails · wait 3.5 s"
    assert holds(case, f"{line} → starter {'on' if turns else 'off'}")


@pytest.mark.parametrize(("ohm", "on"), [(500.0, True), (640.0, True), (700.0, False)])
def test_a_circuit_acts_below_forty_hundredths_of_the_rail(ohm: float, on: bool) -> None:
    """A wire that 1000 ohm pull up, behind a resistor to ground: 33, 39 and 41 hundredths."""
    case = Case()
    case.circuit("horn", load_A=0.0144)
    behind(case, "horn", ohm, "horn")
    case.unit["commands"] = {"lock": [{"drives": ["horn"], "pulse_s": 1}]}
    assert holds(case, f"command lock → horn {'on' if on else 'off'}")


@pytest.mark.parametrize(("on_V", "off_V", "seen"), [(5.9, 3.0, True), (6.5, 3.0, False)])
def test_an_input_switches_at_its_own_voltage(on_V: float, off_V: float, seen: bool) -> None:
    """The brake through a resistor as large as the pull-down: half of 12.6 V."""
    case = behind(Case(), "brake_in", 10_000, "brake")
    case.lead("brake_in", on_V=on_V, off_V=off_V)
    refused = "brake press · command start → unit idle"
    assert holds(case, refused) is seen


# ---- the engine ---------------------------------------------------------------------------------


def test_an_upstream_interlock_is_seen_past_the_switch() -> None:
    """The car's own start signal is gone out of park; a signal of one's own is not."""
    case = Case()
    case.circuit("starter", interlock="upstream")
    columns = reached(case)
    by_key = (columns["key"] == 4) & (columns["gear"] == 2) & (columns["start"] == 0)
    assert by_key.any()
    assert not (by_key & (columns["motion"] == TURNING)).any()
    assert told(case)["start-through-interlock"].holds is False


@pytest.mark.parametrize(("ohm", "turns"), [(0.9, True), (1.44, False)])
def test_a_starter_turns_above_sixty_hundredths_of_the_rail(ohm: float, turns: bool) -> None:
    """A starter circuit of 1.44 ohm behind a resistor: 62 and 50 hundredths."""
    case = behind(Case(), "start", ohm, "starter")
    assert told(case)["can-start"].holds is turns


@pytest.mark.parametrize(("live", "starts"), [(["run", "start"], False), (["run"], True)])
def test_every_ignition_that_is_live_in_run_and_start_must_be_fed(
    live: list[str], starts: bool
) -> None:
    case = Case()
    case.circuit("ign_2", function="ignition", live=live, load_A=5)
    assert told(case)["can-start"].holds is starts


def test_a_valid_key_in_the_lock_is_enough() -> None:
    case = Case()
    case.vehicle["immobilizer"] = {"kind": "transponder"}
    assert holds(case, "key start · wait 2 s → engine runs")
    assert holds(case, "command start · wait 6 s → engine stands")


def test_an_engine_that_was_lost_coasts_for_a_second() -> None:
    start = "key start · engine starts · key run · wait 5 s · key off"
    for wait, motion in ((0.9, COASTING), (1.1, STOPPED)):
        clock, _ = play(Case().job(), Case().wiring(), f"{start} · wait {wait} s → engine stands")
        assert clock.motion == motion


def test_no_step_of_a_second_runs_out_while_the_engine_coasts() -> None:
    made = model(Case())
    time = next(c for c in choices(made) if c.name == "time")
    for code, start in enumerate(made.starts):
        at = {v.name: np.zeros(1, dtype=np.int32) for v in made.variables}
        at["motion"][:], at["start"][:] = COASTING, code
        assert time.when(at)[0] == (start.mode == "pause")
        at["motion"][:] = RUNNING
        assert time.when(at)[0] == (start.mode != "idle")


def test_a_pause_that_began_before_may_run_out_while_the_engine_coasts() -> None:
    case = pause_ends_while_the_engine_coasts()
    trace = told(case)["no-crank-into-running"].trace
    assert trace is not None
    clock, met = play(case.job(), case.wiring(), trace)
    assert all(met)
    assert clock.motion == COASTING


# ---- fed by the unit ----------------------------------------------------------------------------


def fed(case: Case, line: str, mark: str) -> bool:
    """Whether the mark is set at the end of a line."""
    clock, _ = play(case.job(), case.wiring(), line)
    made = clock.model
    columns = {v.name: np.array([clock.row()[v.name]], dtype=np.int32) for v in made.variables}
    view = View(made, Marks(made), Rows(made, Reaction(made), columns))
    return bool(view[mark][0])


def test_fed_is_what_would_not_stand_with_the_outputs_open() -> None:
    case = Case()
    assert fed(case, "command start · wait 2 s", "fed_ignition")
    assert not fed(case, "key run", "fed_ignition")
    assert not fed(case, "command start · wait 2 s · key run", "fed_ignition")


def test_fed_is_what_the_key_would_feed_but_the_cut() -> None:
    """The ignition is cut: under the key the factory circuit stands, here the unit makes it so."""
    case = Case()
    case.cuts = ["ign"]
    case.run("r_ign", "unit.ign", "vehicle.ign.load")
    assert fed(case, "command start · wait 2 s · key run", "fed_ignition")


def test_fed_is_what_a_latched_relay_keeps_alive() -> None:
    case = SPOILT["relay_that_holds_itself"][1]()
    trace = told(case)["start-ends"].trace
    assert trace is not None
    assert fed(case, trace, "fed_ignition") or fed(case, trace, "fed_starter")
