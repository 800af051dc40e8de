"""The same world with real seconds: timers run out when they are due.

Plays scenario lines and witnesses the rules of the kind `works`. In a line without an `engine …`
action the engine starts by itself a moment after the starter turns it, if it can; a line with one
decides every outcome itself.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from startwright.car.faults import Fault
from startwright.car.hybrid import TURNS, is_hybrid
from startwright.car.start_control import GIVES_UP_S, MODE, OWN, by_button
from startwright.car.start_control import RUN as MODE_RUN
from startwright.car.start_control import START as MODE_START
from startwright.car.surroundings import values
from startwright.prove.choices import (
    BY_HAND,
    COAST_S,
    GIVEN_UP,
    NONE,
    START,
    STOP,
    TIME,
    Choice,
    choices,
)
from startwright.prove.model import COASTING, RESTING, RUNNING, STOPPED, TURNING, Model
from startwright.prove.reaction import Reaction
from startwright.prove.tables import Array
from startwright.records.errors import RecordError
from startwright.records.scenario import Action, Expect, Scenario, Wait
from startwright.records.words import GEARS, KEY_POSITIONS

CATCH_S = 0.8
"""How long the starter turns an engine that starts by itself, s (assumed, no source)."""
INSTANTS = 10_000
"""Most timers that may run out within one wait."""


@dataclass
class Moment:
    """A settled state and the time it was reached, s."""

    at_s: float
    row: dict[str, int]
    what: str


@dataclass
class Clock:
    """A clocked run of a model from the canonical parked start.

    Parameters
    ----------
    model : Model
    starts_itself : bool
        Whether the engine starts by itself once it is turned and can.
    """

    model: Model
    starts_itself: bool = True
    at_s: float = 0.0
    log: list[Moment] = field(default_factory=list)
    flaws: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._sound = self.model
        self._fault: Fault | None = None
        self._reaction = Reaction(self.model)
        self._choices = {c.name: c for c in choices(self.model)}
        start = {v.name: np.zeros(1, dtype=np.int32) for v in self.model.variables}
        self._columns: dict[str, Array] = self._react(start, NONE)[0]
        self.free = dict.fromkeys(self.model.free, 0)
        self._due: dict[str, float] = {}
        self._repeat_until = 0.0
        self._note("parked")

    def copy(self) -> Clock:
        """The same run, to be gone on with by itself."""
        other = copy(self)
        other.log, other.flaws = list(self.log), list(self.flaws)
        other.free, other._due = dict(self.free), dict(self._due)
        return other

    # ---- state ------------------------------------------------------------------------------

    def row(self) -> dict[str, int]:
        """The state as plain numbers, free surroundings and derived columns with it."""
        seen = self.model.worked(("row", *self._key_of(self._columns)), self._derived)
        return {**seen, **self.free}

    def _derived(self) -> dict[str, int]:
        seen = self.model.derive(self._columns)
        seen |= self._reaction.open_coils(self._columns)
        return {n: int(c[0]) for n, c in seen.items()}

    def _key_of(self, columns: dict[str, Array]) -> tuple[int, ...]:
        return tuple(int(columns[v.name][0]) for v in self.model.variables)

    def _react(self, columns: dict[str, Array], event: int) -> tuple[dict[str, Array], bool]:
        """The state after a change, and whether it settles; the same change is worked once."""

        def react() -> tuple[dict[str, Array], bool]:
            known = self.model.known(columns, event)
            if known is not None:
                return known
            out = self._reaction.react(columns, np.array([event], dtype=np.int32))
            return out.columns, not (out.chatters[0] or out.unstable[0])

        after, settles = self.model.worked((event, *self._key_of(columns)), react)
        return dict(after), settles

    @property
    def motion(self) -> int:
        """What the engine does."""
        return int(self._columns["motion"][0])

    @property
    def idle(self) -> bool:
        """Whether the unit is idle."""
        return int(self._columns["start"][0]) == 0

    def _note(self, what: str) -> None:
        self.log.append(Moment(self.at_s, self.row(), what))

    # ---- what happens -----------------------------------------------------------------------

    def act(self, action: Action) -> None:
        """Do one thing; raises `RecordError` where this world does not know it."""
        what, to = action.what, action.to
        if what == "command":
            self._command(to)
        elif what == "fault":
            self._break(to)
        elif what == "engine":
            self._engine(to)
        elif what == "key":
            position = {"insert": "off", "remove": "out"}.get(to, to)
            self._key(KEY_POSITIONS.index(position))
        elif what == "shift":
            self._set("gear", GEARS.index(to))
        elif what == "start_button" and self.model.car.imitates:
            self._by_hand(to)
        else:
            if what not in self._columns and what not in self.free:
                raise RecordError(
                    f"nothing here is worked by {what!r}",
                    "scenario",
                    "one of " + ", ".join(sorted({*self.model.surroundings, *self.free})),
                )
            self._set(what, values(what).index(to))

    def _break(self, what: str) -> None:
        """A single fault appears: the same state goes on in the faulty car."""
        from startwright.prove.faults import fault_named
        from startwright.prove.faulty import faulty_model, moved_over

        fault = fault_named(self.model.car, what)
        if fault is None:
            raise RecordError(f"no fault {what!r} here", "scenario", "a run, part or lead of it")
        self._fault = replace(fault, also=self._fault)
        variables = self.model.surroundings
        self.model = faulty_model(self._sound, self._fault, surroundings=variables)
        self._reaction = Reaction(self.model)
        self._choices = {c.name: c for c in choices(self.model)}
        self._columns = moved_over(self._columns, self.model)
        for name in list(self.free):
            if name in self._columns:
                self._columns[name] = np.array([self.free.pop(name)], dtype=np.int32)
        self.free = {n: self.free.get(n, 0) for n in self.model.free}
        self._change({}, NONE, f"fault {what}")

    def _key(self, to: int) -> None:
        if by_button(self.model.car.job.vehicle):
            self._power_mode(to)
            return
        now = int(self._columns["key"][0])
        while now != to:
            now += 1 if to > now else -1
            self._set("key", now)

    def _power_mode(self, to: int) -> None:
        """The driver's own press: to `start` with his foot on the brake, over nothing imitated."""
        row = self.row()
        if KEY_POSITIONS[to] == "start" and not row["brake"]:
            raise RecordError(
                "the button cranks only with the brake pressed", "scenario", "brake press before it"
            )
        if row.get(MODE, OWN) != OWN and to > KEY_POSITIONS.index("off"):
            raise RecordError(
                "the button was pressed for the driver; pressing it himself turns the car off",
                "scenario",
                "start_button press",
            )
        self._set("key", to)

    def _by_hand(self, to: str) -> None:
        """The driver's press: it undoes what was imitated, else the button's own wire moves."""
        choice, name = self._choices[BY_HAND], "start_button"
        if to == "press" and choice.when(self._columns)[0]:
            self._change({n: int(v[0]) for n, v in choice.change(self._columns).items()}, NONE, to)
        elif name in self.free or name in self.model.surroundings:
            self._set(name, values(name).index(to))

    def _set(self, name: str, value: int) -> None:
        if name in self.free:
            self.free[name] = value
            self._note(f"{name} {value}")
            return
        self._change({name: value}, NONE, f"{name} {value}")

    def _command(self, command: str) -> None:
        press = self.model.presses[int(self._columns["press"][0])]
        after = self.model.unit.press(press, command)
        begins = command not in ("start", "stop") or command in self.model.unit.pulses
        if begins and (after != press or (after.command and after.on)):
            self._due.pop("press", None)
            pulses = self.model.unit.pulses.get(after.command, ())
            repeat_s = pulses[after.at].repeat_s if after.command else None
            self._repeat_until = self.at_s + (repeat_s or 0.0)
        if after.again:
            self._due["window"] = self.at_s + self.model.unit.record.again_within_s
        event = {"start": START, "stop": STOP}.get(command, NONE)
        code = self.model.press_code[after]
        self._change({"press": code}, event, f"command {command}")

    def _engine(self, to: str) -> None:
        now = self.motion
        if is_hybrid(self.model.car.job.vehicle) and now == RUNNING and to in ("starts", "stops"):
            turns = {TURNS: int(to == "starts")} if self.model.comes_and_goes else {}
            self._change(turns, NONE, f"engine {to}")
            return
        if to == "starts":
            if now == RESTING or (now == TURNING and self._may_start()):
                self._change({"motion": RUNNING}, NONE, "engine starts")
            return
        if to == "gives_up":
            if self.model.car.imitates and self._choices[GIVEN_UP].when(self._columns)[0]:
                self._change({MODE: MODE_RUN}, NONE, GIVEN_UP)
            else:
                self._note(GIVEN_UP)
            return
        if to == "fails":
            self._due.pop("catch", None)
            self._note("engine fails")
            return
        if to == "stops" and now == RUNNING and self.model.car.job.vehicle.engine.idle_stop:
            self._change({"motion": RESTING}, NONE, "engine stops")
        elif now == RUNNING:
            self._change({"motion": COASTING}, NONE, "engine stalls")

    def _may_start(self) -> bool:
        return bool(self._choices["engine starts"].when(self._columns)[0])

    def wait(self, seconds: float) -> None:
        """Let time pass; timers run out when they are due."""
        end = self.at_s + seconds
        for _ in range(INSTANTS):
            name, due = min(self._due.items(), key=lambda d: d[1], default=("", float("inf")))
            if due > end + 1e-9:
                break
            self.at_s = max(self.at_s, due)
            del self._due[name]
            self._runs_out(name)
        else:
            self.flaws.append(f"{self.at_s:g} s: more than {INSTANTS} timers; later ones come late")
        self.at_s = end

    def _runs_out(self, name: str) -> None:
        model = self.model
        if name == "start":
            if self.motion == COASTING and not self._choices["time"].when(self._columns)[0]:
                self._due["start"] = self.at_s + COAST_S
                return
            start = int(self._columns["start"][0])
            self._change({}, TIME, "timer")
            if int(self._columns["start"][0]) == start:
                self._due["start"] = self.at_s + 0.1
        elif name == "press":
            press = model.presses[int(self._columns["press"][0])]
            repeats = self.at_s < self._repeat_until - 1e-9
            after = model.unit.pulse_over(press, repeats)
            self._change({"press": model.press_code[after]}, NONE, "pulse over")
        elif name == "window":
            press = model.presses[int(self._columns["press"][0])]
            code = model.press_code[model.unit.window_over(press)]
            self._change({"press": code}, NONE, "window over")
        elif name == "coast":
            self._change({"motion": STOPPED}, NONE, "engine stands")
        elif name == "cranking":
            self._change({MODE: MODE_RUN}, NONE, GIVEN_UP)
        elif name == "catch" and self._may_start():
            self._change({"motion": RUNNING}, NONE, "engine starts")

    def _change(self, to: dict[str, int], event: int, what: str) -> None:
        before = {n: int(self._columns[n][0]) for n in ("start", "press", "motion")}
        columns = {
            n: np.array([to[n]], dtype=np.int32) if n in to else c for n, c in self._columns.items()
        }
        self._columns, settles = self._react(columns, event)
        if not settles:
            self.flaws.append(f"{self.at_s:g} s: {what}: does not settle")
        self._timers(before, what.startswith("command"))
        self._note(what)

    def _timers(self, before: dict[str, int], pressed: bool) -> None:
        model = self.model
        start, press = int(self._columns["start"][0]), int(self._columns["press"][0])
        if start != before["start"]:
            old, new = model.starts[before["start"]], model.starts[start]
            if (old.mode, old.step, old.tries) != (new.mode, new.step, new.tries):
                self._arm("start", model.unit.time_s(new))
        old_press, new_press = model.presses[before["press"]], model.presses[press]
        if new_press[:3] != old_press[:3] or (pressed and "press" not in self._due):
            self._arm("press", model.unit.pulse_s(new_press))
        cranks = model.car.imitates and int(self._columns[MODE][0]) == MODE_START
        if self.starts_itself and cranks != ("cranking" in self._due):
            self._arm("cranking", GIVES_UP_S if cranks else None)
        motion = self.motion
        if motion != before["motion"]:
            self._arm("coast", COAST_S if motion == COASTING else None)
        if motion == TURNING and self.starts_itself and self._may_start():
            self._due.setdefault("catch", self.at_s + CATCH_S)
        elif motion != TURNING:
            self._due.pop("catch", None)

    def _arm(self, name: str, seconds: float | None) -> None:
        self._due.pop(name, None)
        if seconds is not None:
            self._due[name] = self.at_s + seconds

    @property
    def due(self) -> dict[str, float]:
        """When each timer under way runs out, s."""
        return dict(self._due)


