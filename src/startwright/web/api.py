"""The same answers as JSON; every error is ``{"error": {what, where, expected}}``."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse, Response

from startwright.records import ProofReport, RecordError, WholeJob, Wiring
from startwright.records.lines import Lines
from startwright.records.read import parse_wiring
from startwright.web.desk import Task
from startwright.web.page import answers_of, folder_of

router = APIRouter(prefix="/api")

Seconds = Annotated[float, Query(ge=0, le=120, description="how long to wait for the answer")]


def _json(value: Any, status: int = 200) -> Response:
    return JSONResponse(value, status, {"cache-control": "no-store"})


def _dump(record: Any) -> Any:
    return record.model_dump(mode="json", by_alias=True)


@router.get("/jobs")
def jobs(request: Request) -> Response:
    """Every job in the folder, and what is wrong with those that cannot be read."""
    found: list[dict[str, Any]] = []
    for file in folder_of(request).jobs():
        if file.whole is None:
            assert file.error is not None
            found.append({"file": file.name, **file.error.as_json()})
        else:
            job = file.whole
            found.append(
                {
                    "id": job.id,
                    "file": file.name,
                    "vehicle": job.vehicle.id,
                    "unit": job.unit.id,
                    "stock": job.stock.id,
                    "wants": list(job.wants),
                }
            )
    return _json({"jobs": found})


@router.get("/jobs/{id}")
def job(request: Request, id: str) -> Response:
    """One job with its vehicle, unit and stock."""
    return _json(_dump(folder_of(request).job(id)))


@router.get("/jobs/{id}/plan")
def plan(request: Request, id: str, wait_s: Seconds = 60) -> Response:
    """What goes where; where there is no plan, why, and what would open a way."""
    found, pending = _found(request, id, wait_s, "plan", "refusal")
    return pending or _json(
        _dump(found["plan"] if found.get("refusal") is None else found["refusal"])
    )


@router.get("/jobs/{id}/size")
def size(request: Request, id: str, wait_s: Seconds = 60, why: str = "") -> Response:
    """Whether the plan holds; with `why`, where the numbers of one row come from."""
    found, pending = _found(request, id, wait_s, "size", "refusal")
    if pending is not None:
        return pending
    found = _with_plan(id, found)
    if not why:
        return _json(_dump(found["size"]))
    from startwright.size.why import rows_named
    from startwright.size.why import why as unfold

    folder = folder_of(request)
    whole, lines = folder.job(id), folder.lines(id)
    unfolded = unfold(whole, found["plan"].wiring, found["size"], why, lines=lines)
    return _json({**rows_named(found["size"], why)[0][1], "why": unfolded.as_json()})


@router.get("/jobs/{id}/prove")
def prove(
    request: Request, id: str, wait_s: Seconds = 60, faults: bool = False, why: str = ""
) -> Response:
    """Whether the plan is safe; with `faults`, every single fault too; with `why`, one rule."""
    found, pending = _found(request, id, wait_s, "proof", "refusal")
    if pending is not None:
        return pending
    found = _with_plan(id, found)
    whole = folder_of(request).job(id)
    if why:
        lines = folder_of(request).lines(id)
        return _json(_unfolded(whole, found["plan"].wiring, found["proof"], why, lines))
    if not faults:
        return _json(_dump(found["proof"]))
    task = answers_of(request).faults(whole, found["plan"].wiring)
    task.wait(wait_s)
    return _pending(task) or _json(_dump(task.result))


@router.get("/jobs/{id}/play")
def play(request: Request, id: str, line: str, wait_s: Seconds = 60) -> Response:
    """Play a scenario line on the plan's wiring."""
    found, pending = _found(request, id, wait_s, "plan", "refusal")
    if pending is not None:
        return pending
    wiring = _with_plan(id, found)["plan"].wiring
    from startwright.prove.playing import played

    return _json(played(folder_of(request).job(id), wiring, line).as_json())


