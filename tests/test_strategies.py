"""What the shared strategies promise: sound is proven and holds, sabotaged breaks as foretold."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import Phase, given, settings
from strategies import SABOTAGES, Sound, sabotage_job, sound_jobs

from startwright.prove import prove
from startwright.records import ProofReport
from startwright.size import size


def broken(report: ProofReport) -> set[str]:
    return {rule.rule for rule in report.rules if rule.holds is False}


def on_a_sound_job(examples: int) -> Callable[[Callable[[Sound], None]], None]:
    def run(test: Callable[[Sound], None]) -> None:
        limited = settings(
            max_examples=examples, derandomize=True, deadline=None, phases=[Phase.generate]
        )
        limited(given(sound_jobs())(test))()

    return run


def test_sound_jobs_are_proven_and_hold() -> None:
    seen: list[str] = []

    @on_a_sound_job(5)
    def check(sound: Sound) -> None:
        report = prove(sound.job, sound.wiring)
        assert (report.verdict, broken(report)) == ("proven", set())
        assert size(sound.job, sound.wiring).verdict == "holds"
        seen.append(report.verdict)

    assert seen


@pytest.mark.parametrize("sabotage", SABOTAGES)
def test_sabotage_breaks_a_rule_that_was_foretold(sabotage: str) -> None:
    @on_a_sound_job(1)
    def check(sound: Sound) -> None:
        made = sabotage_job(sound, sabotage)
        report = prove(made.job, made.wiring)
        assert report.verdict == "breached"
        assert broken(report) & made.breaks
