"""Is an immobilizer fitted: what was seen is weighed at once, and what to look at next is named."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from startwright.identify import QUESTIONS, ImmobilizerVerdict, weigh_immobilizer
from startwright.identify.immobilizer import KINDS
from startwright.records import RecordError
from startwright.web.page import render

router = APIRouter()


def asked(request: Request) -> tuple[dict[str, str], list[str]]:
    """What was seen, and what sister cars have; empty answers are none."""
    query = request.query_params
    unknown = sorted(set(query) - {*QUESTIONS, "sister"})
    if unknown:
        raise RecordError(
            f"{unknown[0][:40]!r} is no evidence", "immobilizer", f"one of: {', '.join(QUESTIONS)}"
        )
    saw = {what: query[what] for what in QUESTIONS if query.get(what)}
    return saw, [kind for kind in query.getlist("sister") if kind]


@router.get("/immobilizer", include_in_schema=False)
def page(request: Request) -> Response:
    """The questions, and what the answers so far say."""
    verdict: ImmobilizerVerdict | None = None
    error: RecordError | None = None
    saw: dict[str, str] = {}
    sisters: list[str] = []
    try:
        saw, sisters = asked(request)
        verdict = weigh_immobilizer(saw, sisters)
    except RecordError as wrong:
        error = wrong
    context = {
        "questions": QUESTIONS,
        "saw": saw,
        "kinds": KINDS,
        "sister": sisters[0] if sisters else "",
        "verdict": verdict,
        "error": error,
    }
    return render(request, "immobilizer.html", context, 422 if error else 200)


@router.get("/api/immobilizer")
def immobilizer(request: Request) -> JSONResponse:
    """The same for programs: `key`, `plain_copy_runs`, `telltale`, … and `sister`."""
    return JSONResponse(weigh_immobilizer(*asked(request)).model_dump(mode="json"))
