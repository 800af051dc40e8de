"""The cars and units of the wirings that the prover calls sound: the planner finds a way for each.

A careful hand has wired every one of them (`tests/prove/sound*.py`), so a refusal would be wrong.
"""

from __future__ import annotations

import pytest
from prove.base import Case
from prove.push_button import imitating
from prove.sound import SOUND
from prove.test_vacuum import pumped

from startwright.job import work
from startwright.records import WholeJob

CASES = {**SOUND, "imitating": imitating, "pumped": pumped}


def _stocked(case: Case) -> WholeJob:
    job = case.job()
    parts = [p.model_copy(update={"count": 9}) for p in job.stock.parts]
    return job.model_copy(update={"stock": job.stock.model_copy(update={"parts": parts})})


@pytest.mark.parametrize("name", CASES)
def test_a_car_that_a_careful_hand_has_wired_is_planned(name: str) -> None:
    out = work(_stocked(CASES[name]()))
    assert out.safe, (out.refusal, [t.wanting for t in out.tries])
