"""`identify` on the command line: a recording with its tables, or readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

# what was done, when, and what each wire stands at from then on: ignition, accessory, starter
TOLD = [
    (0.0, "", (0.0, 0.0, 0.0)),
    (2.0, "key insert", (0.0, 0.0, 0.0)),
    (4.0, "key accessory", (0.0, 12.5, 0.0)),
    (7.0, "key run", (12.3, 12.3, 0.0)),
    (11.0, "key start", (9.8, 0.0, 9.6)),
    (12.5, "key run", (14.2, 14.2, 0.0)),
    (18.0, "key off", (0.0, 0.0, 0.0)),
]


@pytest.fixture
def recording(tmp_path: Path) -> tuple[Path, Path, Path]:
    """A small recording, its actions and where its wires are."""
    time_s = np.arange(0, 22, 0.01)
    noise = np.random.default_rng(1).normal(0, 0.02, (len(time_s), 3))
    volts = np.zeros((len(time_s), 3))
    for at_s, _, levels in TOLD:
        volts[time_s >= at_s] = levels
    file = tmp_path / "key.csv"
    rows = np.column_stack([time_s, volts + noise])
    np.savetxt(file, rows, delimiter=",", header="time_s,ch1,ch2,ch3", comments="", fmt="%.4f")
    actions = tmp_path / "actions.csv"
    told = [f"{at_s},{action}\n" for at_s, action, _ in TOLD if action]
    actions.write_text("time_s,action\n" + "".join(told))
    wires = tmp_path / "wires.csv"
    wires.write_text(
        "wire,place,plug,pin,colour\nch1,steering column,,,\nch3,steering column,"
        '"clock spring, yellow 2-way",1,YE\n'
    )
    return file, actions, wires


def test_a_recording(startwright, recording) -> None:
    file, actions, _ = recording
    asked = startwright("identify", file, "--actions", actions, "--json")
    assert asked.status == 0
    found = {wire["wire"]: wire for wire in asked.json["wires"]}
    assert found["ch1"]["likely"] == "ignition"
    assert found["ch2"]["likely"] == "accessory"
    assert found["ch3"]["likely"] == "starter"
    for wire in found.values():
        assert wire["function"] in (None, wire["likely"])
        assert 0.5 < wire["probability"] <= 1
        assert wire["leave_alone"] is False
    assert {check["wire"] for check in asked.json["next_checks"]} <= set(found)


def test_an_airbag_plug_is_left_alone(startwright, recording) -> None:
    file, actions, wires = recording
    asked = startwright("identify", file, "--actions", actions, "--wires", wires)
    assert asked.status == 0
    rows = [line for line in asked.out.splitlines() if line.startswith("ch")]
    assert rows[0].startswith("ch3")
    assert "leave alone" in rows[0]


def test_readings(startwright, tmp_path: Path) -> None:
    file = tmp_path / "r.yaml"
    file.write_text(
        "format: startwright/readings/1\nreadings:\n"
        "- {wire: a, volts_V: 0.0, during: [key off]}\n"
        "- {wire: a, volts_V: 0.0, during: [key accessory]}\n"
        "- {wire: a, volts_V: 12.3, during: [key run]}\n"
        "- {wire: a, volts_V: 10.1, during: [key start]}\n"
    )
    asked = startwright("identify", file, "--json")
    assert asked.status == 0
    (wire,) = asked.json["wires"]
    functions = [wire["likely"], *(rival["function"] for rival in wire["rivals"])]
    assert "ignition" in functions
    assert startwright("identify", file).status == 0


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("- {wire: a, volts_mV: 3, during: [key off]}\n", "r.yaml:1 readings[0].volts_mV"),
        ("- {wire: a, volts_V: 3, during: [key of]}\n", "readings of a"),
        ("- {wire: a, volts_V: 900}\n", "readings of a[0].volts_V"),
    ],
)
def test_wrong_readings(startwright, tmp_path: Path, text: str, where: str) -> None:
    file = tmp_path / "r.yaml"
    file.write_text(text)
    asked = startwright("identify", file, "--json")
    assert asked.status == 2
    assert asked.json["error"]["where"].endswith(where)


def test_actions_belong_to_recordings(startwright, recording, tmp_path: Path) -> None:
    file = tmp_path / "r.yaml"
    file.write_text("- {wire: a, volts_V: 3}\n")
    asked = startwright("identify", file, "--actions", recording[1], "--json")
    assert asked.status == 2
    assert asked.json["error"]["where"] == "--actions"
