"""The fewest runs that still break a rule, on the page: drawn, and stepped through."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from startwright.records import RecordError, WholeJob, Wiring
from startwright.sheets.naming import in_words
from startwright.web import bestiary
from startwright.web.desk import Task, content_key
from startwright.web.page import answers_of, drawn, folder_of, render
from startwright.web.pages import answered
from startwright.web.playing import Shown, shown
from startwright.web.trace import degrees
from startwright.web.why import worked

if TYPE_CHECKING:
    from startwright.prove.shrink import Shrunk

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Fewest:
    """A shrunk wiring as the page shows it.

    Attributes
    ----------
    found : Shrunk
    runs : int
        How many runs there were.
    says : str
        What still breaks, in words.
    seen : Shown, optional
        Its line, to be stepped through; None where it has none.
    loom : str
        Its drawing, where there is nothing to step through.
    """

    found: Shrunk
    runs: int
    says: str
    seen: Shown | None
    loom: str


@router.get("/job/{id}/fewest/{rule}")
def fewest(request: Request, id: str, rule: str) -> Response:
    """The fewest runs of the plan that still break a rule."""
    return _fewest(request, *_planned(request, id), rule, f"/job/{id}", "")


@router.get("/job/{id}/fewest/{rule}/trace")
def trace(request: Request, id: str, rule: str, battery: str = "") -> Response:
    """The way to the breach on those runs, the rail sagging as asked."""
    return _trace(request, *_planned(request, id), rule, f"/job/{id}", "", battery)


@router.get("/dangers/{name}/fewest/{rule}")
def danger_fewest(request: Request, name: str, rule: str) -> Response:
    """The fewest runs of one of the gallery's wirings that still break a rule."""
    return _fewest(request, *bestiary.beast(name), rule, f"/dangers/{name}", f"{name}-")


@router.get("/dangers/{name}/fewest/{rule}/trace")
def danger_trace(request: Request, name: str, rule: str, battery: str = "") -> Response:
    """The way to the breach on those runs of the gallery's wiring."""
    return _trace(request, *bestiary.beast(name), rule, f"/dangers/{name}", f"{name}-", battery)


def _planned(request: Request, id: str) -> tuple[WholeJob, Wiring]:
    whole = folder_of(request).job(id)
    sheet = answered(request, whole)
    assert sheet.plan is not None
    return whole, sheet.plan.wiring


def _work(
    job: WholeJob, wiring: Wiring, slug: str, here: str, slot: str
) -> tuple[str, Callable[[Task], Any]]:
    """The shrinking as work for the desk: its key, and the work."""

    def doing(task: Task) -> Any:
        from startwright.prove.shrink import smallest

        def progress(tests: int, runs: int) -> bool:
            task.step = f"leaving runs out, {runs} left, {tests} wirings looked at"
            return not task.stopping()

        found = smallest(job, wiring, slug[:80], progress=progress)
        says = in_words(job, found.result.says)
        if found.result.trace:
            return Fewest(found, len(wiring.runs), says, _seen(job, found, slot, here), "")
        loom = drawn(job, found.wiring, set(found.result.runs), slot)
        return Fewest(found, len(wiring.runs), says, None, loom)

    return content_key("fewest", job, wiring, slug, slot), doing


def _fewest(
    request: Request, job: WholeJob, wiring: Wiring, slug: str, base: str, apart: str
) -> Response:
    here = f"{base}/fewest/{slug}"
    key, doing = _work(job, wiring, slug, here, f"{apart}fewest-{slug}")
    return worked(request, key, doing, "fewest.html", slug, here, f"{base}#safe")


def _seen(
    job: WholeJob, found: Shrunk, slot: str, here: str, battery_C: float | None = None
) -> Shown:
    rule = found.result
    return shown(
        job,
        found.wiring,
        rule.trace or "",
        slot,
        base=f"{here}/trace",
        guilty=rule.runs,
        breach=rule.kind != "works",
        battery_C=battery_C,
    )


def _trace(
    request: Request,
    job: WholeJob,
    wiring: Wiring,
    slug: str,
    base: str,
    apart: str,
    battery: str,
) -> Response:
    """Play it again at another temperature; the shrinking is kept from before."""
    battery_C = degrees(battery)
    here, slot = f"{base}/fewest/{slug}", f"{apart}fewest-{slug}"
    task = answers_of(request).desk.start(*_work(job, wiring, slug, here, slot), again=True)
    task.wait(60)
    task = task.now()
    if task.error is not None:
        raise task.error
    if task.result is None:
        raise RecordError("the fewest runs are still looked for", here, "a moment's patience")
    if task.result.seen is None:
        raise RecordError("no way to step through", here, "a rule that a line of actions breaks")
    seen = _seen(job, task.result.found, slot, here, battery_C)
    if "hx-request" in request.headers:
        return render(request, "trace.html", {"seen": seen, "heading": "h4"})
    seen.title = f"The fewest runs that break {slug}"
    room, _, of = base.strip("/").partition("/")
    context = {"seen": seen, "room": room, "back": f"{base}#safe", "of": of}
    return render(request, "trace_page.html", context)
