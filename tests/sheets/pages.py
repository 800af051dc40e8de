"""Jobs of the shop with all their answers, and what a PDF says."""

from __future__ import annotations

import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

from sheets import wirings
from startwright.plan import plan as make_plan
from startwright.prove import prove
from startwright.records import Plan, ProofReport, SizeReport, WholeJob
from startwright.size import size as make_size

needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no poppler here")


@cache
def shop(name: str = "two-starters") -> tuple[WholeJob, Plan, SizeReport, ProofReport]:
    """A job of the shop with its plan and what `size` and `prove` say of it."""
    job = wirings.job(name)
    made = make_plan(job)
    assert isinstance(made, Plan)
    bare = Plan.model_validate(made.model_dump(by_alias=True, include=set(Plan.model_fields)))
    return job, bare, make_size(job, bare.wiring), prove(job, bare.wiring)


def text_of(pdf: bytes, tmp_path: Path) -> list[str]:
    """The words of each page."""
    file = tmp_path / "sheet.pdf"
    file.write_bytes(pdf)
    run = subprocess.run(
        ["pdftotext", "-layout", str(file), "-"], capture_output=True, text=True, check=True
    )
    return run.stdout.split("\f")[:-1]


def in_one_line(pages: list[str]) -> str:
    return " ".join(" ".join(pages).split())
