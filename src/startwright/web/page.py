"""Templates, and what every page knows."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import Response
from fastapi.templating import Jinja2Templates
from jinja2 import Environment, PackageLoader, StrictUndefined

from startwright.web import say

STATIC = Path(__file__).parent / "static"


@cache
def static_url(name: str) -> str:
    """The address of a static file, with a mark that changes when the file does."""
    try:
        mark = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:10]
    except FileNotFoundError:
        mark = "missing"
    return f"/static/{name}?{mark}"


def insulation_classes(colour: str | None) -> str:
    """The classes that draw a piece of wire in its insulation colours."""
    if not colour:
        return "ins"
    base, *stripes = colour.split("/")
    return " ".join(["ins", f"b-{base}", *(f"s{n}-{s}" for n, s in enumerate(stripes, 1))])


def _environment() -> Environment:
    env = Environment(
        loader=PackageLoader("startwright.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals.update(
        static_url=static_url,
        ins=insulation_classes,
        want_words=lambda w: say.WANT_WORDS[w],
        function_words=say.function_words,
        vehicle_name=say.vehicle_name,
        vehicle_line=say.vehicle_line,
    )
    return env


templates = Jinja2Templates(env=_environment())


def render(request: Request, name: str, context: Mapping[str, Any], status: int = 200) -> Response:
    """A page or a part of one."""
    response = templates.TemplateResponse(request, name, dict(context), status)
    response.headers["cache-control"] = "no-store"
    return response
