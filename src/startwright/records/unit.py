"""The remote-start control unit: leads, settings, and what it does when.

A key that is left out takes the package's default, listed in ``docs/reference/unit-defaults.md``.
"""

# ruff: noqa: RUF012 (pydantic copies defaults)
from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from startwright.records.base import (
    ColourCode,
    NonNegative,
    NoText,
    Number,
    Positive,
    Record,
    Slug,
    Text,
    once,
    wrong,
)
from startwright.records.words import ActiveLevel, Drive, KeyPosition, Sense


class Lead(Record):
    """One wire of the unit."""

    id: Slug
    way: Literal["feed", "ground", "out", "in"]
    does: list[Drive] = []
    chosen_by: Slug | None = None
    active: ActiveLevel | None = None
    active_by: Slug | None = None
    fed_by: Slug | None = None
    limit_A: Positive | dict[ActiveLevel, Positive] | None = None
    switch: Literal["relay", "transistor"] | None = None
    suppressed: bool = False
    fuse_A: Positive | None = None
    senses: Sense | None = None
    pull: Literal["up", "down", "none"] | None = None
    pull_ohm: Positive = 10_000
    on_V: NonNegative | None = None
    off_V: NonNegative | None = None
    debounce_s: NonNegative = 0.05
    colour: ColourCode | None = None
    size_mm2: Positive | None = None
    plug: Text | None = None
    pin: Text | None = None

    @model_validator(mode="after")
    def _coherent(self) -> Lead:
        if self.way == "out" and not self.does:
            raise wrong("an `out` lead without `does`", "`does`, such as [ignition]")
        if self.way == "in" and self.senses is None:
            raise wrong("an `in` lead without `senses`", "`senses`, such as hood")
        if self.way == "out" and len(self.does) > 1 and self.chosen_by is None:
            raise wrong(
                "an `out` lead that can do several things, without `chosen_by`",
                "`chosen_by`, the setting that says which one",
            )
        if isinstance(self.limit_A, dict) and self.active_by is None:
            raise wrong(
                "`limit_A` by level without `active_by`",
                "one number, or `active_by`, the setting that says the level",
            )
        if self.on_V is not None and self.off_V is not None and self.senses != "tach":
            battery = (self.active or default_active(self.senses)) == "battery"
            if self.on_V < self.off_V if battery else self.on_V > self.off_V:
                level = "battery" if battery else "ground"
                raise wrong(
                    f"`on_V: {self.on_V:g}` with `off_V: {self.off_V:g}`, active at {level}",
                    f"`on_V` {'at or above' if battery else 'at or below'} `off_V`",
                )
        return self


def default_active(senses: str | None) -> str:
    """The level at which an input is active where its record does not say."""
    return "battery" if senses in ("brake", "charge_lamp") else "ground"


def _plain(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:g}"


class NumberRange(Record):
    """The numbers a setting may take."""

    min: Number
    max: Number
    step: Positive
    unit: Text | None = None


class Setting(Record):
    """Something chosen in the unit: its values, its default, how the fitter sets it."""

    id: Slug
    asks: Text | None = None
    values: NumberRange | dict[str, Text | None] | list[str]
    default: str | Number
    how: Text | None = None
    sets: Text | None = None

    def allows(self, value: str | float) -> bool:
        """Whether `value` is one of the setting's values."""
        if isinstance(self.values, NumberRange):
            if isinstance(value, str):
                return False
            r = self.values
            steps = (value - r.min) / r.step
            return r.min - 1e-9 <= value <= r.max + 1e-9 and abs(steps - round(steps)) < 1e-6
        return _plain(value) in self.values

    def numbers(self) -> list[float]:
        """The values as numbers (of a range its ends and its step); `ValueError` for words."""
        if isinstance(self.values, NumberRange):
            return [self.values.min, self.values.max, self.values.step]
        return [float(v) for v in self.values]


class EngineSignal(Record):
    """How the unit knows that the engine runs: by the setting `by`."""

    by: Slug
    choices: list[Literal["tach", "volts", "charge_lamp", "timed"]]


