"""Cases judged by good engineering; most of them before they were run."""

from __future__ import annotations

import prove.bench.relays
import prove.bench.senses
import prove.bench.unit
import pytest
from prove.bench import CASES, Bench

from startwright.prove import play, prove


@pytest.mark.parametrize("name", CASES)
def test_case(name: str) -> None:
    rules, change = CASES[name]
    bench = Bench()
    change(bench)
    job, wiring = bench.job(), bench.wiring()
    report = prove(job, wiring)
    broken = {r.rule: r for r in report.rules if r.holds is False}
    assert report.verdict == ("breached" if rules else "proven"), sorted(broken)
    assert rules <= set(broken)
    for result in report.rules:
        if result.trace is not None and (result.holds or result.kind != "works"):
            assert all(play(job, wiring, result.trace)[1]), (result.rule, result.trace)
