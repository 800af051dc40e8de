"""What `prove` answers programs: keys, statuses, lines that are typed back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from prove.base import Case
from prove.sabotage import SPOILT

from startwright.records.write import to_plain

ANSWER = {"verdict", "states", "seconds", "assumes", "rules", "faults"}
RULE = {"rule", "kind", "holds", "exercised", "trace", "runs", "says"}
FAULT = {"fault", "worst", "breaks", "noticed"}


def written(case: Case, folder: Path) -> list[str]:
    job, wiring = folder / "job.json", folder / "wiring.json"
    job.write_text(json.dumps(to_plain(case.job())))
    wiring.write_text(json.dumps(to_plain(case.wiring())))
    return ["prove", str(wiring), "--job", str(job)]


@pytest.mark.parametrize(
    ("make", "more", "status", "verdict"),
    [
        (Case, (), 0, "proven"),
        (SPOILT["hood_not_sensed"][1], (), 1, "breached"),
        (Case, ("--most-states", "50"), 3, "not finished"),
    ],
)
def test_verdicts_have_their_status_and_keys(
    startwright, make: type[Case], more: tuple[str, ...], status: int, verdict: str, tmp_path: Path
) -> None:
    asked = startwright(*written(make(), tmp_path), *more, "--json")
    assert (asked.status, asked.json["verdict"]) == (status, verdict)
    assert set(asked.json) >= ANSWER
    assert asked.json["faults"] is None
    for rule in asked.json["rules"]:
        assert set(rule) >= RULE
        assert rule["kind"] in ("hazard", "damage", "works")
        assert rule["holds"] in (True, False, None)


def test_wrong_input_is_status_two_and_one_document(startwright, tmp_path: Path) -> None:
    case = Case()
    case.run("r_bad", "vehicle.moon", "unit.horn")
    asked = startwright(*written(case, tmp_path), "--json")
    assert asked.status == 2
    assert set(asked.json) == {"error"}
    error = asked.json["error"]
    assert set(error) >= {"what", "where", "expected"}
    assert "moon" in error["what"] + error["where"]


def test_faults_are_told_with_their_keys(startwright, tmp_path: Path) -> None:
    asked = startwright(*written(Case(), tmp_path), "--faults", "--json")
    assert asked.status == 0
    faults = asked.json["faults"]
    assert len(faults) > 3 * len(Case().runs)
    for fault in faults:
        assert set(fault) >= FAULT
        assert fault["worst"] in ("hazard", "damage", "works", "none")
        assert (fault["worst"] == "none") is (fault["breaks"] == [])
        assert isinstance(fault["noticed"], bool)


def test_a_line_typed_back_is_played(startwright, tmp_path: Path) -> None:
    """The trace of each breach holds where it was found, and not in the sound wiring."""
    spoilt = written(SPOILT["hood_not_sensed"][1](), tmp_path)
    (tmp_path / "sound").mkdir()
    sound = written(Case(), tmp_path / "sound")
    rules = startwright(*spoilt, "--json").json["rules"]
    traces = [r["trace"] for r in rules if r["holds"] is False and r["kind"] != "works"]
    assert traces
    for trace in traces:
        assert startwright(*spoilt, "--play", trace).status == 0
        assert startwright(*sound, "--play", trace).status == 1