class Step(Record):
    """One step of the start sequence."""

    step: Slug
    drives: list[Drive] = []
    like: KeyPosition = "off"
    for_s: Positive | None = None
    or_until: Literal["wait_over", "engine_running"] | None = None
    until: Literal["engine_running", "wait_over"] | None = None
    at_most_s: Positive | None = None
    on_timeout: Literal["retry", "next", "end"] = "end"


class Guard(Record):
    """An input and what it must read for a start to begin and go on."""

    input: Sense
    reads: Literal["active", "inactive"]


class Pulse(Record):
    """One pulse of a command."""

    drives: list[Drive]
    pulse_s: Positive = 0.8
    repeat_s: Positive | None = None


class Commands(Record):
    """What each press does; lists are pulses one after another."""

    lock: list[Pulse] = []
    lock_again: list[Pulse] = []
    unlock: list[Pulse] = []
    unlock_again: list[Pulse] = []
    trunk: list[Pulse] = []
    panic: list[Pulse] = []
    start: list[Pulse] = []
    stop: list[Pulse] = []


DEFAULT_SEQUENCE: tuple[Step, ...] = (
    Step(step="acknowledge", drives=["parking_light"], like="off", for_s=1),
    Step(
        step="settle",
        drives=["parking_light", "ignition", "accessory", "running_signal", "ignition_signal"],
        like="run",
        for_s=2,
        or_until="wait_over",
    ),
    Step(
        step="crank",
        drives=[
            "parking_light",
            "ignition",
            "running_signal",
            "ignition_signal",
            "starter",
            "starter_signal",
        ],
        like="start",
        until="engine_running",
        at_most_s=4,
        on_timeout="retry",
    ),
    Step(
        step="run",
        drives=["parking_light", "ignition", "accessory", "running_signal", "ignition_signal"],
        like="run",
        at_most_s=1200,
        on_timeout="end",
    ),
)
DEFAULT_GUARDS: tuple[Guard, ...] = (
    Guard(input="hood", reads="inactive"),
    Guard(input="brake", reads="inactive"),
    Guard(input="park_neutral", reads="active"),
)
DEFAULT_COMMANDS = Commands(
    lock=[
        Pulse(drives=["lock"], pulse_s=0.8),
        Pulse(drives=["parking_light"], pulse_s=0.3),
    ],
    lock_again=[Pulse(drives=["horn"], pulse_s=0.05)],
    unlock=[Pulse(drives=["unlock"], pulse_s=0.8)],
    unlock_again=[Pulse(drives=["unlock"], pulse_s=0.8)],
    trunk=[Pulse(drives=["trunk_release"], pulse_s=0.8)],
    panic=[Pulse(drives=["horn", "parking_light"], pulse_s=0.5, repeat_s=30)],
)


def _listed(names: set[str]) -> str:
    return ", ".join(sorted(names)) or "there is none"


