"""One customer, one vehicle, one unit, from question to handover."""

from __future__ import annotations

from typing import Literal

from startwright.records.base import Record, Slug, Text
from startwright.records.stock import Stock
from startwright.records.unit import Unit
from startwright.records.vehicle import Vehicle
from startwright.records.words import Want


class Job(Record):
    """A job, ``startwright/job/1``; vehicle, unit and stock are a path, an id or the record."""

    format: Literal["startwright/job/1"]
    id: Slug
    vehicle: Vehicle | Text
    unit: Unit | Text
    stock: Stock | Text
    wants: list[Want]
    places_allowed: list[Text] | None = None
    customer: Text | None = None
    notes: Text | None = None


class WholeJob(Job):
    """A job whose vehicle, unit and stock are read: what every question takes."""

    vehicle: Vehicle
    unit: Unit
    stock: Stock
