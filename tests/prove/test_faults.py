"""Single faults: the worst is named, ranked, told by a line; short cut and full run agree."""

from typing import Any

import numpy as np
import pytest
from prove import sound
from prove.base import Case
from prove.random_cars import chance
from prove.test_bestiary import records as beast

from startwright.car.build import wire_up
from startwright.prove import play, prove, searches
from startwright.prove.explore import explore
from startwright.prove.faults import all_faults, fault_named, single_faults
from startwright.prove.faulty import seeds_in
from startwright.prove.judge import RANK, Judge
from startwright.prove.model import Model
from startwright.prove.search import search
from startwright.records.reports import FaultResult

CASE = sound.plain()


@pytest.fixture(scope="module")
def found() -> dict[str, FaultResult]:
    report = prove(CASE.job(), CASE.wiring(), faults=True)
    assert report.faults is not None
    return {f.fault: f for f in report.faults}


def test_every_run_is_opened_and_shorted(found: dict[str, FaultResult]) -> None:
    for run in CASE.runs:
        for mode in ("open", "short to ground", "short to battery"):
            assert f"{run} {mode}" in found


@pytest.mark.parametrize(
    ("fault", "worst", "rule", "noticed"),
    [
        ("r_hood open", "hazard", "hood-ends", False),
        ("r_brake open", "hazard", "brake-ends", False),
        ("r_lever short to ground", "hazard", "leaving-park-ends", False),
        ("r_tach open", "hazard", "no-crank-into-running", True),
        ("unit.start stuck closed", "hazard", "crank-only-when-safe", True),
        ("unit.ign stuck closed", "hazard", "start-ends", True),
        ("r_feed short to ground", "damage", "no-short", True),
        ("r_gnd open", "works", "can-start", True),
        ("r_horn open", "works", "sounds", True),
        ("r_lever open", "works", "can-start", True),
        ("r_gnd short to ground", "none", None, False),
    ],
)
def test_what_a_fault_breaks(
    found: dict[str, FaultResult], fault: str, worst: str, rule: str | None, noticed: bool
) -> None:
    result = found[fault]
    assert (result.worst, result.noticed) == (worst, noticed)
    assert rule is None or rule in result.breaks


def test_the_worst_come_first(found: dict[str, FaultResult]) -> None:
    order = [RANK[f.worst] for f in found.values()]
    assert order == sorted(order)


def test_the_lines_of_faults_play(found: dict[str, FaultResult]) -> None:
    for name in ("r_hood open", "r_brake open", "r_lever short to ground", "r_tach open"):
        line = found[name].trace
        assert line is not None
        assert f"fault {name}" in line
        clock, _ = play(CASE.job(), CASE.wiring(), line)
        assert clock.model.car.job.id == "test-job"


AGREE = [
    "transponder_with_interface",
    "second_ignition_by_relay",
]
BEASTS = ["relay-that-never-lets-go", "two-that-race"]


def _told(result: FaultResult) -> tuple[str, set[str], bool, bool]:
    return result.worst, set(result.breaks), result.noticed, result.trace is None


@pytest.mark.parametrize("name", [*AGREE, *BEASTS])
def test_the_short_cut_and_the_full_run_agree(name: str) -> None:
    """Every fault, with what cannot differ taken over, and with everything worked again."""
    if name in AGREE:
        case = sound.SOUND[name]().without("r_lock", "r_unlock", "r_horn", "r_lamps")
        case.wants = ["remote_start"]
        records = case.job(), case.wiring()
    else:
        records = beast(name)
    healthy = Model(wire_up(*records))
    done = search(healthy)
    faults = all_faults(healthy.car)
    quick, full = Judge(healthy, done), Judge(healthy, done, short_cuts=False)
    for fault, found in zip(faults, quick.results(faults), strict=True):
        assert found is not None
        assert _told(found) == _told(full.result(fault)), str(fault)


@pytest.mark.parametrize("seed", [2003, 2005])
def test_the_short_cut_and_the_full_run_agree_on_random_wirings(seed: int) -> None:
    made = chance(seed)
    healthy = Model(wire_up(made.job, made.wiring))
    done = search(healthy)
    faults = all_faults(healthy.car)
    quick, full = Judge(healthy, done), Judge(healthy, done, short_cuts=False)
    for fault, found in zip(faults, quick.results(faults), strict=True):
        assert found is not None
        assert _told(found) == _told(full.result(fault)), str(fault)


