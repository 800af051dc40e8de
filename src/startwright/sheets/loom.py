"""The loom: the picture of it all, as a tree that grows from the unit along the car."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from startwright.records import RecordError, WholeJob, Wiring
from startwright.sheets.draw import Painter
from startwright.sheets.layout import lay_out
from startwright.sheets.measure import SCREEN, Measure
from startwright.sheets.palette import DARK, LIGHT


def loom_svg(
    job: WholeJob,
    wiring: Wiring,
    *,
    lit: Collection[str] = (),
    guilty: Collection[str] = (),
    dark: bool = False,
    links: bool = False,
    style: bool = True,
    at: str | None = None,
    size: Measure = SCREEN,
    bundles: Mapping[str, float] | None = None,
) -> str:
    """The loom as an SVG document.

    Parameters
    ----------
    job, wiring
        What is drawn. Lengths and sizes are shown where the runs have them.
    lit, guilty : collection of str
        Runs that are live in the step shown, and runs that take part in a breach.
    dark : bool
        Colours for a dark page. A page can set its own by the variables ``--loom-paper``,
        ``-ink``, ``-muted``, ``-line``, ``-panel``, ``-sleeve``, ``-edge``, ``-lit``, ``-guilty``.
    links : bool
        Make each run a link to ``#row-<run>``.
    style : bool
        Carry the style sheet. Without it every colour is an attribute, for programs that print.
    at : str, optional
        The unit's place; by default the planner's rule (the allowed place with the least wire).
    size : Measure
        `SCREEN`, or `PAPER` for a drawing with few words beside its tables.
    bundles : mapping, optional
        Place to the diameter in mm of the bundle that reaches it, where that is known.

    Returns
    -------
    str
        One ``<svg>`` element; each run is ``<g id="run-<run>" class="run">`` with a title. The
        same input gives the same bytes.

    Raises
    ------
    RecordError
        For a run to a terminal that is not there, or a run to mark that is not in the wiring.
    """
    known = {run.id for run in wiring.runs}
    for name, marked in (("lit", lit), ("guilty", guilty)):
        for id in marked:
            if id not in known:
                raise RecordError(f"no run {id!r} in the wiring", name, "ids of runs")
    palette = DARK if dark else LIGHT
    laid = lay_out(job, wiring, at=at, size=size, bundles=bundles)
    return Painter(laid, palette, lit, guilty, links, style).svg()
