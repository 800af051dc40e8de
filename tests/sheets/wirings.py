"""Wirings to draw: in the invented shop's cars, and made up at random."""

from __future__ import annotations

import random
from typing import Any

from ruamel.yaml import YAML

from startwright import example
from startwright.records import WholeJob, Wiring

SIZES = [0.5, 0.75, 1.0, 1.5, 2.5, 4.0]


def _load(path: Any) -> Any:
    yaml = YAML(typ="safe", pure=True)
    yaml.version = (1, 2)
    return yaml.load(path.read_text("utf-8"))


def job(name: str, **changes: Any) -> WholeJob:
    """A job of the invented shop, whole."""
    folder = example.path() / "jobs"
    data = _load(folder / f"{name}.yaml")
    for key in ("vehicle", "unit", "stock"):
        data[key] = _load((folder / data[key]).resolve())
    return WholeJob.model_validate(data | changes)


def wiring(text: str, **more: Any) -> Wiring:
    """Runs from lines ``id from to size colour [length]``; parts from lines ``part id article``."""
    parts, runs = [], []
    for line in text.strip().splitlines():
        words = line.split()
        if words[0] == "part":
            parts.append({"id": words[1], "of": words[2], "place": " ".join(words[3:]) or None})
            continue
        run: dict[str, Any] = {
            "id": words[0],
            "from": words[1],
            "to": words[2],
            "size_mm2": float(words[3]),
            "colour": words[4],
            "joints": ["crimp", "solder"],
        }
        if len(words) > 5:
            run["length_m"] = float(words[5])
        runs.append(run)
    return Wiring.model_validate(
        {"format": "startwright/wiring/1", "parts": parts, "runs": runs} | more
    )


SMALL = """
r1 unit.feed_1 vehicle.batt_1 4.0 RD 0.45
r2 unit.gnd ground.column_brace 1.5 BK 0.3
r3 unit.ign vehicle.ign_1 2.5 PK 0.45
r4 unit.start vehicle.starter_1 2.5 BN 0.45
r5 unit.brake_in vehicle.brake 0.5 GN/YE 0.6
r6 unit.tach_in vehicle.tach 0.5 WH/BU 2.4
"""

QUILL = """
part K1 relay-40 steering column
part F1 fuse-10 steering column
part D1 diode-1 driver's kick panel
part D2 diode-1 driver's kick panel
part S1 hood-pin engine bay bulkhead
part K2 relay-40 driver's kick panel
r1 unit.feed_1 vehicle.batt_1 4.0 RD 0.45
r2 unit.feed_2 vehicle.batt_2 4.0 RD 0.45
r3 unit.gnd ground.column_brace 2.5 BK 0.3
r4 unit.ign vehicle.ign_1 2.5 PK 0.45
r5 unit.flex vehicle.ign_2 2.5 PK/WH 0.45
r6 unit.acc vehicle.acc_1 2.5 OG 0.45
r7 unit.start vehicle.starter_1 2.5 VT 0.45
r8 unit.start_sig K1.85 0.5 BU 0.4
r9 vehicle.batt_2 F1.a 1.5 OG 0.15
r10 F1.b K1.86 0.5 GY 0.1
r11 F1.b K1.30 1.5 OG 0.1
r12 K1.87 vehicle.starter_2 1.5 BN 0.2
r13 unit.brake_in vehicle.brake 0.5 GN 0.8
r14 unit.park_in vehicle.park_neutral 0.5 GN/YE 1.25
r15 unit.tach_in vehicle.tach 0.5 WH 2.9
r16 unit.hood_in S1.a 0.5 GY 2.9
r17 S1.b ground.bulkhead_bolt 0.5 BK 0.2
r18 unit.lamps D1.anode 1.0 WH 1.1
r19 unit.lamps D2.anode 1.0 WH 1.1
r20 D1.cathode vehicle.park_left 1.0 WH/OG 0.15
r21 D2.cathode vehicle.park_right 1.0 WH/GN 0.15
r22 unit.horn vehicle.horn 0.5 BU/YE 0.45
r23 unit.lock vehicle.lock_all 0.5 GN/RD 1.1
r24 unit.unlock vehicle.unlock_all 0.5 GN/BK 1.1
r25 unit.trunk K2.85 0.5 TQ 1.1
r26 K2.87 vehicle.trunk_release 0.5 VT/WH 0.2
r27 K2.30 ground.kick_panel_bolt 0.5 BK 0.2
r28 F1.b K2.86 0.5 GY/RD 0.9
"""


