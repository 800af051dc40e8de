"""A number of `size` unfolds to its formula, clause, table rows and record lines."""

from __future__ import annotations

import re

import pytest

from startwright.example import path as shop
from startwright.physics.wire import ampacity_A, ohm_per_m
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.lines import Lines
from startwright.records.read import read_job, read_wiring
from startwright.records.reports import SizeReport
from startwright.records.wiring import Wiring
from startwright.size import size
from startwright.size.why import SizeWhy, why

NUMBER = r"[\d.]+(?:e[+-]?\d+)?"


@pytest.fixture(scope="module")
def sized() -> tuple[WholeJob, Wiring, SizeReport, Lines]:
    lines = Lines(below=shop())
    job = read_job(shop() / "jobs" / "plain.yaml", lines=lines)
    wiring = read_wiring(shop() / "wirings" / "plain.yaml", lines=lines)
    return job, wiring, size(job, wiring), lines


def numbers(pattern: str, text: str) -> list[float]:
    found = re.search(pattern, text)
    assert found, text
    return [float(group) for group in found.groups()]


def unfold(sized: tuple[WholeJob, Wiring, SizeReport, Lines], id: str) -> SizeWhy:
    job, wiring, report, lines = sized
    return why(job, wiring, report, id, lines=lines)


def test_the_formulas_give_the_numbers(sized) -> None:
    """Worked again from what is printed, every run's drop and ampacity come out."""
    for row in sized[2].runs:
        told = {n.name: n for n in unfold(sized, row["id"]).numbers}
        ohm = float(told["resistance"].value.split()[0]) / 1000
        assert row["amps_A"] * ohm == pytest.approx(row["drop_V"], rel=0.01, abs=1e-4)
        per_km, length, warmer = map(
            float,
            re.findall(
                rf"= ({NUMBER}) Ω/km · ({NUMBER}) m · ({NUMBER})", told["resistance"].formula
            )[0],
        )
        assert per_km / 1000 * length * warmer == pytest.approx(ohm, rel=0.01)
        assert per_km == pytest.approx(1000 * ohm_per_m(row["size_mm2"]), rel=1e-3)
        heat = rf"bundle = ({NUMBER}) A .* · ({NUMBER}) \(30 .* · ({NUMBER}) \("
        base, ambient, bundle = numbers(heat, told["ampacity"].formula)
        assert base * ambient * bundle == pytest.approx(row["ampacity_A"], rel=0.01)
        assert base == pytest.approx(ampacity_A(row["size_mm2"], row["insulation_C"]), rel=0.01)


def test_the_rows_of_the_tables_are_named(sized) -> None:
    told = {n.name: n for n in unfold(sized, "r6").numbers}
    assert told["ampacity"].table[:2] == (
        "33 CFR 183.425, Table 5: 14 AWG (2.08 mm²), 35 A at 105 °C insulation (from memory)",
        "33 CFR 183.425, Table 5: 12 AWG (3.31 mm²), 45 A at 105 °C insulation (from memory)",
    )
    assert "4 to 6 wires, 0.6" in told["ampacity"].table[2]
    assert told["resistance"].table == (
        "IEC 60228:2004, Table 3, class 5: 2.5 mm², 7.98 Ω/km (read on a secondary page)",
        "ISO 6722-1:2011, conductor table: 2.5 mm², 7.60 Ω/km (from memory)",
    )
    assert "3 % is the most" in told["drop on the whole way"].formula
    lamps = {n.name: n for n in unfold(sized, "r13").numbers}
    assert "10 % is the most" in lamps["drop on the whole way"].formula


def test_the_inputs_stand_where_they_say(sized) -> None:
    inputs = {p.what: p for p in unfold(sized, "r6").inputs}
    assert inputs["circuit ign_1"].says == "load 11 A (measured)"
    for what, id in (
        ("circuit ign_1", "ign_1"),
        ("run r6", "r6"),
        ("lead ign", "ign"),
        ("part F1", "F1"),
    ):
        file, line = inputs[what].where.split()[0].rsplit(":", 1)
        assert re.search(rf"\bid: {id}\b", (shop() / file).read_text().splitlines()[int(line) - 1])


def test_a_fuse_and_a_lead(sized) -> None:
    fuse = unfold(sized, "F2")
    told = {n.name: n for n in fuse.numbers}
    assert told["the wire stands it for"].source == "IEC 60364-5-54 clause 543.1.2"
    k, amps = map(
        float,
        re.findall(rf"k = ({NUMBER}) .* I = ({NUMBER}) A", told["the wire stands it for"].formula)[
            0
        ],
    )
    row = next(f for f in sized[2].fuses if f["id"] == "F2")
    assert (k * row["wire_mm2"] / amps) ** 2 == pytest.approx(row["survives_s"], rel=0.01)
    assert [p.what for p in fuse.inputs] == ["part F2", "run r4", "run r7", "run r13"]
    lead = unfold(sized, "unit.feed_1")
    assert [n.name for n in lead.numbers] == ["lasting load", "share", "current", "share"]


