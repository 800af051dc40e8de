"""The rules of the kind `works`: what was wanted happens, witnessed by a clocked replay.

An untimed "reachable" would prove too much, so each is shown with real seconds from the parked car.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

from startwright.car.hybrid import is_hybrid
from startwright.car.start_control import by_button
from startwright.prove.clocked import Clock
from startwright.prove.model import RUNNING, Model
from startwright.prove.tables import Table
from startwright.records.reports import RuleResult
from startwright.records.scenario import Action
from startwright.records.unit import Guard
from startwright.records.vehicle import Circuit

LONGEST_START_S = 180.0
SLACK_S = 0.02
PRESS_S = 2.0
"""From one press to the next, s; after the last the longest pulse of the car is waited for."""
SOURCE = "clocked replay"


SAYS = {
    "starts": (
        "By command, key out, the engine starts.",
        "By command, key out, the car becomes ready.",
    ),
    "never": ("The engine never runs", "The car never becomes ready"),
    "whole": ("The engine runs on for its whole time.", "The car stays ready for its whole time."),
    "on": ("The engine runs on.", "The car stays ready."),
    "not on": ("The engine does not run on.", "The car does not stay ready."),
    "stops": ("A stop command stops the engine.", "A stop command turns the car off."),
    "after": ("The engine runs on after a stop command.", "The car stays ready after a stop."),
}
"""What a replay of a start says of an engine, and of a hybrid."""


@dataclass(frozen=True)
class Witness:
    """What a replay showed: whether it worked, the line played, what to say."""

    holds: bool
    line: str
    says: str


def works(model: Model) -> list[RuleResult]:
    """One result for each want of the job."""
    return [replay() for replay in replays(model).values()]


def replays(model: Model) -> dict[str, Callable[[], RuleResult]]:
    """For each rule of this kind the replay that shows whether it holds."""
    wants = set(model.car.job.wants)
    out: dict[str, Callable[[], RuleResult]] = {}
    start = "remote_start" in wants
    for slug, asked, witness in (
        ("can-start", start, can_start),
        ("runs", start, runs),
        ("can-stop", start, can_stop),
        ("locks", bool(wants & {"lock_unlock"}), locks),
        ("unlocks-driver", "driver_first_unlock" in wants, unlocks_driver),
        ("unlocks-all", bool(wants & {"lock_unlock", "driver_first_unlock"}), unlocks_all),
        ("opens-trunk", "trunk_release" in wants, opens_trunk),
        ("flashes", "light_flash" in wants, flashes),
        ("sounds", "horn_chirp" in wants, sounds),
        ("panics", "panic" in wants, panics),
        ("heats-seat", "seat_heat" in wants, _while_running("seat_heater")),
        ("defogs", "rear_defog" in wants, _while_running("rear_defogger")),
        ("cuts-starter", "starter_cut" in wants, cuts_starter),
        ("shows-armed", "armed_output" in wants, shows_armed),
    ):
        out[slug] = partial(_result, model, slug, asked, witness)
    return out


def _result(
    model: Model, slug: str, asked: bool, witness: Callable[[Model], Witness]
) -> RuleResult:
    if not asked:
        return RuleResult(
            rule=slug, kind="works", holds=None, exercised=False, says="Not wanted.", source=SOURCE
        )
    seen = witness(model)
    return RuleResult(
        rule=slug,
        kind="works",
        holds=seen.holds,
        exercised=True,
        trace=seen.line,
        says=seen.says,
        source=SOURCE,
    )


# ---- starting -------------------------------------------------------------------------------


def _started(model: Model) -> tuple[Clock, str, bool]:
    """Start by command from the parked car and wait until the engine runs on in a step."""
    if model.trail is not None:
        return _start(model)
    clock, line, ran = model.kept.own("started", lambda: _start(model))
    return clock.copy(), line, ran


def _start(model: Model) -> tuple[Clock, str, bool]:
    clock = Clock(model)
    before = ""
    if Guard(input="parking_brake", reads="active") in model.unit.record.guards:
        clock.act(Action("parking_brake", "set"))
        before = "parking_brake set · "
    clock.act(Action("command", "start"))
    while clock.at_s < LONGEST_START_S and not (clock.idle and not clock.due):
        clock.wait(0.25)
        if clock.motion == RUNNING and not clock.idle:
            return clock, f"{before}command start · wait {clock.at_s:g} s", True
    return clock, f"{before}command start · wait {max(clock.at_s, 0.25):g} s", False


def _says(model: Model, what: str) -> str:
    return SAYS[what][is_hybrid(model.car.job.vehicle)]


def _before(line: str) -> str:
    """A start's line up to its last wait."""
    return line[: line.rindex("wait")]


