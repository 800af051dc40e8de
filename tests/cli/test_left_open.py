"""A fault or a pair whose search did not finish: said plainly, status 3, never a yes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cli.test_prove_answers import written
from prove.base import Case
from prove.sabotage import SPOILT

from startwright import prove
from startwright.prove import tables
from startwright.records.reports import PairResult, PairsBound

LARGE = "r_feed open"
"""A dead unit lets its leads hang together: the largest island of all faults of this wiring."""


@pytest.fixture
def small_tables(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tables so small that the sound car fits and one fault does not."""
    monkeypatch.setattr(tables, "MOST_ROWS", 1024)


def asked_of(case: Case, folder: Path) -> list[str]:
    return [*written(case, folder), "--faults"]


@pytest.mark.usefixtures("small_tables")
def test_a_fault_that_was_not_finished_is_no_yes(startwright, tmp_path: Path) -> None:
    line = asked_of(Case(), tmp_path)
    asked = startwright(*line, "--json")
    faults = asked.json["faults"]
    assert [f["fault"] for f in faults if f["breaks"] == ["not finished"]] == [LARGE]
    assert (asked.status, asked.json["verdict"]) == (3, "proven")
    told = startwright(*line)
    assert told.status == 3
    first, second = told.out.splitlines()[:2]
    assert first.startswith("proven: ")
    assert second == f"! 1 of {len(faults)} single faults was not finished: take it for a hazard."
    row = next(x for x in told.out.splitlines() if x.startswith(LARGE))
    assert "not known" in row


@pytest.mark.usefixtures("small_tables")
def test_a_breach_is_a_no_whatever_was_not_finished(startwright, tmp_path: Path) -> None:
    asked = startwright(*asked_of(SPOILT["hood_not_sensed"][1](), tmp_path), "--json")
    assert (asked.status, asked.json["verdict"]) == (1, "breached")
    assert any(f["breaks"] == ["not finished"] for f in asked.json["faults"])


@pytest.mark.parametrize(
    ("pairs", "looked_at", "status"),
    [
        ([], 10, 0),
        ([["not finished"]], 10, 3),
        ([["hood-ends"], ["not finished"], ["not finished"]], 10, 3),
        ([["hood-ends"]], 10, 0),
        ([], 3, 0),
    ],
    ids=["none", "one left open", "two left open", "a hazard", "a bound"],
)
def test_a_pair_that_was_not_finished_is_no_yes(
    startwright,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    pairs: list[list[str]],
    looked_at: int,
    status: int,
) -> None:
    """A bound that is told is no reason: what lies past it was never begun."""
    found = [PairResult(faults=["a open", "b open"], worst="hazard", breaks=b) for b in pairs]
    bound = PairsBound(unnoticed=5, pairs=10, looked_at=looked_at)

    def pairs_of(*_: Any) -> Any:
        return found, bound

    monkeypatch.setattr(prove, "pairs_of", pairs_of)
    told = startwright(*asked_of(Case(), tmp_path), "--pairs")
    assert told.status == status
    left = pairs.count(["not finished"])
    said = f"! {left} of 10 pairs of faults {'was' if left == 1 else 'were'} not finished"
    assert told.out.splitlines()[1].startswith(said) is (left > 0)
    assert ("single faults w" in told.out) is False
    assert f"{looked_at} of 10 pairs" in told.out


@pytest.mark.parametrize("more", [[], ["--json"]])
def test_sheets_with_a_fault_that_was_not_finished(
    startwright, plain, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: list[str]
) -> None:
    line = ["sheets", *plain, "--out", tmp_path / "out"]
    asked = startwright(*line, "--json")
    assert (asked.status, asked.json["not_finished"]) == (0, None)
    monkeypatch.setattr(tables, "MOST_ROWS", 256)
    asked = startwright(*line, "--faults", *more)
    assert asked.status == 3
    assert (tmp_path / "out" / "failure-modes.pdf").is_file()
    if more:
        assert asked.json["proof"] == "proven"
        assert asked.json["not_finished"]["faults"] > 0
    else:
        assert "single faults were not finished: take each for a hazard." in asked.out
