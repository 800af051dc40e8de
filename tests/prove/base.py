"""A sound plain job, and ways to change its records."""

from __future__ import annotations

import copy
from typing import Any

from startwright.records.job import WholeJob
from startwright.records.wiring import Wiring

VEHICLE: dict[str, Any] = {
    "format": "startwright/vehicle/1",
    "id": "test-car",
    "gearbox": "automatic",
    "immobilizer": {"kind": "none"},
    "circuits": [
        {"id": "batt", "function": "battery", "fuse_A": 60},
        {"id": "ign", "function": "ignition", "live": ["run", "start"], "load_A": 10},
        {"id": "acc", "function": "accessory", "live": ["accessory", "run"], "load_A": 8},
        {
            "id": "starter",
            "function": "starter",
            "live": ["start"],
            "load_A": 10,
            "interlock": "downstream",
        },
        {"id": "brake", "function": "brake", "rest": "open", "active": "battery", "load_A": 4},
        {"id": "hood", "function": "hood", "rest": "open", "active": "ground", "load_A": 0.02},
        {
            "id": "lever",
            "function": "park_neutral",
            "rest": "open",
            "active": "ground",
            "load_A": 0.05,
        },
        {"id": "tach", "function": "tach", "pulses_per_rev": 2},
        {
            "id": "lights",
            "function": "parking_light",
            "rest": "ground",
            "active": "battery",
            "load_A": 3,
        },
        {"id": "horn", "function": "horn", "rest": "open", "active": "ground", "load_A": 0.3},
        {
            "id": "lock",
            "function": "lock",
            "style": "pulse",
            "rest": "battery",
            "active": "ground",
            "pulse_s": 0.5,
            "load_A": 0.2,
        },
        {
            "id": "unlock",
            "function": "unlock",
            "style": "pulse",
            "rest": "battery",
            "active": "ground",
            "pulse_s": 0.5,
            "load_A": 0.2,
        },
        {"id": "airbag", "function": "srs"},
        {"id": "bus", "function": "data"},
    ],
}
UNIT: dict[str, Any] = {
    "format": "startwright/unit/1",
    "id": "test-unit",
    "logic_from": "feed",
    "leads": [
        {"id": "feed", "way": "feed", "limit_A": 40, "fuse_A": 40},
        {"id": "gnd", "way": "ground"},
        {"id": "ign", "way": "out", "does": ["ignition"], "active": "battery", "limit_A": 25},
        {"id": "acc", "way": "out", "does": ["accessory"], "active": "battery", "limit_A": 25},
        {"id": "start", "way": "out", "does": ["starter"], "active": "battery", "limit_A": 25},
        {
            "id": "lamps",
            "way": "out",
            "does": ["parking_light"],
            "active": "battery",
            "limit_A": 10,
        },
        {"id": "horn", "way": "out", "does": ["horn"], "active": "ground", "limit_A": 0.5},
        {"id": "lock", "way": "out", "does": ["lock"], "active": "ground", "limit_A": 0.5},
        {"id": "unlock", "way": "out", "does": ["unlock"], "active": "ground", "limit_A": 0.5},
        {
            "id": "run_sig",
            "way": "out",
            "does": ["running_signal"],
            "active": "ground",
            "limit_A": 0.5,
            "suppressed": True,
        },
        {
            "id": "armed",
            "way": "out",
            "does": ["armed_signal"],
            "active": "ground",
            "limit_A": 0.5,
            "suppressed": True,
        },
        {"id": "brake_in", "way": "in", "senses": "brake", "active": "battery", "pull": "down"},
        {"id": "hood_in", "way": "in", "senses": "hood", "active": "ground", "pull": "up"},
        {"id": "lever_in", "way": "in", "senses": "park_neutral", "active": "ground", "pull": "up"},
        {"id": "tach_in", "way": "in", "senses": "tach"},
    ],
    "engine_signal": {"by": "engine_sense", "choices": ["tach", "volts", "charge_lamp", "timed"]},
}
STOCK: dict[str, Any] = {
    "format": "startwright/stock/1",
    "id": "test-shelf",
    "parts": [
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
        {"id": "diode", "kind": "diode", "forward_A": 6, "reverse_V": 400},
        {"id": "fuse-30", "kind": "fuse", "rating_A": 30},
        {"id": "fuse-15", "kind": "fuse", "rating_A": 15},
        {"id": "r-330", "kind": "resistor", "ohm": 355, "watt": 5},
        {"id": "r-1000", "kind": "resistor", "ohm": 1270, "watt": 5},
        {"id": "hood-pin", "kind": "switch", "operated_by": "hood", "contact_at_rest": "open"},
        {"id": "svc", "kind": "switch", "operated_by": "service", "contact_at_rest": "open"},
        {
            "id": "bypass",
            "kind": "interface",
            "serves": ["transponder"],
            "needs": {
                "power": "battery",
                "earth": "ground",
                "wake": "running_signal",
                "bus": "data",
            },
            "pins": ["power", "earth", "wake", "bus"],
        },
    ],
}
RUNS: dict[str, tuple[str, str]] = {
    "r_feed": ("vehicle.batt", "unit.feed"),
    "r_gnd": ("unit.gnd", "ground.body"),
    "r_ign": ("unit.ign", "vehicle.ign"),
    "r_acc": ("unit.acc", "vehicle.acc"),
    "r_start": ("unit.start", "vehicle.starter"),
    "r_lamps": ("unit.lamps", "vehicle.lights"),
    "r_horn": ("unit.horn", "vehicle.horn"),
    "r_lock": ("unit.lock", "vehicle.lock"),
    "r_unlock": ("unit.unlock", "vehicle.unlock"),
    "r_brake": ("vehicle.brake", "unit.brake_in"),
    "r_hood": ("vehicle.hood", "unit.hood_in"),
    "r_lever": ("vehicle.lever", "unit.lever_in"),
    "r_tach": ("vehicle.tach", "unit.tach_in"),
}
WANTS = ["remote_start", "lock_unlock", "light_flash", "horn_chirp"]


