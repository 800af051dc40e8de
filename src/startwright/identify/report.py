"""The answer of `identify`, as a record."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from startwright.records.base import Record


class Rival(Record):
    """Another function that a wire may have."""

    function: str
    active: Literal["battery", "ground"] | None = None
    probability: float


class WireVerdict(Record):
    """What one wire is, how sure that is, and why.

    ``function`` is null where it is not known. ``else_probability`` is that of something
    which has no function here. ``evidence`` says in words what spoke for and against.
    """

    wire: str
    function: str | None
    active: Literal["battery", "ground"] | None
    probability: float
    rivals: list[Rival] = Field(default_factory=list)
    leave_alone: bool = False
    notes: list[str] = Field(default_factory=list)
    likely: str | None = None
    else_probability: float = 0.0
    evidence: list[str] = Field(default_factory=list)
    live: list[str] | None = None
    rest: Literal["battery", "ground", "open"] | None = None
    levels_V: dict[str, float] = Field(default_factory=dict)
    steps_ohm: dict[str, float] | None = None
    place: str | None = None
    plug: str | None = None
    pin: str | None = None
    colour: str | None = None


class NextCheck(Record):
    """What to measure next: what to do, where to probe, what each candidate would show."""

    do: list[str]
    wire: str
    expected: str
    gain_bits: float
    seconds: float
    candidates: dict[str, str] = Field(default_factory=dict)
    meter: Literal["digital", "test load", "scope"] = "digital"
    caution: str | None = None


class TimedState(Record):
    """One action as noted and as seen in the signals."""

    time_s: float
    action: str
    noted_s: float | None = None
    proposed: bool = False


class TachReport(Record):
    """What a tach line gives: rates, pulses a revolution, and where to draw the line."""

    wire: str
    is_tach: bool
    why: str
    cranking_hz: float | None = None
    running_hz: float | None = None
    pulses_per_rev: float | None = None
    threshold_hz: float | None = None
    margin: float | None = None
    missing: float = 0.0
    ringing: float = 0.0


class IdentifyReport(Record):
    """The answer of `identify`."""

    wires: list[WireVerdict]
    next_checks: list[NextCheck] = Field(default_factory=list)
    actions: list[TimedState] = Field(default_factory=list)
    tach: list[TachReport] = Field(default_factory=list)
    notes: list[str] = Field(default_factory=list)
