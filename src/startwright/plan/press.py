"""Push-button cars: the ways past the button, and what a unit's record must say to imitate a foot.

A car whose power modes are made by a computer is started in one of two ways. `fed`: the unit feeds
the ignition, accessory and starter circuits itself, as in a car with a key. `imitated`: the unit
drives `brake` and `start_button`, and the car's own start control does the rest. What that control
makes of the unit's presses is worked out here step by step (`startwright.car.start_control`).
"""

from __future__ import annotations

from typing import Literal

from startwright.car.start_control import ACCESSORY, OWN, RUN, START, as_key, by_button, pressed
from startwright.plan.demand import Book, Demand
from startwright.plan.outputs import pulse_sets
from startwright.plan.refusals import Refusal
from startwright.records.job import WholeJob
from startwright.records.unit import Setting, Unit
from startwright.records.words import KEY_POSITIONS

ONE_TRY = 1
"""Presses of an imitated start: a second one would meet what the first began."""
How = Literal["fed", "imitated"]
"""How a start goes past the key or the button."""

SAYS: dict[How, str] = {
    "fed": "Fed past the button",
    "imitated": "Foot and press imitated",
}
"""The two ways in words, for a car with a button."""


def hows(job: WholeJob) -> tuple[How, ...]:
    """The ways of starting that are worth looking at: for a car with a key there is one.

    A unit that does nothing of the one is looked at for the other alone; one that does nothing of
    either is told what it lacks for both.
    """
    if not by_button(job.vehicle) or "remote_start" not in job.wants:
        return ("fed",)
    driven = {f for s in job.unit.sequence for f in s.drives}
    ways: list[How] = []
    if driven & {"starter", "starter_signal"}:
        ways.append("fed")
    if "start_button" in driven:
        ways.append("imitated")
    return tuple(ways) or ("fed", "imitated")


def modes_of(unit: Unit) -> tuple[tuple[int, int], ...]:
    """For each step the mode that the car's start control is in: at its begin, and at its end.

    From parked, no key in the car but one that is answered for; the engine catches in the first
    step that waits for it while the control cranks.

    Returns
    -------
    tuple of (int, int)
        Of `startwright.car.start_control.MODES`.
    """
    mode, held, engine = OWN, False, False
    out: list[tuple[int, int]] = []
    for step in unit.sequence:
        line = "start_button" in step.drives
        if line and not held:
            mode = pressed(mode, 0, engine=engine, brake="brake" in step.drives, valid=True)
        begin, held = mode, line
        if mode == START and "engine_running" in (step.until, step.or_until):
            mode, engine = RUN, True
        out.append((begin, mode))
    return tuple(out)


def refusals(job: WholeJob) -> list[Refusal]:
    """Every reason why this unit cannot imitate a foot and a press on this car."""
    return [*_records(job), *_ending(job), *_presses(job)]


def _records(job: WholeJob) -> list[Refusal]:
    v, unit = job.vehicle, job.unit
    out: list[Refusal] = []
    does = {f for lead in unit.leads if lead.way == "out" for f in lead.does}
    if not v.of("start_button"):
        out.append(
            Refusal(
                "No start button circuit is on record, so no press can be imitated.",
                "find the start button's wire with a meter and enter it",
            )
        )
    if not v.of("brake"):
        out.append(
            Refusal(
                "No brake circuit is on record, and the car cranks only with the brake seen.",
                "find the brake switch's wire with a meter and enter it",
            )
        )
    driven = {f for s in unit.sequence for f in s.drives}
    for function in ("start_button", "brake"):
        title = function.replace("_", " ")
        if function not in does:
            out.append(
                Refusal(
                    f"The unit {unit.id} has no output for the {title}.",
                    f"a unit with an output that does {function}",
                )
            )
        elif function not in driven:
            out.append(
                Refusal(
                    f"No step of the unit {unit.id} drives the {title}.",
                    f"a unit whose steps drive {function}",
                )
            )
    return out


def _ending(job: WholeJob) -> list[Refusal]:
    unit = job.unit
    out: list[Refusal] = []
    if unit.ending is None or "start_button" not in unit.ending.drives:
        out.append(
            Refusal(
                f"The unit {unit.id} cannot end a start by a press: its record has no `ending` "
                "that drives the start button, and the car would run on by itself when the unit "
                "lets go.",
                "a unit whose record has an `ending`, such as {drives: [start_button], "
                "pulse_s: 0.5}",
            )
        )
    elif "brake" in unit.ending.drives:
        out.append(
            Refusal(
                f"The `ending` of the unit {unit.id} drives the brake as well: with an engine "
                "that has just stalled such a press cranks.",
                "a unit whose `ending` presses the start button without the brake",
            )
        )
    if not any(lead.way == "in" and lead.senses == "ignition" for lead in unit.leads):
        out.append(
            Refusal(
                f"The unit {unit.id} has no ignition input: it could not tell on from off, and a "
                "press on a car that is off turns it on.",
                "a unit with an ignition input",
            )
        )
    if "ignition_on" not in unit.refuses:
        out.append(
            Refusal(
                f"The unit {unit.id} does not refuse a start with the ignition on: its press would "
                "turn a car off that is being driven.",
                "a unit whose record refuses `ignition_on`",
            )
        )
    if any("start_button" in p for p in pulse_sets(unit)):
        out.append(
            Refusal(
                f"A command of the unit {unit.id} presses the start button whatever the car does: "
                "with a foot on the brake that cranks.",
                "a unit that presses the button in its steps and its `ending` alone",
            )
        )
    if _retries(unit) and unit.tries > ONE_TRY and one_try(unit) is None:
        out.append(
            Refusal(
                f"The unit {unit.id} tries {unit.tries} times without ending what it began: its "
                "second press finds a control that still cranks or is on. It turns it off, or "
                "cranks an engine that is just coasting down.",
                "a unit that tries once (`tries: 1`), or whose cranking step ends on its timeout",
            )
        )
    return out


