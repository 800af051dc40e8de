"""A unit that is grounded through a contact lives where the contact is closed, and no longer."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from prove.base import Case
from prove.test_bestiary import assert_same_states, records

from startwright.car.build import wire_up
from startwright.prove import play, prove
from startwright.prove.explore import explore
from startwright.prove.model import Model
from startwright.prove.space import Space
from startwright.records.wiring import Run, Wiring


def _through(one: str, other: str | None = None, part: str | None = None) -> Case:
    """The plain job with its ground lead at `one`, and `other` at the body."""
    case = Case()
    case.wants = ["remote_start"]
    case.without("r_gnd", "r_lock", "r_unlock", "r_horn")
    case.run("g_unit", "unit.gnd", one)
    if part:
        case.parts["X1"] = part
    if other:
        case.run("g_body", other, "ground.body")
    return case


def hood_switch() -> Case:
    """A switch that opens with the hood: it ends a start as the sensed hood does."""
    case = _through("X1.a", "X1.b", "hood-cut")
    case.stock["parts"].append(
        {"id": "hood-cut", "kind": "switch", "operated_by": "hood", "contact_at_rest": "closed"}
    )
    return case


def lever() -> Case:
    """The car's own lever switch is the unit's only ground."""
    return _through("vehicle.lever")


def contact_that_closes_with_the_ignition() -> Case:
    """Dead while parked: no command is heard."""
    case = _through("X1.30", "X1.87", "relay")
    case.run("x_86", "vehicle.ign", "X1.86")
    case.run("x_85", "X1.85", "ground.body")
    return case


def contact_that_opens_with_the_ignition() -> Case:
    """The unit takes its own ground away as soon as it feeds the ignition."""
    case = contact_that_closes_with_the_ignition()
    case.run("g_body", "X1.87a", "ground.body")
    return case


def second_lead_through_the_hood_switch() -> Case:
    """Two ground leads hang together inside the unit; the other one's way is through a switch."""
    case = hood_switch()
    case.lead("gnd_2", way="ground")
    case.run("g_unit", "unit.gnd_2", "X1.a")
    case.run("g_both", "unit.gnd", "unit.gnd_2")
    return case


def inside_alone() -> Case:
    """The lead that is joined counts, whichever it is; nothing but the inside joins the two."""
    case = second_lead_through_the_hood_switch()
    case.without("g_both")
    case.run("g_stub", "unit.gnd", "X2.a")
    case.parts["X2"] = "fuse-15"
    return case


def service_switch_that_is_open() -> Case:
    return _through("X1.a", "X1.b", "svc")


def brake_lamps() -> Case:
    """Near ground while it draws little, but through the lamps: no ground."""
    return _through("vehicle.brake")


def diode() -> Case:
    return _through("X1.anode", "X1.cathode", "diode")


LIVES = [hood_switch, lever, second_lead_through_the_hood_switch, inside_alone]
DEAD = [
    contact_that_closes_with_the_ignition,
    contact_that_opens_with_the_ignition,
    service_switch_that_is_open,
    brake_lamps,
    diode,
]


@pytest.mark.parametrize("make", LIVES)
def test_a_ground_that_is_there_when_it_must_is_proven(make: Callable[[], Case]) -> None:
    case = make()
    report = prove(case.job(), case.wiring())
    assert report.verdict == "proven", [r.rule for r in report.rules if r.holds is False]
    assert all(r.exercised for r in report.rules if r.holds is not None)


@pytest.mark.parametrize("make", DEAD)
def test_a_ground_that_is_not_starts_no_engine(make: Callable[[], Case]) -> None:
    case = make()
    report = prove(case.job(), case.wiring())
    assert {"can-start", "can-be-tried"} <= {r.rule for r in report.rules if r.holds is False}


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (hood_switch, "command start · wait 5 s · hood open → unit idle, ignition off"),
        (hood_switch, "hood open · command start · wait 5 s → unit idle, ignition off"),
        (lever, "command start · wait 5 s · shift drive → unit idle, ignition off"),
        (
            contact_that_closes_with_the_ignition,
            "command start · wait 1.5 s → unit idle, ignition off",
        ),
        (
            contact_that_opens_with_the_ignition,
            "command start · wait 1.5 s → unit idle, ignition off",
        ),
    ],
)
def test_it_is_dead_where_the_contact_is_open(make: Callable[[], Case], line: str) -> None:
    case = make()
    assert all(play(case.job(), case.wiring(), line)[1])


def test_it_lives_in_exactly_the_states_where_the_contact_is_closed() -> None:
    case = lever()
    model = Model(wire_up(case.job(), case.wiring()))
    columns = Space(model).unpack(explore(model).packed)
    alive = model.alive.look(model.derive(columns)).astype(bool)
    assert np.array_equal(alive, columns["gear"] < 2)
    assert not columns["start"][~alive].any()
    assert columns["start"][alive].any()


def test_what_the_unit_took_as_a_sense_too_is_not_proven_without_it() -> None:
    """With neither the hood sensed nor the ground behind it, an open hood ends nothing."""
    case = hood_switch()
    case.unit["guards"] = [
        {"input": "brake", "reads": "inactive"},
        {"input": "park_neutral", "reads": "active"},
    ]
    case.without("r_hood")
    assert prove(case.job(), case.wiring()).verdict == "proven"
    case.run("g_body", "unit.gnd", "ground.body")
    broken = {r.rule for r in prove(case.job(), case.wiring()).rules if r.holds is False}
    assert {"hood-ends", "crank-only-when-safe"} <= broken


@pytest.mark.parametrize(
    ("contact", "coil"),
    [("K1.87a", "vehicle.ign"), ("K1.87", "vehicle.ign"), ("K1.87a", "vehicle.hood")],
)
def test_a_naive_explorer_reaches_the_same_states(contact: str, coil: str) -> None:
    """The smallest car, its unit grounded through a relay."""
    job, wiring = records("nothing-wrong")
    ground = next(r for r in wiring.runs if {"unit.gnd", "ground.body"} == set(r.ends))
    ends = {"g": ("unit.gnd", "K1.30"), "b": (contact, "ground.body")}
    ends |= {"c": (coil, "K1.86"), "d": ("K1.85", "ground.body")}
    runs = [r for r in wiring.runs if r is not ground]
    runs += [Run.model_validate({"id": k, "from": a, "to": b}) for k, (a, b) in ends.items()]
    parts = [{"id": "K1", "of": "relay"}]
    made = Wiring.model_validate({"format": "startwright/wiring/1", "parts": parts, "runs": runs})
    assert wire_up(job, made).alive is None
    assert_same_states(job, made)


def test_a_fault_that_is_too_large_to_work_is_told_as_such() -> None:
    case = contact_that_opens_with_the_ignition()
    report = prove(case.job(), case.wiring(), faults=True)
    large = [f for f in report.faults if f.breaks == ["not finished"]]
    assert large
    assert len(large) < len(report.faults)
