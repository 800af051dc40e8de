"""Cranking hot and cold, and the parked car."""

from __future__ import annotations

import re

import pytest
from size.small import PARTS, job, row, wiring

from startwright.size import size
from startwright.size.starting import TEMPERATURES_C


def test_a_good_battery_carries_the_start():
    got = size(job(), wiring(), battery_C=0).starting
    assert got["holds"]
    assert got["battery_V"] > got["unit_V"] > got["starter_V"]["crank"] > 9
    assert got["let_go"] == []


def test_the_table_goes_from_cold_to_hot():
    table = size(job(), wiring()).starting["table"]
    assert [r["battery_C"] for r in table] == list(TEMPERATURES_C)
    volts = [r["unit_V"] for r in table[:6]]
    assert volts == sorted(volts)
    assert all(r["weak_battery_V"] < r["battery_V"] for r in table)


def test_a_small_empty_battery_lets_the_unit_go():
    got = size(job(cca_A=300), wiring(), battery_C=-25, charge=0.6)
    assert got.verdict == "fails"
    assert "unit" in got.starting["let_go"]
    assert any("cranking" in w for w in got.worst)


def test_the_battery_it_names_is_the_least_that_holds():
    """Steps of 50 A: with the rating it asks for nothing lets go, with 50 A less something does."""
    said = size(job(cca_A=300), wiring(), battery_C=-25, charge=0.6).starting["says"]
    asked = int(re.search(r"one of (\d+) A cold cranking", said)[1])
    assert asked > 300
    for cca_A, holds in ((asked, True), (asked - 50, False)):
        got = size(job(cca_A=cca_A), wiring(), battery_C=-25, charge=0.6).starting
        assert (got["let_go"] == []) is holds


def test_a_relay_lets_go_in_the_sag_before_the_unit_does():
    """It pulls in at rest, and its drop-out, with the coil hot, lies above the sag."""
    parts = [*PARTS, {"id": "K1", "of": "relay-stiff"}]
    runs = [
        {"id": "coil", "from": "F1.b", "to": "K1.86", "size_mm2": 0.75, "length_m": 0.4},
        {"id": "sig", "from": "K1.85", "to": "unit.bare", "size_mm2": 0.5, "length_m": 0.4},
        {"id": "k30", "from": "F1.b", "to": "K1.30", "size_mm2": 2.5, "length_m": 0.4},
        {"id": "k87", "from": "K1.87", "to": "vehicle.ign", "size_mm2": 2.5, "length_m": 0.6},
    ]
    got = size(job(cca_A=480), wiring(more=runs, parts=parts, drop=("ign",)), battery_C=-18)
    assert got.starting["let_go"] == ["K1"]
    assert "relay K1" in got.starting["says"]
    warm = size(job(cca_A=480), wiring(more=runs, parts=parts, drop=("ign",)), battery_C=25)
    assert warm.starting["let_go"] == []


def test_days_to_half_charge_with_the_units_own_draw():
    got = size(job(), wiring()).parked
    assert got["total_mA"] == 33
    assert got["days_to_half"] == pytest.approx(0.5 * 60 / 0.033 / 24, abs=0.1)
    assert got["days_to_half_cold"] < got["days_to_half"]
    assert got["holds"]


def test_a_start_costs_charge_and_is_earned_back():
    cold, warm = (size(job(), wiring(), battery_C=t).parked for t in (-18, 25))
    assert cold["start_Ah"] > 1.5 * warm["start_Ah"]
    assert 0.1 < warm["start_Ah"] < 1
    assert warm["minutes_to_earn_back"] == pytest.approx(
        60 * warm["start_Ah"] / 0.85 / 10, abs=0.05
    )


def test_a_relay_left_in_empties_the_battery():
    parts = [*PARTS, {"id": "K1", "of": "relay"}]
    runs = [
        {"id": "coil", "from": "F1.b", "to": "K1.86", "size_mm2": 0.75, "length_m": 0.4},
        {"id": "earth", "from": "K1.85", "to": "ground.brace", "size_mm2": 0.75, "length_m": 0.4},
    ]
    got = size(job(), wiring(more=runs, parts=parts))
    assert got.parked["wiring_mA"] == pytest.approx(1000 * 12.6 / 85, rel=0.03)
    assert not got.parked["holds"]
    assert got.verdict == "fails"
    assert row(got.contacts, "K1.coil")["state"]


def test_a_thirsty_car_is_found():
    got = size(job(key_off_mA=80), wiring())
    assert not got.parked["holds"]
    assert "50 mA" in got.parked["says"]


def test_a_small_leak_of_the_wiring_is_said_too():
    """12.6 mA through a kilohm: under 50 mA in all, and still no business of a parked car."""
    runs = [
        {"id": "leak", "from": "F1.b", "to": "R1.a", "size_mm2": 0.75, "length_m": 0.4},
        {"id": "earth", "from": "R1.b", "to": "ground.brace", "size_mm2": 0.75, "length_m": 0.4},
    ]
    got = size(job(), wiring(more=runs, parts=[*PARTS, {"id": "R1", "of": "resistor-1k"}])).parked
    assert got["wiring_mA"] == pytest.approx(12.6, abs=0.1)
    assert got["total_mA"] < 50
    assert not got["holds"]
    assert "stays fed" in got["says"]
