"""A fault or a pair whose search did not finish: said plainly, status 3, never a yes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cli.test_prove_answers import written
from prove.base import Case
from prove.sabotage import SPOILT

from startwright.prove import faults as room
from startwright.prove import pairs
from startwright.prove.explore import explore
from startwright.prove.faults import Judge

FEW = ("r_hood", "r10", "r_acc", "r_feed")
"""Runs: what opens the hood's is another car, what fails at the last two nobody notices."""


@pytest.fixture(autouse=True)
def of_few_runs_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the faults of a few runs are tried, each in full."""
    every = room.all_faults
    for module in (room, pairs):
        monkeypatch.setattr(
            module, "all_faults", lambda car: [f for f in every(car) if f.thing in FEW]
        )


@pytest.fixture
def no_room(monkeypatch: pytest.MonkeyPatch) -> None:
    """No fault may reach a state that the sound car does not: such a search is too large."""

    def short(*given: Any, **more: Any) -> Any:
        return explore(*given, **more, most=1)

    monkeypatch.setattr(room, "explore", short)


def proved(case: Case, folder: Path) -> list[str]:
    return [*written(case, folder), "--faults"]


@pytest.mark.usefixtures("no_room")
def test_a_fault_that_was_not_finished_is_no_yes(startwright, tmp_path: Path) -> None:
    line = proved(Case(), tmp_path)
    asked = startwright(*line, "--json")
    left = [f["fault"] for f in asked.json["faults"] if f["breaks"] == ["not finished"]]
    assert "r_hood open" in left
    assert 0 < len(left) < len(asked.json["faults"])
    assert (asked.status, asked.json["verdict"]) == (3, "proven")
    told = startwright(*line)
    assert told.status == 3
    first, second = told.out.splitlines()[:2]
    assert first.startswith("proven: ")
    assert second.startswith(f"! {len(left)} of {len(asked.json['faults'])} single faults w")
    row = next(x for x in told.out.splitlines() if x.startswith("r_hood open"))
    assert "not known" in row


def test_finished_faults_are_a_yes(startwright, tmp_path: Path) -> None:
    asked = startwright(*proved(Case(), tmp_path), "--pairs")
    assert asked.status == 0
    assert "not finished" not in asked.out


@pytest.mark.usefixtures("no_room")
def test_a_breach_is_a_no_whatever_was_not_finished(startwright, tmp_path: Path) -> None:
    asked = startwright(*proved(SPOILT["hood_not_sensed"][1](), tmp_path), "--json")
    assert (asked.status, asked.json["verdict"]) == (1, "breached")


def test_a_pair_that_was_not_finished_is_no_yes(
    startwright, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def case(judge: Judge, fault: Any, after: Any = ()) -> Any:  # of two faults: none
        return None if fault.also else whole(judge, fault, after)

    whole = Judge.case
    monkeypatch.setattr(Judge, "case", case)
    line = [*proved(Case(), tmp_path), "--pairs"]
    asked = startwright(*line, "--json")
    looked_at = asked.json["pairs_bound"]["looked_at"]
    assert looked_at > 0
    assert asked.status == 3
    told = startwright(*line)
    assert told.status == 3
    assert f"! {looked_at} of {looked_at} pairs of faults w" in told.out


def test_a_bound_on_pairs_that_is_told_is_no_open_end(
    startwright, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pairs.pairs_of, "__defaults__", (pairs.pairs_of.__defaults__[0], 0))
    asked = startwright(*proved(Case(), tmp_path), "--pairs", "--json")
    bound = asked.json["pairs_bound"]
    assert bound["looked_at"] == 0 < bound["pairs"]
    assert asked.status == 0


@pytest.mark.usefixtures("no_room")
@pytest.mark.parametrize("more", [[], ["--json"]])
def test_sheets_with_a_fault_that_was_not_finished(
    startwright, plain, tmp_path: Path, more: list[str]
) -> None:
    line = ["sheets", *plain, "--out", tmp_path / "out"]
    asked = startwright(*line, "--faults", *more)
    assert asked.status == 3
    assert (tmp_path / "out" / "failure-modes.pdf").is_file()
    if more:
        assert asked.json["not_finished"]["faults"] > 0
    else:
        assert "not finished: take " in asked.out
    asked = startwright(*line, "--json")
    assert (asked.status, asked.json["not_finished"]) == (0, None)
