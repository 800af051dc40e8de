"""Whole cars: which wires they have, what a scope makes of them, one recording a seed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from identify.fleet.cycle import Array, Script, script
from identify.fleet.key_fed import (
    Maker,
    accessory,
    battery,
    brake,
    dome_light,
    driver_door,
    hood,
    horn,
    ignition,
    ignition_second,
    key_sense,
    park_neutral,
    parking_light,
    rear_defogger,
    seat_heater,
    starter,
    trunk,
)
from identify.fleet.lookalikes import (
    blower,
    data,
    dimmer,
    fan_control,
    flasher,
    ground,
    injector,
    interlock,
    lamp_test,
    main_relay,
    oil_lamp,
    other_door,
    pump,
    reverse_lamp,
    running_output,
    sensor,
    srs,
    unused,
    window_feed,
)
from identify.fleet.node import Node
from identify.fleet.pulsed import (
    charge_lamp,
    lock,
    tach,
    unlock,
    wait_to_start,
)
from startwright.records.recordings import Recording, TimedAction, WirePlace


@dataclass
class Car:
    """A recording with the truth about every wire: function, level, whether it is dangerous."""

    recording: Recording
    actions: list[TimedAction]
    wires: dict[str, WirePlace]
    truth: dict[str, tuple[str | None, str | None]]
    kinds: dict[str, str]
    script: Script


CATALOGUE: list[tuple[str, Maker, float]] = [
    ("battery", battery, 0.9), ("accessory", accessory, 0.9), ("ignition", ignition, 0.95),
    ("ignition_second", ignition_second, 0.6), ("starter", starter, 0.95),
    ("key_sense", key_sense, 0.4), ("brake", brake, 0.8), ("hood", hood, 0.4),
    ("driver_door", driver_door, 0.5), ("trunk", trunk, 0.4), ("horn", horn, 0.4),
    ("parking_light", parking_light, 0.7), ("park_neutral", park_neutral, 0.35),
    ("seat_heater", seat_heater, 0.15), ("rear_defogger", rear_defogger, 0.2),
    ("dome_light", dome_light, 0.2), ("lock", lock, 0.7), ("unlock", unlock, 0.7),
    ("tach", tach, 0.6), ("charge_lamp", charge_lamp, 0.12), ("wait_to_start", wait_to_start, 0.05),
    ("blower", blower, 0.15), ("pump", pump, 0.15), ("oil_lamp", oil_lamp, 0.1),
    ("main_relay", main_relay, 0.1), ("window_feed", window_feed, 0.08),
    ("running_output", running_output, 0.1), ("flasher", flasher, 0.15), ("dimmer", dimmer, 0.2),
    ("interlock", interlock, 0.08), ("reverse_lamp", reverse_lamp, 0.1), ("sensor", sensor, 0.2),
    ("unused", unused, 0.25), ("injector", injector, 0.08), ("fan_control", fan_control, 0.1),
    ("lamp_test", lamp_test, 0.08), ("other_door", other_door, 0.1), ("ground", ground, 0.25),
    ("srs", srs, 0.2), ("data", data, 0.7), ("data", data, 0.35),
]  # fmt: skip


def digitised(rng: np.random.Generator, volts: Array) -> Array:
    """What a scope makes of it: gain, offset, noise, range, steps."""
    bits = int(rng.integers(8, 13))
    low, high = [(-20.0, 20.0), (0.0, 20.0), (-5.0, 25.0), (-16.0, 16.0), (-40.0, 40.0)][
        rng.integers(0, 5 if bits > 8 else 4)
    ]
    volts = volts * rng.normal(1.0, 0.006) + rng.normal(0.0, 0.02)
    volts = volts + rng.normal(0.0, rng.uniform(0.003, 0.08), len(volts))
    step = (high - low) / 2**bits
    return np.clip(np.round((volts - low) / step), 0, 2**bits - 1) * step + low


def _where(kind: str, rng: np.random.Generator) -> tuple[str, str]:
    """Place and plug as a fitter would write them down."""
    if kind in ("battery", "accessory", "ignition", "ignition_second", "starter", "key_sense"):
        return "steering column", "ignition switch, white 8-way"
    if kind == "data" and rng.random() < 0.6:
        return "behind the dash", "gateway, black 20-way"
    return str(rng.choice(["driver's kick panel", "behind the dash"])), "body computer, grey 24-way"


def car(seed: int, rate: float | None = None) -> Car:
    """One recording; the same for the same seed."""
    rng = np.random.default_rng(seed)
    rate = rate or float(np.exp(rng.uniform(np.log(250), np.log(4000))))
    s = script(rng, round(rate))
    meter = float(rng.choice([1e6, 1e7]))
    names: list[str] = []
    columns: list[Array] = []
    truth: dict[str, tuple[str | None, str | None]] = {}
    kinds: dict[str, str] = {}
    places: dict[str, WirePlace] = {}
    chosen = [c for c in CATALOGUE if rng.random() < c[2]]
    rng.shuffle(chosen)  # type: ignore[arg-type]
    told = rng.random() < 0.5
    spark = rng.uniform(0.0, 0.25) if rng.random() < 0.5 else 0.0
    for k, (kind, maker, _) in enumerate(chosen):
        node = Node(s, meter)
        function, active = maker(s, node)
        volts = node.solve()
        if spark:
            volts = volts + np.where(
                s.engine & (rng.random(len(s.t)) < 0.01), rng.normal(0, 3 * spark, len(s.t)), 0.0
            )
        name = f"ch{k + 1}"
        names.append(name)
        columns.append(digitised(rng, volts).astype(np.float32))
        truth[name] = (function, active)
        kinds[name] = kind
        if function == "srs":
            places[name] = WirePlace(name, "under the seat", "yellow 2-way", "1", "GN")
        elif told:
            places[name] = WirePlace(name, *_where(kind, rng), str(k + 1), "GY/RD")
    recording = Recording(s.t, np.stack(columns, axis=1), tuple(names))
    return Car(recording, s.noted, places, truth, kinds, s)
