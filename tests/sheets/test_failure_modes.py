"""The failure-mode sheet, read back from the PDF it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from sheets.pages import in_one_line, needs_poppler, shop, text_of
from startwright.prove import prove
from startwright.records import FaultResult, Plan, ProofReport, RecordError, WholeJob
from startwright.records.reports import PairResult, PairsBound
from startwright.sheets import failure_modes_pdf, write_sheets
from startwright.sheets.effects import EFFECTS, ENDS, effects, unfinished
from startwright.sheets.failure_modes import sheet_data
from startwright.sheets.naming import in_words

FAULTS = [
    FaultResult(
        fault="r3 open",
        worst="hazard",
        breaks=["crank-only-when-safe", "hood-ends"],
        noticed=False,
        trace="command start · wait 3 s · fault r3 open · hood open",
        caught_by=["hood_switch_normally_closed"],
    ),
    FaultResult(
        fault="unit.ign stuck closed",
        worst="hazard",
        breaks=["brake-ends", "hood-ends", "start-ends", "car-unchanged", "only-what-is-called"],
        noticed=True,
        trace="brake press · fault unit.ign stuck closed",
    ),
    FaultResult(fault="K1.87 stuck open", worst="works", breaks=["can-start", "runs", "can-stop"]),
    FaultResult(fault="r6 short to ground", worst="none"),
    FaultResult(fault="r6 short to battery", worst="none"),
]


def faulty(faults: list[FaultResult] = FAULTS) -> tuple[WholeJob, Plan, ProofReport]:
    job, plan, _, proof = shop("two-starters-small-unit")
    return job, plan, proof.model_copy(update={"faults": faults})


@needs_poppler
def test_the_worst_comes_first_and_all_is_said(tmp_path: Path) -> None:
    job, plan, proof = faulty()
    said = in_one_line(text_of(failure_modes_pdf(job, plan, proof), tmp_path))
    assert said.index("Hazards that nobody would notice") < said.index("run r3 open")
    heads = [
        "Hazard: what fails",
        "Does not work: what fails",
        "No effect nothing",
        "What it rests",
    ]
    at = [said.index(head) for head in heads]
    assert at == sorted(at)
    assert "Damage: what fails" not in said
    assert "command start · wait 3 s · fault r3 open · hood open" in said
    assert "caught by hood" in said
    assert "IEC 60812" in said
    assert f"proven, {proof.states:,} states" in said
    for assumed in proof.assumes[1:]:
        assert in_words(job, assumed) in said


def test_a_row_says_what_it_is_and_where_it_sits() -> None:
    data = sheet_data(*faulty(), "a4")
    hazards = data["groups"][0]["rows"]
    run, lead = hazards
    assert (run["thing"], run["mode"]) == ("run r3", "open")
    assert run["place"] == "engine bay bulkhead to steering column"
    assert "unit hood_in" in run["what"]
    assert run["wire"]["code"]
    assert run["caught_by"] == ["hood switch normally closed"]
    assert (lead["thing"], lead["what"]) == ("unit, lead ign", "works ignition")
    assert lead["effects"] == [
        "Neither the brake, an open hood nor its own time ends a start.",
        "The ignition 1 or ignition 2 wire no longer works as in the factory car, "
        "also with the unit at rest.",
    ]
    (pin,) = data["groups"][2]["rows"]
    assert pin["thing"] == "K1 relay 40 A, pin 87"
    assert pin["effects"] == ["A command no longer starts the engine."]
    assert data["quiet"] == [{"thing": "run r6", "modes": "short to ground, short to battery"}]
    counts = {c["head"]: (c["all"], c["noticed"]) for c in data["counts"]}
    assert counts == {
        "Hazard": (2, 1),
        "Damage": (0, 0),
        "Does not work": (1, 0),
        "No effect": (2, 0),
    }


@needs_poppler
def test_two_faults_together(tmp_path: Path) -> None:
    job, plan, proof = faulty()
    alone = in_one_line(text_of(failure_modes_pdf(job, plan, proof), tmp_path))
    assert "two faults at once were not looked at" in alone
    assert "Two faults together" not in alone
    pair = PairResult(
        faults=["r8 open", "r9 open"],
        worst="hazard",
        breaks=["hood-ends", "brake-ends"],
        trace="command start · wait 3 s · fault r8 open · fault r9 open · hood open",
    )
    bound = PairsBound(unnoticed=5, pairs=10, looked_at=10)
    both = proof.model_copy(update={"pairs": [pair], "pairs_bound": bound})
    said = in_one_line(text_of(failure_modes_pdf(job, plan, both), tmp_path))
    assert "Two faults together nobody notices either" in said
    assert "Neither an open hood nor the brake ends a start." in said
    assert "10 of 10 pairs were looked at, made of the 5 faults that nobody notices" in said


@needs_poppler
def test_what_was_not_finished_is_said_and_nothing_more_of_it(tmp_path: Path) -> None:
    left = FaultResult(fault="r7 open", worst="hazard", breaks=["not finished"])
    job, plan, proof = faulty([left, *FAULTS])
    said = in_one_line(text_of(failure_modes_pdf(job, plan, proof), tmp_path))
    assert (
        "Not finished. 1 of 6 single faults was not finished: take it for a hazard. run r7" in said
    )
    box = said[said.index("Hazards that nobody would notice") : said.index("Hazard: what fails")]
    assert "run r3" in box
    assert "run r7" not in box
    row = said[said.index("run r7", said.index("Hazard: what fails")) :]
    assert row.index("not known") < row.index("nobody would notice")
    pair = PairResult(faults=["r8 open", "r9 open"], worst="hazard", breaks=["not finished"])
    bound = PairsBound(unnoticed=5, pairs=10, looked_at=10)
    proof = proof.model_copy(update={"faults": FAULTS, "pairs": [pair, pair], "pairs_bound": bound})
    said = in_one_line(text_of(failure_modes_pdf(job, plan, proof), tmp_path))
    assert "2 of 10 pairs of faults were not finished: take each for a hazard." in said
    assert unfinished(proof.model_copy(update={"pairs": []})) == ""


@needs_poppler
def test_a_long_list_keeps_its_heads(tmp_path: Path) -> None:
    job, plan, proof = faulty(FAULTS[:1] * 70 + FAULTS[2:3] * 50)
    pages = text_of(failure_modes_pdf(job, plan, proof), tmp_path)
    assert len(pages) > 4
    for page in pages[:-1]:
        assert "what fails, and how" in page
    rows = [line for page in pages for line in page.splitlines() if "run r3 open" in line]
    assert len(rows) >= 70


@needs_poppler
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_not_proven_is_stamped_here_too(paper: str, tmp_path: Path) -> None:
    job, plan, proof = faulty()
    breached = proof.model_copy(update={"verdict": "breached"})
    made = failure_modes_pdf(job, plan, breached, paper=paper)  # type: ignore[arg-type]
    for page in text_of(made, tmp_path):
        assert "NOT PROVEN" in page


def test_same_bytes_every_time_and_only_then() -> None:
    job, plan, proof = faulty()
    first = failure_modes_pdf(job, plan, proof)
    assert first == failure_modes_pdf(job, plan, proof)
    assert first != failure_modes_pdf(job, plan, proof, paper="us-letter")
    assert first != failure_modes_pdf(*faulty(FAULTS[:3]))


def test_without_faults_there_is_no_sheet(tmp_path: Path) -> None:
    job, plan, size, proof = shop("two-starters-small-unit")
    with pytest.raises(RecordError, match="without faults"):
        failure_modes_pdf(job, plan, proof)
    with pytest.raises(RecordError, match="without faults"):
        write_sheets(job, plan, size, proof, tmp_path / "out", faults=True)
    assert not (tmp_path / "out").exists()


def test_every_rule_has_its_words() -> None:
    """Of every rule that a proof may name, told at the car."""
    job, plan, _, _ = shop("two-starters-small-unit")
    rules = {r.rule for r in prove(job, plan.wiring).rules}
    assert rules <= set(EFFECTS)
    assert set(ENDS) <= set(EFFECTS)
    for rule in rules:
        assert effects([rule])[0].endswith(".")
