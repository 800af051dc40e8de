"""Pairs of faults: neither is noticed or a hazard alone, together they are; the bound is said."""

from dataclasses import replace
from itertools import combinations
from random import Random

import pytest
from prove import sound
from prove.base import Case

from startwright.car.build import wire_up
from startwright.prove import play, prove
from startwright.prove.faults import all_faults, fault_named, single_faults
from startwright.prove.judge import Judge
from startwright.prove.model import Model
from startwright.prove.pairs import pairs_of
from startwright.prove.search import search
from startwright.records.reports import PairResult, PairsBound, ProofReport


def two_hood_switches() -> Case:
    """The car's hood wire, and a switch of one's own beside it."""
    case = sound.plain().without("r_lock", "r_unlock", "r_horn", "r_lamps")
    case.wants = ["remote_start"]
    case.parts["S1"] = "hood-pin"
    case.run("r_s1", "unit.hood_in", "S1.a")
    case.run("r_s2", "S1.b", "ground.body")
    return case


@pytest.fixture(scope="module")
def report() -> ProofReport:
    case = two_hood_switches()
    return prove(case.job(), case.wiring(), pairs=True)


def _pair(report: ProofReport, one: str, other: str) -> PairResult | None:
    assert report.pairs is not None
    return next((p for p in report.pairs if p.faults == [one, other]), None)


def test_two_that_nobody_notices_are_a_hazard_together(report: ProofReport) -> None:
    assert report.faults is not None
    for name in ("r_hood open", "r_s1 open"):
        single = next(f for f in report.faults if f.fault == name)
        assert (single.worst, single.noticed) == ("none", False)
    pair = _pair(report, "r_hood open", "r_s1 open")
    assert pair is not None
    assert "hood-ends" in pair.breaks


@pytest.mark.parametrize("gone", [("r_hood",), ("r_s1",), ("r_hood", "r_s1")])
def test_a_wiring_without_the_runs_says_the_same(gone: tuple[str, ...]) -> None:
    case = two_hood_switches().without(*gone)
    broken = {r.rule for r in prove(case.job(), case.wiring()).rules if r.holds is False}
    assert ("hood-ends" in broken) == (len(gone) == 2)


def test_the_line_of_a_pair_plays(report: ProofReport) -> None:
    pair = _pair(report, "r_hood open", "r_s1 open")
    assert pair is not None
    assert pair.trace is not None
    assert "fault r_hood open" in pair.trace
    assert "fault r_s1 open" in pair.trace
    case = two_hood_switches()
    clock, _ = play(case.job(), case.wiring(), f"{pair.trace} → ignition on")
    row = clock.row()
    assert row["hood"] == 1
    assert row["out.ign"] == 1


def test_all_pairs_were_looked_at(report: ProofReport) -> None:
    bound = report.pairs_bound
    assert bound is not None
    assert bound.looked_at == bound.pairs <= bound.unnoticed * (bound.unnoticed - 1) // 2


def test_a_bound_is_kept_and_said() -> None:
    case = two_hood_switches()
    healthy = Model(wire_up(case.job(), case.wiring()))
    done = search(healthy)
    judge = Judge(healthy, done)
    singles = single_faults(healthy, done, judge=judge)
    assert singles is not None
    found = pairs_of(judge, singles, most=2)
    assert found is not None
    assert found[1].looked_at == 2 < found[1].pairs
    assert pairs_of(judge, singles, lambda k: k < 1) is None


def _told(found: tuple[list[PairResult], PairsBound] | None) -> object:
    assert found is not None
    return [(p.faults, p.breaks, p.trace is None) for p in found[0]], found[1]


def test_pairs_by_short_cut_and_in_full_agree() -> None:
    """Every pair of what nobody notices, and some of all others: hazards, shorts, dead feeds."""
    case = two_hood_switches()
    healthy = Model(wire_up(case.job(), case.wiring()))
    done = search(healthy)
    quick, full = Judge(healthy, done), Judge(healthy, done, short_cuts=False)
    singles = single_faults(healthy, done, judge=quick)
    assert singles is not None
    assert _told(pairs_of(quick, singles)) == _told(pairs_of(full, singles))
    every = [p for p in combinations(all_faults(healthy.car), 2) if p[0].thing != p[1].thing]
    broken = set()
    for one, other in Random(1).sample(every, 24):
        both = []
        for judge in (quick, full):
            struck = judge.case(one), judge.case(other)
            assert struck[0] is not None
            assert struck[1] is not None
            case_of_both = judge.case(replace(one, also=other), after=(struck[0], struck[1]))
            assert case_of_both is not None
            both.append(sorted(case_of_both.watcher.broken))
        assert both[0] == both[1], (str(one), str(other))
        broken |= {*both[0]}
    assert {"hood-ends", "no-short", "start-ends"} <= broken


def test_a_short_cut_of_pairs_that_takes_too_much_over_is_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Were the second fault looked at in what the sound car reaches, the pair would pass."""
    case = two_hood_switches()
    healthy = Model(wire_up(case.job(), case.wiring()))
    judge = Judge(healthy, search(healthy))
    one, other = (fault_named(healthy.car, n) for n in ("r_hood open", "r_s1 open"))
    assert one is not None
    assert other is not None
    first, second = judge.case(one), judge.case(other)
    assert first is not None
    assert second is not None
    both = replace(one, also=other)
    found = judge.case(both, after=(first, second))
    assert found is not None
    assert "hood-ends" in found.watcher.broken
    monkeypatch.setattr("startwright.prove.kept.Kept._same", lambda *_: True)
    crippled = Judge(healthy, search(healthy)).case(both)
    assert crippled is not None
    assert "hood-ends" not in crippled.watcher.broken


def test_the_second_fault_may_come_later() -> None:
    """A pair is searched from what each reaches alone: from more than the sound car's states."""
    case = two_hood_switches()
    healthy = Model(wire_up(case.job(), case.wiring()))
    judge = Judge(healthy, search(healthy))
    one, other = (fault_named(healthy.car, n) for n in ("r_hood open", "r_brake open"))
    assert one is not None
    assert other is not None
    first, second = judge.case(one), judge.case(other)
    assert first is not None
    assert second is not None
    both = judge.case(type(one)(one.thing, one.mode, also=other), after=(first, second))
    assert both is not None
    assert len(both.explored) >= max(len(first.explored), len(second.explored))
