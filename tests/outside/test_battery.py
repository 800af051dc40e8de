"""Batteries: voltage to charge, load test, cold cranking, discharge, key-off current."""

from __future__ import annotations

import pytest
from outside.published import agree, ids, starting, table

from startwright.physics import battery
from startwright.records.vehicle import Engine
from startwright.reference.batteries import practice
from startwright.reference.fuses import cold_ohm

ROWS = table("battery")


def celsius(fahrenheit: str) -> float:
    return (float(fahrenheit) - 32) / 1.8


@pytest.mark.parametrize("row", list(starting("battery", "f.ocv.")), ids=ids)
def test_voltage_and_charge(row):
    charge = row["inputs"]["soc_pct"] / 100
    agree(row, battery.open_circuit_V(charge))
    assert battery.charge_from_V(row["value"]) == pytest.approx(charge, abs=1e-6)
    assert battery.freezing_C(charge) == row["inputs"]["freezing_c"]


def test_voltage_and_temperature():
    row = ROWS["f.ocv_corr"]
    agree(row, {t: battery.correction_V(float(t)) for t in row["value"]})
    cold = battery.charge_from_V(12.65, -17.8)
    assert cold == pytest.approx(battery.charge_from_V(12.65 - 0.192), abs=1e-9)


@pytest.mark.parametrize(
    "row", [r for r in starting("battery", "f.load.") if r["id"] != "f.load.amps"], ids=ids
)
def test_load_test(row):
    at = row["inputs"]["battery_temp_c"]
    agree(row, battery.load_test_least_V(at))
    good = 12.65 - 0.5 * 540 * battery.internal_ohm(540, at)
    weak = 12.65 - 0.5 * 540 * battery.internal_ohm(540, at, weak=True)
    assert weak == pytest.approx(row["value"], abs=1e-6)
    assert good > row["value"]


def test_load_test_amps():
    row = ROWS["f.load.amps"]
    agree(row, {cca: battery.load_test_A(float(cca)) for cca in row["value"]})


def test_cold_cranking_definition():
    """A battery that makes its rating keeps 1.2 V a cell at it; CA is that at 0 °C."""
    at_0, _, per_cell = ROWS["f.ca.def"]["value"]
    assert per_cell * 6 == pytest.approx(battery.CCA_V)
    ohm = battery.internal_ohm(540, battery.CCA_C)
    assert battery.open_circuit_V(1.0) - 540 * ohm == pytest.approx(6 * per_cell)
    warmer = (battery.open_circuit_V(1.0) - 6 * per_cell) / battery.internal_ohm(540, at_0)
    assert warmer > 540


def test_power_left_and_needed_in_the_cold():
    power, need = ROWS["f.temp.power"], ROWS["f.temp.need"]
    for f, percent in power["value"].items():
        assert 100 * battery.power_share(celsius(f)) == pytest.approx(percent, abs=0.2)
    for f, percent in need["value"].items():
        assert 100 * battery.need_share(celsius(f)) == pytest.approx(percent, abs=0.3)


def test_cranking_falls_with_cold_and_charge():
    engine = Engine(cylinders=4)
    volts = [battery.cranking_V(540, engine, t) for t in (-30, -18, 0, 20, 40)]
    assert volts[:4] == sorted(volts[:4])
    assert battery.cranking_V(540, engine, -18, 0.5) < volts[1]
    assert battery.cranking_V(800, engine, -18) > volts[1]


@pytest.mark.parametrize("row", starting("battery", "f.peukert."), ids=ids)
def test_discharge_time(row):
    i = row["inputs"]
    if row["id"] == "f.peukert.1":
        agree(
            row,
            battery.peukert_h(
                i["capacity_ah_at_1A"], i["capacity_ah_at_1A"], i["current_a"], i["k"]
            ),
        )
    elif row["id"] == "f.peukert.2":
        agree(row, battery.peukert_h(i["capacity_ah"], i["rated_h"], i["current_a"], i["k"]))
    else:
        low, high = row["value"]["flooded"]
        assert (practice("peukert_flooded_low"), practice("peukert_flooded_high")) == (low, high)


def test_reserve_capacity_is_a_discharge():
    """25 A to 10.5 V at 27 °C: what is left of 60 Ah lasts less than its plain ampere-hours."""
    amps, _, at = ROWS["f.rc.def"]["value"]
    plain = 60 / amps
    assert battery.peukert_h(60, 20, amps, 1.2) < plain * battery.capacity_share(at)


def test_key_off_practice():
    agree({**ROWS["f.kod.limit"], "tolerance": "exact"}, practice("key_off_most"))
    agree(
        {**ROWS["f.kod.sleep"], "tolerance": "exact"},
        [practice("sleep_older"), practice("sleep_newer")],
    )
    i = ROWS["f.kod.shunt"]["inputs"]
    agree(ROWS["f.kod.shunt"], 1000 * i["drop_v"] / i["r_ohm"])
    assert battery.current_from_fuse_mA(1000 * i["drop_v"], 10) == pytest.approx(
        1000 * i["drop_v"] / cold_ohm(10)
    )


def test_capacity_in_the_cold():
    """From memory, as the row says."""
    percent = ROWS["f.temp.capacity"]["value"]
    assert 100 * (1 - battery.capacity_share(24)) == pytest.approx(percent)
