"""A plain car, a plain unit and the wiring of a careful hand: proven, and it holds."""

from __future__ import annotations

import dataclasses
from typing import Any

from hypothesis import strategies as st

from startwright.records import WholeJob, Wiring
from strategies.pieces import levels

ALWAYS = ["out", "off", "accessory", "run", "start"]


@dataclasses.dataclass(frozen=True)
class Sound:
    """A job and a wiring that should be proven."""

    job: WholeJob
    wiring: Wiring


def _plain_vehicle(draw: st.DrawFn, lamps: str) -> dict[str, Any]:
    ground_rest = st.sampled_from(["open", "battery"])
    battery_rest = st.sampled_from(["open", "ground"])

    def key_fed(id: str, function: str, live: list[str], **more: Any) -> dict[str, Any]:
        return {"id": id, "function": function, "live": live, "place": "steering column", **more}

    def to_ground(id: str, function: str, load_A: float, **more: Any) -> dict[str, Any]:
        level = {"rest": draw(ground_rest), "active": "ground", "load_A": load_A}
        return {"id": id, "function": function, "place": "kick panel", **level, **more}

    lamp = {"id": "lamps", "function": "parking_light", "active": lamps, "place": "kick panel"}
    if lamps == "battery":
        lamp |= {"rest": draw(battery_rest), "load_A": draw(st.sampled_from([2.5, 3.2, 4.0]))}
    else:
        lamp |= {"rest": draw(ground_rest), "load_A": draw(st.sampled_from([0.1, 0.2, 0.3]))}
    loads = st.sampled_from([6.0, 8.5, 10.0, 12.0])
    return {
        "format": "startwright/vehicle/1",
        "id": "car",
        "gearbox": draw(st.sampled_from(["automatic", "cvt"])),
        "immobilizer": {"kind": "none", "evidence": ["a plain-cut copy started the engine"]},
        "circuits": [
            key_fed("batt_1", "battery", ALWAYS, fuse_A=40, size_mm2=4.0),
            key_fed("batt_2", "battery", ALWAYS, fuse_A=40, size_mm2=4.0),
            key_fed("ign_1", "ignition", ["run", "start"], load_A=draw(loads), size_mm2=2.5),
            key_fed("acc_1", "accessory", ["accessory", "run"], load_A=draw(loads), size_mm2=2.5),
            key_fed(
                "starter_1",
                "starter",
                ["start"],
                load_A=draw(loads),
                size_mm2=2.5,
                interlock=draw(st.sampled_from(["downstream", "mechanical"])),
            ),
            {
                "id": "brake",
                "function": "brake",
                "place": "brake pedal",
                "rest": draw(battery_rest),
                "active": "battery",
                "load_A": 4.0,
            },
            to_ground("hood", "hood", 0.02),
            to_ground("park", "park_neutral", 0.05),
            {"id": "tach", "function": "tach", "pulses_per_rev": 2, "place": "kick panel"},
            lamp,
            to_ground("horn", "horn", 0.3),
            to_ground("lock", "lock", 0.2, style="pulse", pulse_s=0.6),
            to_ground("unlock", "unlock", 0.2, style="pulse", pulse_s=0.6),
            {"id": "airbag", "function": "srs", "place": "steering column"},
        ],
        "places": [{"from": "steering column", "to": "kick panel", "length_m": 0.7}],
    }


