"""The shop's recordings are what their makers say, and come out as the wires they were made of."""

import csv
import io

import numpy as np
import pytest

from identify.shop_recordings import files
from startwright.example import path
from startwright.identify import identify
from startwright.records.recordings import read_actions, read_recording, read_wires

FOLDER = path() / "recordings"
TRUTH = {
    "pindle-key-cycle.csv": {
        "A1": "battery", "A2": "ignition", "A3": "ignition", "A4": "accessory", "A5": "starter",
        "B2": "brake", "C4": "hood", "C9": "parking_light", "C17": "data",
    },
    "quill-without-notes.csv": {
        "pin 1": "battery", "pin 2": "ignition", "pin 3": "accessory", "pin 4": "starter",
        "pin 5": "ignition", "pin 8": "starter",
    },
    "sarrow-logic.vcd": {
        "pin_8": "lock", "pin_9": "unlock", "pin_17": "hood", "pin_20": "driver_door",
        "pin_31": "tach", "pin_2": "data",
    },
}  # fmt: skip


@pytest.fixture(scope="module")
def made():
    return files()


def test_they_are_made_again_as_they_lie_there(made):
    assert {p.name for p in FOLDER.iterdir()} == set(made)
    for name, text in made.items():
        lying = (FOLDER / name).read_text("utf-8")
        assert len(lying) < 400_000
        if "key-cycle.csv" in name or "notes.csv" in name:
            # the last step of a rounded volt is the machine's
            a, b = (np.array(list(csv.reader(io.StringIO(t)))[1:], float) for t in (lying, text))
            assert np.abs(a - b).max() < 0.051
        else:
            assert lying == text


@pytest.mark.parametrize("name", TRUTH)
def test_nothing_in_them_is_called_what_it_is_not(name):
    beside = FOLDER / name.replace(".csv", "").replace(".vcd", "")
    notes = beside.with_name(f"{beside.name}-actions.csv")
    report = identify(
        read_recording(FOLDER / name),
        read_actions(notes) if notes.exists() else None,
        read_wires(beside.with_name(f"{beside.name}-wires.csv")),
    )
    truth = TRUTH[name]
    assert {w.wire for w in report.wires} == set(truth)
    named = {w.wire: w.function for w in report.wires if w.function}
    assert {w: truth[w] for w in named} == named
    assert len(named) >= len(truth) / 2
    assert all(w.leave_alone or w.function is None for w in report.wires if truth[w.wire] == "data")