def one_try(unit: Unit) -> Setting | None:
    """The setting by which a unit can be made to try once, if it has one."""
    setting = next((s for s in unit.settings if s.sets == "tries"), None)
    if setting is None or not any(setting.allows(v) for v in (float(ONE_TRY), str(ONE_TRY))):
        return None
    return setting


def _retries(unit: Unit) -> bool:
    return any(s.on_timeout == "retry" and "start_button" in s.drives for s in unit.sequence)


def _presses(job: WholeJob) -> list[Refusal]:
    """What the car's start control makes of the steps."""
    unit = job.unit
    out: list[Refusal] = []
    driven = {f for s in unit.sequence for f in s.drives}
    if not {"start_button", "brake"} <= driven:
        return out
    reached = modes_of(unit)
    if not any(begin == START for begin, _ in reached):
        return [
            Refusal(
                f"No press in the steps of the unit {unit.id} comes with the brake: the car's "
                "control goes through its modes and never cranks.",
                "a unit that drives brake and start_button in one step",
            )
        ]
    if not any(begin == START and end == RUN for begin, end in reached):
        out.append(
            Refusal(
                f"The step of the unit {unit.id} that makes the car crank does not wait until the "
                "engine runs.",
                "a unit whose cranking step has `until: engine_running`",
            )
        )
    for step, (begin, end) in zip(unit.sequence, reached, strict=True):
        if ACCESSORY in (begin, end):
            out.append(
                Refusal(
                    f"In step {step.step} the unit {unit.id} leaves the car in accessory: a start "
                    "that ends there would not be ended by a press, for the ignition is off.",
                    "a unit whose first press comes with the brake",
                )
            )
            break
    return out


def imitate(book: Book) -> None:
    """Enter what an imitated start needs in place of feeding the circuits of the key."""
    v, unit = book.vehicle, book.unit
    for c in v.circuits:
        if c.key_fed and c.function not in ("battery", "key_sense"):
            book.left.append(
                (
                    c.id,
                    "is fed by the car's own start control as the mode says "
                    f"({' and '.join(c.live or ())}); the unit works the button, not the circuit",
                )
            )
        elif c.function == "key_sense":
            book.left.append((c.id, "tells the car that a key is there; a start leaves it aside"))
    book.add(
        Demand(
            "press-button",
            "worked",
            f"{' or '.join(c.id for c in v.of('start_button'))} pressed",
            _why_pressed(unit),
            circuits=tuple(c.id for c in v.of("start_button")),
            drives=("start_button",),
        )
    )
    book.add(
        Demand(
            "imitate-brake",
            "foot",
            f"a foot on {' or '.join(c.id for c in v.of('brake'))} imitated, and hidden while the "
            "ending press is given",
            "the car cranks only with the brake seen; and a press that is to end a start must not "
            "meet the driver's foot, for with the brake seen and the engine stalled it cranks",
            circuits=tuple(c.id for c in v.of("brake")),
            drives=("brake",),
        )
    )
    book.add(
        Demand(
            "sense-ignition",
            "sensed",
            "the ignition sensed",
            "a press ends a start only where the ignition is on, for a press on a car that is off "
            "turns it on; and a car that is on already is not to be pressed at all",
            circuits=tuple(c.id for c in v.of("ignition") if {"run", "start"} <= set(c.live or ())),
            sense="ignition",
        )
    )
    together = [s.step for s in unit.sequence if {"start_button", "brake"} <= set(s.drives)]
    first = next((s.step for s in unit.sequence if "brake" in s.drives), None)
    if together and first == together[0]:
        book.warnings.append(
            f"Foot and press come together in step {first}: try ten starts, for a car that looks "
            "at the brake first may take such a press for one without it."
        )


def _why_pressed(unit: Unit) -> str:
    """The press of each step, and the one that ends the start, in words."""
    said: list[str] = []
    held = False
    for step, (begin, _) in zip(unit.sequence, modes_of(unit), strict=True):
        line = "start_button" in step.drives
        if line and not held:
            foot = "with the foot" if "brake" in step.drives else "without the foot"
            said.append(
                f"step {step.step} presses {foot}, which brings the car to "
                f"{KEY_POSITIONS[as_key(begin, 0)]}"
            )
        held = line
    said.append("the ending press turns it off")
    return "; ".join(said)
