"""The plan as written: complete, in the order of the hand, with reasons, lengths, wires, checks."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from plan.cars import full_stock, fuse, hand, job, key_fed, stock, unit, vehicle

from startwright.physics.wire import ampacity_A, resistance_ohm
from startwright.plan import Mend, Planned, plan
from startwright.plan.places import LOOP_M, UNKNOWN_M, unit_place, way_m
from startwright.plan.wires import DROP_V, choose_wire
from startwright.plan.write import ends_key
from startwright.prove import prove
from startwright.records import Plan, Stock, Vehicle, WholeJob
from startwright.records.read import read_job
from startwright.size import size

EXAMPLES = ("plain", "two-starters", "two-starters-small-unit", "transponder", "push-button",
            "vacuum")  # fmt: skip


def example(name: str) -> WholeJob:
    folder = Path(str(files("startwright.example")))
    return read_job(folder / "jobs" / f"{name}.yaml")


@pytest.fixture(scope="module", params=EXAMPLES)
def planned(request: pytest.FixtureRequest) -> tuple[WholeJob, Planned]:
    j = example(request.param)
    answer = plan(j)
    assert isinstance(answer, Planned)
    return j, answer


def test_every_example_is_proven_and_holds(planned):
    j, p = planned
    assert prove(j, p.wiring).verdict == "proven"
    report = size(j, p.wiring)
    assert report.verdict == "holds", report.worst


def test_every_run_part_and_setting_has_a_reason(planned):
    _, p = planned
    said = {r.of for r in p.reasons}
    assert {r.id for r in p.wiring.runs} <= said
    assert {f.id for f in p.wiring.parts} <= said
    assert {f"setting.{s}" for s in p.wiring.settings} <= said
    assert all(r.why for r in p.wiring.runs)


def test_every_need_is_met_by_runs_that_exist(planned):
    _, p = planned
    runs = {r.id for r in p.wiring.runs}
    for need in p.needs:
        assert need.met
        assert set(need.by) <= runs
        assert need.by or need.id == "engine-signal"
    assert {r for n in p.needs for r in n.by} == runs


def test_runs_are_numbered_in_the_order_of_the_hand(planned):
    j, p = planned
    assert [r.id for r in p.wiring.runs] == [f"r{k + 1}" for k in range(len(p.wiring.runs))]
    kinds = {c.id: c.function for c in j.vehicle.circuits}
    order = []
    for r in p.wiring.runs:
        cars = [e.split(".")[1] for e in r.ends if e.startswith("vehicle.")]
        order.append(
            0 if not cars else 3 if kinds[cars[0]] == "battery" else 2
            if kinds[cars[0]] == "starter" else 1
        )  # fmt: skip
    assert order == sorted(order)


def test_every_circuit_is_measured_before_it_is_joined(planned):
    _, p = planned
    touched = {e.split(".")[1] for r in p.wiring.runs for e in r.ends if e.startswith("vehicle.")}
    assert {str(c.probe).split(".")[1] for c in p.checks} == touched
    starter = [c for c in p.checks if c.probe == "vehicle.starter_1"]
    assert all(c.caution and "park" in c.caution for c in starter)
    assert len({c.id for c in p.checks}) == len(p.checks)
    assert all(c.before in {r.id for r in p.wiring.runs} for c in p.checks)


def test_lengths_follow_the_usual_way(planned):
    j, p = planned
    tach = next(r for r in p.wiring.runs if "vehicle.tach" in r.ends)
    places = {c.id: c.place for c in j.vehicle.circuits}
    at = unit_place(j, [e.split(".")[1] for r in p.wiring.runs for e in r.ends
                        if e.startswith("vehicle.")])  # fmt: skip
    assert at is not None
    far = way_m(j.vehicle, at, places["tach"])
    assert tach.length_m == pytest.approx(far + LOOP_M, abs=0.01)


def test_no_run_touches_what_must_be_left_alone(planned):
    j, p = planned
    away = {f"vehicle.{c.id}" for c in j.vehicle.of("srs", "high_voltage")}
    data = {f"vehicle.{c.id}" for c in j.vehicle.of("data")}
    for r in p.wiring.runs:
        assert not away & set(r.ends)
        if data & set(r.ends):
            assert any(e.startswith("X1.") for e in r.ends)


def test_a_plan_is_written_and_read_again(planned):
    _, p = planned
    bare = p.bare()
    assert type(bare) is Plan
    assert Plan.model_validate_json(bare.model_dump_json(by_alias=True)) == bare
    assert Planned.model_validate_json(p.model_dump_json(by_alias=True)) == p


def test_shortest_ways_go_round():
    v = Vehicle.model_validate(
        vehicle(places=[
            {"from": "a", "to": "b", "length_m": 5},
            {"from": "a", "to": "c", "length_m": 1},
            {"from": "c", "to": "b", "length_m": 1.5},
        ])
    )  # fmt: skip
    assert [way_m(v, "b", p) for p in ("b", "c", "a")] == [0.0, 1.5, 2.5]
    assert way_m(v, "a", "d") == UNKNOWN_M


def test_the_unit_sits_inside_where_most_runs_go():
    far = vehicle(places=[{"from": "engine bay bulkhead", "to": "kick panel", "length_m": 2.0},
                          {"from": "column", "to": "kick panel", "length_m": 0.7}])  # fmt: skip
    assert unit_place(job(far), ["tach"] * 9 + ["ign_1"]) == "kick panel"
    assert unit_place(job(far), ["ign_1", "acc_1", "starter_1", "lamps"]) == "column"
    assert unit_place(job(far, places_allowed=["kick panel"]), ["ign_1"]) == "kick panel"


def test_a_wire_carries_its_load_its_fuse_and_keeps_its_drop():
    shelf = Stock.model_validate(
        stock(*({"id": f"w{k}", "kind": "wire", "size_mm2": s, "colour": c, "count": 1}
                for k, (s, c) in enumerate([(0.5, "GY"), (1.0, "RD"), (2.5, "BK"), (4.0, "RD")])))
    )  # fmt: skip
    for amps, rating in ((5.0, None), (5.0, 30.0), (25.0, None), (0.1, 3.0)):
        wire = choose_wire(shelf, amps, rating, 0.5, 0.0, "battery")
        assert ampacity_A(wire.size_mm2) >= max(amps, rating or 0)
        assert amps * resistance_ohm(wire.size_mm2, 0.5) <= DROP_V
        assert wire.size_mm2 in (0.5, 1.0, 2.5, 4.0)
    long = choose_wire(shelf, 10.0, None, 6.0, 0.0, "signal")
    assert long.size_mm2 > choose_wire(shelf, 10.0, None, 0.5, 0.0, "signal").size_mm2
    assert choose_wire(shelf, 0.1, None, 0.5, 0.0, "signal").colour == "GY"


def test_a_mend_thickens_one_run_and_forbids_a_way():
    p = plan(job())
    assert isinstance(p, Planned)
    lamps = next(r for r in p.wiring.runs if "unit.lamps" in r.ends)
    key = ends_key(*lamps.ends)
    thicker = plan(job(), mend=Mend(size_mm2={key: 6.0}))
    assert isinstance(thicker, Planned)
    now = {r.id: r.size_mm2 for r in thicker.wiring.runs}
    was = {r.id: r.size_mm2 for r in p.wiring.runs}
    assert {k for k in now if now[k] != was[k]} == {lamps.id}
    other = plan(job(), mend=Mend(forbid=[p.made_of[lamps.id]]))
    assert isinstance(other, Planned)
    assert any(f.of == "relay" for f in other.wiring.parts)


def test_a_fuse_is_raised_where_a_mend_says_so():
    car = vehicle(hand("horn", "horn", "battery", 4.0))
    j = job(car, wants=("horn_chirp",))
    p = plan(j)
    assert isinstance(p, Planned)
    assert "fuse-5" in {f.of for f in p.wiring.parts}
    more = plan(j, mend=Mend(fuse_A={"horn": 8.0}))
    assert isinstance(more, Planned)
    assert "fuse-10" in {f.of for f in more.wiring.parts}
    assert p.feeds == {"F1": "horn"}


def test_a_feed_without_a_fuse_of_its_own_gets_one_near_the_battery_wire():
    box = unit({"id": "feed_1", "way": "feed", "limit_A": 30},
               {"id": "feed_2", "way": "feed", "limit_A": 30})  # fmt: skip
    p = plan(job(box=box))
    assert isinstance(p, Planned)
    fuses = [f for f in p.wiring.parts if f.of.startswith("fuse")]
    assert len(fuses) == 2
    assert {f.place for f in fuses} == {"column"}


def test_alternatives_say_what_they_gain_and_lose():
    car = vehicle(key_fed("ign_2", "ignition", ["run"], load_A=9.0))
    p = plan(job(car), alternatives=4)
    assert isinstance(p, Planned)
    assert len(p.alternatives) == 4
    orders = [p.score.order, *(a.score.order for a in p.alternatives)]
    assert orders == sorted(orders)
    for a in p.alternatives:
        assert a.differs
        worse = a.score.order > p.score.order
        assert bool(a.loses) == worse or a.gains
        assert prove(job(car), a.plan.wiring).verdict == "proven"
    wirings = {
        p.wiring.model_dump_json(),
        *(a.plan.wiring.model_dump_json() for a in p.alternatives),
    }
    assert len(wirings) == 5


def test_alternatives_end_where_there_are_no_more():
    p = plan(job(shelf=stock(fuse(3)), wants=("lock_unlock",)), alternatives=5)
    assert isinstance(p, Planned)
    assert len(p.alternatives) < 5
    assert full_stock()["parts"]
