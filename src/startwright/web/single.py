"""One question alone: a wire and a fuse for these amps over this length, with its picture."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from startwright.records import RecordError
from startwright.web.page import render

router = APIRouter()

FIELDS: tuple[tuple[str, str, str, str, float], ...] = (
    ("load_A", "Amps", "A", "what the load draws, or its fuse where that is all you know", 10.0),
    ("length_m", "Length", "m", "one way, along the harness", 3.0),
    ("max_drop_percent", "Drop allowed", "%", "3 % for what must not fail, 10 % for a lamp", 3.0),
    ("ambient_C", "Air around it", "°C", "30 in the cabin, 60 and more in the engine bay", 30.0),
    (
        "insulation_C",
        "Insulation",
        "°C",
        "what is printed on the wire: 60, 75, 80, 90, 105 …",
        105.0,
    ),
    ("bundled", "In a bundle of", "wires", "1 where it lies alone", 1.0),
)
"""Key, label, unit, help, and what stands there first."""


def asked(query: dict[str, str]) -> dict[str, float]:
    """The numbers of a query, with what stands there first for those left out.

    Raises
    ------
    RecordError
        A value that is no number.
    """
    values: dict[str, float] = {}
    for key, label, unit, help_, first in FIELDS:
        text = query.get(key, "").strip().replace(",", ".")
        try:
            values[key] = float(text) if text else first
        except ValueError:
            raise RecordError(f"{text[:40]!r}", label, f"a number, in {unit}: {help_}") from None
    return values


def answer(values: dict[str, float]) -> dict[str, Any]:
    """The wire, the fuse, and the curves of both.

    Raises
    ------
    RecordError
        A value outside its range, or no wire that would do.
    """
    from startwright.size import single

    if not 1 <= values["bundled"] <= 200 or values["bundled"] % 1:
        raise RecordError(f"{values['bundled']:g}", "bundled", "a whole number, 1 to 200")
    found = single(
        values["load_A"],
        values["length_m"],
        max_drop_share=values["max_drop_percent"] / 100,
        insulation_C=values["insulation_C"],
        ambient_C=values["ambient_C"],
        bundled=int(values["bundled"]),
    )
    return {**found, "curves": _curves(found)}


def _curves(found: dict[str, Any]) -> dict[str, Any] | None:
    from startwright.size import curves

    if found["fuse_A"] is None:
        return None
    return curves(
        found["fuse_A"],
        found["size_mm2"],
        insulation_C=found["insulation_C"],
        ambient_C=found["ambient_C"],
    )


@router.get("/size", include_in_schema=False)
def page(request: Request) -> Response:
    """The question, and its answer at once."""
    query = dict(request.query_params)
    found: dict[str, Any] | None = None
    error: RecordError | None = None
    try:
        found = answer(asked(query))
    except RecordError as wrong:
        error = wrong
    fields = [
        (key, label, unit, help_, query.get(key, f"{first:g}")[:40])
        for key, label, unit, help_, first in FIELDS
    ]
    from startwright.size.single import SYSTEM_V

    context = {"fields": fields, "found": found, "error": error, "system_V": SYSTEM_V}
    return render(request, "size.html", context, 422 if error else 200)


@router.get("/api/size")
def size(request: Request) -> Response:
    """The same for programs: `load_A`, `length_m`, `max_drop_percent`, `ambient_C`, …"""
    return JSONResponse(answer(asked(dict(request.query_params))))