class Unit(Record):
    """A control unit file, ``startwright/unit/1``."""

    format: Literal["startwright/unit/1"]
    id: Slug
    name: Text | None = None
    logic_from: Slug
    leads: Annotated[list[Lead], Field(max_length=200)]
    settings: list[Setting] = []
    engine_signal: EngineSignal | None = None
    sequence: Annotated[list[Step], Field(max_length=16)] = list(DEFAULT_SEQUENCE)
    guards: list[Guard] = list(DEFAULT_GUARDS)
    refuses: list[Literal["ignition_on", "service"]] = ["ignition_on", "service"]
    tries: Annotated[int, Field(ge=1, le=10), NoText] = 3
    pause_s: Positive = 5
    commands: Commands = DEFAULT_COMMANDS
    ending: Pulse | None = None
    again_within_s: Positive = 5
    holds_after_key: bool = False
    manual_gearbox: Text | None = None
    key_off_mA: NonNegative = 10
    notes: Text | None = None

    @model_validator(mode="after")
    def _coherent(self) -> Unit:
        once("leads", "leads", (lead.id for lead in self.leads))
        once("settings", "settings", (setting.id for setting in self.settings))
        feeds = {lead.id for lead in self.leads if lead.way == "feed"}
        if self.logic_from not in feeds:
            raise wrong(
                f"`logic_from: {self.logic_from}`",
                f"a feed lead: {_listed(feeds)}",
                ("logic_from",),
            )
        settings = {s.id for s in self.settings}
        if self.engine_signal is not None:
            settings.add(self.engine_signal.by)
        for n, lead in enumerate(self.leads):
            if lead.fed_by is not None and lead.fed_by not in feeds:
                raise wrong(
                    f"`fed_by: {lead.fed_by}` on lead {lead.id}",
                    f"a feed lead: {_listed(feeds)}",
                    ("leads", n, "fed_by"),
                )
            for key in (lead.chosen_by, lead.active_by):
                if key is not None and key not in settings:
                    raise wrong(
                        f"the setting {key!r} on lead {lead.id}",
                        f"a setting: {_listed(settings)}",
                        ("leads", n),
                    )
        for n, setting in enumerate(self.settings):
            if not setting.allows(setting.default):
                raise wrong(
                    f"`default: {_plain(setting.default)}` of the setting {setting.id}",
                    "one of its `values`",
                    ("settings", n, "default"),
                )
            if setting.sets is not None:
                self._sets(n, setting, setting.sets)
        return self

    def _sets(self, n: int, setting: Setting, sets: str) -> None:
        """A setting replaces a number that is there, by numbers that can stand there."""
        if any(other.sets == sets for other in self.settings[:n]):
            raise wrong(
                f"`sets: {sets}` of the setting {setting.id}, which another setting sets too",
                "one setting for each number",
                ("settings", n, "sets"),
            )
        known = {"tries", "pause_s"}
        known |= {f"{s.step}.{key}" for s in self.sequence for key in ("for_s", "at_most_s")}
        known |= {f"commands.{name}.pulse_s" for name in Commands.model_fields}
        if sets not in known:
            steps = [s.step for s in self.sequence]
            raise wrong(
                f"`sets: {sets}` of the setting {setting.id}",
                "tries, pause_s, <step>.for_s, <step>.at_most_s or commands.<command>.pulse_s; "
                f"the steps are {_listed(set(steps))}",
                ("settings", n, "sets"),
            )
        try:
            numbers = setting.numbers()
        except ValueError:
            raise wrong(
                f"`sets: {sets}` of the setting {setting.id}, whose `values` are words",
                "`values` that are numbers",
                ("settings", n, "values"),
            ) from None
        whole = sets != "tries" or all(x == int(x) and x >= 1 for x in numbers)
        if min(numbers, default=0.0) < 0 or not whole:
            raise wrong(
                f"`sets: {sets}` of the setting {setting.id}, with the value {min(numbers):g}",
                "whole numbers from 1" if sets == "tries" else "no number below 0",
                ("settings", n, "values"),
            )

    def lead(self, id: str) -> Lead:
        """The lead of that id; `KeyError` where there is none."""
        for lead in self.leads:
            if lead.id == id:
                return lead
        raise KeyError(id)

    def setting(self, id: str) -> Setting | None:
        """The setting of that id; the engine-signal setting is made from `engine_signal`."""
        for setting in self.settings:
            if setting.id == id:
                return setting
        if self.engine_signal is not None and self.engine_signal.by == id:
            return Setting(
                id=id,
                asks="how the unit knows that the engine runs",
                values=list(self.engine_signal.choices),
                default=self.engine_signal.choices[0],
            )
        return None

    def chosen(self, settings: dict[str, str | float]) -> dict[str, str | float]:
        """Every setting's value: as given, else its default."""
        values: dict[str, str | float] = {s.id: s.default for s in self.settings}
        if self.engine_signal is not None:
            values.setdefault(self.engine_signal.by, self.engine_signal.choices[0])
        return {**values, **settings}
