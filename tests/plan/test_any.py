"""Any valid records: the planner answers, with a plan or with reasons, and never falls over."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from strategies import sound_jobs, stocks, units, vehicles

from startwright.job import work
from startwright.plan import NoPlan, plan
from startwright.records import WholeJob
from startwright.records.words import WANTS


@settings(derandomize=True, deadline=None, max_examples=60,
          suppress_health_check=list(HealthCheck))  # fmt: skip
@given(vehicles(), units(), stocks(), st.lists(st.sampled_from(WANTS), unique=True))
def test_any_records_get_an_answer(vehicle, unit, stock, wants):
    job = WholeJob(
        format="startwright/job/1", id="any", vehicle=vehicle, unit=unit, stock=stock, wants=wants
    )
    answer = plan(job, alternatives=1)
    if isinstance(answer, NoPlan):
        assert answer.reasons
        assert all(answer.reasons)
    else:
        assert answer.needs


@settings(derandomize=True, deadline=None, max_examples=10)
@given(sound_jobs())
def test_what_a_careful_hand_could_build_is_planned_and_proven(sound):
    out = work(sound.job)
    assert out.safe, [t.wanting for t in out.tries]