def can_start(model: Model) -> Witness:
    """By command from parked, key out, the engine runs."""
    clock, line, ran = _started(model)
    if ran:
        return Witness(True, f"{line} → engine runs", _says(model, "starts"))
    return Witness(
        False, f"{line} → engine stands", f"{_says(model, 'never')}: {_why(model, clock)}"
    )


def _why(model: Model, clock: Clock) -> str:
    if model.car.alive is False:
        return "the unit has no logic feed or no ground."
    rows = [m.row for m in clock.log]
    if all(r["start"] == 0 for r in rows):
        guards = ", ".join(f"{g.input} {g.reads}" for g in model.unit.record.guards)
        return f"the unit refuses the command (it wants {guards})."
    if not any(r["motion"] == 1 for r in rows):
        return "no starter circuit is fed through to the starter."
    if model.car.job.vehicle.immobilizer.kind != "none":
        return "ignition is missing or the immobilizer is not satisfied while cranking."
    return "an ignition circuit that is live in run and start is not fed while cranking."


def runs(model: Model) -> Witness:
    """Once started the engine runs on until the unit's own time is over, then stands."""
    clock, line, ran = _started(model)
    if not ran:
        return Witness(False, line, f"{_says(model, 'never')}.")
    while "start" in clock.due and clock.motion == RUNNING and clock.at_s < 7200:
        left = clock.due["start"] - clock.at_s
        if left > 60:
            clock.wait(left - 1)
            line = f"{_before(line)}wait {clock.at_s:g} s"
            if clock.motion != RUNNING:
                break
            return Witness(True, f"{line} → engine runs", _says(model, "whole"))
        clock.wait(left + 0.1)
    held = clock.motion == RUNNING and not clock.idle
    line = f"{_before(line)}wait {clock.at_s:g} s"
    if held:
        return Witness(True, f"{line} → engine runs", _says(model, "on"))
    return Witness(False, f"{line} → engine stands", _says(model, "not on"))


def can_stop(model: Model) -> Witness:
    """A stop command stops the engine."""
    clock, line, ran = _started(model)
    if not ran:
        return Witness(False, line, f"{_says(model, 'never')}, so it cannot be stopped.")
    clock.wait(5)
    clock.act(Action("command", "stop"))
    clock.wait(2)
    line = f"{_before(line)}wait {clock.at_s - 2:g} s · command stop · wait 2 s"
    if clock.motion != RUNNING and clock.idle:
        return Witness(True, f"{line} → engine stands", _says(model, "stops"))
    return Witness(False, f"{line} → engine runs", _says(model, "after"))


# ---- pulses ---------------------------------------------------------------------------------


def _pressed(model: Model, *commands: str, gap_s: float = PRESS_S) -> Clock:
    if model.trail is not None:
        return _press(model, *commands, gap_s=gap_s)
    key = ("pressed", commands, gap_s)
    return model.kept.own(key, lambda: _press(model, *commands, gap_s=gap_s)).copy()