class Case:
    """A job and its wiring as plain data, to be changed and then read."""

    def __init__(self) -> None:
        self.vehicle = copy.deepcopy(VEHICLE)
        self.unit = copy.deepcopy(UNIT)
        self.stock = copy.deepcopy(STOCK)
        self.wants = list(WANTS)
        self.runs = dict(RUNS)
        self.parts: dict[str, str] = {}
        self.settings: dict[str, Any] = {}
        self.cuts: list[str] = []
        self.size_mm2: float | None = 2.5

    def circuit(self, id: str, **changes: Any) -> dict[str, Any]:
        """Change a circuit, or add one; a value of None takes the key out."""
        found = next((c for c in self.vehicle["circuits"] if c["id"] == id), None)
        if found is None:
            found = {"id": id}
            self.vehicle["circuits"].append(found)
        _change(found, changes)
        return found

    def lead(self, id: str, **changes: Any) -> dict[str, Any]:
        """Change a lead, or add one; a value of None takes the key out."""
        found = next((d for d in self.unit["leads"] if d["id"] == id), None)
        if found is None:
            found = {"id": id}
            self.unit["leads"].append(found)
        _change(found, changes)
        return found

    def run(self, id: str, one: str, other: str) -> None:
        """Add or move a run."""
        self.runs[id] = (one, other)

    def without(self, *ids: str) -> Case:
        """Take things out: runs, circuits or leads by id."""
        for id in ids:
            self.runs.pop(id, None)
            self.vehicle["circuits"] = [c for c in self.vehicle["circuits"] if c["id"] != id]
        return self

    def job(self) -> WholeJob:
        """The job as records."""
        return WholeJob.model_validate(
            {
                "format": "startwright/job/1",
                "id": "test-job",
                "vehicle": self.vehicle,
                "unit": self.unit,
                "stock": self.stock,
                "wants": self.wants,
            }
        )

    def wiring(self) -> Wiring:
        """The wiring as a record."""
        return Wiring.model_validate(
            {
                "format": "startwright/wiring/1",
                "parts": [{"id": k, "of": v} for k, v in self.parts.items()],
                "settings": self.settings,
                "cuts": self.cuts,
                "runs": [
                    {"id": k, "from": a, "to": b, "size_mm2": self.size_mm2, "length_m": 0.5}
                    for k, (a, b) in self.runs.items()
                ],
            }
        )


def _change(record: dict[str, Any], changes: dict[str, Any]) -> None:
    for key, value in changes.items():
        if value is None:
            record.pop(key, None)
        else:
            record[key] = value
