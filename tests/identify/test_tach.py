"""Tach lines and lines that are none."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from identify.drawn import Drawn, actions
from startwright.identify import examine, identify, judge
from startwright.identify.pulses import pulses
from startwright.records.errors import RecordError
from startwright.records.recordings import read_speeds

SPEED = [(t, 820.0 + 500.0 * np.exp(-(t - 10.25))) for t in np.arange(10.5, 20, 0.25)]


def drawn_engine(drawn: Drawn, per_rev: float) -> np.ndarray:
    t = drawn.t
    rpm = np.where((t > 9.02) & (t < 10.25), 200.0, 0.0)
    rpm = np.where((t > 10.25) & (t < 20.1), 820.0 + 500.0 * np.exp(-(t - 10.25)), rpm)
    turns = np.cumsum(rpm / 60) * (t[1] - t[0])
    low = (turns * per_rev % 1.0 < 0.4) & (rpm > 0)
    return np.where(drawn.during((4.0, 20.0)), np.where(low, 0.2, drawn.rail), 0.0)


@pytest.mark.parametrize("per_rev", [1.0, 2.0, 3.0, 4.0])
def test_pulses_a_revolution_are_learned_from_the_engine_speed(per_rev: float) -> None:
    drawn = Drawn(2000).key_wires()
    drawn.level("tach", drawn_engine(drawn, per_rev))
    report = judge(examine(drawn.recording(), actions()), "tach", SPEED)
    assert report.is_tach
    assert report.pulses_per_rev == per_rev
    assert report.running_hz == pytest.approx(830 / 60 * per_rev, rel=0.08)
    if per_rev > 1:  # a second of cranking gives too few pulses otherwise
        assert report.cranking_hz is not None
        assert report.threshold_hz is not None
        assert report.cranking_hz < report.threshold_hz < report.running_hz


def test_data_and_clocked_pulses_are_no_tach() -> None:
    drawn = Drawn(2000).key_wires()
    busy = drawn.rng.random(len(drawn.t)) < 0.3
    drawn.level("bus", np.where(busy & drawn.during((2.5, 24)), 3.5, 2.5))
    clock = drawn.during((10.3, 20.0)) & (drawn.t * 60 % 1.0 < 0.5)
    drawn.level("fan", np.where(clock, drawn.rail, 0.0))
    drawn.fed("still", (4.0, 20.0))
    seen = examine(drawn.recording(), actions())
    for wire in ("bus", "fan", "still"):
        report = judge(seen, wire)
        assert not report.is_tach
        assert "no " in report.why
    with pytest.raises(KeyError):
        judge(seen, "nowhere")


def test_missing_teeth_and_ringing() -> None:
    rate, n = 10_000.0, 20_000
    t = np.arange(n) / rate
    tooth = np.floor(t * 100).astype(int)
    clean = np.where((t * 100 % 1.0) < 0.4, 12.0, 0.0)
    times, missing, ringing = pulses(clean, rate)
    assert len(times) == pytest.approx(200, abs=2)
    assert missing == pytest.approx(0, abs=0.01)
    assert ringing == 0
    gapped = np.where(tooth % 10 == 3, 0.0, clean)
    assert pulses(gapped, rate)[1] == pytest.approx(0.1, abs=0.02)
    ring = np.where(((t * 100 % 1.0) > 0.45) & ((t * 100 % 1.0) < 0.5), 11.0, clean)
    times, _, ringing = pulses(ring, rate)
    assert ringing == pytest.approx(1.0, abs=0.1) or len(times) == pytest.approx(400, abs=4)


def test_a_table_of_engine_speed_gives_the_pulses_a_revolution(tmp_path: Path) -> None:
    drawn = Drawn(2000).key_wires()
    drawn.level("tach", drawn_engine(drawn, 2.0))
    table = tmp_path / "speed.csv"
    table.write_text("time_s,rpm\n" + "".join(f"{t:.2f},{r:.0f}\n" for t, r in SPEED))
    found = identify(drawn.recording(), actions(), rpm=read_speeds(table))
    assert [(t.wire, t.pulses_per_rev) for t in found.tach] == [("tach", 2.0)]
    without = identify(drawn.recording(), actions())
    assert [t.pulses_per_rev for t in without.tach] == [None]


@pytest.mark.parametrize("text", ["time_s,volts\n1,2\n", "time_s,rpm\n1,fast\n", "time_s,rpm\n"])
def test_a_table_of_no_engine_speed_is_one_clear_error(tmp_path: Path, text: str) -> None:
    table = tmp_path / "speed.csv"
    table.write_text(text)
    with pytest.raises(RecordError, match=r"rpm|revolutions|fast"):
        read_speeds(table)