def _plain_unit(lamps: str) -> dict[str, Any]:
    def power(id: str, does: str, feed: str) -> dict[str, Any]:
        level = {"active": "battery", "fed_by": feed, "limit_A": 25, "switch": "relay"}
        return {"id": id, "way": "out", "does": [does], **level}

    def small(id: str, does: str) -> dict[str, Any]:
        level = {"active": "ground", "limit_A": 0.5, "switch": "transistor"}
        return {"id": id, "way": "out", "does": [does], **level}

    def sense(id: str, senses: str, active: str) -> dict[str, Any]:
        at = {"battery": ("down", 6.0, 3.0), "ground": ("up", 3.0, 6.0)}[active]
        more = dict(zip(("pull", "on_V", "off_V"), at, strict=True))
        return {"id": id, "way": "in", "senses": senses, "active": active, **more}

    lamp = power("lamps", "parking_light", "feed_2")
    return {
        "format": "startwright/unit/1",
        "id": "unit",
        "logic_from": "feed_1",
        "leads": [
            {"id": "feed_1", "way": "feed", "limit_A": 30, "fuse_A": 30, "size_mm2": 4.0},
            {"id": "feed_2", "way": "feed", "limit_A": 30, "fuse_A": 30, "size_mm2": 4.0},
            {"id": "gnd", "way": "ground", "limit_A": 10, "size_mm2": 1.5},
            power("ign", "ignition", "feed_1"),
            power("acc", "accessory", "feed_2"),
            power("start", "starter", "feed_1"),
            lamp if lamps == "battery" else small("lamps", "parking_light"),
            small("horn", "horn"),
            small("lock", "lock"),
            small("unlock", "unlock"),
            sense("brake_in", "brake", "battery"),
            sense("hood_in", "hood", "ground"),
            sense("park_in", "park_neutral", "ground"),
            {"id": "tach_in", "way": "in", "senses": "tach"},
        ],
        "engine_signal": {"by": "engine_sense", "choices": ["tach", "volts", "timed"]},
    }


_SHELF = {
    "format": "startwright/stock/1",
    "id": "shelf",
    "parts": [
        {"id": "fuse-30", "kind": "fuse", "rating_A": 30, "price": 1.8, "count": 9},
        {"id": "diode-1", "kind": "diode", "forward_A": 1, "reverse_V": 400, "count": 9},
        {
            "id": "relay-40",
            "kind": "relay",
            "coil_ohm": 85,
            "contact_A": 40,
            "pull_in_V": 7.0,
            "drop_out_V": 1.5,
            "suppressed": True,
            "price": 4.2,
            "count": 9,
        },
    ],
}

# id, from, to, size_mm2
_RUNS = [
    ("feed_1_a", "vehicle.batt_1", "F1.a", 4.0),
    ("feed_1_b", "F1.b", "unit.feed_1", 4.0),
    ("feed_2_a", "vehicle.batt_2", "F2.a", 4.0),
    ("feed_2_b", "F2.b", "unit.feed_2", 4.0),
    ("earth", "unit.gnd", "ground.brace", 1.5),
    ("ign", "unit.ign", "vehicle.ign_1", 2.5),
    ("acc", "unit.acc", "vehicle.acc_1", 2.5),
    ("start", "unit.start", "vehicle.starter_1", 2.5),
    ("brake", "vehicle.brake", "unit.brake_in", 0.5),
    ("hood", "vehicle.hood", "unit.hood_in", 0.5),
    ("park", "vehicle.park", "unit.park_in", 0.5),
    ("tach", "vehicle.tach", "unit.tach_in", 0.5),
    ("lamps", "unit.lamps", "vehicle.lamps", 1.0),
    ("horn", "unit.horn", "vehicle.horn", 0.5),
    ("lock", "unit.lock", "vehicle.lock", 0.5),
    ("unlock", "unit.unlock", "vehicle.unlock", 0.5),
]


@st.composite
def sound_jobs(draw: st.DrawFn) -> Sound:
    """A plain car, a plain unit, and the wiring of a careful hand; levels and loads vary."""
    lamps = draw(levels)
    job = WholeJob.model_validate(
        {
            "format": "startwright/job/1",
            "id": "job",
            "vehicle": _plain_vehicle(draw, lamps),
            "unit": _plain_unit(lamps),
            "stock": _SHELF,
            "wants": ["remote_start", "lock_unlock", "light_flash", "horn_chirp"],
        }
    )
    lengths = st.sampled_from([0.2, 0.4, 0.7, 1.1])
    wiring = {
        "format": "startwright/wiring/1",
        "parts": [{"id": "F1", "of": "fuse-30"}, {"id": "F2", "of": "fuse-30"}],
        "settings": {"engine_sense": "tach"},
        "runs": [
            {"id": id, "from": a, "to": b, "size_mm2": size, "length_m": draw(lengths)}
            for id, a, b, size in _RUNS
        ],
    }
    return Sound(job, Wiring.model_validate(wiring))
