"""Options of `prove` that are wrong, or left out by what is answered: one clear error, status 2."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.mark.parametrize(
    ("options", "where", "what"),
    [
        (["--play", "fault r99 open"], "--play", "no fault 'r99 open' here"),
        (["--play", "clutch press"], "--play", "nothing here is worked by 'clutch'"),
        (["--play", "command start → moon on"], "--play, after the arrow", "'moon'"),
        (["--play", "command begin"], "--play, action 1", "'command' with 'begin'"),
        (["--timeline", "fault r99 open"], "--timeline", "no fault 'r99 open' here"),
        (["--timeline", "stop"], "--timeline, action 1", "an unknown action 'stop'"),
        (["--battery", "3"], "startwright prove", "--battery without --timeline"),
        (["--out", "x.yaml"], "startwright prove", "--out without --shrink"),
        (["--play", "command start", "--faults"], "startwright prove", "--faults beside --play"),
        (["--play", "hood open", "--battery", "3"], "startwright prove", "--battery without"),
        (["--timeline", "start", "--why", "runs"], "startwright prove", "--why beside --timeline"),
        (["--timeline", "start", "--pairs"], "startwright prove", "--pairs beside --timeline"),
        (["--play", "hood open", "--shrink", "worst"], "startwright prove", "--shrink beside"),
        (["--play", "hood open", "--export", "x"], "startwright prove", "--export beside --play"),
        (["--why", "runs", "--faults"], "startwright prove", "--faults beside --why"),
        (["--shop", "nowhere"], "nowhere", "no such folder"),
        (["--export", "no/such/x.pml"], "no/such/x.pml", "cannot be written"),
        (["--export", "."], ".", "a folder"),
        (["--why", "nosuch"], "--why", "no rule 'nosuch'"),
        (["--shrink", "nosuch"], "--shrink", "'nosuch'"),
        (["--shrink", "worst"], "--shrink", "breaks no hazard or damage rule"),
        (["--timeline", "start", "--battery", "300"], "battery_C", "300"),
    ],
    ids=lambda a: " ".join(a) if isinstance(a, list) else None,
)
def test_one_clear_error(startwright, plain, options: list[str], where: str, what: str) -> None:
    asked = startwright("prove", *plain, *options)
    assert asked.status == 2
    assert asked.out == ""
    head, expected = asked.err.splitlines()
    assert head.startswith(f"{where}: ")
    assert what in head
    assert expected.startswith("  expected ")


def test_what_is_not_decided_is_not_called_not_applicable(startwright, plain) -> None:
    asked = startwright("prove", *plain, "--most-states", "10", "--why", "hood-ends")
    assert asked.status == 3
    assert asked.out.startswith("hood-ends (hazard): not decided\n")
    asked = startwright("prove", *plain, "--why", "panics")
    assert asked.status == 0
    assert asked.out.startswith("panics (works): not applicable\n")


@pytest.mark.parametrize("options", [["--export"], ["--shrink", "worst", "--out"]])
def test_nothing_is_written_half(startwright, hoodless, options: list[str], tmp_path: Path) -> None:
    """A folder in the file's place: one error, and what was there is all that is there."""
    out = tmp_path / "there"
    out.mkdir()
    (out / "kept").write_text("kept")
    asked = startwright("prove", *hoodless, *options, out)
    assert (asked.status, asked.out) == (2, "")
    assert "the name of a file to write" in asked.err
    assert [p.name for p in tmp_path.rglob("*")] == ["there", "kept"]
