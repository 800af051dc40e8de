"""The pages: the jobs, and one job as one sheet of paper."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from startwright.records import RecordError, WholeJob
from startwright.sheets import build as build_order
from startwright.sheets import cautions
from startwright.sheets.tryout import try_lines
from startwright.web import figures, playing
from startwright.web.desk import Task
from startwright.web.page import answers_of, drawn, folder_of, render
from startwright.web.playing import TITLES
from startwright.web.sheet import Sheet, build

router = APIRouter(include_in_schema=False)

QUICK_S = 0.4
"""What is answered within this comes with the page itself."""


@router.get("/")
def jobs(request: Request) -> Response:
    """Every job in the folder."""
    files = folder_of(request).jobs()
    answers = answers_of(request)
    sheets: dict[str, Sheet] = {}
    for file in files:
        task = answers.known(file.whole) if file.whole is not None else None
        if file.whole is not None and task is not None:
            sheets[file.id] = build(file.whole, task)
    context = {"files": files, "sheets": sheets, "folder": folder_of(request).path.name}
    return render(request, "jobs.html", context)


@router.get("/job/{id}/line")
def line(request: Request, id: str) -> Response:
    """One job's state for the list; asking starts the work."""
    whole = folder_of(request).job(id)
    sheet = build(whole, answers_of(request).work(whole))
    return render(request, "line.html", {"job": whole, "sheets": {whole.id: sheet}})


@router.get("/job/{id}")
def job(request: Request, id: str, line: str = "") -> Response:
    """One job as one sheet; what is not answered yet fills itself in."""
    whole = folder_of(request).job(id)
    task = answers_of(request).work(whole)
    task.wait(QUICK_S)
    sheet = build(whole, task)
    context = _context(request, sheet) | {"waiting": _waiting(sheet)}
    if line and sheet.plan is not None:
        context["line"] = line[:2000]
        context["seen"] = playing.shown(
            whole,
            sheet.plan.wiring,
            line[:2000],
            base=f"/job/{whole.id}/trace",
            asked=[("line", line[:2000]), ("slot", "try")],
        )
        sheet.part("try").open = True
    return render(request, "job.html", context)


@router.get("/job/{id}/strip")
def strip(request: Request, id: str, waiting: str = "") -> Response:
    """How far the work is; the parts that were waiting and are filled now come along."""
    whole = folder_of(request).job(id)
    answers = answers_of(request)
    sheet = build(whole, answers.known(whole) or answers.work(whole))
    still = _waiting(sheet)
    filled = [p for p in sheet.parts if p.slug in waiting.split(",") and p.slug not in still]
    context = _context(request, sheet) | {"waiting": still, "filled": filled}
    return render(request, "filled.html", context)


@router.post("/job/{id}/stop")
def stop(request: Request, id: str) -> Response:
    """Stop the work on a job."""
    whole = folder_of(request).job(id)
    answers = answers_of(request)
    answers.stop(whole)
    task = answers.known(whole)
    if task is not None:
        task.wait(1.0)
    return RedirectResponse(f"/job/{whole.id}", 303)


@router.post("/job/{id}/again")
def again(request: Request, id: str) -> Response:
    """Work a job out again after it was stopped or broke off."""
    whole = folder_of(request).job(id)
    answers_of(request).work(whole, again=True)
    return RedirectResponse(f"/job/{whole.id}", 303)


@router.get("/job/{id}/faults")
@router.post("/job/{id}/faults")
def faults(request: Request, id: str) -> Response:
    """Start trying every single fault, or see how far that is."""
    whole = folder_of(request).job(id)
    sheet = answered(request, whole)
    assert sheet.plan is not None
    answers = answers_of(request)
    task = answers.faults(whole, sheet.plan.wiring, again=request.method == "POST")
    if "hx-request" not in request.headers:
        return RedirectResponse(f"/job/{whole.id}#safe", 303)
    return render(request, "faults.html", {"sheet": sheet, "faults": task})


@router.post("/job/{id}/faults/stop")
def stop_faults(request: Request, id: str) -> Response:
    """Stop trying faults."""
    whole = folder_of(request).job(id)
    sheet = answered(request, whole)
    assert sheet.plan is not None
    answers_of(request).stop_faults(whole, sheet.plan.wiring)
    return RedirectResponse(f"/job/{whole.id}#safe", 303)


def answered(request: Request, whole: WholeJob) -> Sheet:
    """The sheet of a job that has a plan.

    Raises
    ------
    RecordError
        There is none, or none yet.
    """
    task: Task = answers_of(request).work(whole)
    task.wait(60)
    sheet = build(whole, task)
    if sheet.plan is None:
        why = "; ".join(sheet.refusal.reasons[:2]) if sheet.refusal is not None else task.step
        raise RecordError(f"there is no plan: {why}", f"job {whole.id}", "a job with a plan")
    return sheet


def _waiting(sheet: Sheet) -> list[str]:
    """The parts that will be filled yet."""
    if not sheet.task.busy:
        return []
    needs = [] if sheet.plan is not None else ["wanted"]
    return needs + [part.slug for part in sheet.parts if part.state == "wait"]


def _context(request: Request, sheet: Sheet) -> dict[str, Any]:
    context: dict[str, Any] = {
        "sheet": sheet,
        "loom": "",
        "line": "",
        "cautions": cautions,
        "build": build_order,
        "try_lines": [],
        "seen": None,
        "usual": {},
        "faults": None,
        "held": [],
        "cold": None,
        "sources": [],
    }
    if sheet.plan is not None:
        guilty = {run for rule in sheet.breaches for run in rule.runs}
        context["loom"] = drawn(sheet.job, sheet.plan.wiring, guilty)
        context["try_lines"] = try_lines(sheet.job, sheet.plan.wiring)
        if "remote_start" in sheet.job.wants:
            context["usual"] = TITLES
        context["faults"] = answers_of(request).known_faults(sheet.job, sheet.plan.wiring)
    if sheet.size is not None:
        held = figures.tables(sheet.size, sheet.job)
        said = [row.source for table in held for row in table.rows if row.source]
        context["held"] = held
        context["cold"] = figures.cold(sheet.size, sheet.job)
        context["sources"] = list(dict.fromkeys(s for line in said for s in line.split("; ")))
    return context
