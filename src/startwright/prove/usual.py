"""The lines everyone asks for: a start, one that fails, the key taking over, the brake stopping it.

Their seconds are those of this unit in this wiring: a start is played first, then written down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from startwright.car.build import wire_up
from startwright.prove.clocked import Clock
from startwright.prove.model import RUNNING, TURNING, Model
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.scenario import Action
from startwright.records.unit import Guard
from startwright.records.wiring import Wiring

LONGEST_S = 180.0
"""A start that has neither caught nor ended by then is not waited for any longer, s."""
AFTER_S = 3.0
"""How long a line goes on after what it is about, s."""


@dataclass(frozen=True)
class Usual:
    """One of the usual lines: its name, what it is called, and itself."""

    name: str
    title: str
    line: str


NAMES = ("start", "failed-start", "takeover", "brake-stop")


def usual_lines(job: WholeJob, wiring: Wiring) -> list[Usual]:
    """The usual lines of a job's unit in a wiring, none where the unit starts nothing.

    Parameters
    ----------
    job : WholeJob
    wiring : Wiring

    Returns
    -------
    list of Usual
        ``start``, ``failed-start``, ``takeover``, ``brake-stop``.

    Raises
    ------
    RecordError
        For a wiring that names what is not there.
    """
    model = Model(wire_up(job, wiring))
    if not model.unit.steps:
        return []
    before = ""
    if Guard(input="parking_brake", reads="active") in model.unit.record.guards:
        before = "parking_brake set · "
    running_s = _runs_at_s(model, before) + AFTER_S
    turning_s, over_s = _fails_at_s(model, before)
    ignition = bool(job.vehicle.of("ignition"))
    starter = bool(job.vehicle.of("starter"))

    def line(*actions: str, then: tuple[str, ...]) -> str:
        return f"{before}{' · '.join(actions)} → {', '.join(then)}"

    started = ("command start", f"wait {running_s:g} s")
    off = ("starter off",) if starter else ()
    dead = ("ignition off",) if ignition else ()
    return [
        Usual("start", "A start", line(*started, then=("engine runs", *off))),
        Usual(
            "failed-start",
            "A start that fails",
            line(
                "command start",
                f"wait {turning_s:g} s",
                "engine fails",
                f"wait {over_s - turning_s:g} s",
                then=("engine stands", *off),
            ),
        ),
        Usual(
            "takeover", "The driver takes over", line(*started, *BY_KEY, then=("engine runs", *off))
        )
        if not model.car.imitates
        else Usual(
            "takeover",
            "The driver presses the button himself",
            line(*started, *OWN_PRESS, then=("engine stands", *off)),
        ),
        Usual(
            "brake-stop",
            "The brake stops it",
            line(*started, "brake press", "wait 3 s", then=("engine stands", *dead)),
        ),
    ]


def usual_line(job: WholeJob, wiring: Wiring, name: str, where: str = "timeline") -> Usual:
    """One of the usual lines by its name.

    Raises
    ------
    RecordError
        There is none of that name.
    """
    found = usual_lines(job, wiring)
    for usual in found:
        if usual.name == name:
            return usual
    known = ", ".join(u.name for u in found) or "a line; this unit starts nothing"
    raise RecordError(f"no line is called {name[:60]!r}", where, f"one of {known}")


OWN_PRESS = (
    "key insert",
    "wait 1 s",
    "start_button press",
    "wait 0.5 s",
    "start_button release",
    "wait 3 s",
)
"""Where the unit pressed the button for the driver, his own press turns the engine off."""
BY_KEY = (
    "key insert",
    "key run",
    "wait 1 s",
    "brake press",
    "wait 1 s",
    "brake release",
    "wait 2 s",
)
"""Where the unit fed the circuits itself, the driver turns on and steps on the brake."""


def _commanded(model: Model, before: str, starts_itself: bool) -> Clock:
    clock = Clock(model, starts_itself=starts_itself)
    if before:
        clock.act(Action("parking_brake", "set"))
    clock.act(Action("command", "start"))
    return clock


def _runs_at_s(model: Model, before: str) -> float:
    """When the engine has caught, in whole seconds; 10 where it never does."""
    clock = _commanded(model, before, True)
    while clock.at_s < LONGEST_S and not (clock.idle and not clock.due):
        if clock.motion == RUNNING and not clock.idle:
            return float(math.ceil(clock.at_s))
        clock.wait(0.25)
    return 10.0


def _fails_at_s(model: Model, before: str) -> tuple[float, float]:
    """When the starter turns first, and when all is over with an engine that never catches, s.

    A unit that goes by time alone believes in a running engine: it is left after its last crank.
    """
    clock = _commanded(model, before, False)
    turning_s: float | None = None
    last_s = 0.0
    while clock.at_s < LONGEST_S and not (clock.idle and not clock.due):
        if clock.motion == TURNING:
            last_s = clock.at_s
            if turning_s is None:
                turning_s = clock.at_s
        elif clock.at_s > last_s + 30 and last_s:
            break
        clock.wait(0.25)
    end_s = last_s if not clock.idle else clock.at_s
    first_s = (turning_s or 1.0) + 0.5
    return first_s, max(math.ceil(end_s) + AFTER_S, first_s + 1.0)
