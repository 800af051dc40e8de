"""The world is as described: everything is reached while idle, and random wirings agree."""

import random

import numpy as np
import pytest
from prove.base import Case
from prove.sound import SOUND
from prove.test_bestiary import assert_same_states, records

from startwright.car.build import wire_up
from startwright.prove.explore import explore
from startwright.prove.model import Model
from startwright.prove.space import Space
from startwright.prove.tables import arity
from startwright.records.wiring import Run, Wiring

TERMINALS = [
    "vehicle.batt",
    "vehicle.ign",
    "vehicle.starter",
    "vehicle.brake",
    "vehicle.hood",
    "vehicle.lever",
    "unit.ign",
    "unit.start",
    "unit.brake_in",
    "unit.hood_in",
    "unit.lever_in",
    "K1.30",
    "K1.85",
    "K1.86",
    "K1.87",
    "K1.87a",
    "D1.anode",
    "D1.cathode",
    "ground.body",
]


@pytest.mark.parametrize("name", ["plain", "idle_stop", "service_switch", "charge_lamp"])
def test_every_value_of_every_surrounding_is_reached_while_idle(name: str) -> None:
    case = SOUND[name]()
    model = Model(wire_up(case.job(), case.wiring()))
    columns = Space(model).unpack(explore(model).packed)
    idle = columns["start"] == 0
    for surrounding in model.surroundings:
        reached = set(np.unique(columns[surrounding][idle]).tolist())
        assert reached == set(range(arity(surrounding))), surrounding


@pytest.mark.parametrize("seed", range(14))
def test_random_wirings_reach_the_same_states(seed: int) -> None:
    """The smallest car with a relay, a diode and a few runs anywhere: two explorers agree."""
    choose = random.Random(seed)
    job, wiring = records("nothing-wrong")
    runs = [r for r in wiring.runs if choose.random() < 0.85]
    for k in range(choose.randint(3, 7)):
        one, other = choose.sample(TERMINALS, 2)
        if {one, other} == {"vehicle.batt", "ground.body"}:
            continue
        runs.append(Run.model_validate({"id": f"x{k}", "from": one, "to": other}))
    parts = [{"id": "K1", "of": "relay"}, {"id": "D1", "of": "diode"}]
    spoilt = Wiring.model_validate({"format": "startwright/wiring/1", "parts": parts, "runs": runs})
    assert_same_states(job, spoilt)


def test_a_run_turns_a_horn_button_into_feedback() -> None:
    """What is state follows from the wiring: the horn button, once the brake input hangs on it."""
    case = Case()
    assert "horn" in Model(wire_up(case.job(), case.wiring())).free
    case.run("r_brake", "vehicle.horn", "unit.brake_in")
    assert "horn" in Model(wire_up(case.job(), case.wiring())).surroundings