def _press(model: Model, *commands: str, gap_s: float) -> Clock:
    clock = Clock(model)
    for command in commands:
        clock.act(Action("command", command))
        clock.wait(gap_s)
    longest = max((c.pulse_s or 0.0 for c in model.car.job.vehicle.circuits), default=0.0)
    clock.wait(max(1.0, longest - gap_s + 0.1))
    return clock


def _line(*commands: str, gap_s: float = PRESS_S) -> str:
    return f" · wait {gap_s:g} s · ".join(f"command {c}" for c in commands)


def _on(table: Table, row: dict[str, int]) -> bool:
    return bool(table.data[tuple(row[v] for v in table.over)])


def _pulses(clock: Clock, table: Table) -> list[float]:
    """How long each pulse on a circuit lasted, s."""
    out: list[float] = []
    since: float | None = None
    for moment in clock.log:
        on = _on(table, moment.row)
        if on and since is None:
            since = moment.at_s
        elif not on and since is not None:
            if moment.at_s > since:
                out.append(moment.at_s - since)
            since = None
    if since is not None:
        out.append(clock.at_s - since)
    return out


def _acting(model: Model, *functions: str) -> list[tuple[Circuit, Table]]:
    return [
        (c, wired)
        for c in model.car.job.vehicle.circuits
        for function, wired, _ in model.acts(c)
        if function in functions
    ]


def _count(model: Model, circuit: Circuit, clock: Clock, table: Table) -> int:
    least = (circuit.pulse_s or 0.0) - SLACK_S
    return sum(p >= least for p in _pulses(clock, table))


def _on_each_side(model: Model, clock: Clock, found: list[tuple[Circuit, Table]]) -> bool:
    """Whether a circuit had all its pulses; of circuits by side one of each side."""
    worked = {c.side for c, t in found if _count(model, c, clock, t) >= c.presses}
    sides = {c.side for c, _ in found if c.side is not None}
    return bool(worked) and (None in worked or sides <= worked)


def locks(model: Model) -> Witness:
    """One command locks the doors."""
    clock = _pressed(model, "lock")
    found = _acting(model, "lock")
    short = [c.id for c, t in found if _pulses(clock, t) and not _count(model, c, clock, t)]
    done = _on_each_side(model, clock, found)
    says = "A lock command locks the doors."
    if not done:
        says = "A lock command does not lock the doors"
        says += f": the pulse is too short for {', '.join(short)}." if short else "."
    return Witness(done, f"{_line('lock')} → lock on", says)


def unlocks_driver(model: Model) -> Witness:
    """The first command unlocks the driver's door, and no more."""
    clock = _pressed(model, "unlock")
    driver = _acting(model, "driver_unlock")
    every = _acting(model, "unlock")
    opened = any(_count(model, c, clock, t) >= 1 for c, t in driver)
    opened = opened or any(c.presses > 1 and _count(model, c, clock, t) >= 1 for c, t in every)
    all_too = any(_count(model, c, clock, t) >= c.presses for c, t in every)
    if opened and not all_too:
        says = "The first unlock command opens the driver's door alone."
    elif all_too:
        says = "The first unlock command opens all doors."
    else:
        says = "The first unlock command opens nothing."
    return Witness(opened and not all_too, f"{_line('unlock')} → unlock on", says)


def unlocks_all(model: Model) -> Witness:
    """One command, or a second one, unlocks all doors."""
    every = _acting(model, "unlock")
    twice, patient_s = ("unlock", "unlock"), _patience_s(model)
    for commands, gap_s in ((twice, PRESS_S), (("unlock",), PRESS_S), (twice, patient_s)):
        clock = _pressed(model, *commands, gap_s=gap_s)
        if _on_each_side(model, clock, every):
            return Witness(
                True,
                f"{_line(*commands, gap_s=gap_s)} → unlock on",
                "Unlock commands open all doors.",
            )
    return Witness(
        False,
        f"{_line('unlock', 'unlock')} → unlock on",
        "Unlock commands do not open all doors.",
    )


