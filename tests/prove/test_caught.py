"""What on the shelf catches a fault: named only where it was seen to."""

import pytest
from prove import sound
from prove.base import Case

from startwright.car.build import wire_up
from startwright.example import path as shop
from startwright.prove import prove
from startwright.prove.caught import Catcher, clearing, remedies
from startwright.prove.faults import all_faults, fault_named, single_faults
from startwright.prove.faulty import grown
from startwright.prove.judge import Judge
from startwright.prove.model import Model
from startwright.prove.search import search
from startwright.records.read import read_job, read_wiring
from startwright.records.reports import FaultResult


def _judge(case: Case) -> Judge:
    healthy = Model(wire_up(case.job(), case.wiring()))
    return Judge(healthy, search(healthy))


def _caught(case: Case, name: str, most: int = 40) -> list[str]:
    judge = _judge(case)
    fault = fault_named(judge.healthy.car, name)
    assert fault is not None
    return Catcher(judge, most).by(judge.result(fault))


def test_a_second_hood_switch_catches_a_hood_wire_that_opens() -> None:
    assert _caught(sound.plain(), "r_hood open") == ["hood-pin"]


def test_built_by_hand_it_does_the_same() -> None:
    case = sound.plain()
    case.parts["S1"] = "hood-pin"
    case.run("r_s1", "unit.hood_in", "S1.a")
    case.run("r_s2", "S1.b", "ground.body")
    assert prove(case.job(), case.wiring()).verdict == "proven"
    judge = _judge(case)
    fault = fault_named(judge.healthy.car, "r_hood open")
    assert fault is not None
    assert judge.result(fault).worst == "none"


def test_a_switch_of_ones_own_is_watched_on_both_its_sides() -> None:
    """A second one catches the first one's wire to ground as it does its wire to the unit."""
    case = sound.plain()
    case.runs.pop("r_hood")
    case.parts["S1"] = "hood-pin"
    case.run("r_s1", "unit.hood_in", "S1.a")
    case.run("r_s2", "S1.b", "ground.body")
    for name in ("r_s1 open", "r_s2 open", "S1 stuck open"):
        assert _caught(case, name) == ["hood-pin"], name


def test_a_fuse_that_the_wire_and_the_load_allow_catches_a_short() -> None:
    """The least that carries what the feed gives, and no more than the wire carries."""
    assert _caught(sound.plain(), "r_feed short to ground") == ["fuse-30"]
    case = sound.plain()
    case.stock["parts"] = [p for p in case.stock["parts"] if p["id"] != "fuse-30"]
    assert _caught(case, "r_feed short to ground") == []


def test_a_short_that_a_fitted_fuse_clears_wants_no_other() -> None:
    case = sound.feed_through_a_fuse()
    case.size_mm2 = 4.0
    assert _caught(case, "f2 short to ground") == ["F1"]


def test_before_a_fitted_fuse_another_is_wanted() -> None:
    """The wire from the car's battery lead to the fuse holder is behind no fuse of ours."""
    healthy = Model(
        wire_up(read_job(shop() / "jobs/plain.yaml"), read_wiring(shop() / "wirings/plain.yaml"))
    )
    judge = Judge(healthy, search(healthy))
    caught = {}
    for name in ("r1 short to ground", "r2 short to ground"):
        fault = fault_named(healthy.car, name)
        assert fault is not None
        caught[name] = Catcher(judge).by(judge.result(fault))
    assert caught == {"r1 short to ground": ["fuse-15"], "r2 short to ground": ["F1"]}


def test_a_fitted_fuse_that_the_wire_does_not_outlast_clears_nothing() -> None:
    case = sound.feed_through_a_fuse()
    case.size_mm2 = 0.5
    case.stock["parts"] = [p for p in case.stock["parts"] if p["id"] != "fuse-15"]
    assert _caught(case, "f2 short to ground") == []


def test_only_a_fuse_on_the_way_of_a_short_may_clear_it() -> None:
    case = sound.feed_through_a_fuse()
    case.parts |= {"F1": "fuse-15", "F9": "fuse-15"}
    case.run("f_9", "vehicle.batt", "F9.a")
    car = wire_up(case.job(), case.wiring())
    for name, fuses in (("f2", ["F1"]), ("r_ign", ["F1"]), ("r_horn", [])):
        fault = fault_named(car, f"{name} short to ground")
        assert fault is not None
        result = FaultResult(fault=str(fault), worst="damage", breaks=["no-short"], noticed=True)
        assert clearing(car, fault, result) == fuses


@pytest.mark.parametrize("name", ["r_ign", "r_acc", "r_start"])
def test_a_fuse_at_the_units_end_leaves_what_the_key_feeds_shorted(name: str) -> None:
    """The wire hangs on the key's own contact as well: it is shorted as before."""
    assert _caught(sound.plain(), f"{name} short to ground") == []


