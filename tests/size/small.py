"""A small made-up car, unit and shelf for the sizing tests, and a wiring that holds."""

from __future__ import annotations

import copy
from typing import Any

from startwright.records import WholeJob, Wiring

KEYS = ["out", "off", "accessory", "run", "start"]
VEHICLE: dict[str, Any] = {
    "format": "startwright/vehicle/1",
    "id": "plain-car",
    "gearbox": "automatic",
    "immobilizer": {"kind": "none"},
    "battery": {"capacity_Ah": 60, "cca_A": 600, "key_off_mA": 25},
    "circuits": [
        {
            "id": "batt",
            "function": "battery",
            "live": KEYS,
            "fuse_A": 40,
            "size_mm2": 4.0,
            "place": "column",
        },
        {
            "id": "ign",
            "function": "ignition",
            "live": ["run", "start"],
            "load_A": 12.0,
            "fuse_A": 30,
            "size_mm2": 2.5,
            "place": "column",
        },
        {
            "id": "crank",
            "function": "starter",
            "live": ["start"],
            "load_A": 10.0,
            "fuse_A": 30,
            "interlock": "downstream",
            "size_mm2": 2.5,
            "place": "column",
        },
        {
            "id": "lamps",
            "function": "parking_light",
            "active": "battery",
            "load_A": 3.0,
            "fuse_A": 10,
            "place": "kick",
        },
        {
            "id": "locks",
            "function": "lock",
            "style": "pulse",
            "rest": "battery",
            "active": "ground",
            "load_A": 0.2,
            "place": "kick",
        },
        {"id": "hood", "function": "hood", "active": "ground", "load_A": 0.02, "place": "kick"},
    ],
    "places": [{"from": "column", "to": "kick", "length_m": 0.7}],
}
UNIT: dict[str, Any] = {
    "format": "startwright/unit/1",
    "id": "plain-unit",
    "logic_from": "feed",
    "leads": [
        {"id": "feed", "way": "feed", "limit_A": 30, "size_mm2": 4.0},
        {"id": "gnd", "way": "ground", "limit_A": 10, "size_mm2": 1.5},
        {
            "id": "ign",
            "way": "out",
            "does": ["ignition"],
            "active": "battery",
            "limit_A": 25,
            "switch": "relay",
            "size_mm2": 2.5,
        },
        {
            "id": "start",
            "way": "out",
            "does": ["starter"],
            "active": "battery",
            "limit_A": 25,
            "switch": "relay",
            "size_mm2": 2.5,
        },
        {
            "id": "lights",
            "way": "out",
            "does": ["parking_light"],
            "active": "battery",
            "limit_A": 10,
            "switch": "relay",
            "size_mm2": 1.0,
        },
        {
            "id": "lock",
            "way": "out",
            "does": ["lock"],
            "active": "ground",
            "limit_A": 0.5,
            "switch": "transistor",
            "size_mm2": 0.5,
        },
        {
            "id": "sig",
            "way": "out",
            "does": ["running_signal"],
            "active": "ground",
            "limit_A": 0.5,
            "switch": "transistor",
            "suppressed": True,
            "size_mm2": 0.5,
        },
        {
            "id": "bare",
            "way": "out",
            "does": ["ignition_signal"],
            "active": "ground",
            "limit_A": 0.5,
            "switch": "transistor",
            "suppressed": False,
            "size_mm2": 0.5,
        },
        {"id": "hood_in", "way": "in", "senses": "hood", "active": "ground", "size_mm2": 0.5},
    ],
    "engine_signal": {"by": "signal", "choices": ["timed"]},
    "key_off_mA": 8,
}
STOCK: dict[str, Any] = {
    "format": "startwright/stock/1",
    "id": "shelf",
    "parts": [
        {"id": "fuse-25", "kind": "fuse", "rating_A": 25},
        {"id": "fuse-30", "kind": "fuse", "rating_A": 30},
        {"id": "fuse-40", "kind": "fuse", "rating_A": 40},
        {"id": "fuse-15", "kind": "fuse", "rating_A": 15},
        {"id": "fuse-20", "kind": "fuse", "rating_A": 20},
        {
            "id": "relay",
            "kind": "relay",
            "coil_ohm": 85,
            "contact_A": 40,
            "pull_in_V": 7.0,
            "drop_out_V": 1.5,
            "suppressed": True,
        },
        {
            "id": "relay-bare",
            "kind": "relay",
            "coil_ohm": 85,
            "contact_A": 40,
            "pull_in_V": 7.0,
            "drop_out_V": 1.5,
        },
        {
            "id": "relay-small",
            "kind": "relay",
            "coil_ohm": 85,
            "contact_A": 10,
            "pull_in_V": 7.0,
            "drop_out_V": 1.5,
            "suppressed": True,
        },
        {
            "id": "relay-stiff",
            "kind": "relay",
            "coil_ohm": 85,
            "contact_A": 40,
            "pull_in_V": 9.8,
            "drop_out_V": 7.4,
            "suppressed": True,
        },
        {"id": "resistor-1k", "kind": "resistor", "ohm": 1000, "watt": 0.5},
        {"id": "diode-1", "kind": "diode", "forward_A": 1, "reverse_V": 400},
    ],
}
RUNS: list[dict[str, Any]] = [
    {"id": "tap", "from": "vehicle.batt", "to": "F1.a", "size_mm2": 4.0, "length_m": 0.15},
    {"id": "feed", "from": "F1.b", "to": "unit.feed", "size_mm2": 4.0, "length_m": 0.6},
    {"id": "gnd", "from": "unit.gnd", "to": "ground.brace", "size_mm2": 1.5, "length_m": 0.4},
    {"id": "ign", "from": "unit.ign", "to": "vehicle.ign", "size_mm2": 2.5, "length_m": 0.7},
    {"id": "start", "from": "unit.start", "to": "vehicle.crank", "size_mm2": 2.5, "length_m": 0.7},
    {
        "id": "lights",
        "from": "unit.lights",
        "to": "vehicle.lamps",
        "size_mm2": 1.5,
        "length_m": 0.7,
    },
    {"id": "lock", "from": "unit.lock", "to": "vehicle.locks", "size_mm2": 0.5, "length_m": 0.7},
    {"id": "hood", "from": "vehicle.hood", "to": "unit.hood_in", "size_mm2": 0.5, "length_m": 0.7},
]
PARTS = [{"id": "F1", "of": "fuse-25"}]


def job(**battery: float) -> WholeJob:
    vehicle = copy.deepcopy(VEHICLE)
    vehicle["battery"].update(battery)
    return WholeJob.model_validate(
        {
            "format": "startwright/job/1",
            "id": "small",
            "vehicle": vehicle,
            "unit": UNIT,
            "stock": STOCK,
            "wants": ["remote_start"],
        }
    )


def wiring(
    changes: dict[str, dict[str, Any]] | None = None,
    more: list[dict[str, Any]] | None = None,
    parts: list[dict[str, Any]] | None = None,
    drop: tuple[str, ...] = (),
) -> Wiring:
    """The wiring that holds, with some runs changed, added or left out."""
    runs = [{**r, **(changes or {}).get(r["id"], {})} for r in RUNS if r["id"] not in drop]
    return Wiring.model_validate(
        {
            "format": "startwright/wiring/1",
            "parts": parts if parts is not None else PARTS,
            "runs": runs + (more or []),
        }
    )


def row(rows: list[dict[str, Any]], id: str) -> dict[str, Any]:
    return next(r for r in rows if r.get("id") == id)
