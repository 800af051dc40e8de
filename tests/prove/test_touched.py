"""What a fault touches: reactions that look up a row which it has changed."""

from collections.abc import Callable

import numpy as np
import pytest
from prove import sabotage
from prove.base import Case
from prove.test_family import CASES

from startwright.car.build import wire_up
from startwright.prove.explore import explore
from startwright.prove.model import Model
from startwright.prove.touched import Touched


@pytest.mark.parametrize("make", CASES, ids=lambda m: m.__name__)
def test_what_races_is_worked_again_wherever_a_relay_may_be_another(
    make: Callable[[], Case],
) -> None:
    case = make()
    healthy = Model(wire_up(case.job(), case.wiring()))
    touched = Touched(healthy, explore(healthy))
    raced, chatters, unstable = touched.steps.flaws
    again = Model(wire_up(case.job(), case.wiring()))
    expected = (raced | chatters | unstable) if healthy.coils else np.zeros(len(raced), dtype=bool)
    assert np.array_equal(touched.by(again), expected)
    assert not touched.by(healthy).any()
    assert expected.any() == (make is sabotage.two_relays_race)


def ignition_through_relays_that_race() -> Case:
    """Whether the key is on is looked at through the contact of a relay that another one holds."""
    case = sabotage.two_relays_race().without("r_ign")
    case.parts["K3"] = "relay"
    case.run("k3_86", "K1.87a", "K3.86")
    case.run("k3_85", "K3.85", "ground.body")
    case.run("k3_30", "unit.ign", "K3.30")
    case.run("k3_87a", "K3.87a", "vehicle.ign")
    return case


def test_where_a_look_at_the_ignition_may_race_all_is_worked_again() -> None:
    case = ignition_through_relays_that_race()
    healthy = Model(wire_up(case.job(), case.wiring()))
    assert any(v.startswith("coil_o.") for v in healthy.ignition_seen.over)
    touched = Touched(healthy, explore(healthy))
    assert not touched.by(healthy).any()
    assert touched.by(Model(wire_up(case.job(), case.wiring()))).all()
