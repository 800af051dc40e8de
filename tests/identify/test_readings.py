"""One meter value at a time."""

from __future__ import annotations

import pytest

from identify.shopping import checks_needed
from startwright.identify import before_probing, identify_readings
from startwright.records import Meter, Reading, Readings, RecordError
from startwright.records.recordings import WirePlace

IGNITION = [
    ((), 0.02), (("key accessory",), 0.03), (("key run",), 12.4), (("key start",), 10.3),
    (("brake press",), 0.02), (("key run", "engine starts"), 14.1), (("parking_light on",), 0.0),
]  # fmt: skip


def readings(rows: list[tuple[tuple[str, ...], float]], **more: object) -> list[Reading]:
    return [Reading(wire="w", volts_V=v, during=list(d), **more) for d, v in rows]  # type: ignore[arg-type]


def test_it_grows_surer_with_each_reading() -> None:
    chances = []
    for k in (1, 3, 5, 7):
        verdict = identify_readings(readings(IGNITION[:k])).wires[0]
        chances.append(verdict.probability if verdict.likely == "ignition" else 0.0)
    assert chances[-1] > 0.85
    assert chances[0] < 0.5
    report = identify_readings(readings(IGNITION))
    assert report.wires[0].likely == "ignition"


def test_out_while_cranking_is_told_from_the_main_ignition() -> None:
    rows = [*IGNITION[:3], (("key start",), 0.02), *IGNITION[4:]]
    verdict = identify_readings(readings(rows)).wires[0]
    assert verdict.likely == "ignition"
    assert any("while cranking" in line for line in verdict.evidence)


def test_the_next_check_is_one_that_tells_the_candidates_apart() -> None:
    report = identify_readings(readings([((), 0.0), (("key run",), 12.4)]))
    first = report.next_checks[0]
    assert first.do in (["key accessory"], ["key start"])
    assert first.candidates["ignition"] != first.candidates["accessory"]
    assert first.gain_bits > 0.3


def test_a_lamp_tells_a_feed_from_a_pull_up() -> None:
    rows = readings([((), 12.5), (("key run",), 12.4), (("key start",), 10.2),
                     (("key run", "engine starts"), 14.1)])  # fmt: skip
    lit = [*rows, Reading(wire="w", volts_V=12.0, during=[], meter=Meter(kind="lamp"))]
    dark = [*rows, Reading(wire="w", volts_V=0.0, during=[], meter=Meter(kind="lamp"))]
    assert identify_readings(rows).wires[0].function is None
    assert identify_readings(lit).wires[0].function == "battery"
    assert identify_readings(dark).wires[0].likely != "battery"


def test_a_probe_lamp_on_an_airbag_wire_is_warned_of_before() -> None:
    airbag = WirePlace("w", "steering column", "yellow 2-way", "1")
    said = before_probing(airbag, "lamp")
    assert said is not None
    assert "fire" in said
    data = WirePlace("w", "dash", "diagnostic connector", "14")
    assert "lamp" in (before_probing(data, "lamp") or "")
    assert before_probing(WirePlace("w", "steering column", "white 8-way", "5"), "lamp") is None
    verdict = identify_readings(
        [Reading(wire="w", volts_V=2.1, during=["key run"], plug="yellow 2-way")]
    ).wires[0]
    assert verdict.leave_alone
    assert verdict.function == "srs"


def test_hum_speaks_for_an_open_wire() -> None:
    rows = [((), 0.4), (("brake press",), 12.4), (("key run",), 0.3)]
    hum = identify_readings(readings(rows, meter=Meter(hum=True))).wires[0]
    assert hum.rest in ("open", None)


def test_a_record_of_readings_is_taken() -> None:
    whole = Readings(format="startwright/readings/1", readings=readings(IGNITION))
    assert identify_readings(whole) == identify_readings(readings(IGNITION))


@pytest.mark.parametrize(("during", "volts"), [(["kick tyre"], 12.0), ([], 400.0)])
def test_what_is_refused(during: list[str], volts: float) -> None:
    with pytest.raises(RecordError):
        identify_readings([Reading(wire="w", volts_V=volts, during=during)])


def test_the_next_check_beats_a_fixed_list() -> None:
    runs = [checks_needed(seed) for seed in (502,)]
    best = sum(a.minutes for a, _ in runs)
    fixed = sum(b.minutes for _, b in runs)
    assert best < 0.6 * fixed
    assert sum(a.known for a, _ in runs) >= 0.8 * sum(b.known for _, b in runs)
    assert sum(a.wrong for a, _ in runs) == 0
