"""A fault in a played line: what breaks from then on, and what meets without a load."""

from __future__ import annotations

import pytest
from prove.base import Case
from prove.test_timeline import at, of

from startwright.example import path as shop
from startwright.prove.playing import played
from startwright.prove.timeline import timeline
from startwright.records.errors import RecordError
from startwright.records.read import read_job, read_wiring


def test_a_fault_in_the_line_breaks_the_wire_from_then_on() -> None:
    case = Case()
    line = "command start · wait 6 s · fault r_ign open · wait 2 s → engine stands"
    found = timeline(case.job(), case.wiring(), line)
    assert found.holds
    broken = at(found, "fault r_ign open")
    run, ignition = of(found, "r_ign"), of(found, "ign")
    assert "broken" not in run.levels[:broken]
    assert run.levels[broken - 1] == ignition.levels[broken - 1] == "battery"
    assert run.levels[broken] == "broken"
    assert ignition.levels[broken] == "ground"
    assert "ign" not in found.moments[broken].driven  # the engine is lost, the unit lets go
    assert of(found, "unit.ign").volts_V[broken] is None


def test_a_short_in_the_line_pulls_the_wire_down() -> None:
    case = Case()
    found = timeline(case.job(), case.wiring(), "fault r_lock short to ground · wait 1 s")
    assert of(found, "lock").levels == ["battery", "ground"]
    assert of(found, "r_lock").levels[-1] == "ground"


def test_battery_that_meets_ground_is_said_with_its_second() -> None:
    """A short on a held rail moves no volt of the proof's corner, so the words have to tell it."""
    case = Case()
    job, wiring = case.job(), case.wiring()
    found = timeline(
        job, wiring, "command start · wait 6 s · fault r_feed short to ground · wait 1 s"
    )
    assert found.holds
    (said,) = found.shorts
    assert said.startswith("From 6 s on battery meets ground without a load at ")
    assert played(job, wiring, "fault r_feed short to ground").as_json()["shorts"] != []
    later = timeline(
        job, wiring, "fault r_brake short to ground · wait 2 s · brake press · wait 1 s"
    )
    assert [s[:9] for s in later.shorts] == ["From 2 s "]
    for line in ("fault r_brake short to ground · wait 2 s", "fault r_feed open", "command start"):
        assert timeline(job, wiring, line).shorts == []


def test_a_short_without_a_fault_is_said_too() -> None:
    folder = shop() / "bestiary"
    job = read_job(folder / "lamp-to-ground.job.yaml")
    wiring = read_wiring(folder / "lamp-to-ground.wiring.yaml")
    found = timeline(job, wiring, "wait 1 s · command lock · parking_light on · wait 0.1 s")
    assert found.shorts
    assert timeline(job, wiring, "wait 1 s").shorts == []


def test_a_fault_that_is_not_there_is_an_error() -> None:
    case = Case()
    with pytest.raises(RecordError, match="no fault"):
        timeline(case.job(), case.wiring(), "fault r99 open")
