"""A breached wiring shrinks to runs of which each is needed, for the reason it had."""

from __future__ import annotations

import prove.sabotage_hostile
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from prove import sound
from prove.base import Case
from prove.sabotage import SPOILT

from startwright.car.build import wire_up
from startwright.example import path as shop
from startwright.prove import play, prove
from startwright.prove.decided import decided
from startwright.prove.model import Model
from startwright.prove.shrink import fewest, shrink, smallest
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.read import read_job, read_wiring
from startwright.records.wiring import Wiring

FOLDER = shop() / "bestiary"


def danger(name: str) -> tuple[WholeJob, Wiring]:
    return (
        read_job(FOLDER / f"{name}.job.yaml"),
        read_wiring(FOLDER / f"{name}.wiring.yaml"),
    )


def broken(job: WholeJob, wiring: Wiring) -> set[str]:
    return {r.rule for r in prove(job, wiring).rules if r.holds is False}


@pytest.mark.parametrize(
    ("name", "rule", "runs"),
    [
        ("yellow-wire", "hands-off", "r_oops"),
        ("kick-back", "coils-suppressed", "k85"),
        ("joined-sides", "car-unchanged", "left right"),
        ("lamp-to-ground", "no-short", "r_feed r_gnd r_lamps"),
        ("open-hood", "hood-ends", "r_feed r_gnd r_start r_lever"),
        ("buzzer", "settles", "r_feed r_gnd r_lever k30 k86 k85"),
        ("thin-lead", "within-limits", "r_feed r_gnd r_ign r_lever"),
    ],
)
def test_the_fewest_runs_that_still_break_it(name: str, rule: str, runs: str) -> None:
    job, wiring = danger(name)
    found = smallest(job, wiring, rule)
    assert [r.id for r in found.wiring.runs] == runs.split()
    assert found.minimal
    assert rule in broken(job, found.wiring)
    assert set(found.left_out) | set(runs.split()) == {r.id for r in wiring.runs}


def test_each_run_that_is_left_is_needed() -> None:
    """Shown by the whole proof, not by the test that shrinking used."""
    job, wiring = danger("two-that-race")
    small = shrink(job, wiring, "settles")
    assert 0 < len(small.runs) < len(wiring.runs)
    for run in small.runs:
        less = small.model_copy(update={"runs": [r for r in small.runs if r is not run]})
        assert "settles" not in broken(job, less), run.id


def test_its_line_plays_on_the_small_wiring_and_no_part_is_left_over() -> None:
    case = SPOILT["hood_not_sensed"][1]()
    found = smallest(case.job(), case.wiring(), "hood-ends")
    assert found.result.trace is not None
    _, met = play(case.job(), found.wiring, found.result.trace)
    assert met
    assert all(met)
    ends = {e.partition(".")[0] for r in found.wiring.runs for e in r.ends}
    assert all(p.id in ends for p in found.wiring.parts)


def test_a_latch_stays_a_latch() -> None:
    """Cutting the hood off would break the same rule with fewer runs, but for another reason."""
    job, wiring = danger("relay-that-never-lets-go")
    found = smallest(job, wiring, "hood-ends")
    ids = {r.id for r in found.wiring.runs}
    assert {"hold", "r_hood", "k85", "k87", "k30"} <= ids
    assert "r_brake" not in ids
    clock, _ = play(job, found.wiring, "command start")
    assert not clock.idle, "the unit still starts"


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("charge_lamp_line_feeds_the_ignition_back", "r_ign d1 d2"),
        ("brake_input_that_takes_its_time", "r_brake"),
        ("tach_wire_cut_by_the_way", ""),
    ],
)
def test_the_reason_stays(name: str, kept: str) -> None:
    """A back-feed is no blindness to the ignition; a slow input is no missing one."""
    rule, make = SPOILT[name]
    case = make()
    found = smallest(case.job(), case.wiring(), rule)
    assert set(kept.split()) <= {r.id for r in found.wiring.runs}
    assert bool(found.wiring.runs) == bool(kept)
    assert bool(found.wiring.cuts) == bool(case.cuts)
    assert found.result.holds is False


