"""A gallery of dangers: the smallest wirings that go wrong in one way each, drawn and proven."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from startwright.example import path
from startwright.records import ProofReport, RecordError, WholeJob, Wiring
from startwright.records.read import read_job, read_wiring
from startwright.web.desk import content_key
from startwright.web.page import answers_of, drawn, render, worst_first

router = APIRouter(include_in_schema=False)


def folder() -> Path:
    """Where the beasts live: in the package, as data."""
    return path() / "bestiary"


@cache
def beasts() -> dict[str, dict[str, Any]]:
    """Each beast's story by its name, in the order of the book."""
    from ruamel.yaml import YAML

    book = YAML(typ="safe").load((folder() / "bestiary.yaml").read_text("utf-8"))
    rows = book if isinstance(book, list) else next(v for v in book.values() if isinstance(v, list))
    return {str(row["id"]): dict(row) for row in rows}


def beast(name: str) -> tuple[WholeJob, Wiring]:
    """The job and the wiring of a beast.

    Raises
    ------
    RecordError
        There is no such beast.
    """
    if name not in beasts():
        raise RecordError(f"no danger is called {name[:60]!r}", "dangers", "one of the gallery's")
    job = read_job(folder() / f"{name}.job.yaml")
    return job, read_wiring(folder() / f"{name}.wiring.yaml")


def proof_of(request: Request, name: str) -> ProofReport | None:
    """What the proof says of a beast; None where it takes too long."""
    job, wiring = beast(name)

    def doing(_: Any) -> Any:
        from startwright.prove import prove

        return prove(job, wiring)

    task = answers_of(request).desk.start(content_key("danger", job, wiring), doing)
    task.wait(30)
    task = task.now()
    if task.error is not None:
        raise task.error
    found: ProofReport | None = task.result
    return found


@router.get("/dangers")
def gallery(request: Request) -> Response:
    """Every beast with its story; the drawings come as they are reached."""
    return render(request, "dangers.html", {"beasts": beasts()})


@router.get("/dangers/{name}")
def one(request: Request, name: str) -> Response:
    """One beast, drawn with what is guilty marked, and what the proof says of it."""
    job, wiring = beast(name)
    proof = proof_of(request, name)
    broken = worst_first(proof) if proof is not None else []
    guilty = {run for rule in broken for run in rule.runs}
    context = {
        "name": name,
        "job": job,
        "beast": beasts()[name],
        "proof": proof,
        "broken": broken,
        "loom": drawn(job, wiring, guilty, apart=name),
    }
    page = "danger.html" if "hx-request" in request.headers else "danger_page.html"
    return render(request, page, context)