def _patience_s(model: Model) -> float:
    """From one unlock command to the next by a hand that waits until the first has done, s."""
    pulses = (
        model.unit.pulse_s(p)
        for p in model.presses
        if p.command in ("unlock", "unlock_again") and p.on
    )
    return max([PRESS_S, *(round(s + 0.5, 2) for s in pulses if s is not None)])


def opens_trunk(model: Model) -> Witness:
    """A trunk command opens the trunk."""
    clock = _pressed(model, "trunk")
    done = any(_count(model, c, clock, t) >= 1 for c, t in _acting(model, "trunk_release"))
    says = "A trunk command opens the trunk." if done else "A trunk command opens nothing."
    return Witness(done, f"{_line('trunk')} → trunk_release on", says)


def flashes(model: Model) -> Witness:
    """The parking lights, both sides, answer a command."""
    lamps = _acting(model, "parking_light")
    for command in ("lock", "unlock", "start"):
        clock = _pressed(model, command)
        if lamps and all(_pulses(clock, t) for _, t in lamps):
            return Witness(True, _line(command), f"The parking lights answer a {command} command.")
    return Witness(False, _line("lock"), "The parking lights do not all answer a command.")


def sounds(model: Model) -> Witness:
    """The horn answers a command."""
    for commands in (("lock",), ("lock", "lock"), ("unlock",), ("unlock", "unlock"), ("start",)):
        clock = _pressed(model, *commands)
        if any(_pulses(clock, t) for _, t in _acting(model, "horn")):
            return Witness(True, f"{_line(*commands)} → horn on", "The horn answers a command.")
    return Witness(False, f"{_line('lock', 'lock')} → horn on", "The horn answers no command.")


def panics(model: Model) -> Witness:
    """A panic command works horn or lights again and again."""
    clock = _pressed(model, "panic")
    done = any(len(_pulses(clock, t)) >= 2 for _, t in _acting(model, "horn", "parking_light"))
    says = "A panic command sounds and flashes." if done else "A panic command does nothing."
    return Witness(done, _line("panic"), says)


def _while_running(function: str) -> Callable[[Model], Witness]:
    def witness(model: Model) -> Witness:
        clock, line, ran = _started(model)
        clock.wait(2)
        done = ran and any(_pulses(clock, t) for _, t in _acting(model, function))
        words = function.replace("_", " ")
        says = f"The {words} is {'' if done else 'not '}switched on by a start."
        return Witness(done, line, says)

    return witness


def cuts_starter(model: Model) -> Witness:
    """Armed, the key turns no starter; disarmed, it does."""
    turned = []
    button = by_button(model.car.job.vehicle)
    for commands in (("lock",), ("lock", "unlock")):
        clock = _pressed(model, *commands)
        clock.starts_itself = False
        if button:
            clock.act(Action("brake", "press"))
        clock.act(Action("key", "start"))
        turned.append(clock.motion == 1)
    says = "Armed, the starter is cut; disarmed, it turns."
    if turned != [False, True]:
        says = "Armed, the starter still turns." if turned[0] else "Disarmed, the starter is dead."
    foot = "brake press · " if button else ""
    return Witness(turned == [False, True], f"command lock · {foot}key start → starter off", says)


def shows_armed(model: Model) -> Witness:
    """An armed output is driven after a lock command, and no more after an unlock command."""
    leads = [
        f"out.{lead.id}"
        for lead in model.unit.out_leads
        if model.unit.does(lead) == "armed_signal" and lead.id in model.unit.wired
    ]
    armed = _driven(_pressed(model, "lock"), leads)
    disarmed = _driven(_pressed(model, "lock", "unlock"), leads)
    done = bool(leads) and armed and not disarmed
    says = "The armed output follows lock and unlock." if done else "No armed output is connected."
    return Witness(done, _line("lock"), says)


def _driven(clock: Clock, leads: Iterable[str]) -> bool:
    row = clock.log[-1].row
    return any(row[name] for name in leads)
