"""Templates, and what every page knows."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import Response
from fastapi.templating import Jinja2Templates
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from startwright.records import ProofReport, RuleResult, WholeJob, Wiring
from startwright.records.reports import UNDECIDED
from startwright.sheets.effects import NOT_FINISHED, effects, unfinished
from startwright.sheets.failed import hanging, named
from startwright.sheets.head import WANT_WORDS
from startwright.sheets.naming import article, in_words
from startwright.web import say
from startwright.web.answers import Answers
from startwright.web.folder import Folder

STATIC = Path(__file__).parent / "static"
LOOM_SHRUNK = 0.9
"""How far a loom may shrink to fit the page: its smallest letters, 11 px as drawn, stay near 10."""


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


def ticked(text: str) -> Markup:
    """Words of the records that a text has between backticks, set as such.

    >>> str(ticked("a `manual_gearbox` procedure, 1 < 2"))
    'a <code>manual_gearbox</code> procedure, 1 &lt; 2'
    """
    return Markup(re.sub(r"`([^`]+)`", r"<code>\1</code>", str(escape(text))))


def _environment() -> Environment:
    env = Environment(
        loader=PackageLoader("startwright.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters["ticked"] = ticked
    env.globals.update(
        static_url=static_url,
        ins=insulation_classes,
        effects=effects,
        unfinished=unfinished,
        not_finished=NOT_FINISHED,
        named=named,
        undecided=UNDECIDED,
        hanging=hanging,
        in_words=in_words,
        article=article,
        want_words=lambda w: WANT_WORDS[w],
        function_words=say.function_words,
        immobilizer_words=say.IMMOBILIZER_WORDS,
        vehicle_name=say.vehicle_name,
        vehicle_line=say.vehicle_line,
    )
    return env


templates = Jinja2Templates(env=_environment())


def folder_of(request: Request) -> Folder:
    """The folder this app is over."""
    folder: Folder = request.app.state.folder
    return folder


def answers_of(request: Request) -> Answers:
    """What this app has worked out."""
    answers: Answers = request.app.state.answers
    return answers


def render(request: Request, name: str, context: Mapping[str, Any], status: int = 200) -> Response:
    """A page or a part of one."""
    response = templates.TemplateResponse(request, name, dict(context), status)
    response.headers["cache-control"] = "no-store"
    return response


def drawn(job: WholeJob, wiring: Wiring, guilty: set[str], apart: str = "") -> str:
    """The loom without its own style sheet: the page has one, and allows no other.

    With `apart` the drawing is only looked at, beside others on one page: its names begin with
    that word, and its runs are no stops for the keyboard. The page widens it where there is room
    and rolls it where there is not; it never gets smaller than can be read.
    """
    from startwright.sheets.loom import loom_svg

    known = {run.id for run in wiring.runs}
    svg = loom_svg(job, wiring, guilty=guilty & known)
    svg = re.sub(r"<style>.*?</style>", "", svg, flags=re.DOTALL)
    svg = re.sub(r' width="([\d.]+)" height="[\d.]+"', _narrowest, svg, count=1)
    if apart:
        svg = svg.replace(' tabindex="0"', "").replace(' id="', f' id="{apart}-')
        svg = svg.replace('"loom-title loom-desc"', f'"{apart}-loom-title {apart}-loom-desc"')
    return svg


def _narrowest(size: re.Match[str]) -> str:
    return f' width="{float(size[1]) * LOOM_SHRUNK:.0f}"'


def worst_first(proof: ProofReport) -> list[RuleResult]:
    """The rules that do not hold, hazards first."""
    order = {"hazard": 0, "damage": 1, "works": 2}
    return sorted((r for r in proof.rules if r.holds is False), key=lambda r: order[r.kind])
