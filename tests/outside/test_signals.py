"""Bus levels, key positions, tach and engine speed against published values."""

from __future__ import annotations

import numpy as np
import pytest
from identify.drawn import Drawn, actions
from outside.published import table

from startwright.identify import engine_speed_rpm, frequency_hz, identify, pulses_per_rev
from startwright.identify.places import _DIAGNOSTIC_PINS
from startwright.records.recordings import WirePlace

ROWS = table("signals")
SPANS = {"accessory": (2.5, 4.0), "run": (4.0, 9.0), "start": (9.02, 10.25)}


def buses() -> list[tuple[str, float, float]]:
    value = {i: r["value"] for i, r in ROWS.items()}
    battery = 12.5
    return [
        ("l.can.domH", value["l.can.rec"], value["l.can.domH"]),
        ("l.can.domL", value["l.can.rec"], value["l.can.domL"]),
        ("l.lscan.dom high", value["l.lscan.rec"][0], value["l.lscan.dom"][0]),
        ("l.lscan.dom low", value["l.lscan.rec"][1], value["l.lscan.dom"][1]),
        ("l.lin", battery, battery * value["l.lin.dom"] / 4),
    ]


@pytest.mark.parametrize(("name", "recessive", "dominant"), buses())
@pytest.mark.parametrize("rate", [250.0, 2000.0])
def test_published_bus_levels_are_left_alone(
    name: str, recessive: float, dominant: float, rate: float
) -> None:
    drawn = Drawn(rate).key_wires()
    frame = np.repeat(drawn.rng.random(-(-len(drawn.t) // 4)) < 0.3, 4)[: len(drawn.t)]
    bits = frame & (drawn.rng.random(len(drawn.t)) < 0.5) & (drawn.t > 2.4)
    drawn.level(name, np.where(bits, dominant, recessive))
    verdict = next(v for v in identify(drawn.recording(), actions()).wires if v.wire == name)
    assert verdict.leave_alone
    assert verdict.function in (None, "data")


@pytest.mark.parametrize("who", list(ROWS["m.key.matrix"]["value"]))
def test_circuits_live_by_key_position(who: str) -> None:
    _, accessory, run, start = ROWS["m.key.matrix"]["value"][who]
    spans = []
    if who == "battery":
        spans = [(0.0, 99.0)]
    if accessory:
        spans.append(SPANS["accessory"])
    if run:
        spans += [SPANS["run"], (10.25, 20.0)]
    if start:
        spans.append(SPANS["start"])
    drawn = Drawn().key_wires().fed("asked", *spans)
    place = {"asked": WirePlace("asked", "steering column", "ignition switch, white 8-way", "3")}
    report = identify(drawn.recording(), actions(), place)
    verdict = next(v for v in report.wires if v.wire == "asked")
    assert verdict.function == {"second_ignition_or_heater": "ignition"}.get(who, who)
    assert verdict.active == "battery"


@pytest.mark.parametrize(
    ("row", "function", "span", "active"),
    [
        ("m.brake.pol", "brake", (6.0, 7.5), "battery"),
        ("m.hood.pin", "hood", (13.0, 14.5), "ground"),
        ("m.lock.neg", "lock", (16.0, 16.6), "ground"),
        ("m.lock.pos", "lock", (16.0, 16.6), "battery"),
    ],
)
def test_usual_polarities(row: str, function: str, span: tuple[float, float], active: str) -> None:
    assert ROWS[row]["value"]
    drawn = Drawn().key_wires()
    drawn = drawn.fed("asked", span) if active == "battery" else drawn.grounded("asked", span)
    verdict = next(v for v in identify(drawn.recording(), actions()).wires if v.wire == "asked")
    assert (verdict.likely, verdict.active or active) == (function, active)
    assert verdict.probability > 0.8


def test_engine_speed_of_pid_0c() -> None:
    for row in (ROWS["g.pid.0C.formula"], ROWS["g.pid.0C.ex"]):
        assert engine_speed_rpm(row["inputs"]["A"], row["inputs"]["B"]) == row["value"]


@pytest.mark.parametrize("row", [i for i in ROWS if i.startswith("g.tach.") and "_" in i])
def test_pulses_a_revolution_by_geometry(row: str) -> None:
    inputs = ROWS[row]["inputs"]
    ignition = "waste_spark" if "wasted" in inputs["signal"] else "distributor"
    assert pulses_per_rev(inputs["cylinders"], ignition) == ROWS[row]["value"]


def test_tach_frequency() -> None:
    row = ROWS["g.tach.freq"]
    assert frequency_hz(row["inputs"]["rpm"], row["inputs"]["pulses_per_rev"]) == row["value"]


def test_contacts_of_the_diagnostic_connector() -> None:
    for pin, text in ROWS["g.j1962.pins"]["value"].items():
        kind = "ground" if "ground" in text else "battery" if "battery" in text else "data"
        assert _DIAGNOSTIC_PINS[pin] == kind
    assert not {str(p) for p in ROWS["g.j1962.free"]["value"]} & set(_DIAGNOSTIC_PINS)
