"""Cars of every kind by chance: what is planned is safe, what is not says why.

A few hundred seeds were run when the planner learnt a new way; the suite keeps a share of them.
"""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plan.cars import wide_job

from startwright.job import work
from startwright.plan import NoPlan, plan


@settings(derandomize=True, deadline=None, max_examples=40,
          suppress_health_check=list(HealthCheck))  # fmt: skip
@given(st.integers(0, 100_000))
def test_what_is_planned_for_any_car_is_safe(seed: int) -> None:
    out = work(wide_job(seed))
    for t in out.tries:
        assert t.proof.verdict == "proven", [r.says for r in t.proof.rules if r.holds is False]
    assert out.safe or not out.tries
    if out.refusal is not None:
        assert out.refusal.reasons
        assert out.refusal.resolve


def test_the_share_of_plans_is_not_nothing() -> None:
    """Buttons, pumps and measured keys are among what is planned, not the refused alone."""
    planned = {"button": 0, "pump": 0, "key": 0, "imitated": 0}
    for seed in range(160):
        job = wide_job(seed)
        answer = plan(job)
        if isinstance(answer, NoPlan):
            continue
        made = " ".join(answer.made_of.values())
        planned["button"] += job.vehicle.start == "push_button"
        planned["imitated"] += "|foot|" in made
        planned["pump"] += any(c.style == "vacuum" and f"|{c.id}|" in made
                               for c in job.vehicle.circuits)  # fmt: skip
        planned["key"] += "|key|" in made
    assert all(n >= 3 for n in planned.values()), planned
