"""The car as found: engine, gearbox, key, immobilizer, circuits, places."""

# ruff: noqa: RUF012 (pydantic copies defaults)
from __future__ import annotations

import datetime
from typing import Annotated, Literal

from pydantic import Field, model_validator

from startwright.records.base import (
    ColourCode,
    Flag,
    NonNegative,
    NoText,
    Positive,
    Record,
    Slug,
    Text,
    Whole,
    once,
    wrong,
)
from startwright.records.words import (
    KEY_FED,
    NEVER_TOUCHED,
    ActiveLevel,
    Function,
    KeyPosition,
    Known,
    Level,
)


class Engine(Record):
    """The engine as far as starting it is concerned."""

    cylinders: Annotated[int, Field(ge=1, le=16), NoText] = 4
    ignition: Literal["coil_per_plug", "waste_spark", "distributor", "compression"] = (
        "coil_per_plug"
    )
    fuel: Literal["petrol", "diesel", "gas", "ethanol", "hybrid"] = "petrol"
    idle_rpm: Positive = 750
    idle_stop: bool = False


class Evidence(Record):
    """One thing seen that speaks for or against an immobilizer."""

    saw: Text
    says: Text | None = None
    date: datetime.date | None = None
    by: Text | None = None


class Immobilizer(Record):
    """What keeps a stranger from starting the engine, and how that is known."""

    kind: Literal["none", "resistor_key", "transponder", "coded_data", "smart_key", "unknown"] = (
        "unknown"
    )
    key_ohm: Positive | None = None
    evidence: list[Evidence | Text] = []


class FactoryAlarm(Record):
    """The car's own alarm."""

    fitted: bool = False
    disarm_by: Text | None = None


class Battery(Record):
    """The starter battery and the car's own key-off current."""

    capacity_Ah: Positive = 60
    cca_A: Positive = 540
    key_off_mA: NonNegative = 30


class How(Record):
    """How a circuit is known."""

    how: Known
    date: datetime.date | None = None
    by: Text | None = None
    evidence: list[Text] = []


class StepsOhm(Record):
    """Resistances of a coded (ladder) switch against ground."""

    rest: NonNegative
    lock: NonNegative | None = None
    unlock: NonNegative | None = None
    driver_unlock: NonNegative | None = None
    trunk_release: NonNegative | None = None


class Circuit(Record):
    """One wire of the vehicle with a function: where it is, how it looks, how it behaves.

    Key-fed circuits say in which key positions they are ``live``; operated circuits say how they
    ``rest`` and what they become when ``active``.
    """

    id: Slug
    function: Function
    number: Annotated[int, Field(ge=1, le=9), NoText] | None = None
    also: list[Function] = []
    place: Text | None = None
    plug: Text | None = None
    pin: Text | None = None
    colour: ColourCode | None = None
    size_mm2: Positive | None = None
    fuse_A: Positive | None = None
    live: list[KeyPosition] | None = None
    rest: Level | None = None
    active: Level | None = None
    load_A: NonNegative | None = None
    inrush_A: NonNegative | None = None
    inrush_s: NonNegative | None = None
    side: Literal["left", "right"] | None = None
    style: Literal["pulse", "reversing", "ladder", "level", "vacuum"] | None = None
    pulse_s: Positive | None = None
    presses: Annotated[int, Field(ge=1, le=5), NoText] = 1
    steps_ohm: StepsOhm | None = None
    tells: Literal["park"] | None = None
    interlock: Literal["downstream", "upstream", "mechanical", "none"] | None = None
    """Where the car's own park/neutral switch is, seen from here; left out it counts as none."""
    pulses_per_rev: Positive | None = None
    reach: Literal["wire", "bus"] = "wire"
    may_hold_in_crank: Flag = False
    leave_dead: Flag = False
    known: How | None = None
    notes: Text | None = None

    @property
    def key_fed(self) -> bool:
        """Whether the key position decides this circuit's level."""
        return self.live is not None

    @model_validator(mode="after")
    def _coherent(self) -> Circuit:
        if self.live is not None and self.function not in KEY_FED:
            raise wrong(
                f"`live` on a {self.function} circuit",
                f"`rest` and `active`; `live` belongs to {', '.join(sorted(KEY_FED))}",
            )
        if self.live is None and self.function in KEY_FED - {"battery"}:
            raise wrong(
                f"no `live` on a {self.function} circuit",
                "`live`, the key positions in which it stands at its level, such as [run, start]",
            )
        if self.live is not None and len(set(self.live)) != len(self.live):
            raise wrong("a key position twice in `live`", "each key position once")
        if self.live is not None and self.active == "open":
            raise wrong(
                "`active: open` on a key-fed circuit", "`active: battery` or `active: ground`"
            )
        operated = self.function not in KEY_FED | NEVER_TOUCHED | {"ground", "tach", "immobilizer"}
        if operated and self.style not in ("ladder", "vacuum", "reversing"):
            if self.active is None:
                raise wrong(
                    f"no `active` on a {self.function} circuit",
                    "`active`, the level when operated: battery, ground or open",
                )
            if self.rest is not None and self.rest == self.active:
                raise wrong(f"`rest` and `active` both {self.active}", "two different levels")
        if self.style == "ladder" and self.steps_ohm is None:
            raise wrong(
                "a ladder circuit without `steps_ohm`",
                "`steps_ohm`, such as {rest: 4700, lock: 330, unlock: 1000}",
            )
        return self

    @property
    def active_level(self) -> Level:
        """The level when operated; for key-fed circuits ``battery`` unless said otherwise."""
        return self.active or "battery"


class Way(Record):
    """How long a wire is between two places, along the usual way."""

    from_: Annotated[Text, Field(alias="from")]
    to: Text
    length_m: Positive
    space_mm: Positive | None = None


class Vehicle(Record):
    """A vehicle file, ``startwright/vehicle/1``."""

    format: Literal["startwright/vehicle/1"]
    id: Slug
    make: Text | None = None
    model: Text | None = None
    years: tuple[Whole, Whole] | None = None
    trim: Text | None = None
    engine: Engine = Engine()
    powertrain: Literal["engine", "hybrid"] = "engine"
    gearbox: Literal["automatic", "cvt", "manual"]
    start: Literal["key", "push_button"] = "key"
    steering_lock: Literal["mechanical", "electric", "none"] = "mechanical"
    immobilizer: Immobilizer = Immobilizer()
    factory_alarm: FactoryAlarm = FactoryAlarm()
    battery: Battery = Battery()
    circuits: Annotated[list[Circuit], Field(max_length=500)]
    places: list[Way] = []
    notes: Text | None = None

    @model_validator(mode="after")
    def _names_once(self) -> Vehicle:
        once("circuits", "circuits", (circuit.id for circuit in self.circuits))
        return self

    def circuit(self, id: str) -> Circuit:
        """The circuit of that id; `KeyError` where there is none."""
        for circuit in self.circuits:
            if circuit.id == id:
                return circuit
        raise KeyError(id)

    def of(self, *functions: str) -> list[Circuit]:
        """All circuits of these functions, in the order of the record."""
        return [c for c in self.circuits if c.function in functions]


__all__ = [
    "ActiveLevel",
    "Battery",
    "Circuit",
    "Engine",
    "Evidence",
    "FactoryAlarm",
    "How",
    "Immobilizer",
    "StepsOhm",
    "Vehicle",
    "Way",
]
