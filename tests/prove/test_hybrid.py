"""Hybrids: what makes one ready is proven or breached; a naive reading reaches the same states."""

from __future__ import annotations

import pytest
from prove import hybrid
from prove.base import Case
from prove.test_bestiary import assert_same_states

from startwright.car.build import wire_up
from startwright.car.hybrid import TURNS
from startwright.prove import play, prove
from startwright.prove.model import RUNNING, STOPPED, Model
from startwright.prove.search import search
from startwright.prove.tell import describe

EVERY = {**hybrid.SOUND, **{name: make for name, (_, make) in hybrid.SPOILT.items()}}


@pytest.mark.parametrize("name", hybrid.SOUND)
def test_a_hybrid_can_be_proven(name: str) -> None:
    case = hybrid.SOUND[name]()
    report = prove(case.job(), case.wiring())
    assert report.verdict == "proven", [r.rule for r in report.rules if r.holds is False]
    assert all(r.exercised for r in report.rules if r.holds is not None)


@pytest.mark.parametrize("name", hybrid.SPOILT)
def test_a_spoilt_one_is_breached_and_its_lines_replay(name: str) -> None:
    rule, make = hybrid.SPOILT[name]
    case = make()
    report = prove(case.job(), case.wiring())
    broken = {r.rule: r for r in report.rules if r.holds is False}
    assert rule in broken
    for result in broken.values():
        if result.trace is not None and result.kind != "works":
            _, met = play(case.job(), case.wiring(), result.trace)
            assert all(met), (result.rule, result.trace)


TOLD = {
    "listens_to_the_tach": (
        "car ready, its engine at rest. The unit asks the car to become ready though it is ready "
        "already (starter). It listens for the engine, which may rest in a car that is ready."
    ),
    "by_time": (
        "car ready. The unit asks the car to become ready though it is ready already (starter). "
        "It goes by time and cannot tell that the car is ready."
    ),
    "foot_in_the_way": (
        "car no longer ready. The unit asks the car to become ready though it was ready a moment "
        "ago (button)."
    ),
}


@pytest.mark.parametrize("name", TOLD)
def test_a_breach_is_told_of_a_car_that_is_ready_and_of_no_engine(name: str) -> None:
    """Nothing is cranked: the car is asked to become ready while it is, or just was."""
    case = hybrid.SPOILT[name][1]()
    rules = {r.rule: r for r in prove(case.job(), case.wiring()).rules}
    assert rules["no-crank-into-running"].says.endswith(TOLD[name])


def test_what_the_engine_does_is_told_where_the_unit_listens_to_it() -> None:
    model = Model(
        wire_up(hybrid.listens_to_the_tach().job(), hybrid.listens_to_the_tach().wiring())
    )
    row = {**dict.fromkeys((*model.surroundings, "start"), 0), "motion": RUNNING}
    assert describe(model, {**row, TURNS: 0}).endswith("car ready, its engine at rest.")
    assert describe(model, {**row, TURNS: 1}).endswith("car ready, its engine turning.")
    assert describe(model, {**row, TURNS: 0, "motion": STOPPED}).endswith("car not ready.")
    plain = Model(wire_up(Case().job(), Case().wiring()))
    assert describe(plain, row).endswith("engine running.")


def test_a_proof_of_a_hybrid_speaks_of_a_ready_car() -> None:
    case = hybrid.by_key()
    report = prove(case.job(), case.wiring())
    rules = {r.rule: r.says for r in report.rules}
    assert "asks a car to become ready" in rules["no-crank-into-running"]
    assert rules["can-start"] == "By command, key out, the car becomes ready."
    assert rules["can-stop"] == "A stop command turns the car off."
    assert any("a hybrid" in a for a in report.assumes)
    assert any("tells a ready car by the battery's volts" in a for a in report.assumes)


def test_a_car_whose_fuel_says_hybrid_is_one() -> None:
    """The planner refuses it as one, so the proof may not take it for an engine that cranks."""
    case = Case()
    assert prove(case.job(), case.wiring()).verdict == "proven"
    case.vehicle["engine"] = {"fuel": "hybrid"}
    broken = {r.rule for r in prove(case.job(), case.wiring()).rules if r.holds is False}
    assert "no-crank-into-running" in broken


def test_an_engine_that_rests_in_a_ready_car_is_not_heard() -> None:
    """The unit waits for its tach and goes on asking a car that is ready; then it lets it go."""
    case = hybrid.listens_to_the_tach()
    job, wiring = case.job(), case.wiring()
    assert play(job, wiring, "command start · wait 5 s → engine runs, starter on")[1] == [True] * 2
    assert play(job, wiring, "command start · wait 9 s → engine stands")[1] == [True]
    heard = "command start · wait 4 s · engine starts · engine starts → engine runs, starter off"
    assert play(job, wiring, heard)[1] == [True] * 2
    again = f"{heard.split(' → ')[0]} · engine stops · wait 2 s → unit idle, engine stands"
    assert play(job, wiring, again)[1] == [True] * 2


def test_nothing_is_asked_in_gear_or_without_the_foot() -> None:
    """A hybrid without a starter circuit is asked by its button alone, in park or neutral."""
    case = hybrid.by_button()
    model = Model(wire_up(case.job(), case.wiring()))
    done = search(model)
    columns = done.explored.steps.columns
    asked = columns["motion"] == 1
    assert asked.any()
    turns = model.turns.look({**columns, "power": columns["motion"] * 0})
    assert (turns.astype(bool) <= (columns["gear"] < 2)).all()
    line = "command start · wait 1.5 s · shift drive · wait 1 s → unit idle, engine stands"
    assert play(case.job(), case.wiring(), line)[1] == [True, True]


def test_a_naive_explorer_reaches_the_same_states() -> None:
    case = hybrid.listens_to_the_tach()
    case.wants = ["remote_start"]
    for name in ("acc", "lock", "unlock", "horn", "hood", "brake"):
        case.without(name, f"r_{name}")
    case.without("lights", "r_lamps")
    case.unit["guards"] = [{"input": "park_neutral", "reads": "active"}]
    case.unit["commands"] = {}
    case.unit["tries"] = 1
    assert_same_states(case.job(), case.wiring())
