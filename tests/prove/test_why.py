"""A verdict unfolds to the lines it rests on; what would have prevented a breach is proven."""

from __future__ import annotations

import re
from pathlib import Path

import prove.sabotage_works
import pytest
from prove.base import Case
from prove.sabotage import SPOILT

from startwright.car.build import wire_up
from startwright.example import path as shop
from startwright.prove import play, prove
from startwright.prove.model import Model
from startwright.prove.rules import rules
from startwright.prove.why import TWINS, Why, why
from startwright.records.errors import RecordError
from startwright.records.lines import Lines
from startwright.records.read import read_job, read_wiring

FOLDER = shop() / "bestiary"


def unfolded(name: str, rule: str) -> Why:
    lines = Lines(below=FOLDER)
    job = read_job(FOLDER / f"{name}.job.yaml", lines=lines)
    wiring = read_wiring(FOLDER / f"{name}.wiring.yaml", lines=lines)
    return why(job, wiring, prove(job, wiring), rule, lines=lines)


def written_at(where: str) -> str:
    """The text that a record line points at."""
    found = re.fullmatch(r"(\S+):(\d+) \S+", where)
    assert found, where
    lines = (FOLDER / found[1]).read_text().splitlines()
    return "\n".join(lines[int(found[2]) - 1 : int(found[2]) + 1])


def test_a_breach_names_what_is_missing_and_what_would_have_prevented_it() -> None:
    it = unfolded("open-hood", "hood-ends")
    missing = [p for p in it.rests if p.missing]
    assert [p.what for p in missing] == ["lead hood_in"]
    assert "no run joins it" in missing[0].says
    assert "hood_in" in written_at(missing[0].where)
    assert any(p.what == "guard hood" and not p.missing for p in it.rests)
    assert [c.do for c in it.cures] == ["join lead hood_in to circuit hood"]


def test_every_point_stands_where_it_says() -> None:
    for name, rule in (("wrong-tach", "no-crank-into-running"), ("kick-back", "coils-suppressed")):
        it = unfolded(name, rule)
        assert it.way
        for point in (*it.rests, *it.way):
            kind, _, id = point.what.partition(" ")
            if kind in ("run", "part", "article", "circuit", "lead", "step", "guard"):
                assert id in written_at(point.where), point


def test_a_latch_is_found_among_many_runs() -> None:
    it = unfolded("relay-that-never-lets-go", "hood-ends")
    assert it.cures[0].do == "leave run hold out"
    assert it.cures[0].but == ()
    assert not any(p.missing for p in it.rests)


@pytest.mark.parametrize(
    ("name", "rule", "do"),
    [
        ("crossed-locks", "locks-on-command", "exchange what runs r_lock and r_unlock go to"),
        ("wrong-tach", "no-crank-into-running", "join lead tach_in to circuit tach instead"),
        ("kick-back", "coils-suppressed", "take relay for K1"),
        ("yellow-wire", "hands-off", "leave run r_oops out"),
        ("never-tried", "can-start", "join lead lever_in to circuit lever"),
    ],
)
def test_the_change_that_a_fitter_would_make_comes_first(name: str, rule: str, do: str) -> None:
    assert unfolded(name, rule).cures[0].do.startswith(do)


def test_a_rule_that_holds_shows_what_tried_it() -> None:
    case = Case()
    report = prove(case.job(), case.wiring())
    it = why(case.job(), case.wiring(), report, "crank-only-when-safe")
    assert it.result.holds
    assert it.cures == ()
    assert [t.says for t in it.twins] == list(TWINS["crank-only-when-safe"])
    fed, refused = (t.line for t in it.twins)
    assert fed is not None
    clock, _ = play(case.job(), case.wiring(), f"{fed} → starter on")
    assert clock.row()["start"] > 0
    assert refused is not None
    assert refused.endswith("command start")
    assert play(case.job(), case.wiring(), f"{refused} → unit idle")[1] == [True]
    assert {p.what for p in it.way} >= {"run r_start", "lead start", "circuit starter"}
    assert {p.what for p in it.rests} >= {"run r_hood", "run r_lever", "guard hood", "step crank"}


