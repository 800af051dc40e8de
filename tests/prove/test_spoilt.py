"""No unsafe wiring passes: each is breached by the rule meant for it, and the trace replays."""

import prove.sabotage_hostile
import prove.sabotage_more
import prove.sabotage_wired
import prove.sabotage_works
import prove.sabotage_world
import pytest
from prove.sabotage import SPOILT

from startwright.prove import play, prove


@pytest.mark.parametrize("name", SPOILT)
def test_spoilt_wirings_are_breached(name: str) -> None:
    rule, make = SPOILT[name]
    case = make()
    report = prove(case.job(), case.wiring())
    broken = {r.rule: r for r in report.rules if r.holds is False}
    assert report.verdict == "breached"
    assert rule in broken
    for result in broken.values():
        if result.trace is not None and result.kind != "works":
            _, met = play(case.job(), case.wiring(), result.trace)
            assert all(met), (result.rule, result.trace)


def test_every_searched_rule_has_a_wiring_that_breaks_it() -> None:
    reached = {rule for rule, _ in SPOILT.values()}
    case = SPOILT["hood_not_sensed"][1]()
    named = {r.rule for r in prove(case.job(), case.wiring()).rules}
    not_alone = {
        "can-be-tried",  # breaks with can-start
        "runs",
        "can-stop",
        "opens-trunk",
        "panics",
        "heats-seat",
        "defogs",
        "shows-armed",
    }
    assert named - reached - not_alone == {"only-what-is-called"} - reached
