"""Verdicts and numbers unfolded in place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from startwright.records import ProofReport, RecordError, WholeJob, Wiring
from startwright.records.lines import Lines
from startwright.records.read import read_job, read_wiring
from startwright.web import bestiary
from startwright.web.desk import Task, content_key
from startwright.web.page import answers_of, folder_of, render
from startwright.web.pages import QUICK_S, answered

router = APIRouter(include_in_schema=False)


@router.get("/job/{id}/why/{rule}")
def rule(request: Request, id: str, rule: str) -> Response:
    """One rule's answer on the plan, unfolded."""
    whole = folder_of(request).job(id)
    sheet = answered(request, whole)
    assert sheet.plan is not None
    lines = folder_of(request).lines(whole.id)
    return _rule(request, whole, sheet.plan.wiring, sheet.proof, rule, lines, f"/job/{whole.id}")


@router.get("/dangers/{name}/why/{rule}")
def danger_rule(request: Request, name: str, rule: str) -> Response:
    """One rule's answer on one of the gallery's wirings, unfolded."""
    bestiary.beast(name)
    lines = Lines(below=bestiary.folder())
    job = read_job(bestiary.folder() / f"{name}.job.yaml", lines=lines)
    wiring = read_wiring(bestiary.folder() / f"{name}.wiring.yaml", lines=lines)
    proof = bestiary.proof_of(request, name)
    return _rule(request, job, wiring, proof, rule, lines, f"/dangers/{name}")


@router.get("/job/{id}/number/{row}")
def number(request: Request, id: str, row: str) -> Response:
    """One row of the plan's size, unfolded."""
    from startwright.size.why import why

    whole = folder_of(request).job(id)
    sheet = answered(request, whole)
    assert sheet.plan is not None
    if sheet.size is None:
        raise RecordError("a plan that is not sized", f"job {whole.id}", "one that is")
    lines = folder_of(request).lines(whole.id)
    unfolded = why(whole, sheet.plan.wiring, sheet.size, row[:80], lines=lines)
    context = {"number": unfolded, "task": None, "here": "", "back": f"/job/{whole.id}#hold"}
    return shown(request, "why_number.html", context, row[:80])


def _rule(
    request: Request,
    job: WholeJob,
    wiring: Wiring,
    proof: ProofReport | None,
    slug: str,
    lines: Lines,
    base: str,
) -> Response:
    from startwright.prove.why import named

    if proof is None:
        raise RecordError("a wiring that is not proven yet", base, "one that was looked at")
    named(proof, slug)

    def doing(task: Task) -> Any:
        from startwright.prove.why import why

        def progress(tried: int) -> bool:
            task.step = f"looking for what would have prevented it, {tried} changes tried"
            return not task.stopping()

        return why(job, wiring, proof, slug, lines=lines, progress=progress)

    key = content_key("why", job, wiring, slug)
    return worked(request, key, doing, "why.html", slug, f"{base}/why/{slug}", f"{base}#safe")


def worked(
    request: Request,
    key: str,
    doing: Callable[[Task], Any],
    template: str,
    title: str,
    here: str,
    back: str,
) -> Response:
    """Long work unfolded in place, or on a page of its own; it asks again while it goes on."""
    task = answers_of(request).desk.start(key, doing, again=True)
    task.wait(QUICK_S if "hx-request" in request.headers else 60)
    task = task.now()
    if task.error is not None:
        raise task.error
    return shown(request, template, {"task": task, "here": here, "back": back}, title)


def shown(request: Request, template: str, context: dict[str, Any], title: str) -> Response:
    """A part of a page, or that part as a page."""
    if "hx-request" in request.headers:
        return render(request, template, {**context, "alone": False})
    whole = {**context, "alone": True, "inside": template, "title": title}
    return render(request, "why_page.html", whole)
