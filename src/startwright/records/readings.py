"""Meter values, with what was operated at the time."""

# ruff: noqa: RUF012 (pydantic copies defaults)
from __future__ import annotations

from typing import Literal

from startwright.records.base import ColourCode, Number, Record, Text


class Meter(Record):
    """What the value was read with."""

    kind: Literal["digital", "lamp"] = "digital"
    hum: bool = False


class Reading(Record):
    """One meter value of one wire."""

    wire: Text
    volts_V: Number
    during: list[Text] = []
    meter: Meter = Meter()
    place: Text | None = None
    plug: Text | None = None
    pin: Text | None = None
    colour: ColourCode | None = None


class Readings(Record):
    """A readings file, ``startwright/readings/1``."""

    format: Literal["startwright/readings/1"]
    readings: list[Reading]
