"""No plan is an answer: irreducible cores, and what would open a way."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan.cars import (
    RELAY,
    full_stock,
    fuse,
    hand,
    job,
    key_fed,
    power,
    random_job,
    stock,
    unit,
    vehicle,
)

from startwright.plan import Mend, NoPlan, plan
from startwright.plan.choose import choose, solver
from startwright.plan.model import Problem, build
from startwright.plan.needs import needs_of
from startwright.plan.nogo import core_of
from startwright.plan.problem import problem_of
from startwright.records import WholeJob

LAMPS = hand("lamps", "parking_light", "ground", 0.2)


def problem(j: WholeJob) -> Problem:
    return problem_of(j, needs_of(j), Mend())[0]


def satisfiable(p: Problem, names: list[tuple[str, str]]) -> bool:
    from ortools.sat.python import cp_model

    built = build(p, guarded=True)
    for name in names:
        built.model.add(built.rows.guards[name] == 1)
    return bool(solver().solve(built.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE))


def test_a_shelf_without_the_relay_says_what_to_add():
    answer = plan(job(vehicle(LAMPS), shelf=full_stock(relay=0), wants=("light_flash",)))
    assert isinstance(answer, NoPlan)
    assert "lamps worked" in answer.reasons[0]
    assert answer.resolve[0].do.startswith("add to the shelf: 1 × ")
    assert "relay" in answer.resolve[0].do
    assert answer.resolve[0].cost == RELAY["price"]
    assert plan(job(vehicle(LAMPS), shelf=full_stock(relay=1), wants=("light_flash",)))


def test_two_needs_for_one_relay_is_a_core_of_three():
    car = vehicle(LAMPS, hand("horn", "horn", "battery", 4.0))
    answer = plan(job(car, shelf=full_stock(relay=1), wants=("light_flash", "horn_chirp")))
    assert isinstance(answer, NoPlan)
    assert len(answer.reasons) == 3
    assert answer.reasons[-1] == "The shelf holds 1 of relay."
    assert answer.resolve[0].cost == RELAY["price"]


def test_circuits_that_must_not_be_joined_are_told():
    car = vehicle(key_fed("ign_2", "ignition", ["run"], load_A=9.0))
    answer = plan(job(car, shelf=stock()))
    assert isinstance(answer, NoPlan)
    said = " ".join(answer.reasons)
    assert "one would feed the other" in said
    assert "relay" in answer.resolve[0].do


def test_what_no_part_helps_says_so_of_the_need():
    answer = plan(job(vehicle(key_fed("odd", "accessory", ["off", "run"], load_A=3.0))))
    assert isinstance(answer, NoPlan)
    assert len(answer.reasons) == 1
    assert "one more output that is driven as the key does it" in answer.resolve[0].do


def test_a_core_of_a_problem_with_a_plan_is_refused():
    with pytest.raises(ValueError, match="can be met"):
        core_of(problem(job()))


def test_a_core_names_the_limit_that_stands_in_the_way():
    car = vehicle(*(hand(n, "parking_light", "battery", 3.0, side=n) for n in ("left", "right")),
                  drop=("lamps",))  # fmt: skip
    box = unit(power("lamps", "parking_light", feed="feed_2", limit_A=5))
    answer = plan(job(car, box, full_stock(relay=0), wants=("light_flash",)))
    assert isinstance(answer, NoPlan)
    assert "The lead lamps carries 5 A at most." in answer.reasons


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.integers(0, 10_000))
def test_every_core_is_irreducible(seed):
    j = random_job(seed)
    if needs_of(j).refusals:
        return
    p = problem(j)
    if choose(p) is not None:
        return
    core = core_of(p)
    assert core
    assert not satisfiable(p, core)
    for name in core:
        assert satisfiable(p, [n for n in core if n != name]), (seed, name)


@settings(derandomize=True, deadline=None, max_examples=25)
@given(st.integers(0, 10_000))
def test_what_is_said_to_help_does_help(seed):
    j = random_job(seed)
    answer = plan(j)
    if not isinstance(answer, NoPlan) or not answer.resolve:
        return
    first = answer.resolve[0].do
    if not first.startswith("add to the shelf: ") or "wished" in first:
        return
    more = {p.id: p for p in j.stock.parts}
    for item in first.removeprefix("add to the shelf: ").split(", "):
        count, _, name = item.partition(" × ")
        if name not in more:
            return
        more[name] = more[name].model_copy(update={"count": more[name].count + int(count)})
    fuller = j.stock.model_copy(update={"parts": list(more.values())})
    assert plan(j.model_copy(update={"stock": fuller}))


def test_fuses_that_are_missing_are_named_by_their_rating():
    car = vehicle(hand("horn", "horn", "battery", 4.0))
    answer = plan(job(car, shelf=stock(RELAY, fuse(30, 0)), wants=("horn_chirp",)))
    assert isinstance(answer, NoPlan)
    assert "fuse of 5 A" in answer.resolve[0].do


def test_a_fat_core_is_made_thin(monkeypatch):
    from startwright.plan import nogo

    honest = nogo._sufficient

    def fat(built, names):
        return None if honest(built, names) is None else list(names)

    monkeypatch.setattr(nogo, "_sufficient", fat)
    car = vehicle(LAMPS, hand("horn", "horn", "battery", 4.0))
    p = problem(job(car, shelf=full_stock(relay=1), wants=("light_flash", "horn_chirp")))
    core = core_of(p)
    assert len(core) == 3
    assert not satisfiable(p, core)
    for name in core:
        assert satisfiable(p, [n for n in core if n != name])
