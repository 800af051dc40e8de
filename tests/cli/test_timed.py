"""`prove --timeline`: seconds and volts on a terminal and as JSON."""

from __future__ import annotations

import jsonschema
import pytest

from startwright.prove.usual import NAMES
from startwright.records.schema import shipped

PLAIN = ("wirings/plain.yaml", "--job", "jobs/plain.yaml")


@pytest.mark.parametrize("name", NAMES)
def test_the_usual_lines_by_name(startwright, name: str) -> None:
    asked = startwright("prove", *PLAIN, "--timeline", name, "--json")
    assert asked.status == 0
    jsonschema.validate(asked.json, shipped("timeline"))
    assert asked.json["holds"] is True
    assert asked.json["moments"][0]["time_s"] == 0


def test_a_start_is_told_in_seconds_and_volts(startwright) -> None:
    asked = startwright("prove", *PLAIN, "--timeline", "start")
    assert asked.status == 0
    rows = [line.split() for line in asked.out.splitlines()]
    crank = next(r for r in rows if r[:1] == ["3"])
    assert crank[1:6] == ["time", "runs", "out", "crank", "turning"]
    assert crank[6] == "9.0"
    caught = next(r for r in rows if r[:1] == ["3.8"])
    assert caught[3:6] == ["run", "running", "14.4"]
    assert ["crank", "1", "3", "3.8", "0.8"] in rows


def test_the_cold_is_told(startwright) -> None:
    line = ("--timeline", "command start · wait 5 s → engine runs")
    told = startwright("prove", *PLAIN, *line, "--battery", "-25", "--json").json
    assert told["battery_C"] == -25
    assert told["cranking_V"] < 9.0
    assert min(m["rail_V"] for m in told["moments"]) == told["cranking_V"]
    assert "-25 °C" in told["notes"][0]
    wrong = startwright("prove", *PLAIN, *line, "--battery", "99", "--json")
    assert wrong.status == 2
    assert "-40 to 60" in wrong.json["error"]["expected"]


def test_what_is_not_so_is_status_one_and_what_cannot_be_read_two(startwright) -> None:
    no = startwright("prove", *PLAIN, "--timeline", "command start · wait 5 s → engine stands")
    assert no.status == 1
    assert no.out.startswith("does not hold: ")
    assert "✗ engine stands" in no.out
    wrong = startwright("prove", *PLAIN, "--timeline", "begin", "--json")
    assert wrong.status == 2
    assert "--timeline" in wrong.json["error"]["where"]
