"""Exactly what is built: parts, settings, cuts and runs; and the plan around it."""

# ruff: noqa: RUF012 (pydantic copies defaults)
from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, model_validator

from startwright.records.base import (
    ArticleId,
    ColourCode,
    NonNegative,
    Number,
    PartId,
    Positive,
    Record,
    Slug,
    Text,
    once,
    wrong,
)
from startwright.records.words import Joint

_TERMINAL = re.compile(
    r"^(unit\.[a-z0-9_-]+|vehicle\.[a-z0-9_-]+(\.(source|load))?"
    r"|ground\.[A-Za-z0-9_' -]+|[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+)$"
)


def _terminal(value: str) -> str:
    if not _TERMINAL.match(value):
        raise wrong(
            f"the terminal {value[:80]!r}",
            "unit.<lead>, vehicle.<circuit>, vehicle.<circuit>.source or .load of a cut, "
            "<part>.<pin> or ground.<point>",
        )
    return value


Terminal = Annotated[
    str, AfterValidator(_terminal), Field(json_schema_extra={"pattern": _TERMINAL.pattern})
]


class Fitted(Record):
    """A part in the wiring: its name there and the article it is."""

    id: PartId
    of: ArticleId
    place: Text | None = None


class Run(Record):
    """One length of wire from a terminal to a terminal."""

    id: PartId
    from_: Annotated[Terminal, Field(alias="from")]
    to: Terminal
    size_mm2: Positive | None = None
    colour: ColourCode | None = None
    length_m: Positive | None = None
    joints: list[Joint] = []
    why: Text | None = None

    @model_validator(mode="after")
    def _two_ends(self) -> Run:
        if self.from_ == self.to:
            raise wrong(f"a run from {self.from_} to itself", "two terminals")
        return self

    @property
    def ends(self) -> tuple[str, str]:
        """Both terminals."""
        return (self.from_, self.to)


NOT_PARTS = ("unit", "vehicle", "ground", "rail", "car", "run", "out", "pull", "coil")
"""What no part may be called: terminals and elements of the network begin with these words."""


class Wiring(Record):
    """A wiring file, ``startwright/wiring/1``. It is complete: what is not in it is not built."""

    format: Literal["startwright/wiring/1"]
    parts: Annotated[list[Fitted], Field(max_length=200)] = []
    settings: dict[str, str | Number] = {}
    cuts: list[Slug] = []
    runs: Annotated[list[Run], Field(max_length=500)]

    @model_validator(mode="after")
    def _names_once(self) -> Wiring:
        once("parts", "parts", (part.id for part in self.parts))
        once("runs", "runs", (run.id for run in self.runs))
        once("cuts", "cuts", self.cuts)
        parts = {part.id for part in self.parts}
        for n, run in enumerate(self.runs):
            if run.id in parts:
                expected = "a name that no part has: a fault is told by it"
                raise wrong(f"a run called {run.id!r} as a part is", expected, ("runs", n, "id"))
        for n, part in enumerate(self.parts):
            if part.id in NOT_PARTS:
                raise wrong(f"a part called {part.id!r}", "another name", ("parts", n, "id"))
        return self


class Need(Record):
    """What a want requires on this vehicle, with the reason."""

    id: Slug
    need: Text
    because: Text
    strength: Literal["must", "should"] = "must"
    met: bool = True
    by: list[PartId] = []


class Reason(Record):
    """Why one run, part or setting is as it is."""

    of: Text
    says: Text
    source: Text | None = None


class Check(Record):
    """Something to measure or try at the vehicle, with the expected result."""

    id: Slug
    do: list[Text]
    probe: Text | None = None
    expect: Text
    before: Text | None = None
    caution: Text | None = None


class Plan(Record):
    """A plan, ``startwright/plan/1``: a wiring with its needs, reasons, cost, minutes, checks."""

    format: Literal["startwright/plan/1"]
    job: Slug
    wiring: Wiring
    needs: list[Need] = []
    reasons: list[Reason] = []
    cost: NonNegative = 0
    minutes: NonNegative = 0
    checks: list[Check] = []
    warnings: list[Text] = []
    alternatives: list[Any] = []