def test_no_try_is_spent_on_a_fuse_that_cannot_help() -> None:
    """A diode, further down the list of a job with many shorts and fuses, is tried as well."""
    case = sound.lights_by_side_with_diodes()
    case.stock["parts"] += [
        {"id": f"fuse-{a}", "kind": "fuse", "rating_A": a} for a in (1, 2, 3, 5, 7.5, 10, 20, 25)
    ]
    judge = _judge(case)
    car = judge.healthy.car
    for name in ("r_ign short to ground", "r_acc short to ground"):
        fault = fault_named(car, name)
        assert fault is not None
        assert list(remedies(car, fault, judge.result(fault))) == []
    singles = single_faults(judge.healthy, judge.searched, judge=judge)
    assert singles is not None
    told = Catcher(judge, 40).results(singles)
    assert told is not None
    caught = {r.fault: r.caught_by for r in told}
    assert caught["D_left stuck closed"] == caught["D_right stuck closed"] == ["diode"]


def test_no_fuse_is_quick_enough_for_a_transistor() -> None:
    case = sound.second_ignition_by_relay()
    case.stock["parts"].append({"id": "fuse-1", "kind": "fuse", "rating_A": 1})
    lead = next(d for d in case.unit["leads"] if d["id"] == "run_sig")
    run = next(r for r, (a, b) in case.runs.items() if "unit.run_sig" in (a, b))
    assert lead.get("limit_A", 0.5) < 10
    judge = _judge(case)
    fault = fault_named(judge.healthy.car, f"{run} short to battery")
    assert fault is not None
    result = judge.result(fault)
    assert "no-short" in result.breaks
    assert Catcher(judge).by(result) == []


def test_a_fuse_is_named_that_carries_the_load_for_good() -> None:
    """At three quarters of its rating (fuse makers' application practice), as `size` has it."""
    case = sound.plain()
    case.stock["parts"] += [{"id": f"fuse-{a}", "kind": "fuse", "rating_A": a} for a in (20, 25)]
    for id, load_A in (("ign", 11.0), ("acc", 5.0), ("starter", 2.0), ("lights", 1.0)):
        case.circuit(id, load_A=load_A)
    # 17 A: more than three quarters of 20
    assert _caught(case, "r_feed short to ground") == ["fuse-25"]


def test_a_second_contact_catches_one_that_sticks() -> None:
    assert _caught(sound.second_ignition_by_relay(), "K1.87 stuck closed") == ["relay"]


@pytest.mark.parametrize("name", ["r_brake open", "r_start short to battery"])
def test_what_nothing_on_the_shelf_catches(name: str) -> None:
    assert _caught(sound.plain(), name) == []


def test_an_empty_shelf_catches_nothing() -> None:
    case = sound.plain()
    case.stock["parts"] = []
    assert _caught(case, "r_hood open") == []


def test_no_more_is_tried_than_the_bound() -> None:
    assert _caught(sound.plain(), "r_hood open", most=0) == []


@pytest.mark.parametrize("name", ["plain", "second_ignition_by_relay"])
def test_a_part_more_is_judged_as_if_by_itself(name: str) -> None:
    """What is taken over from the wiring without the part is what a search by itself finds."""
    case = sound.SOUND[name]()
    fuse = next(p for p in case.stock["parts"] if p["kind"] == "fuse")
    case.stock["parts"].append({**fuse, "id": "fuse-small", "rating_A": 1})
    judge = _judge(case)
    car = judge.healthy.car
    taken_over = 0
    for fault in all_faults(car):
        result = judge.result(fault).model_copy(update={"breaks": ["no-short"]})
        for remedy in remedies(car, fault, result):
            grown = remedy.built(car.job)
            _, searched = judge.beside(grown)
            alone = search(Model(grown))
            assert set(searched.breaches) == set(alone.breaches), (str(fault), remedy.article)
            taken_over += searched.explored is judge.searched.explored
    assert taken_over > 10


def test_a_part_more_that_leads_a_silent_line_away_is_seen() -> None:
    """Two lines without a level, joined by a diode: the sound wiring says nothing of it."""
    judge = _judge(sound.plain())
    case = sound.plain()
    case.parts["D9"] = "diode"
    case.run("r_d1", "vehicle.tach", "D9.anode")
    case.run("r_d2", "D9.cathode", "vehicle.bus")
    car = wire_up(case.job(), case.wiring())
    assert grown(judge.healthy.car, car)
    _, searched = judge.beside(car)
    assert "car-unchanged" in searched.breaches
    assert set(searched.breaches) == set(search(Model(car)).breaches)
