"""Whether anyone would notice: what a fault lights or kills shows, what a computer alone sees not.

What each fault does to a car, and who would see it, is common practice, no source.
"""

from collections.abc import Callable

import pytest
from prove import sound, sound_hostile
from prove.base import Case

from startwright.car.build import wire_up
from startwright.prove.faults import fault_named
from startwright.prove.judge import Judge
from startwright.prove.model import Model
from startwright.prove.search import search


def clutch() -> Case:
    """The clutch wire is joined to a lead that the unit has for it and pays no heed to."""
    case = sound.plain()
    case.circuit("clutch", function="clutch", rest="open", active="ground", load_A=0.05)
    case.lead("clutch_in", way="in", senses="clutch", active="ground", pull="up")
    case.run("r_clutch", "vehicle.clutch", "unit.clutch_in")
    return case


@pytest.mark.parametrize(
    ("make", "fault", "noticed"),
    [
        # lit, dead, blown, or something wanted no longer works
        (sound.plain, "r_brake short to battery", True),
        (sound.plain, "r_acc short to battery", True),
        (sound.plain, "r_lamps short to battery", True),
        (sound.plain, "r_feed short to ground", True),
        (sound.plain, "r_horn short to ground", True),
        (sound.plain, "r_tach open", True),
        # the unit refuses every start
        (sound.plain, "r_hood short to ground", True),
        (sound.plain, "r_lever open", True),
        (sound.plain, "r_lever short to battery", True),
        # a sense that is no longer heard
        (sound.plain, "r_hood open", False),
        (sound.plain, "r_brake open", False),
        # a short that is there with the hood open alone
        (sound.plain, "r_hood short to battery", False),
        # the car's computer and the unit are told that all is well, for ever
        (sound.plain, "r_lever short to ground", False),
        (clutch, "r_clutch short to ground", False),
        (sound_hostile.lever_told_by_battery, "r_lever short to battery", False),
        # the car starts with any key; or no longer with its own
        (sound_hostile.key_resistor_in_a_cut, "K1.87 stuck closed", False),
        (sound_hostile.key_resistor_in_a_cut, "K1.87a stuck open", True),
    ],
)
def test_who_notices(make: Callable[[], Case], fault: str, noticed: bool) -> None:
    case = make()
    healthy = Model(wire_up(case.job(), case.wiring()))
    judge = Judge(healthy, search(healthy))
    struck = fault_named(healthy.car, fault)
    assert struck is not None
    result = judge.result(struck)
    assert result.breaks
    assert result.noticed is noticed, result
