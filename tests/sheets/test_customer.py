"""The customer's sheet, read back from the PDF it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from sheets.pages import in_one_line, needs_poppler, shop, text_of
from startwright.records import RecordError, Vehicle, Wiring
from startwright.records.write import to_plain
from startwright.sheets import customer_pdf
from startwright.sheets.customer import fuses, never, presses, service_words, start_words, touched
from startwright.sheets.ends import read_web
from startwright.sheets.typeset import Paper


@needs_poppler
def test_what_must_never_be_done_stands_first(tmp_path: Path) -> None:
    job, plan, size, proof = shop("transponder")
    pages = text_of(customer_pdf(job, plan, size, proof), tmp_path)
    said = in_one_line(pages)
    assert said.index("Never in a garage") < said.index("How it is used") < said.index("Lock")
    assert "carbon monoxide" in said
    assert "It stops by itself after 20 minutes" in said
    assert "NOT PROVEN" not in said
    assert str(size.parked["says"]) in said


@needs_poppler
def test_the_driver_of_a_hybrid_is_told_that_it_is_silent(tmp_path: Path) -> None:
    job, plan, size, proof = shop("transponder")
    vehicle = Vehicle.model_validate({**to_plain(job.vehicle), "powertrain": "hybrid"})
    hybrid = job.model_copy(update={"vehicle": vehicle})
    said = in_one_line(text_of(customer_pdf(hybrid, plan, size, proof), tmp_path))
    assert said.index("Never in a garage") < said.index("makes no sound") < said.index("How it is")
    assert all("sound" not in head for head, _ in never(job))


@needs_poppler
def test_not_proven_is_stamped_here_too(tmp_path: Path) -> None:
    job, plan, size, _ = shop("transponder")
    for page in text_of(customer_pdf(job, plan, size, None), tmp_path):
        assert "NOT PROVEN" in page


@needs_poppler
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_the_part_for_the_workshop_is_on_one_page(paper: Paper, tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    pages = text_of(customer_pdf(job, plan, size, proof, paper=paper), tmp_path)
    (page,) = (p for p in pages if "For the next workshop" in p)
    for row in touched(read_web(job, plan.wiring)):
        assert row["where"] in page
    assert "understood by, date" in page


def test_presses_say_only_what_is_wired() -> None:
    job, plan, _, _ = shop("transponder")
    web = read_web(job, plan.wiring)
    told = {p["press"]: p["does"] for p in presses(web)}
    assert told["Lock"] == "the doors lock, the lights flash"
    assert "Trunk" not in told
    silent = [r for r in plan.wiring.runs if "unit.horn" not in r.ends]
    web = read_web(job, plan.wiring.model_copy(update={"runs": silent}))
    assert "horn" not in " ".join(p["does"] for p in presses(web))


def test_what_ends_a_start_is_said_only_where_it_is_sensed() -> None:
    job, plan, _, _ = shop("plain")
    assert any("hood" in line for line in start_words(read_web(job, plan.wiring)))
    bare = [r for r in plan.wiring.runs if "unit.hood_in" not in r.ends]
    web = read_web(job, plan.wiring.model_copy(update={"runs": bare}))
    assert not any("hood" in line for line in start_words(web))


def test_the_car_as_before_is_claimed_only_where_proven() -> None:
    job, plan, _, proof = shop("plain")
    web = read_web(job, plan.wiring)
    assert any("works as before" in line for line in service_words(web, proof))
    assert not any("works as before" in line for line in service_words(web, None))


def test_the_next_workshop_finds_every_wire_and_fuse() -> None:
    job, plan, _, _ = shop("transponder")
    web = read_web(job, plan.wiring)
    joined = {t.split(".")[1] for r in plan.wiring.runs for t in r.ends if t[:8] == "vehicle."}
    assert len(touched(web)) == len(joined)
    assert {f["rating"] for f in fuses(web)} >= {"30 A"}
    assert all(row["to"] for row in touched(web))


def test_same_bytes_and_papers() -> None:
    job, plan, size, proof = shop("plain")
    one = customer_pdf(job, plan, size, proof)
    assert one == customer_pdf(job, plan, size, proof)
    assert one != customer_pdf(job, plan, size, proof, paper="us-letter")


def test_another_jobs_plan_is_refused() -> None:
    job, plan, size, proof = shop("plain")
    with pytest.raises(RecordError, match="other"):
        customer_pdf(job, plan.model_copy(update={"job": "other"}), size, proof)


def test_a_wiring_without_a_start_promises_none() -> None:
    job, _, _, _ = shop("plain")
    empty = Wiring.model_validate(
        {"format": "startwright/wiring/1", "runs": [
            {"id": "r1", "from": "unit.lock", "to": "vehicle.lock_all"}]}
    )  # fmt: skip
    assert start_words(read_web(job, empty)) == []