def test_every_twin_has_its_words() -> None:
    case = Case()
    for rule in rules(Model(wire_up(case.job(), case.wiring()))):
        if rule.slug != "as-under-the-key":
            assert len(TWINS[rule.slug]) == len(rule.twins) + len(rule.edge_twins), rule.slug


@pytest.mark.parametrize(
    ("name", "missing", "do"),
    [
        ("unit_without_ground", "lead gnd", "join lead gnd to bare metal of the body"),
        ("unit_without_feed", "lead feed", "join lead feed to circuit batt"),
        ("horn_forgotten", "circuit horn", "join lead horn to circuit horn"),
        ("starter_forgotten", "circuit starter", "join lead start to circuit starter"),
    ],
)
def test_what_was_forgotten_is_named(name: str, missing: str, do: str) -> None:
    rule, make = SPOILT[name]
    case = make()
    it = why(case.job(), case.wiring(), prove(case.job(), case.wiring()), rule)
    assert [p.what for p in it.rests if p.missing] == [missing]
    assert it.cures[0].do == do


def test_a_car_without_a_hood_switch_gets_one_from_the_shelf() -> None:
    case = Case().without("r_hood")
    case.vehicle["circuits"] = [c for c in case.vehicle["circuits"] if c["id"] != "hood"]
    report = prove(case.job(), case.wiring())
    it = why(case.job(), case.wiring(), report, "hood-ends")
    assert [c.do for c in it.cures] == [
        "fit hood-pin from the shelf between lead hood_in and ground"
    ]
    case.parts["S1"] = "hood-pin"
    case.runs["r_pin"] = ("S1.a", "ground.body")
    it = why(case.job(), case.wiring(), prove(case.job(), case.wiring()), "hood-ends")
    assert [c.do for c in it.cures] == ["join lead hood_in to S1, pin b"]


def test_a_cut_that_was_not_joined_again() -> None:
    case = SPOILT["starter_cut_not_joined_again"][1]()
    report = prove(case.job(), case.wiring())
    it = why(case.job(), case.wiring(), report, "car-unchanged")
    assert any(c.do.startswith("join the two sides of") for c in it.cures)


def test_a_unit_without_the_guard_is_cured_by_no_wiring() -> None:
    case = SPOILT["hood_guard_left_out_of_the_unit"][1]()
    case = case.without("r_lock", "r_unlock", "r_horn", "r_lamps", "r_acc")
    report = prove(case.job(), case.wiring())
    it = why(case.job(), case.wiring(), report, "hood-ends")
    assert it.cures == ()
    assert it.tried > 5
    (missing,) = [p for p in it.rests if p.missing]
    assert (missing.what, missing.where) == ("guard hood", "unit guards")


def test_trying_can_be_stopped() -> None:
    case = Case().without("r_hood")
    report = prove(case.job(), case.wiring())
    it = why(case.job(), case.wiring(), report, "hood-ends", progress=lambda tried: False)
    assert (it.cures, it.tried) == ((), 0)


def test_a_rule_that_is_none() -> None:
    case = Case()
    report = prove(case.job(), case.wiring())
    with pytest.raises(RecordError, match="hood-ends, or another of"):
        why(case.job(), case.wiring(), report, "hood-end")


def test_a_want_of_nobody_is_not_tried() -> None:
    case = Case()
    report = prove(case.job(), case.wiring())
    it = why(case.job(), case.wiring(), report, "panics")
    assert it.result.holds is None
    assert it.twins == ()


def test_the_files_travel(tmp_path: Path) -> None:
    """Wherever the records lie, a line is told as the file was named."""
    for file in ("open-hood.job.yaml", "open-hood.wiring.yaml"):
        (tmp_path / file).write_text((FOLDER / file).read_text())
    lines = Lines()
    job = read_job(tmp_path / "open-hood.job.yaml", lines=lines)
    wiring = read_wiring(tmp_path / "open-hood.wiring.yaml", lines=lines)
    it = why(job, wiring, prove(job, wiring), "hood-ends", lines=lines)
    assert it.way[0].where.startswith(f"{tmp_path}/open-hood.wiring.yaml:")
