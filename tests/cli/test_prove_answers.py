"""What `prove` answers programs: keys, statuses, lines that are typed back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from prove.base import Case
from prove.sabotage import SPOILT

from startwright.example import path as shop
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


def test_a_hybrid_wired_by_hand_is_proven_once_its_unit_goes_by_volts(
    startwright, tmp_path: Path
) -> None:
    """As docs/prove.md walks it: the beast, then its lead left out and its unit set by hand."""
    beast = shop() / "bestiary" / "ready-without-a-sound"
    job, wiring = tmp_path / "job.yaml", tmp_path / "wiring.yaml"
    job.write_text(Path(f"{beast}.job.yaml").read_text())
    drawn = Path(f"{beast}.wiring.yaml").read_text()
    wiring.write_text(drawn)
    asked = ("prove", str(wiring), "--job", str(job))
    seen = startwright(*asked)
    assert seen.status == 1
    assert "asks the car to become ready though it is ready already" in seen.out.replace("\n", " ")
    refused = startwright("plan", str(job))
    assert refused.status == 1
    assert "goes by volts or the charge lamp" in refused.out.replace("\n", " ")

    runs, _, _ = drawn.partition("  - id: r_tach")
    wiring.write_text(runs)
    seen = startwright(*asked)
    assert seen.status == 1
    assert "It goes by time" in seen.out
    wiring.write_text(runs.replace("settings: {}", "settings: {engine_sense: volts}"))
    seen = startwright(*asked, "--faults", "--json")
    assert (seen.status, seen.json["verdict"]) == (0, "proven")
    assert {f["worst"] for f in seen.json["faults"]} >= {"hazard", "works"}
    for line in ("start", "failed-start", "takeover", "brake-stop"):
        assert startwright(*asked, "--timeline", line).status == 0
    told = startwright(*asked, "--why", "no-crank-into-running")
    assert told.status == 0
    assert "the car became ready" in told.out
