"""The rows of wires: in the order of the hand, and through what each goes."""

import pytest

from startwright.example import path
from startwright.records import Plan, Wiring
from startwright.records.read import read_job, read_wiring
from startwright.web.rows import stops
from startwright.web.say import awg, rest_and_active


@pytest.fixture(scope="module")
def job():
    return read_job(path() / "jobs" / "plain.yaml")


def plan_of(job, wiring):
    return Plan(format="startwright/plan/1", job=job.id, wiring=wiring)


def test_rows_come_in_the_order_of_the_way(job):
    found = stops(job, plan_of(job, read_wiring(path() / "wirings" / "plain.yaml")))
    places = list(dict.fromkeys(s.place for s in found))
    # By the lengths in the record: the pedal 0.45 m from the column, the kick panel 0.7 m.
    assert places == [
        "steering column",
        "brake pedal",
        "driver's kick panel",
        "engine bay bulkhead",
    ]
    pins = [
        r.circuit.pin for s in found for r in s.rows if s.plug == "ignition switch, brown 6-way"
    ]
    assert pins == ["1", "2", "3", "4", "6"]


def test_each_wire_says_through_what_it_goes(job):
    wiring = Wiring(
        format="startwright/wiring/1",
        parts=[{"id": "K1", "of": "relay-40"}, {"id": "F1", "of": "fuse-30"}],
        runs=[
            {"id": "r1", "from": "vehicle.batt_1", "to": "F1.a"},
            {"id": "r2", "from": "F1.b", "to": "K1.30"},
            {"id": "r3", "from": "K1.87", "to": "vehicle.starter_1"},
            {"id": "r4", "from": "unit.start", "to": "K1.86"},
            {"id": "r5", "from": "K1.85", "to": "ground.brace"},
            {"id": "r6", "from": "vehicle.brake", "to": "unit.brake_in"},
        ],
    )
    rows = {r.circuit.id: r for s in stops(job, plan_of(job, wiring)) for r in s.rows}
    assert rows["brake"].ends == ["unit.brake_in"]
    assert rows["brake"].through == []
    assert rows["starter_1"].ends == ["vehicle.batt_1"]
    assert rows["starter_1"].through == ["relay K1 30 to 87, closes when worked", "fuse F1"]
    assert rows["starter_1"].worked_by == ["unit.start"]
    assert rows["starter_1"].runs == ["r3"]


def test_cautions_stand_where_the_hand_goes(job):
    found = stops(job, plan_of(job, read_wiring(path() / "wirings" / "plain.yaml")))
    column = [s for s in found if s.place == "steering column"]
    assert any("airbags" in c for c in column[0].cautions)
    assert not any("airbags" in c for s in column[1:] for c in s.cautions)
    fed = [s for s in found if any(r.circuit.function == "battery" for r in s.rows)]
    assert fed
    assert all(any("ground off" in c for c in s.cautions) for s in fed)
    assert not any("airbags" in c for s in found if s.place == "brake pedal" for c in s.cautions)


def test_levels_are_said_in_volts(job):
    said = {c.id: rest_and_active(c) for c in job.vehicle.circuits}
    assert said["ign_1"] == ("0 V", "12 V", "key in run, start")
    assert said["batt_1"] == ("12 V", "", "always")
    assert said["brake"] == ("≈ 0 V", "12 V", "pressed; rests open")
    # Open with an active level of ground: the load pulls it up, as a meter shows.
    assert said["hood"] == ("≈ 12 V", "0 V", "open; rests open")
    assert said["lock_all"] == ("12 V", "0 V", "worked")


@pytest.mark.parametrize(("size_mm2", "gauge"), [(0.518, 20), (2.08, 14), (3.31, 12), (5.26, 10)])
def test_gauges(size_mm2, gauge):
    """ASTM B258 areas: 20 AWG 0.518, 14 AWG 2.08, 12 AWG 3.31, 10 AWG 5.26 mm²."""
    assert awg(size_mm2) == gauge
