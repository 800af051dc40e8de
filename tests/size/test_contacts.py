"""Leads, relay contacts, coils, diodes: each limit broken once."""

from __future__ import annotations

import pytest
from size.small import PARTS, job, row, wiring

from startwright.size import size


def with_relay(article: str, lead: str = "sig"):
    parts = [*PARTS, {"id": "K1", "of": article}]
    runs = [
        {"id": "coil", "from": "F1.b", "to": "K1.86", "size_mm2": 0.75, "length_m": 0.4},
        {"id": "sig", "from": "K1.85", "to": f"unit.{lead}", "size_mm2": 0.5, "length_m": 0.4},
        {"id": "k30", "from": "F1.b", "to": "K1.30", "size_mm2": 2.5, "length_m": 0.4},
        {"id": "k87", "from": "K1.87", "to": "vehicle.ign", "size_mm2": 2.5, "length_m": 0.6},
    ]
    return wiring(more=runs, parts=parts, drop=("ign",))


def test_a_relay_in_its_place_holds():
    got = size(job(), with_relay("relay"))
    contact, coil = row(got.contacts, "K1.87"), row(got.contacts, "K1.coil")
    assert contact["holds"]
    assert contact["amps_A"] == pytest.approx(11.8, abs=0.3)
    assert contact["limit_A"] == 40
    assert coil["holds"]
    assert coil["pull_in_V"] == pytest.approx(7.0 * (234.5 + 85) / 254.5, abs=0.01)
    assert coil["volts_V"] == pytest.approx(11.8, abs=0.2)
    assert 3 < coil["release_ms"] < 20
    assert row(got.contacts, "unit.sig")["amps_A"] == pytest.approx(14.4 / 85 / 0.803, rel=0.03)


def test_a_contact_beyond_its_rating():
    got = size(job(), with_relay("relay-small"))
    assert not row(got.contacts, "K1.87")["holds"]
    assert got.verdict == "fails"


def test_a_coil_that_does_not_pull_in_hot():
    got = size(job(), with_relay("relay-stiff"))
    assert not row(got.contacts, "K1.coil")["holds"]
    assert "hot" in row(got.contacts, "K1.coil")["says"]


def test_an_unsuppressed_coil_on_a_bare_transistor():
    got = size(job(), with_relay("relay-bare", "bare"))
    lead = row(got.contacts, "unit.bare")
    assert not lead["holds"]
    assert "K1" in lead["says"]
    assert "diode" in lead["says"]
    assert row(size(job(), with_relay("relay-bare", "sig")).contacts, "unit.sig")["holds"]
    assert row(size(job(), with_relay("relay", "bare")).contacts, "unit.bare")["holds"]


def test_a_diode_across_the_coil_suppresses_it():
    sound = with_relay("relay-bare", "bare")
    runs = [r.model_dump(by_alias=True) for r in sound.runs]
    runs += [
        {"id": "d1", "from": "K1.85", "to": "D1.anode", "size_mm2": 0.5, "length_m": 0.1},
        {"id": "d2", "from": "K1.86", "to": "D1.cathode", "size_mm2": 0.5, "length_m": 0.1},
    ]
    parts = [p.model_dump() for p in sound.parts] + [{"id": "D1", "of": "diode-1"}]
    got = size(
        job(), type(sound).model_validate({**sound.model_dump(), "runs": runs, "parts": parts})
    )
    assert row(got.contacts, "unit.bare")["holds"]
    runs[-1]["to"], runs[-2]["to"] = "D1.anode", "D1.cathode"
    wrong = size(
        job(), type(sound).model_validate({**sound.model_dump(), "runs": runs, "parts": parts})
    )
    assert wrong.verdict == "fails", "the wrong way round it shorts the lead"


def test_a_transistor_lead_with_a_load_too_large():
    runs = [
        {"id": "sig", "from": "unit.sig", "to": "vehicle.horn", "size_mm2": 0.5, "length_m": 0.4}
    ]
    plain = job()
    horn = {"id": "horn", "function": "horn", "rest": "battery", "active": "ground", "load_A": 0.9}
    circuit = type(plain.vehicle.circuits[0]).model_validate(horn)
    vehicle = plain.vehicle.model_copy(update={"circuits": [*plain.vehicle.circuits, circuit]})
    got = size(plain.model_copy(update={"vehicle": vehicle}), wiring(more=runs))
    lead = row(got.contacts, "unit.sig")
    assert lead["amps_A"] == pytest.approx(0.9, abs=0.02)
    assert not lead["holds"]
    assert "relay" in lead["says"]


def test_a_feed_lead_carries_its_total():
    got = size(job(), wiring())
    feed = row(got.contacts, "unit.feed")
    total = row(got.runs, "feed")["amps_A"]
    assert feed["amps_A"] == pytest.approx(total, rel=1e-3)
    assert feed["limit_A"] == 30


def test_a_diode_beyond_its_rating():
    parts = [*PARTS, {"id": "D1", "of": "diode-1"}]
    runs = [
        {"id": "a", "from": "unit.lights", "to": "D1.anode", "size_mm2": 1.5, "length_m": 0.4},
        {"id": "b", "from": "D1.cathode", "to": "vehicle.lamps", "size_mm2": 1.5, "length_m": 0.4},
    ]
    got = size(job(), wiring(more=runs, parts=parts, drop=("lights",)))
    diode = row(got.contacts, "D1")
    assert diode["amps_A"] > 2.5
    assert not diode["holds"]


def test_recorded_inrush_opens_a_fuse():
    plain = job()
    circuits = [
        c.model_copy(update={"inrush_A": 300.0, "inrush_s": 0.5}) if c.id == "ign" else c
        for c in plain.vehicle.circuits
    ]
    vehicle = plain.vehicle.model_copy(update={"circuits": circuits})
    got = size(plain.model_copy(update={"vehicle": vehicle}), wiring())
    fuse = row(got.fuses, "F1")
    assert not fuse["holds"]
    assert "switching on" in fuse["says"]
    assert row(got.contacts, "unit.ign")["inrush_A"] > 100
