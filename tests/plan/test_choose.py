"""The choice: its strict order, its limits, and that it is the best there is."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan.brute import choices, holds, score
from plan.cars import (
    DIODE,
    HOOD,
    RELAY,
    full_stock,
    fuse,
    hand,
    job,
    key_fed,
    power,
    random_job,
    sense,
    small,
    stock,
    unit,
    vehicle,
)

from startwright.plan import Mend, NoPlan, Planned, plan
from startwright.plan.choose import choose
from startwright.plan.model import Problem
from startwright.plan.needs import needs_of
from startwright.plan.problem import problem_of
from startwright.records import WholeJob


def made(j: WholeJob) -> Planned:
    answer = plan(j)
    assert isinstance(answer, Planned), answer.reasons
    return answer


def ways(p: Planned) -> set[str]:
    return {"|".join(k.split("|")[:4]) for k in p.made_of.values()}


IGN_2 = key_fed("ign_2", "ignition", ["run"], load_A=9.0)


def test_a_plain_car_is_joined_straight():
    p = made(job())
    assert p.score.parts == 0
    assert p.score.cost == 0
    assert {
        "feed-ign_1|ign=ignitionb|direct|ign_1",
        "feed-acc_1|acc=accessoryb|direct|acc_1",
    } <= ways(p)


def test_a_circuit_live_in_run_alone_is_never_joined_to_one_live_in_start():
    p = made(job(vehicle(IGN_2)))
    joined = {r.ends for r in p.wiring.runs}
    assert ("unit.ign", "vehicle.ign_2") not in joined
    assert ("unit.acc", "vehicle.ign_2") not in joined or (
        "unit.acc",
        "vehicle.acc_1",
    ) not in joined


def test_holding_in_crank_is_allowed_where_the_record_says_so():
    box = unit(power("ign2", "ignition"))
    car = vehicle(IGN_2 | {"may_hold_in_crank": True, "load_A": 5.0})
    held = made(job(car, box, stock()))
    assert any(k.startswith("feed-ign_2|ign") and "|direct|ign_2" in k for k in ways(held))
    refused = plan(job(vehicle(IGN_2 | {"load_A": 5.0}), box, stock()))
    assert isinstance(refused, NoPlan)


def test_fewest_parts_come_before_money():
    dear = {"id": "flex_does", "values": {"off": None, "accessory": None}, "default": "off"}
    box = unit(power("flex", "ignition", "accessory", feed="feed_2", limit_A=20))
    assert dear["id"] in {s["id"] for s in box["settings"]}
    p = made(job(vehicle(IGN_2), box))
    assert p.score.parts == 0
    assert p.wiring.settings["flex_does"] == "accessory"


def test_measured_circuits_come_before_parts():
    guessed = hand("hood", "hood", "ground", 0.02, known={"how": "guessed"})
    p = made(job(vehicle(guessed)))
    assert p.score.unsure == 0
    assert any(f.of == "hood-pin" for f in p.wiring.parts)
    sure = made(job(vehicle(guessed | {"known": {"how": "measured"}})))
    assert sure.score.parts == 0
    only = made(job(vehicle(guessed), shelf=full_stock(hood_pin=0)))
    assert only.score.unsure == 1
    assert any("hood" in w and "guessed" in w for w in only.warnings)


def test_a_should_is_met_where_it_can_be_and_told_where_not():
    lamps = hand("lamps", "parking_light", "ground", 0.2)
    p = made(job(vehicle(lamps)))
    assert next(n for n in p.needs if n.id == "parking_light").met
    none = made(job(vehicle(lamps), shelf=stock()))
    assert not next(n for n in none.needs if n.id == "parking_light").met
    assert none.score.unmet == 1


def test_cheaper_wins_where_parts_are_equal():
    other = RELAY | {"id": "relay-dear", "price": 9.0}
    lamps = hand("lamps", "parking_light", "ground", 0.2)
    p = made(job(vehicle(lamps), shelf=stock(other, RELAY, fuse(3))))
    assert [f.of for f in p.wiring.parts] == ["relay"]


def test_the_left_and_right_lights_go_through_diodes_of_enough_amps():
    car = vehicle(
        hand("left", "parking_light", "battery", 2.0, side="left"),
        hand("right", "parking_light", "battery", 2.0, side="right"),
        drop=("lamps",),
    )
    small_diode = DIODE | {"id": "diode-1", "forward_A": 1, "price": 0.1}
    p = made(job(car, shelf=stock(small_diode, DIODE)))
    assert [f.of for f in p.wiring.parts] == ["diode-6", "diode-6"]
    ends = {r.ends for r in p.wiring.runs}
    assert {("unit.lamps", "D1.anode"), ("D1.cathode", "vehicle.left")} <= ends


def test_a_lead_at_ground_turns_its_diodes_round():
    car = vehicle(
        hand("left", "parking_light", "ground", 0.2, side="left"),
        hand("right", "parking_light", "ground", 0.2, side="right"),
        drop=("lamps",),
    )
    p = made(job(car, unit(small("lamps", "parking_light"))))
    assert ("unit.lamps", "D1.cathode") in {r.ends for r in p.wiring.runs}


def test_a_lead_never_carries_more_than_it_may():
    car = vehicle(key_fed("ign_1", "ignition", ["run", "start"], load_A=20.0),
                  key_fed("ign_2", "ignition", ["run", "start"], load_A=9.0))  # fmt: skip
    p = made(job(car))
    on_lead = [k for k in ways(p) if "ign=ignition" in k and "|direct|" in k]
    assert len(on_lead) == 1  # 29 A on a lead of 25 A
    assert any(f.of == "relay" for f in p.wiring.parts)


def test_a_feed_carries_three_quarters_of_its_fuse_for_good():
    car = vehicle(key_fed("acc_1", "accessory", ["accessory", "run"], load_A=22.0))
    p = made(job(car))  # 22 A of accessory and 3 A of lamps on feed_2 of 30 A
    assert p.score.parts > 0
    assert made(job(vehicle())).score.parts == 0


def test_unsuppressed_coils_stay_off_unsuppressed_transistors():
    lamps = hand("horn", "horn", "battery", 4.0)
    bare = RELAY | {"suppressed": False}
    wants = ("horn_chirp",)
    assert isinstance(plan(job(vehicle(lamps), shelf=stock(bare, fuse(7.5)), wants=wants)), NoPlan)
    assert plan(job(vehicle(lamps), shelf=stock(RELAY, fuse(7.5)), wants=wants))
    quiet = unit(small("horn", "horn", suppressed=True))
    assert plan(job(vehicle(lamps), quiet, stock(bare, fuse(7.5)), wants=wants))


def test_places_that_are_not_allowed_are_not_touched():
    j = job(places_allowed=["column"])
    answer = plan(j)
    assert isinstance(answer, NoPlan)
    assert any("kick panel" in r for r in answer.reasons)
    assert any("every place" in r.do for r in answer.resolve)


def test_an_ignition_lead_sits_straight_on_a_circuit_live_in_run_and_start():
    weak = power("ign", "ignition", limit_A=9)
    answer = plan(job(box=unit(weak)))
    assert isinstance(answer, NoPlan)
    assert len(answer.reasons) == 1
    assert "straight on an ignition circuit" in answer.reasons[0]
    assert plan(job(box=unit(weak, refuses=["service"])))  # by a relay


def test_the_same_answer_every_time():
    for seed in (3, 14, 27):
        first, again = plan(random_job(seed)), plan(random_job(seed))
        assert first.model_dump_json() == again.model_dump_json()


def _small_problem(seed: int) -> Problem:
    """A problem small enough to try every selection of."""
    j = random_job(seed)
    keep = ("batt_1", "ign_1", "acc_1", "ign_2", "starter_1", "starter_2", "tach", "park", "hood",
            "brake")  # fmt: skip
    car = j.vehicle.model_copy(update={"circuits": [c for c in j.vehicle.circuits if c.id in keep]})
    relay_stock = j.stock.model_copy(
        update={"parts": [p for p in j.stock.parts if p.kind in ("relay", "switch", "diode")
                          or p.id in ("fuse-15", "fuse-20", "fuse-1")]}
    )  # fmt: skip
    j = j.model_copy(update={"vehicle": car, "stock": relay_stock, "wants": ["remote_start"]})
    problem, _ = problem_of(j, needs_of(j), Mend())
    return problem


def test_brute_force_agrees_on_small_cases():
    tried = found = 0
    for seed in range(60):
        problem = _small_problem(seed)
        size = 1
        for d in {w.demand for w in problem.ways}:
            size *= 1 + len(problem.of(d))
        if size > 60_000:
            continue
        tried += 1
        best = min((score(problem, w) for w in choices(problem)), default=None)
        answer = choose(problem)
        assert (answer is None) == (best is None), seed
        if answer is not None:
            assert holds(problem, answer.ways), seed
            assert answer.score.order == pytest.approx(best), seed
            found += 1
    assert tried >= 12
    assert found >= 5


def test_the_comparison_by_brute_force_can_fail():
    problem, _ = problem_of(job(), needs_of(job()), Mend())
    answer = choose(problem)
    assert answer is not None
    assert holds(problem, answer.ways)
    assert not holds(problem, tuple(w for w in answer.ways if w.demand != "feed-feed_2"))
    doubled = dataclasses.replace(problem, counts={})
    assert holds(doubled, answer.ways)
    lamps = hand("lamps", "parking_light", "ground", 0.2)
    j = job(vehicle(lamps))
    with_relay, _ = problem_of(j, needs_of(j), Mend())
    chosen = choose(with_relay)
    assert chosen is not None
    assert not holds(dataclasses.replace(with_relay, counts={}), chosen.ways)


@settings(derandomize=True, deadline=None, max_examples=25)
@given(st.integers(1000, 100_000))
def test_whatever_is_planned_keeps_the_rules(seed):
    j = random_job(seed)
    answer = plan(j)
    if isinstance(answer, NoPlan):
        assert answer.reasons
        return
    problem, _ = problem_of(j, needs_of(j), Mend())
    by_key = {w.key: w for w in problem.ways}
    taken = tuple(by_key[k] for k in dict.fromkeys(answer.made_of.values()))
    assert holds(problem, taken)
    ends = [e for r in answer.wiring.runs for e in r.ends if e.startswith("unit.")]
    does = {u.output.lead: u.output.does for w in taken for u in w.uses}
    assert all(e.removeprefix("unit.") in {lead.id for lead in j.unit.leads} for e in ends)
    for w in taken:
        for u in w.uses:
            assert does[u.output.lead] == u.output.does  # one function a lead
    circuits = {c.id: c for c in j.vehicle.circuits}
    straight: dict[str, list[str]] = {}
    for r in answer.wiring.runs:
        a, b = sorted(r.ends)
        if a.startswith("unit.") and b.startswith("vehicle."):
            straight.setdefault(a, []).append(b.split(".")[1])
    for joined in straight.values():
        lives = {frozenset(circuits[c].live or ()) for c in joined}
        assert len(lives) == 1


def test_the_hood_switch_is_read_whichever_way_it_rests():
    for at in ("open", "closed"):
        for active in ("ground", "battery"):
            pull = "up" if (active == "ground") == (at == "open") else "down"
            box = unit(sense("hood_in", "hood", active, pull=pull))
            pin = HOOD | {"contact_at_rest": at}
            parts = [p for p in full_stock()["parts"] if p["kind"] != "switch"]
            answer = plan(job(vehicle(drop=("hood",)), box, stock(*parts, pin)))
            assert isinstance(answer, Planned), (at, active)


def test_a_choice_that_does_not_finish_is_told_and_not_called_the_best(monkeypatch):
    from startwright.plan import choose as module

    monkeypatch.setattr(module, "MOST_EFFORT", 0.0)
    answer = plan(job(vehicle(IGN_2)))
    assert isinstance(answer, NoPlan)
    assert "not finished" in answer.reasons[0]
    monkeypatch.setattr(module, "MANY", 0)
    car = vehicle(*(key_fed(f"i{k}", "ignition", ["run"], load_A=2.0 + k) for k in range(5)))
    flex = [power(f"o{k}", "ignition", "accessory", "starter", feed="feed_2") for k in range(5)]
    j = job(car, unit(*flex))
    said = []
    for effort in (0.1, 0.2, 0.3, 0.5, 0.7):
        monkeypatch.setattr(module, "MOST_EFFORT", effort)
        found = plan(j)
        if isinstance(found, Planned):
            said.append(any("not proven to be the best" in w for w in found.warnings))
    assert any(said)
    monkeypatch.undo()
    best = made(j)
    assert not any("not proven to be the best" in w for w in best.warnings)


def test_an_ignition_circuit_dead_in_start_does_not_show_that_the_key_is_on():
    car = vehicle(
        key_fed("ign_1", "ignition", ["run", "start"], load_A=20.0),
        key_fed("ign_2", "ignition", ["run"], load_A=5.0, may_hold_in_crank=True),
    )
    box = unit(power("ign", "ignition", limit_A=9), power("ign2", "ignition", limit_A=9))
    answer = plan(job(car, box))
    assert isinstance(answer, NoPlan)
    assert "straight on an ignition circuit" in " ".join(answer.reasons)
