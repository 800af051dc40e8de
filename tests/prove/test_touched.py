"""What a fault touches: every other step is taken over, and the same states are reached."""

from collections.abc import Callable

import numpy as np
import pytest
from prove import push_button, sabotage, sound
from prove.base import Case

from startwright.car.build import wire_up
from startwright.prove.explore import Explored, explore
from startwright.prove.faults import all_faults, faulty_model, seeds_in
from startwright.prove.model import Model
from startwright.prove.presses import presses_of
from startwright.prove.steps import Steps
from startwright.prove.touched import Touched

CASES: list[Callable[[], Case]] = [
    sound.plain,
    sound.transponder_with_interface,
    sound.tells_park_alone,
    sabotage.two_relays_race,
    push_button.imitating,
]


@pytest.mark.parametrize("make", CASES, ids=lambda m: m.__name__)
def test_what_is_taken_over_leads_to_the_same_states(make: Callable[[], Case]) -> None:
    case = make()
    healthy = Model(wire_up(case.job(), case.wiring()))
    sound_one = explore(healthy)
    touched = Touched(healthy, sound_one)
    compared = 0
    for fault in all_faults(healthy.car):
        model = faulty_model(healthy, fault)
        like = model.variables == healthy.variables
        if not like or model.car.tach_lost != healthy.car.tach_lost:
            continue
        if not np.array_equal(presses_of(model, ()).of, sound_one.steps.presses.of):
            continue
        steps = touched.steps_of(model)
        quick = explore(model, steps=steps, seeds=seeds_in(sound_one, model))
        full = explore(model, steps=Steps(model), seeds=seeds_in(sound_one, model))
        assert np.array_equal(np.sort(quick.packed), np.sort(full.packed)), str(fault)
        assert _steps_of(quick) == _steps_of(full), str(fault)
        compared += 1
    assert compared > 20


def _steps_of(explored: Explored) -> set[tuple[int, int, int, int]]:
    """Where every choice leads from every core reached, by packed cores."""
    steps = explored.steps
    packed = steps.cores.pack(steps.columns)
    masks = [explored.bits.mask(np.array(steps.presses.of == g)) for g in range(steps.classes)]
    core, g = np.nonzero(np.stack([(explored.reached & m).any(axis=1) for m in masks], axis=1))
    chosen = steps.chosen[steps.place[core, g]]
    row, move = np.nonzero(chosen >= 0)
    which, reaction = steps.followed(chosen[row, move])
    return set(
        zip(
            packed[core[row][which]].tolist(),
            g[row][which].tolist(),
            move[which].tolist(),
            packed[steps.after[reaction]].tolist(),
            strict=True,
        )
    )


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
