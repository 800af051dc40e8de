"""The app over one folder of records: pages, the JSON API, and one shape for every error."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from startwright.records import RecordError
from startwright.web import (
    api,
    bestiary,
    fewest,
    immobilizer,
    insulation,
    meter,
    pages,
    printed,
    single,
    trace,
    which_wire,
    why,
)
from startwright.web.answers import Answers
from startwright.web.folder import Folder, JobUnknown
from startwright.web.guard import Guard
from startwright.web.page import STATIC, render

log = logging.getLogger(__name__)

EXPECTED = {
    404: "a page of this app; the list of jobs is at /",
    405: "another method; the API is described at /api/openapi.json",
    413: "less",
}


def create_app(folder: Path) -> FastAPI:
    """The app over a folder of records.

    Parameters
    ----------
    folder : pathlib.Path
        A folder with ``jobs/`` and the records they name. Only meter values that are entered
        (``readings/``), and finds that a person puts into a vehicle record, are written.

    Returns
    -------
    fastapi.FastAPI
        An application to serve; it holds answers in memory.

    Raises
    ------
    RecordError
        There is no such folder.
    """
    if not folder.is_dir():
        raise RecordError(
            "there is no such folder", str(folder), "a folder with jobs/, vehicles/, units/, stock/"
        )
    answers = Answers()

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        answers.close()

    app = FastAPI(
        title="Startwright",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=lifespan,
    )
    app.state.folder = Folder(folder)
    app.state.answers = answers
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_middleware(Guard)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    for room in (
        *(pages, printed, trace, why, fewest, single, meter),
        *(which_wire, immobilizer, bestiary, insulation, api),
    ):
        app.include_router(room.router)

    app.add_exception_handler(RecordError, _record_error)
    app.add_exception_handler(RequestValidationError, _validation_error)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(Exception, _unforeseen)
    return app


def _answer(request: Request, status: int, error: RecordError) -> Response:
    if request.url.path.startswith("/api/"):
        return JSONResponse(error.as_json(), status)
    return render(request, "error.html", {"error": error, "status": status}, status)


async def _record_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, RecordError)
    return _answer(request, 404 if isinstance(error, JobUnknown) else 422, error)


async def _validation_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    where = ".".join(str(p) for p in first["loc"])
    found = str(first.get("input"))[:80]
    return _answer(request, 422, RecordError(f"{found!r} was given", where, first["msg"]))


async def _http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    expected = EXPECTED.get(error.status_code, "a request this app knows")
    record = RecordError(str(error.detail).lower(), request.url.path[:200], expected)
    response = _answer(request, error.status_code, record)
    for name, value in (error.headers or {}).items():
        response.headers[name] = value
    return response


async def _unforeseen(request: Request, error: Exception) -> Response:
    log.exception("unforeseen", exc_info=error)
    record = RecordError(
        f"something broke here: {type(error).__name__}",
        request.url.path[:200],
        "an answer; nothing was changed, and the log says more",
    )
    return _answer(request, 500, record)
