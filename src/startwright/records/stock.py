"""The parts on the shelf."""

# ruff: noqa: RUF012 (pydantic copies defaults)
from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from startwright.records.base import (
    ArticleId,
    ColourCode,
    NonNegative,
    NoText,
    Positive,
    Record,
    Slug,
    Text,
    once,
    wrong,
)
from startwright.records.words import FUNCTIONS, SIGNALS, Worked

PINS: dict[str, tuple[str, ...]] = {
    "relay": ("30", "85", "86", "87", "87a"),
    "diode": ("anode", "cathode"),
    "resistor": ("a", "b"),
    "fuse": ("a", "b"),
    "switch": ("a", "b"),
}
"""The pins of each kind of part (relays by DIN 72552)."""

MEANINGS = frozenset({*FUNCTIONS, *SIGNALS, "battery", "ground"})
"""Words for what a pin of an interface is for."""


def _pins(value: object) -> object:
    """Pin names are words, though DIN 72552 numbers are written as numbers."""
    if isinstance(value, list):
        return [str(v) if isinstance(v, int) and not isinstance(v, bool) else v for v in value]
    if isinstance(value, dict):
        return {str(k) if isinstance(k, int) else k: v for k, v in value.items()}
    return value


class Part(Record):
    """One article on the shelf: its kind, its ratings, its price, how many."""

    id: ArticleId
    kind: Literal[
        "relay", "diode", "resistor", "fuse", "switch", "interface", "wire", "terminal", "loom"
    ]
    name: Text | None = None
    price: NonNegative = 0
    count: Annotated[int, Field(ge=0, le=100_000), NoText] = 0
    # relay
    coil_ohm: Positive | None = None
    contact_A: Positive | None = None
    pull_in_V: Positive | None = None
    drop_out_V: Positive | None = None
    suppressed: bool = False
    # diode
    forward_A: Positive | None = None
    reverse_V: Positive | None = None
    # resistor
    ohm: NonNegative | None = None
    watt: Positive | None = None
    # fuse
    rating_A: Positive | None = None
    # switch
    operated_by: Worked | None = None
    contact_at_rest: Literal["open", "closed"] | None = None
    # interface: what it stands in for, what each pin must meet, the pins, and the cars it fits
    serves: list[str] | str = []
    needs: dict[str, Text] | list[Text] = {}
    pins: Annotated[dict[str, Text] | list[Text], BeforeValidator(_pins)] = []
    model_fit: list[Text] | Text = []
    # wire, terminal, loom
    size_mm2: Positive | list[Positive] | None = None
    colour: ColourCode | None = None
    spool_m: NonNegative | None = None
    insulation_C: Positive | None = None
    inside_mm: Positive | None = None
    limit_A: Positive | None = None

    @model_validator(mode="after")
    def _ratings(self) -> Part:
        wanted = {
            "relay": ("coil_ohm", "contact_A", "pull_in_V", "drop_out_V"),
            "diode": ("forward_A", "reverse_V"),
            "resistor": ("ohm",),
            "fuse": ("rating_A",),
            "switch": ("operated_by", "contact_at_rest"),
            "wire": ("size_mm2",),
        }.get(self.kind, ())
        for key in wanted:
            if getattr(self, key) is None:
                raise wrong(f"a {self.kind} without `{key}`", f"`{key}`")
        if self.kind == "relay":
            assert self.pull_in_V is not None
            assert self.drop_out_V is not None
            if self.drop_out_V >= self.pull_in_V:
                raise wrong(
                    f"`drop_out_V: {self.drop_out_V:g}` with `pull_in_V: {self.pull_in_V:g}`",
                    "a relay that lets go below where it pulls in",
                )
        if self.kind == "interface" and not self.pin_names:
            raise wrong("an interface without `pins`", "`pins`")
        return self

    @property
    def pin_names(self) -> tuple[str, ...]:
        """The pins a run may go to."""
        if self.kind in PINS:
            return PINS[self.kind]
        return tuple(self.pin_meanings)

    @property
    def pin_meanings(self) -> dict[str, str]:
        """For an interface: each pin with what it is for; '' where the record does not say.

        `pins` may say it either way round, `{red: battery}` or `{battery: red}`: where every key is
        a word for what a pin is for and no value has one, the values are the pins.
        """
        if not isinstance(self.pins, dict):
            return dict.fromkeys(self.pins, "")
        keys, said = set(self.pins), [set(v.split()) for v in self.pins.values()]
        if keys and keys <= MEANINGS and not any(words & MEANINGS for words in said):
            return {pin: what for what, pin in self.pins.items()}
        return dict(self.pins)

    @property
    def needed_pins(self) -> dict[str, str]:
        """For an interface: each pin it needs, with what that pin must meet ('' where unsaid)."""
        if isinstance(self.needs, dict):
            if self.needs and not any(n in self.pin_names for n in self.needs):
                return {pin: what for what, pin in self.needs.items() if pin in self.pin_names}
            return dict(self.needs)
        said = self.pin_meanings
        named = [
            pin
            for n in self.needs
            for pin in ([n] if n in self.pin_names else [p for p in said if n in said[p].split()])
        ]
        return {n: said.get(n, "") for n in named}


class Stock(Record):
    """A shelf of parts, ``startwright/stock/1``."""

    format: Literal["startwright/stock/1"]
    id: Slug
    parts: Annotated[list[Part], Field(max_length=5000)]

    @model_validator(mode="after")
    def _names_once(self) -> Stock:
        once("parts", "parts", (part.id for part in self.parts))
        return self

    def part(self, id: str) -> Part:
        """The part of that id; `KeyError` where there is none."""
        for part in self.parts:
            if part.id == id:
                return part
        raise KeyError(id)