def test_the_volts_while_cranking(sized) -> None:
    """Worked again from what is printed; the battery's record line is where it says."""
    row = sized[2].starting
    it = unfold(sized, "starting")
    told = {n.name: n for n in it.numbers}
    rest, mohm, amps = numbers(
        rf"= ({NUMBER}) V − ({NUMBER}) mΩ · ({NUMBER}) A", told["battery while cranking"].formula
    )
    assert rest - mohm / 1000 * amps == pytest.approx(row["battery_V"], abs=0.01)
    assert amps == pytest.approx(row["cranking_A"], abs=0.5)
    full, least, cca, cold, emptier = numbers(
        rf"= \(({NUMBER}) V − ({NUMBER}) V\) / ({NUMBER}) A · ({NUMBER}) · ({NUMBER})",
        told["battery's resistance"].formula,
    )
    assert 1000 * (full - least) / cca * cold * emptier == pytest.approx(mohm, rel=0.01)
    warm, need = numbers(
        rf"cold = ({NUMBER}) A .* · ({NUMBER}) \(", told["starter's current"].formula
    )
    assert warm * need == pytest.approx(amps, rel=0.01)
    weak = told["a battery that just passes its load test"].formula
    rest, mohm, amps = numbers(rf"= ({NUMBER}) V − ({NUMBER}) mΩ · ({NUMBER}) A", weak)
    assert rest - mohm / 1000 * amps == pytest.approx(row["weak_battery_V"], abs=0.01)
    assert any("-17.8 °C, 2.1 times" in r for r in told["starter's current"].table)
    assert any("1 of its charge, 12.65 V" in r for r in told["rested battery"].table)
    inputs = {p.what: p for p in it.inputs}
    file, line = inputs["battery cca_A"].where.split()[0].rsplit(":", 1)
    assert "cca_A: 480" in (shop() / file).read_text().splitlines()[int(line) - 1]
    assert {"run r2", "run r5", "run r8", "step crank"} <= set(inputs)


def test_the_days_parked_and_the_cost_of_a_start(sized) -> None:
    row = sized[2].parked
    told = {n.name: n for n in unfold(sized, "parked").numbers}
    parts = numbers(
        rf"= ({NUMBER}) mA \+ ({NUMBER}) mA \+ ({NUMBER}) mA", told["while parked"].formula
    )
    assert sum(parts) == pytest.approx(row["total_mA"])
    for name, days in (
        ("days to half charge", row["days_to_half"]),
        ("days at -18 °C", row["days_to_half_cold"]),
    ):
        spare, hours, cold, drawn = numbers(
            rf"= ({NUMBER}) · ({NUMBER}) Ah · ({NUMBER}) .* / ({NUMBER}) mA", told[name].formula
        )
        assert spare * hours * cold / (drawn / 1000) / 24 == pytest.approx(days, abs=0.06)
    amps, lasts, starter, loads = numbers(
        rf"({NUMBER}) A · ({NUMBER}) s of the starter = ({NUMBER}) Ah, and ({NUMBER}) Ah",
        told["a start takes"].formula,
    )
    assert amps * lasts / 3600 == pytest.approx(starter, rel=0.01)
    assert starter + loads == pytest.approx(row["start_Ah"], abs=0.001)
    cost, kept, surplus = numbers(
        rf"= ({NUMBER}) Ah · 60 / ({NUMBER}) / ({NUMBER}) A", told["earned back in"].formula
    )
    assert cost * 60 / kept / surplus == pytest.approx(row["minutes_to_earn_back"], abs=0.06)


@pytest.mark.parametrize(("battery_C", "charge"), [(40.0, 0.6), (-30.0, 0.3), (5.0, 1.0)])
def test_starting_and_parked_unfold_at_any_cold_and_charge(sized, battery_C, charge) -> None:
    job, wiring, _, lines = sized
    report = size(job, wiring, battery_C=battery_C, charge=charge)
    told = {n.name: n for n in why(job, wiring, report, "starting", lines=lines).numbers}
    rest, mohm, amps = numbers(
        rf"= ({NUMBER}) V − ({NUMBER}) mΩ · ({NUMBER}) A", told["battery while cranking"].formula
    )
    assert max(0.0, rest - mohm / 1000 * amps) == pytest.approx(
        report.starting["battery_V"], abs=0.01
    )
    assert why(job, wiring, report, "parked", lines=lines).numbers


def test_what_is_a_dead_short_unfolds_too(sized) -> None:
    job, wiring, _, lines = sized
    runs = [
        r.model_copy(update={"to": "ground.column_brace"}) if r.id == "r2" else r
        for r in wiring.runs
    ]
    shorted = wiring.model_copy(update={"runs": runs})
    report = size(job, shorted)
    assert report.starting["shorted"] or report.parked["wiring_mA"] is None
    for id in ("starting", "parked"):
        assert why(job, shorted, report, id, lines=lines).numbers


def test_every_row_unfolds(sized) -> None:
    report = sized[2]
    for row in (*report.runs, *report.fuses, *report.contacts):
        it = unfold(sized, row["id"])
        assert it.numbers
        assert it.inputs
        assert all(n.source for n in it.numbers)


def test_a_row_that_is_none(sized) -> None:
    with pytest.raises(RecordError, match="r6, or another of"):
        unfold(sized, "r6x")