def test_what_the_wiring_decides_is_what_the_proof_says() -> None:
    """Without a line of its own a breach was decided by the wiring alone, and the other way."""
    for name in ("tach_wire_cut_by_the_way", "brake_input_that_takes_its_time", "hood_not_sensed"):
        rule, make = SPOILT[name]
        case = make()
        report = prove(case.job(), case.wiring())
        result = next(r for r in report.rules if r.rule == rule)
        car = wire_up(case.job(), case.wiring())
        assert decided(Model(car), rule) == (True if result.trace is None else None)


def test_the_same_every_time() -> None:
    job, wiring = danger("joined-sides")
    assert smallest(job, wiring, "car-unchanged") == smallest(job, wiring, "car-unchanged")


def test_of_two_ways_the_shorter_stays() -> None:
    """Ignition fed by a lead and by a relay: the lead alone is enough to break the rule."""
    case = sound.second_ignition_by_relay().without("r_hood")
    small = shrink(case.job(), case.wiring(), "hood-ends")
    assert len(small.runs) == 4
    assert small.parts == []


def test_settings_and_cuts_go_too() -> None:
    case = SPOILT["brake_not_sensed"][1]()
    case.cuts = ["horn"]
    case.settings = {"engine_sense": "tach"}
    case = case.without("r_horn")
    small = shrink(case.job(), case.wiring(), "brake-ends")
    assert (small.cuts, small.settings) == ([], {})


def test_a_cut_that_was_joined_again_is_not_made_a_reason() -> None:
    """The pedal's wire is cut and joined by a relay at rest; what breaks the rule is the press."""
    job, wiring = danger("last-press")
    found = smallest(job, wiring, "car-unchanged")
    assert found.minimal
    assert {r.id for r in found.wiring.runs} >= {"r_feed", "r_gnd", "r_button"}
    assert found.wiring.cuts == []
    (told,) = (r for r in prove(job, found.wiring).rules if r.rule == "car-unchanged")
    assert told.holds is False
    for run in found.wiring.runs:
        runs = [r for r in found.wiring.runs if r.id != run.id]
        less = found.wiring.model_copy(update={"runs": runs})
        assert "car-unchanged" not in {r.rule for r in prove(job, less).rules if r.holds is False}


def test_a_cut_that_was_not_joined_again_is_the_reason() -> None:
    rule, make = SPOILT["starter_cut_not_joined_again"]
    case = make()
    found = smallest(case.job(), case.wiring(), rule)
    assert found.wiring.cuts == case.cuts


def test_it_can_be_stopped_and_says_so() -> None:
    job, wiring = danger("open-hood")
    found = smallest(job, wiring, "hood-ends", progress=lambda tests, runs: tests < 6)
    assert not found.minimal
    assert found.tests == 6
    assert "hood-ends" in broken(job, found.wiring)


@pytest.mark.parametrize("rule", ["brake-ends", "as-under-the-key", "can-start", "no-such-rule"])
def test_a_rule_that_is_not_broken_or_only_about_working(rule: str) -> None:
    job, wiring = danger("open-hood")
    with pytest.raises(RecordError, match="crank-only-when-safe, hood-ends"):
        smallest(job, wiring, rule)


def test_nothing_to_shrink() -> None:
    case = Case()
    with pytest.raises(RecordError, match="there is none"):
        shrink(case.job(), case.wiring(), "hood-ends")


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    st.integers(0, 30).flatmap(
        lambda n: st.tuples(st.just(n), st.lists(st.sets(st.integers(0, n)), min_size=1))
    )
)
def test_fewest_is_enough_and_none_of_it_can_go(drawn: tuple[int, list[set[int]]]) -> None:
    n, ways = drawn

    def still(some: list[int]) -> bool:
        return any(way <= set(some) for way in ways)

    found = fewest(list(range(n + 1)), still)
    assert still(found)
    assert found == sorted(found)
    for k in range(len(found)):
        assert not still(found[:k] + found[k + 1 :])
