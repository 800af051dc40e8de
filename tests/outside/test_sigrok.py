"""Real captures by an independent program: sigrok-cli's demo driver, its own exports as judge."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from startwright.records.recordings import read_recording

pytestmark = pytest.mark.skipif(shutil.which("sigrok-cli") is None, reason="no sigrok-cli here")


def _sigrok(*words: str, check: bool = True) -> str:
    done = subprocess.run(
        ["sigrok-cli", *words], capture_output=True, text=True, check=check, timeout=60
    )
    return done.stdout


def _capture(path: Path, channels: str, rate: str = "20k", samples: int = 5000) -> None:
    _sigrok("-d", "demo", "--samples", str(samples), "-c", f"samplerate={rate}",
            "-C", channels, "-o", str(path))  # fmt: skip


def test_logic_against_sigroks_own_bits(tmp_path: Path) -> None:
    path = tmp_path / "logic.sr"
    _capture(path, "D0,D1,D2,D3,D4,D5,D6,D7")
    recording = read_recording(path)
    assert recording.names == tuple(f"D{i}" for i in range(8))
    assert recording.rate_hz == pytest.approx(20_000)
    assert len(recording.time_s) == 5000
    text = _sigrok("-i", str(path), "-O", "csv")
    rows = [r for r in text.splitlines() if r and r[0] in "01"]
    bits = np.array([[int(c) for c in r.split(",")[-8:]] for r in rows])
    np.testing.assert_array_equal(recording.volts, bits * 12.0)
    assert bits.any()


def test_analog_against_sigroks_own_numbers(tmp_path: Path) -> None:
    path = tmp_path / "analog.sr"
    _capture(path, "A0,A1,A2", samples=2000)
    recording = read_recording(path)
    assert set(recording.names) == {"A0", "A1", "A2"}
    assert np.ptp(recording.volts, axis=0).min() > 1.0
    # one line a sample and channel: "A0: 1.234 V"
    told: dict[str, list[float]] = {name: [] for name in recording.names}
    # this version of it may abort when it closes an analog file: what it printed before counts
    for line in _sigrok("-i", str(path), "-O", "analog", check=False).splitlines():
        name, _, value = line.partition(":")
        if name in told:
            number, unit = value.split()[:2]
            told[name].append(float(number) * {"V": 1.0, "mV": 1e-3, "uV": 1e-6}[unit])
    for i, name in enumerate(recording.names):
        n = len(told[name])
        assert n > 200
        np.testing.assert_allclose(recording.volts[:n, i], told[name], atol=6e-3)


def test_logic_and_analog_in_one_session(tmp_path: Path) -> None:
    path = tmp_path / "mixed.sr"
    _capture(path, "D0,D3,A0,A2", samples=1000)
    recording = read_recording(path)
    assert set(recording.names) == {"D0", "D3", "A0", "A2"}
    assert set(recording.logic) == {"D0", "D3"}
    assert len(recording.time_s) == 1000


def test_a_value_change_dump_of_the_same_capture(tmp_path: Path) -> None:
    path, dump = tmp_path / "logic.sr", tmp_path / "logic.vcd"
    _capture(path, "D0,D1,D2,D3")
    _sigrok("-i", str(path), "-O", "vcd", "-o", str(dump))
    whole, changes = read_recording(path), read_recording(dump)
    assert changes.names == whole.names
    at = np.searchsorted(changes.time_s, whole.time_s + 1e-7, side="right") - 1
    # the dump ends with the last change
    inside = whole.time_s <= changes.time_s[-1]
    np.testing.assert_array_equal(changes.volts[at[inside]], whole.volts[inside])


def test_a_wav_of_the_same_capture(tmp_path: Path) -> None:
    path, sound = tmp_path / "analog.sr", tmp_path / "analog.wav"
    _capture(path, "A1", samples=4000)
    _sigrok("-i", str(path), "-O", "wav", "-o", str(sound))
    volts = read_recording(path).volts[:, 0].astype(float)
    heard = read_recording(sound).volts[:, 0].astype(float)
    n = min(len(volts), len(heard))
    assert n > 3900
    scale = (volts[:n] @ heard[:n]) / (heard[:n] @ heard[:n])
    np.testing.assert_allclose(heard[:n] * scale, volts[:n], atol=0.01 * np.abs(volts).max())
