"""The rows of wires: in the order of the hand, through what each goes, and who works it."""

import html
import re
import time

import pytest

from startwright.example import path
from startwright.records import Plan, Wiring
from startwright.records.read import read_job, read_wiring
from startwright.sheets.ends import read_web
from startwright.web.rows import said_once, slips, stops


@pytest.fixture(scope="module")
def job():
    return read_job(path() / "jobs" / "plain.yaml")


def plan_of(job, wiring):
    return Plan(
        format="startwright/plan/1",
        job=job.id,
        wiring=wiring,
        reasons=[{"of": "r3", "says": "the relay carries what the lead may not"}],
    )


@pytest.fixture(scope="module")
def plain(job):
    plan = plan_of(job, read_wiring(path() / "wirings" / "plain.yaml"))
    return stops(read_web(job, plan.wiring), plan, None)


def test_rows_come_in_the_order_of_the_way(plain):
    # By the lengths in the record: the pedal 0.45 m from the column, the kick panel 0.7 m.
    places = [s.place for s in plain]
    assert places == [
        "steering column",
        "brake pedal",
        "driver's kick panel",
        "engine bay bulkhead",
    ]


def test_levels_are_said_in_volts_and_when_apart(plain):
    rows = {r.said["id"]: r for s in plain for r in s.rows}
    assert (rows["ign_1"].rest, rows["ign_1"].active) == ("0 V", "12.6 V")
    assert rows["ign_1"].when == "with the key in run, start"
    assert (rows["batt_1"].rest, rows["batt_1"].active) == ("12.6 V", "")
    assert rows["batt_1"].when == "the same at every key position"
    assert rows["brake"].active == "12.6 V"
    assert rows["brake"].when == "with the pedal pressed"
    # Open with an active level of ground: the load pulls it up, as a meter shows.
    assert rows["hood"].rest == "open, pulled to 12.6 V by its load"


def test_each_wire_says_through_what_it_goes_and_who_works_it(job):
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
    plan = plan_of(job, wiring)
    web = read_web(job, wiring)
    rows = {r.said["id"]: r for s in stops(web, plan, None) for r in s.rows}
    assert rows["brake"].worked_by == []
    assert "brake_in" in rows["brake"].said["through"][0]
    assert rows["starter_1"].worked_by == ["unit start"]
    assert "relay K1" in rows["starter_1"].said["through"][0]
    assert "The relay carries what the lead may not." in rows["starter_1"].why
    slip = next(s for s in slips(web, plan, None) if s.said["id"] == "r3")
    assert slip.why == ["The relay carries what the lead may not."]


def test_cautions_stand_where_the_hand_goes(plain):
    kinds = {s.place: {c["kind"] for c in s.cautions} for s in plain}
    assert "airbag" in kinds["steering column"]
    assert "airbag" not in kinds["brake pedal"]
    assert "data" in kinds["driver's kick panel"]


def test_a_reason_is_not_said_twice():
    assert said_once(["a", "a", "a; and so", "b", ""]) == ["a; and so", "b"]


@pytest.mark.parametrize("id", ["two-starters", "vacuum"])
def test_the_page_calls_the_wires_of_the_car_by_words(client, app, id):
    """Ids stand in lines that can be typed, in links and in code; nowhere else."""
    page = client.get(f"/job/{id}").text
    for _ in range(300):
        if "still to measure" in page or "every wire is measured" in page:
            break
        time.sleep(0.2)
        page = client.get(f"/job/{id}").text
    text = re.sub(r"<(script|svg|code|style)\b.*?</\1>", " ", page, flags=re.S)
    text = html.unescape(re.sub(r"<[^>]*>", " ", text))
    job = app.state.folder.job(id)
    ids = [c.id for c in job.vehicle.circuits if "_" in c.id]
    assert len(ids) > 8
    assert [i for i in ids if re.search(rf"(?<!\w){re.escape(i)}(?!\w)", text)] == []
    assert "park/neutral" in text
    assert "park neutral" not in text
    assert "at your stock's prices" in text
