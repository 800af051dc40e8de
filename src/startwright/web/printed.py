"""What is printed of a job: the bench, customer and failure-mode sheets, and the loom."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from startwright.records import Plan, RecordError, WholeJob
from startwright.sheets.typeset import Paper
from startwright.web.page import answers_of, folder_of
from startwright.web.pages import answered
from startwright.web.sheet import Sheet

router = APIRouter(include_in_schema=False)

PAPERS: dict[str, Paper] = {"a4": "a4", "letter": "us-letter"}
FAULTS_S = 600
"""How long a failure-mode sheet waits for its faults, in seconds."""


def _paper(name: str) -> Paper:
    if name not in PAPERS:
        raise RecordError(f"the paper {name[:20]!r}", "paper", "a4 or letter")
    return PAPERS[name]


def _planned(request: Request, id: str) -> tuple[WholeJob, Sheet, Plan]:
    whole = folder_of(request).job(id)
    sheet = answered(request, whole)
    assert sheet.plan is not None
    return whole, sheet, sheet.plan


def _pdf(made: bytes, job: str, sheet: str) -> Response:
    name = f'inline; filename="{job}-{sheet}.pdf"'
    return Response(made, media_type="application/pdf", headers={"content-disposition": name})


@router.get("/job/{id}/bench.pdf")
def bench(request: Request, id: str, paper: str = "a4") -> Response:
    """The bench sheet."""
    from startwright.sheets.bench import bench_pdf

    on = _paper(paper)
    whole, sheet, plan = _planned(request, id)
    return _pdf(bench_pdf(whole, plan, sheet.size, sheet.proof, paper=on), whole.id, "bench")


@router.get("/job/{id}/customer.pdf")
def customer(request: Request, id: str, paper: str = "a4") -> Response:
    """The customer's sheet."""
    from startwright.sheets.customer import customer_pdf

    on = _paper(paper)
    whole, sheet, plan = _planned(request, id)
    return _pdf(customer_pdf(whole, plan, sheet.size, sheet.proof, paper=on), whole.id, "customer")


@router.get("/job/{id}/failure-modes.pdf")
def failure_modes(request: Request, id: str, paper: str = "a4") -> Response:
    """The failure-mode sheet; every single fault is tried first where it has not been."""
    from startwright.sheets.failure_modes import failure_modes_pdf

    on = _paper(paper)
    whole, _, plan = _planned(request, id)
    task = answers_of(request).faults(whole, plan.wiring)
    task.wait(FAULTS_S)
    if task.error is not None:
        raise task.error
    return _pdf(failure_modes_pdf(whole, plan, task.result, paper=on), whole.id, "failure-modes")


@router.get("/job/{id}/loom.svg")
def loom(request: Request, id: str) -> Response:
    """The loom as a file."""
    from startwright.sheets.loom import loom_svg

    whole, _, plan = _planned(request, id)
    return Response(loom_svg(whole, plan.wiring), media_type="image/svg+xml")