def play(model: Model, scenario: Scenario) -> Clock:
    """Play a line's actions from the canonical parked start.

    Raises
    ------
    RecordError
        For an action this world does not know, or a fault (played elsewhere).
    """
    own = not any(isinstance(a, Action) and a.what == "engine" for a in scenario.actions)
    clock = Clock(model, starts_itself=own)
    for action in scenario.actions:
        if isinstance(action, Wait):
            clock.wait(action.seconds)
        else:
            clock.act(action)
    return clock


def meets(model: Model, row: dict[str, int], expect: Expect) -> bool:
    """Whether what a line expects is so in a state.

    A function or circuit is `on` when a circuit of it stands at its active level; a circuit that is
    called like another function is meant by that name. `starter` and the like without a circuit of
    that function raise `RecordError`.
    """
    if expect.what == "engine":
        return (row["motion"] == RUNNING) == (expect.to == "runs")
    if expect.what == "unit":
        return row["start"] == 0
    circuits = model.car.job.vehicle.circuits
    meant = [c for c in circuits if c.id == expect.what and c.function != expect.what] or circuits
    tables: list[Any] = []
    for circuit in meant:
        for function, wired, _ in model.acts(circuit):
            if expect.what in (function, circuit.id):
                tables.append(wired)
    if expect.what == "immobilizer":
        tables = list(model.interface_on.values()) or tables
    if not tables:
        raise RecordError(
            f"no circuit or function {expect.what!r} here",
            "scenario, after the arrow",
            "a function or id of the vehicle's circuits, 'engine runs', 'unit idle'",
        )
    on = any(bool(t.data[tuple(row[v] for v in t.over)]) for t in tables)
    return on == (expect.to == "on")


__all__ = ["Choice", "Clock", "Moment", "meets", "play"]