@router.get("/jobs/{id}/timeline")
def timeline(
    request: Request, id: str, line: str, battery_C: float | None = None, wait_s: Seconds = 60
) -> Response:
    """Seconds and volts of a line, or of a usual one by its name, on the plan's wiring."""
    found, pending = _found(request, id, wait_s, "plan", "refusal")
    if pending is not None:
        return pending
    wiring = _with_plan(id, found)["plan"].wiring
    from startwright.prove.timeline import timeline as ask
    from startwright.prove.usual import NAMES, usual_line

    whole = folder_of(request).job(id)
    if line in NAMES:
        line = usual_line(whole, wiring, line, "line").line
    return _json(_dump(ask(whole, wiring, line, battery_C=battery_C, where="line")))


@router.post("/jobs/{id}/size")
async def size_wiring(request: Request, id: str) -> Response:
    """Whether a wiring or plan of your own, sent as the body, holds."""
    whole, wiring = await _own(request, id)

    def doing(task: Task) -> Any:
        from startwright.size import size as ask

        return ask(whole, wiring)

    return await _asked(request, "own size", whole, wiring, doing)


@router.post("/jobs/{id}/prove")
async def prove_wiring(request: Request, id: str, why: str = "") -> Response:
    """Whether a wiring or plan of your own, sent as the body, is safe; with `why`, one rule."""
    lines = folder_of(request).lines(id).copy()
    whole, wiring = await _own(request, id, lines)

    def doing(task: Task) -> Any:
        from startwright.prove import prove as ask

        proof = ask(whole, wiring)
        return _unfolded(whole, wiring, proof, why, lines) if why else proof

    return await _asked(request, f"own proof {why}", whole, wiring, doing)


@router.post("/jobs/{id}/shrink")
async def shrink_wiring(request: Request, id: str, rule: str) -> Response:
    """The fewest runs of a breached wiring or plan, sent as the body, that still break a rule."""
    whole, wiring = await _own(request, id)

    def doing(task: Task) -> Any:
        from startwright.prove.shrink import smallest

        return smallest(whole, wiring, rule, progress=lambda *_: not task.stopping()).as_json()

    return await _asked(request, f"own shrink {rule}", whole, wiring, doing)


def _unfolded(
    job: WholeJob, wiring: Wiring, proof: ProofReport, rule: str, lines: Lines
) -> dict[str, Any]:
    from startwright.prove.why import named
    from startwright.prove.why import why as unfold

    told: dict[str, Any] = _dump(named(proof, rule))
    return {**told, "why": unfold(job, wiring, proof, rule, lines=lines).as_json()}


async def _own(request: Request, id: str, lines: Lines | None = None) -> tuple[WholeJob, Wiring]:
    whole = folder_of(request).job(id)
    raw = await request.body()
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        raise RecordError("bytes that are no text", "body", "a wiring in UTF-8") from None
    return whole, parse_wiring(text, "body", lines=lines)


async def _asked(
    request: Request, kind: str, whole: WholeJob, wiring: Wiring, doing: Any
) -> Response:
    from starlette.concurrency import run_in_threadpool

    from startwright.web.desk import content_key

    desk = answers_of(request).desk
    task = desk.start(content_key(kind, whole, wiring), doing, again=True)
    await run_in_threadpool(task.wait, 60)
    pending = _pending(task)
    if pending is not None:
        return pending
    return _json(task.result if isinstance(task.result, dict) else _dump(task.result))


def _pending(task: Task) -> Response | None:
    """What to say of a task that has no answer yet; `None` where it has.

    Raises
    ------
    RecordError
        The work ended without an answer.
    """
    if task.busy:
        return _json({"working": task.step, "seconds": round(task.seconds, 1)}, 202)
    if task.error is not None:
        raise task.error
    if task.state == "stopped":
        raise RecordError("the work was stopped", "job", "to ask again")
    return None


def _found(
    request: Request, id: str, wait_s: float, *enough: str
) -> tuple[dict[str, Any], Response | None]:
    whole = folder_of(request).job(id)
    task = answers_of(request).work(whole, again=True)
    task.wait(wait_s)
    if task.state == "done":
        return task.result, None
    if any(task.partial.get(key) is not None for key in enough):
        return dict(task.partial), None
    return {}, _pending(task)


def _with_plan(id: str, found: dict[str, Any]) -> dict[str, Any]:
    refusal = found.get("refusal")
    if refusal is not None:
        what = "there is no plan: " + "; ".join(refusal.reasons)
        ways = "; ".join(way.do for way in refusal.resolve) or "a job with a plan"
        raise RecordError(what, f"job {id}", ways)
    return found