def test_a_short_cut_that_takes_too_much_over_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    case = sound.plain()
    healthy = Model(wire_up(case.job(), case.wiring()))
    done = search(healthy)
    fault = fault_named(healthy.car, "r_hood open")
    assert fault is not None
    assert Judge(healthy, done).result(fault).worst == "hazard"
    monkeypatch.setattr("startwright.prove.kept.Kept._same", lambda *_: True)
    assert Judge(healthy, done).result(fault).worst == "none"


def test_a_search_begins_with_every_healthy_state() -> None:
    case = sound.plain()
    healthy = Model(wire_up(case.job(), case.wiring()))
    done = search(healthy)
    again = search(healthy, seeds=seeds_in(done.explored, healthy))
    assert len(again.explored.levels) == 1
    assert np.array_equal(np.sort(done.explored.packed), np.sort(again.explored.packed))
    assert again.breaches == {}


def one_bad_ground_away_from_deaf() -> Case:
    """The hood wire also holds up `service`; the dome light reaches it through 20 kilohm.

    With the hood wire off the unit refuses to start. In a start under way it ends it, unless the
    dome light was lit at that moment: then neither input moves, and the hood is not seen.
    """
    case = sound.plain().without("r_lock", "r_unlock", "r_horn")
    case.wants = ["remote_start"]
    case.stock["parts"].append({"id": "r-20k", "kind": "resistor", "ohm": 20_000, "watt": 1})
    case.parts["R1"] = "r-20k"
    pulled = {"pull": "down", "pull_ohm": 20_000}
    case.lead("hood_in", on_V=2.0, off_V=2.5, **pulled)
    case.lead("svc_in", way="in", senses="service", active="ground", on_V=6.0, off_V=8.0, **pulled)
    case.circuit("dome", function="dome_light", rest="ground", active="battery", load_A=0.5)
    case.run("r_svc", "unit.svc_in", "unit.hood_in")
    case.run("r_a", "unit.hood_in", "R1.a")
    case.run("r_b", "R1.b", "vehicle.dome")
    return case


@pytest.mark.parametrize("short_cuts", [True, False])
def test_a_fault_strikes_at_every_value_of_what_feeds_back_with_it_alone(short_cuts: bool) -> None:
    case = one_bad_ground_away_from_deaf()
    healthy = Model(wire_up(case.job(), case.wiring()))
    assert "dome_light" in healthy.free
    done = search(healthy)
    assert not done.breaches
    fault = fault_named(healthy.car, "r_hood open")
    assert fault is not None
    result = Judge(healthy, done, short_cuts=short_cuts).result(fault)
    assert result.worst == "hazard"
    assert "hood-ends" in result.breaks
    assert result.trace is not None
    assert result.trace.index("dome_light on") < result.trace.index("fault r_hood open")
    clock, _ = play(case.job(), case.wiring(), f"{result.trace} → ignition on")
    assert clock.row()["hood"] == 1
    assert clock.row()["out.ign"] == 1


def test_faults_that_were_stopped_are_not_told() -> None:
    healthy = Model(wire_up(CASE.job(), CASE.wiring()))
    asked: list[int] = []

    def stop_at_two(done: int) -> bool:
        asked.append(done)
        return done < 2

    assert single_faults(healthy, search(healthy), stop_at_two) is None
    assert asked == [0, 1, 2]


def test_a_fault_whose_search_did_not_finish_is_no_clean_bill(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case = sound.plain()
    healthy = Model(wire_up(case.job(), case.wiring()))
    done = search(healthy)

    def short(model: Model, **given: Any) -> Any:
        return explore(model, **given, most=1)

    monkeypatch.setattr(searches, "explore", short)
    faults = single_faults(healthy, done)
    assert faults is not None
    opened = next(f for f in faults if f.fault == "r_hood open")
    assert (opened.worst, opened.breaks) == ("hazard", ["not finished"])


def test_an_open_coil_pulls_nothing_in() -> None:
    case = sound.second_ignition_by_relay()
    line = "command start · wait 1.5 s → ign_2 on"
    assert play(case.job(), case.wiring(), line)[1] == [True]
    assert play(case.job(), case.wiring(), f"fault K1 open · {line}")[1] == [False]
    assert play(case.job(), case.wiring(), line.replace("→", "· fault K1 open →"))[1] == [False]
