"""Display colours for all that is not insulation, on light and on dark paper."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Palette:
    """Display colours for everything that is not insulation."""

    paper: str
    ink: str
    muted: str
    line: str
    panel: str
    sleeve: str
    edge: str
    lit: str
    guilty: str


LIGHT = Palette(
    "#ffffff",
    "#1d2329",
    "#56606b",
    "#aab3bd",
    "#f5f6f8",
    "#e9edf1",
    "#5b6570",
    "#f2b705",
    "#d3132b",
)
DARK = Palette(
    "#14181d",
    "#eef1f4",
    "#a6b0bb",
    "#56616c",
    "#1e242b",
    "#262e36",
    "#9aa5b1",
    "#ffd24a",
    "#ff6b78",
)


def style_sheet(p: Palette) -> str:
    """The style sheet of a drawing: each colour a variable that a page may set."""
    v = {k: f"var(--loom-{k},{getattr(p, k)})" for k in p.__dataclass_fields__}
    return (
        f".loom{{fill:{v['ink']};color:{v['ink']}}}"
        f".loom .paper{{fill:{v['paper']}}}"
        f".loom .ink{{fill:{v['ink']}}}.loom .muted{{fill:{v['muted']}}}"
        f".loom .panel{{fill:{v['panel']};stroke:{v['line']}}}"
        f".loom .sleeve{{fill:{v['sleeve']}}}"
        f".loom .rule{{stroke:{v['line']}}}.loom .mark{{stroke:{v['ink']}}}"
        f".loom .edge{{stroke:{v['edge']}}}"
        f".loom .run{{cursor:pointer;outline:none}}"
        f".loom .halo{{stroke:{v['lit']};stroke-opacity:0}}"
        f".loom .run:hover .halo{{stroke:{v['ink']};stroke-opacity:.28}}"
        f".loom .run:focus-within .halo{{stroke:{v['ink']};stroke-opacity:.7}}"
        ".loom .wire{opacity:1}"
        ".loom.marked .run:not(.lit):not(.guilty) .wire{opacity:.3}"
        f".loom .run.lit .halo{{stroke:{v['lit']};stroke-opacity:1}}"
        f".loom .run.guilty .halo{{stroke:{v['guilty']};stroke-opacity:1}}"
        f".loom .run.guilty text{{fill:{v['guilty']}}}"
    )
