"""What the control unit does: its record read as a machine that moves at most one step at a time.

The same functions serve the proof's tables, the clocked replay and the exported model. Nothing here
knows a wire: a unit sees its inputs' readings and drives its leads.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Literal, NamedTuple

from startwright.car.fitted import switch_of
from startwright.records.unit import Lead, Pulse, Step, Unit

Event = Literal["none", "start", "stop", "time"]
GAP_S = 0.3
"""Rest between two pulses of one command (package default)."""

RAN_ANYWAY = frozenset({"timed"})


class Start(NamedTuple):
    """Where the unit is in a start: idle, in a step, or in the pause before a step's next try.

    A unit that ends a start with a pulse (`ending`) lets go first, then pulses.
    """

    mode: Literal["idle", "step", "pause", "release", "ending"] = "idle"
    step: int = 0
    tries: int = 0
    ran: bool = False


class Reads(NamedTuple):
    """What the unit reads at its inputs."""

    guards: bool
    engine: bool
    waiting: bool
    ignition: bool
    service: bool


class Press(NamedTuple):
    """What a pressed button left under way: a pulse, the `again` window, armed or not."""

    command: str = ""
    at: int = 0
    on: bool = False
    again: Literal["", "lock", "unlock"] = ""
    armed: bool = False


class ControlUnit:
    """A unit with its settings chosen.

    Parameters
    ----------
    unit : Unit
        The record.
    settings : mapping
        Values of the settings that were changed; the others stand at their default.
    signal : str
        How it knows that the engine runs: ``tach``, ``volts``, ``charge_lamp`` or ``timed``.
    wired : frozenset of str
        The leads that are connected to anything.
    """

    def __init__(
        self,
        unit: Unit,
        settings: Mapping[str, str | float],
        signal: str = "tach",
        wired: frozenset[str] | None = None,
    ) -> None:
        self.record = unit
        self.signal = signal
        self.chosen = unit.chosen(dict(settings))
        self.wired = frozenset(lead.id for lead in unit.leads) if wired is None else wired

    # ---- leads -----------------------------------------------------------------------------

    def does(self, lead: Lead) -> str | None:
        """The function an output works under the chosen settings; None when it is set to none."""
        if lead.chosen_by is not None:
            value = str(self.chosen[lead.chosen_by])
            return value if value in lead.does else None
        return lead.does[0] if lead.does else None

    def level(self, lead: Lead) -> str:
        """The level at which an output drives."""
        if lead.active_by is not None:
            value = str(self.chosen[lead.active_by])
            if value in ("battery", "ground"):
                return value
        return lead.active or "battery"

    def limit_A(self, lead: Lead) -> float | None:
        """The lead's limit at its chosen level, A; the least on record where that has none."""
        if isinstance(lead.limit_A, dict):
            by_level = {str(level): amps for level, amps in lead.limit_A.items()}
            return by_level.get(self.level(lead), min(by_level.values(), default=None))
        return lead.limit_A

    def is_transistor(self, lead: Lead) -> bool:
        """Whether a lead switches by transistor."""
        return switch_of(lead) == "transistor"

    @cached_property
    def out_leads(self) -> tuple[Lead, ...]:
        """The outputs, in the order of the record."""
        return tuple(lead for lead in self.record.leads if lead.way == "out")

    def driven(self, drives: frozenset[str]) -> frozenset[str]:
        """The outputs that are on while these functions are driven."""
        return frozenset(lead.id for lead in self.out_leads if self.does(lead) in drives)

    # ---- the sequence ----------------------------------------------------------------------

    def number(self, name: str) -> float | None:
        """The number that a setting puts in place of a record value (``run.at_most_s``)."""
        for setting in self.record.settings:
            if setting.sets == name:
                return float(self.chosen[setting.id])
        return None

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The steps with the chosen numbers put in."""
        out = []
        for step in self.record.sequence:
            changed = {
                key: value
                for key in ("for_s", "at_most_s")
                if (value := self.number(f"{step.step}.{key}")) is not None
            }
            out.append(step.model_copy(update=changed))
        return tuple(out)

    @cached_property
    def tries(self) -> int:
        """How often it tries."""
        chosen = self.number("tries")
        return self.record.tries if chosen is None else int(chosen)

    @cached_property
    def pause_s(self) -> float:
        """How long it waits between two tries, s."""
        chosen = self.number("pause_s")
        return self.record.pause_s if chosen is None else chosen

    @cached_property
    def starts(self) -> tuple[Start, ...]:
        """Every state of a start, idle first."""
        out = [Start()]
        for tries in range(self.tries):
            for k in range(len(self.steps)):
                out += [Start("step", k, tries, False), Start("step", k, tries, True)]
            if tries:
                out += [Start("pause", k, tries) for k in range(len(self.steps))]
        if self.record.ending is not None:
            out += [Start("release"), Start("ending")]
        return tuple(out)

    @cached_property
    def comes_to(self) -> frozenset[int]:
        """The steps it can rest in where its inputs may read anything at any time, by number.

        The others do nothing in any car: they lie behind a step that only ends, or wait for what
        the step before them has waited for already.
        """
        told = [Reads(True, e, w, False, False) for e in (False, True) for w in (False, True)]
        events: tuple[Event, ...] = ("none", "start", "time")
        found, todo = {Start()}, [Start()]
        while todo:
            now = todo.pop()
            for after in {self._rest(now, reads, event) for reads in told for event in events}:
                if after not in found:
                    found.add(after)
                    todo.append(after)
        return frozenset(s.step for s in found if s.mode == "step")

    def _rest(self, start: Start, reads: Reads, event: Event) -> Start:
        """Where it comes to rest while its inputs read the same."""
        now = self.move(start, reads, event)
        while (after := self.move(now, reads, "none")) != now:
            now = after
        return now

    def time_s(self, start: Start) -> float | None:
        """How long the unit stays here before its timer runs out, s; None without a timer."""
        if start.mode == "idle":
            return None
        if start.mode == "pause":
            return self.pause_s
        if start.mode == "release":
            return GAP_S
        if start.mode == "ending":
            assert self.record.ending is not None
            return self.record.ending.pulse_s
        step = self.steps[start.step]
        return step.for_s if step.for_s is not None else step.at_most_s

    def drives(self, start: Start) -> frozenset[str]:
        """The functions driven: those of the step or the ending, none in idle and in the pause."""
        if start.mode == "ending":
            assert self.record.ending is not None
            return frozenset(self.record.ending.drives)
        return frozenset(self.steps[start.step].drives) if start.mode == "step" else frozenset()

    def move(self, start: Start, reads: Reads, event: Event) -> Start:
        """At most one step, as `world.md` and the unit's record have it."""
        if start.mode == "idle":
            if event != "start" or not self.steps or not reads.guards or self._refused(reads):
                return start
            return Start("step", 0, 0, reads.engine and self.hears)
        if start.mode == "release" and not reads.ignition:
            return Start()
        if start.mode in ("release", "ending"):
            if event == "time":
                return Start("ending") if start.mode == "release" else Start()
            return start
        if event == "stop" or not reads.guards:
            return self._end(start, reads)
        if start.mode == "pause":
            if event == "time":
                return Start("step", max(start.step - 1, 0), start.tries, False)
            return start
        hears = reads.engine and self.hears
        if start.ran and self.hears and not reads.engine:
            return self._end(start, reads)
        step = self.steps[start.step]
        if self._over(step, reads) or (step.or_until == "engine_running" and hears):
            return self._next(start, reads)
        if event == "time" and self.time_s(start) is not None:
            if step.for_s is not None:
                if step.or_until == "wait_over" and reads.waiting:
                    return start
                return self._next(start, reads)
            if step.until == "engine_running" and not self.hears:
                return self._next(start, reads)
            return self._timeout(start, step, reads)
        if hears and not start.ran:
            return start._replace(ran=True)
        return start

    @property
    def hears(self) -> bool:
        """Whether it can tell that the engine runs, rather than going by time."""
        return self.signal not in RAN_ANYWAY

    def _refused(self, reads: Reads) -> bool:
        refuses = self.record.refuses
        return ("ignition_on" in refuses and reads.ignition) or (
            "service" in refuses and reads.service
        )

    def _over(self, step: Step, reads: Reads) -> bool:
        if step.until == "engine_running":
            return reads.engine and self.hears
        return step.until == "wait_over" and not reads.waiting

    def _next(self, start: Start, reads: Reads) -> Start:
        ran = start.ran or (reads.engine and self.hears)
        for k in range(start.step + 1, len(self.steps)):
            if not self._over(self.steps[k], reads):
                return Start("step", k, start.tries, ran)
        return self._end(start, reads)

    def _timeout(self, start: Start, step: Step, reads: Reads) -> Start:
        if step.on_timeout == "next":
            return self._next(start, reads)
        if step.on_timeout == "retry" and start.tries + 1 < self.tries and not start.ran:
            return Start("pause", start.step, start.tries + 1, False)
        return self._end(start, reads)

    def _end(self, start: Start, reads: Reads) -> Start:
        """The end of a start: by its `ending` where the ignition is on by what the unit did."""
        ending = self.record.ending
        if ending is not None and reads.ignition:
            begun = self.steps if start.tries else self.steps[: start.step + 1]
            if any(set(s.drives) & set(ending.drives) for s in begun):
                return Start("release")
        return Start()

    # ---- commands --------------------------------------------------------------------------

    @cached_property
    def pulses(self) -> dict[str, tuple[Pulse, ...]]:
        """The pulses of each command that reach a connected lead."""
        out: dict[str, tuple[Pulse, ...]] = {}
        does = {self.does(lead) for lead in self.out_leads if lead.id in self.wired}
        for name in type(self.record.commands).model_fields:
            listed: list[Pulse] = getattr(self.record.commands, name)
            kept = tuple(p for p in listed if any(f in does for f in p.drives))
            if kept:
                out[name] = kept
        return out

    @cached_property
    def arms(self) -> bool:
        """Whether an armed output is connected."""
        return any(self.does(d) == "armed_signal" and d.id in self.wired for d in self.out_leads)

    @cached_property
    def buttons(self) -> tuple[str, ...]:
        """The commands beside start and stop that do anything as wired."""
        named = ("lock", "unlock", "trunk", "panic")
        return tuple(
            c
            for c in named
            if c in self.pulses
            or f"{c}_again" in self.pulses
            or (self.arms and c in ("lock", "unlock"))
        )

    @cached_property
    def presses(self) -> tuple[Press, ...]:
        """Every state of the buttons, none under way first."""
        under_way: list[tuple[str, int, bool]] = [("", 0, False)]
        for name, pulses in self.pulses.items():
            for k in range(len(pulses)):
                under_way += [(name, k, True), (name, k, False)]
        windows: list[Literal["", "lock", "unlock"]] = [""]
        windows += [w for w in ("lock", "unlock") if f"{w}_again" in self.pulses]
        arms = (False, True) if self.arms else (False,)
        return tuple(Press(*u, w, a) for u in under_way for w in windows for a in arms)

    def press(self, state: Press, command: str) -> Press:
        """A button pressed: its pulses replace what was under way."""
        name = f"{command}_again"
        again = state.again == command and name in self.pulses
        key = name if again else command
        window = command if f"{command}_again" in self.pulses else ""
        armed = state.armed
        if self.arms and command in ("lock", "unlock"):
            armed = command == "lock"
        if command in ("start", "stop", "trunk", "panic"):
            window = state.again
        if key not in self.pulses:
            if command in ("start", "stop"):
                return state
            return Press("", 0, False, window, armed)  # type: ignore[arg-type]
        return Press(key, 0, True, window, armed)  # type: ignore[arg-type]

    def pulse_over(self, state: Press, repeats: bool) -> Press:
        """The timer of a pulse or of the rest after it runs out.

        `repeats` says whether a repeated pulse comes once more.
        """
        if not state.command:
            return state
        pulses = self.pulses[state.command]
        if state.on:
            if state.at + 1 < len(pulses) or pulses[state.at].repeat_s:
                return state._replace(on=False)
            return state._replace(command="", at=0, on=False)
        if pulses[state.at].repeat_s and repeats:
            return state._replace(on=True)
        if state.at + 1 < len(pulses):
            return state._replace(at=state.at + 1, on=True)
        return state._replace(command="", at=0, on=False)

    def window_over(self, state: Press) -> Press:
        """The `again` window closes."""
        return state._replace(again="")

    def pulse_s(self, state: Press) -> float | None:
        """How long the pulse or the rest under way lasts, s."""
        if not state.command:
            return None
        pulse = self.pulses[state.command][state.at]
        if not state.on:
            return pulse.pulse_s if pulse.repeat_s else GAP_S
        value = self.number(f"commands.{state.command}.pulse_s")
        return value if value is not None else pulse.pulse_s

    def pulsed(self, state: Press) -> frozenset[str]:
        """The functions driven by the pulse under way, and the armed signal."""
        armed = frozenset({"armed_signal"}) if state.armed else frozenset[str]()
        if state.command and state.on:
            return armed | frozenset(self.pulses[state.command][state.at].drives)
        return armed
