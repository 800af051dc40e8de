"""Insulation colours as a style sheet, from the table that the drawings use."""

from __future__ import annotations

from functools import cache

from fastapi import APIRouter
from fastapi.responses import Response

from startwright.sheets.colour import drawn, table

router = APIRouter(include_in_schema=False)


@cache
def sheet() -> str:
    """One class a code for the base and for each stripe."""
    lines = []
    for code in table():
        lines.append(f".b-{code}{{--base:{drawn(code)};--s1:{drawn(code)};--s2:{drawn(code)}}}")
    for code in table():
        lines.append(f".s1-{code}{{--s1:{drawn(code)};--s2:{drawn(code)}}}")
    for code in table():
        lines.append(f".s2-{code}{{--s2:{drawn(code)}}}")
    return "\n".join(lines)


@router.get("/insulation.css")
def insulation_css() -> Response:
    """The style sheet of the wire colours."""
    return Response(sheet(), media_type="text/css", headers={"cache-control": "max-age=3600"})
