"""A breach's line plays with real seconds too, whichever pulse or press it hangs on."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from prove.base import Case
from prove.push_button import imitating

from startwright.prove import play, prove


def start_with_a_pulse() -> Case:
    """A start command pulses the ignition; seen once the start has gone on, it was given again."""
    case = Case()
    case.unit["commands"] = {"start": [{"drives": ["ignition"], "pulse_s": 0.8}]}
    return case


def long_pulse_beyond_the_window() -> Case:
    """The second of two lock commands sounds the horn for 20 s, then pulses the ignition."""
    case = Case()
    horn, ignition = {"drives": ["horn"], "pulse_s": 20}, {"drives": ["ignition"], "pulse_s": 0.8}
    case.unit["commands"] = {"lock_again": [horn, ignition]}
    return case


def lock_wire_on_the_button() -> Case:
    """The driver's own press locks the doors, in a car whose unit presses the button too."""
    case = imitating()
    case.run("r_wrong", "vehicle.button", "vehicle.lock")
    return case


@pytest.mark.parametrize(
    ("make", "rule"),
    [
        (start_with_a_pulse, "key-has-last-word"),
        (long_pulse_beyond_the_window, "start-ends"),
        (lock_wire_on_the_button, "car-unchanged"),
    ],
)
def test_a_breachs_line_plays(make: Callable[[], Case], rule: str) -> None:
    case = make()
    job, wiring = case.job(), case.wiring()
    traces = {r.rule: r.trace for r in prove(job, wiring).rules if r.holds is False and r.trace}
    assert rule in traces
    for slug, trace in traces.items():
        if "→" in trace and slug not in ("locks", "unlocks-all", "sounds"):
            assert all(play(job, wiring, trace)[1]), (slug, trace)


def test_a_pulse_lasts_its_time_though_the_window_for_a_second_press_closes() -> None:
    """After 5 s the window closes, after 10 s a start is commanded; the horn has its own 20 s."""
    case = long_pulse_beyond_the_window()
    begun = "command lock · command lock · wait 10 s"
    for then in (begun, f"{begun} · command start", f"{begun} · command stop"):
        for seconds, horn in ((9.9, "on"), (10.1, "off")):
            line = f"{then} · wait {seconds} s → horn {horn}"
            assert play(case.job(), case.wiring(), line)[1] == [True]


def test_a_step_of_less_than_a_millisecond_is_told_as_one() -> None:
    case = Case()
    crank = {"step": "crank", "drives": ["ignition", "starter"], "for_s": 2, "like": "start"}
    brief = {"step": "brief", "drives": ["ignition"], "for_s": 0.0001, "like": "run"}
    case.unit["sequence"] = [brief, crank]
    traces = [r.trace for r in prove(case.job(), case.wiring()).rules if r.trace]
    assert any("wait 0.001 s" in trace for trace in traces)