def quill() -> tuple[WholeJob, Wiring]:
    """The two-starters job with 28 runs and six parts."""
    return job("two-starters"), wiring(QUILL, settings={"flex_does": "ignition"})


def small() -> tuple[WholeJob, Wiring]:
    """Six runs, no part."""
    return job("two-starters"), wiring(SMALL)


def anything(seed: int, runs: int) -> tuple[WholeJob, Wiring]:
    """A made-up car with a made-up wiring: any tree of places, any parts, any joins."""
    draw = random.Random(seed)
    places = [f"place {k}" for k in range(draw.randint(1, 8))]
    ways = [
        {"from": places[draw.randrange(k)], "to": places[k], "length_m": draw.randint(1, 60) / 10}
        for k in range(1, len(places))
    ]
    if len(places) > 2 and draw.random() < 0.5:
        ways.append({"from": places[0], "to": places[-1], "length_m": 2.5})
    circuits = [
        {
            "id": f"c{k}",
            "function": "horn",
            "rest": "open",
            "active": "ground",
            "place": draw.choice(places) if draw.random() < 0.95 else None,
            "plug": "some plug",
            "pin": str(k),
            "colour": draw.choice(["BK", "WH", "RD/WH", "GY"]),
        }
        for k in range(draw.randint(2, 25))
    ]
    leads: list[dict[str, Any]] = [{"id": f"l{k}", "way": "feed"} for k in range(25)]
    shelf = [
        {
            "id": "k",
            "kind": "relay",
            "coil_ohm": 85,
            "contact_A": 40,
            "pull_in_V": 7,
            "drop_out_V": 2,
        },
        {"id": "d", "kind": "diode", "forward_A": 1, "reverse_V": 100},
        {"id": "f", "kind": "fuse", "rating_A": 5},
        {"id": "i", "kind": "interface", "pins": ["a", "b", "c", "e", "g", "h"], "serves": ["x"]},
    ]
    pins = {
        "k": ["30", "85", "86", "87", "87a"],
        "d": ["anode", "cathode"],
        "f": ["a", "b"],
        "i": ["a", "b", "c", "e", "g", "h"],
    }
    parts = [
        {"id": f"P{k}", "of": draw.choice("kdfi"), "place": draw.choice([None, *places])}
        for k in range(draw.randint(0, 8))
    ]
    ends = [f"unit.{lead['id']}" for lead in leads] * 2
    ends += [f"vehicle.{c['id']}" for c in circuits] * 2
    ends += [f"{p['id']}.{pin}" for p in parts for pin in pins[p["of"]]] * 2
    ends += ["ground.one", "ground.two"]
    out = []
    while len(out) < runs:
        a, b = draw.sample(ends, 2)
        if a == b:
            continue
        out.append(
            {
                "id": f"r{len(out)}",
                "from": a,
                "to": b,
                "size_mm2": draw.choice(SIZES),
                "colour": draw.choice(["BK", "WH", "GN/YE", "RD", "VT/WH"]),
                "length_m": 0.5,
            }
        )
    whole = WholeJob.model_validate(
        {
            "format": "startwright/job/1",
            "id": f"job-{seed}",
            "wants": ["remote_start"],
            "vehicle": {
                "format": "startwright/vehicle/1",
                "id": "car",
                "gearbox": "automatic",
                "circuits": circuits,
                "places": ways,
            },
            "unit": {
                "format": "startwright/unit/1",
                "id": "box",
                "logic_from": "l0",
                "leads": leads,
                "guards": [],
            },
            "stock": {"format": "startwright/stock/1", "id": "shelf", "parts": shelf},
        }
    )
    return whole, Wiring.model_validate(
        {"format": "startwright/wiring/1", "parts": parts, "runs": out}
    )
