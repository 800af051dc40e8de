"""Pairs of faults: neither is noticed or a hazard alone, together they are; the bound is said."""

import pytest
from prove import sound
from prove.base import Case

from startwright.car.build import wire_up
from startwright.prove import play, prove
from startwright.prove.faults import Judge, fault_named, single_faults
from startwright.prove.model import Model
from startwright.prove.pairs import pairs_of
from startwright.prove.search import search
from startwright.records.reports import PairResult, ProofReport


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
