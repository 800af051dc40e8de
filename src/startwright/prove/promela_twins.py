"""The twins of the rules as Promela: the situations in which each rule bites, told once reached."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from startwright.car.start_control import RUN as MODE_RUN
from startwright.prove.choices import BY_HAND
from startwright.prove.rules import tried_steps
from startwright.records.words import KEY_POSITIONS

if TYPE_CHECKING:
    from startwright.prove.promela import Writer

CHOSE = {"command start": 1, "catch": 2, "time": 3, BY_HAND: 4}
"""The choices that a twin asks for, by the names that the exported choices have."""
TOLD = 64
"""Most twins that can be told."""


def by_starts(writer: Writer, values: list[bool]) -> str:
    """An expression that is true in these states of a start, whatever the buttons do."""
    return writer.by_codes(np.repeat(np.array(values)[:, None], len(writer.model.presses), axis=1))


def twins(writer: Writer) -> dict[str, list[str]]:
    """For each rule its twins in the order of `rules.py`: those of states, then those of steps."""
    model, marks, unit = writer.model, writer.marks, writer.unit
    run = KEY_POSITIONS.index("run")
    in_step = by_starts(writer, [s.mode == "step" for s in model.starts])
    driven = f"!{writer.by_codes(marks.observer.all_open)}"
    powered = "(was_fs || was_fi)"
    by_key = f"was_idle && was_motion == 2 && was_key >= {run}"
    takeover = f"!was_idle && was_motion == 2 && !was_brake && brake && was_key == {run}"
    if model.car.imitates:
        takeover = f"!was_idle && was_motion == 2 && was_mode == {MODE_RUN} && chose == 4"
    return {
        "crank-only-when-safe": ["FS", "chose == 1 && was_idle && (was_hood || WAS_OUT)"],
        "no-crank-into-running": ["chose == 2 && was_fs"],
        "brake-ends": [f"{powered} && !was_brake && brake"],
        "hood-ends": [f"{powered} && !was_hood && hood"],
        "leaving-park-ends": [f"{powered} && !WAS_OUT && MOVES"],
        "start-ends": ["chose == 3 && !was_idle && start == 0 && was_motion == 2"],
        "key-has-last-word": [takeover, f"{by_key} && chose == 1"],
        "locks-on-command": [writer.mark(marks["fed_lock"]), writer.mark(marks["fed_unlock"])],
        "start-through-interlock": ["FS"],
        "immobilizer-only-while-starting": [f"{writer.mark(marks['interface_on'])} && {in_step}"],
        "no-short": [driven],
        "car-unchanged": [f"!({driven}) && key == {k}" for k in range(len(KEY_POSITIONS))],
        "only-what-is-called": [driven],
        "as-under-the-key": [
            by_starts(writer, [s.mode == "step" and s.step == k for s in model.starts])
            + " && key <= 1"
            for k in tried_steps(unit)
        ],
    }


def telling(writer: Writer, moved: str) -> Iterator[str]:
    """Lines that tell every twin reached; `moved` is the expression for the lever out of park."""
    yield f"#define WAS_OUT ({moved.replace('gear', 'was_gear')})"
    yield "inline look_at_twins() {"
    k = 0
    for listed in twins(writer).values():
        for said in listed:
            yield f"  if :: {said} -> c_code {{ twin({k}); }} :: else fi;"
            k += 1
    assert k <= TOLD
    yield "  skip"
    yield "}"
