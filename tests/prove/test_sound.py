"""No sound wiring is accused."""

import prove.sound_hostile
import prove.sound_more
import prove.sound_wired
import pytest
from prove.sound import SOUND

from startwright.prove import play, prove


@pytest.mark.parametrize("name", SOUND)
def test_sound_wirings_are_proven(name: str) -> None:
    case = SOUND[name]()
    report = prove(case.job(), case.wiring())
    broken = [(r.rule, r.trace, r.says) for r in report.rules if r.holds is False]
    assert (report.verdict, broken) == ("proven", [])
    assert all(r.exercised for r in report.rules if r.holds)


@pytest.mark.parametrize("name", ["plain", "reversing_locks_with_two_relays", "driver_first"])
def test_witnesses_replay(name: str) -> None:
    case = SOUND[name]()
    for rule in prove(case.job(), case.wiring()).rules:
        if rule.trace is not None and rule.holds:
            _, met = play(case.job(), case.wiring(), rule.trace)
            assert all(met), (rule.rule, rule.trace)
