"""The loop never trusts the planner: what size and proof find wanting goes back as an argument."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan.cars import hand, job, key_fed, random_job, vehicle

from startwright.job import changed, work
from startwright.plan import Planned, plan
from startwright.records import ProofReport, RuleResult, SizeReport, WholeJob, Wiring
from startwright.records.read import read_job

HOLDS = SizeReport(verdict="holds", runs=[], fuses=[], contacts=[], starting={}, parked={})
PROVEN = ProofReport(verdict="proven", states=1, seconds=0, assumes=[], rules=[])


def sized(_: WholeJob, __: Wiring) -> SizeReport:
    return HOLDS


def believed(_: WholeJob, __: Wiring) -> ProofReport:
    return PROVEN


def breach(runs: list[str]) -> ProofReport:
    rule = RuleResult(rule="no-short", kind="damage", holds=False, exercised=True, runs=runs,
                      says="A short.")  # fmt: skip
    return PROVEN.model_copy(update={"verdict": "breached", "rules": [rule]})


def fails(**rows: list[dict[str, Any]]) -> SizeReport:
    return HOLDS.model_copy(update={"verdict": "fails", **rows})


def example(name: str) -> WholeJob:
    return read_job(Path(str(files("startwright.example"))) / "jobs" / f"{name}.yaml")


@pytest.mark.parametrize(
    "name",
    ["plain", "two-starters", "two-starters-small-unit", "transponder", "push-button", "vacuum"],
)
def test_every_example_is_worked_to_a_safe_plan(name):
    out = work(example(name))
    assert out.safe
    assert out.plan is not None
    assert out.refusal is None
    assert out.proof is not None
    assert out.proof.verdict == "proven"


def test_a_refused_job_has_no_tries():
    out = work(example("manual"))
    assert not out.safe
    assert out.plan is None
    assert out.tries == ()
    assert out.refusal is not None
    assert any("manual" in r for r in out.refusal.reasons)


def test_a_thin_wire_is_thickened():
    seen: list[float | None] = []

    def sizer(_: WholeJob, wiring: Wiring) -> SizeReport:
        run = next(r for r in wiring.runs if "unit.lamps" in r.ends)
        seen.append(run.size_mm2)
        if (run.size_mm2 or 0) >= 4:
            return HOLDS
        return fails(runs=[{"id": run.id, "holds": False, "needs_mm2": 4.0, "says": "too thin"}])

    out = work(job(), sizer=sizer, prover=believed)
    assert out.safe
    assert len(out.tries) == 2
    assert seen[0] < seen[1]
    assert "too thin" in out.tries[0].wanting[0]


def test_a_breach_forbids_the_way_that_it_names():
    car = vehicle(key_fed("ign_2", "ignition", ["run"], load_A=9.0))
    shapes: list[set[str]] = []

    def prover(j: WholeJob, wiring: Wiring) -> ProofReport:
        p = plan(j)
        assert isinstance(p, Planned)
        if p.wiring == wiring:
            named = [r for r, k in p.made_of.items() if "|borrow|" in k and r.startswith("r")]
            shapes.append({p.made_of[r] for r in named})
            return breach(named)
        return PROVEN

    out = work(job(car), sizer=sized, prover=prover)
    assert out.safe
    assert len(out.tries) == 2
    assert out.plan is not None
    assert not shapes[0] & set(out.plan.made_of.values())


def test_what_cannot_be_mended_is_told_and_never_called_safe():
    out = work(job(), sizer=sized, prover=lambda _, __: breach([]))
    assert not out.safe
    assert out.refusal is not None
    assert "no-short" in " ".join(out.refusal.reasons)
    assert len(out.tries) == 1


def test_a_proof_that_did_not_finish_is_not_a_proof():
    unfinished = PROVEN.model_copy(update={"verdict": "not finished"})
    out = work(job(), sizer=sized, prover=lambda _, __: unfinished)
    assert not out.safe
    assert out.refusal is not None


def test_the_rounds_are_bounded():
    calls = []

    def prover(_: WholeJob, wiring: Wiring) -> ProofReport:
        calls.append(1)
        return breach([r.id for r in wiring.runs])

    out = work(job(), sizer=sized, prover=prover, most_tries=3)
    assert not out.safe
    assert len(calls) <= 3


def test_a_contact_that_does_not_hold_takes_another_way():
    car = vehicle(hand("horn", "horn", "battery", 4.0))

    def sizer(_: WholeJob, wiring: Wiring) -> SizeReport:
        if any(f.of == "fuse-5" for f in wiring.parts):
            return fails(contacts=[{"id": "K1", "holds": False, "says": "too much"}])
        return HOLDS

    out = work(job(car, wants=("horn_chirp",)), sizer=sizer, prover=believed)
    assert out.safe
    assert len(out.tries) > 1


def test_a_plan_without_a_fault_is_left_as_it_is():
    out = work(job(), sizer=sized, prover=believed, alternatives=2)
    first = plan(job())
    assert isinstance(first, Planned)
    assert out.plan is not None
    assert out.plan.wiring == first.wiring
    assert len(out.plan.alternatives) == 2


@settings(derandomize=True, deadline=None, max_examples=12)
@given(st.integers(0, 100_000))
def test_what_is_planned_for_any_car_is_proven(seed):
    out = work(random_job(seed))
    assert out.safe or out.plan is None, (seed, [t.wanting for t in out.tries])


# ---- what changed ---------------------------------------------------------------------------


def test_the_same_plan_has_not_changed():
    p = plan(job())
    assert isinstance(p, Planned)
    assert not changed(p, p)
    assert not changed(p, p.wiring)


def test_parts_under_another_name_are_the_same():
    car = vehicle(hand("horn", "horn", "battery", 4.0))
    p = plan(job(car, wants=("horn_chirp",)))
    assert isinstance(p, Planned)
    text = p.wiring.model_dump_json(by_alias=True).replace("K1", "K9").replace("F1", "F7")
    assert not changed(p.wiring, Wiring.model_validate_json(text))


def test_runs_parts_settings_and_verdicts_are_told():
    before, after = plan(job()), plan(job(vehicle(drop=("hood", "tach"))))
    assert isinstance(before, Planned)
    assert isinstance(after, Planned)
    said = changed(before, after, size=(HOLDS, fails()), proof=(PROVEN, breach([])))
    assert any(s.startswith("new: ") and "S1" in s for s in said.runs)
    assert any(s.startswith("gone: vehicle.tach to unit.tach_in") for s in said.runs)
    assert said.parts == ["1 more hood-pin"]
    assert said.settings == ["engine_sense: tach is now volts"]
    assert said.verdicts == ["size: holds is now fails", "proof: proven is now breached"]


def test_a_thicker_run_is_a_change_of_that_run_alone():
    p = plan(job())
    assert isinstance(p, Planned)
    runs = [r.model_copy(update={"size_mm2": 10.0}) if r.id == "r3" else r for r in p.wiring.runs]
    said = changed(p.wiring, p.wiring.model_copy(update={"runs": runs}))
    assert len(said.runs) == 1
    assert "is now 10 mm²" in said.runs[0]
