"""How lines are written in SVG: numbers, rounded ways, thickness."""

from __future__ import annotations

from startwright.physics.wire import outside_mm
from startwright.sheets.shapes import Point

RADIUS = 5.0
PX_PER_MM = 1.12
"""Scale of wire diameters; far larger than that of the legs."""


def num(value: float) -> str:
    """A number as short as a hundredth of a pixel asks for."""
    return f"{round(value, 2):g}"


def rounded(points: list[Point]) -> str:
    """Straight lines with rounded corners."""
    out = [f"M{num(points[0][0])} {num(points[0][1])}"]
    for before, here, after in zip(points, points[1:], points[2:], strict=False):
        lead = abs(before[0] - here[0]) + abs(before[1] - here[1])
        tail = abs(after[0] - here[0]) + abs(after[1] - here[1])
        r = min(RADIUS, lead / 2, tail / 2)
        a = _towards(here, before, r)
        b = _towards(here, after, r)
        out.append(
            f"L{num(a[0])} {num(a[1])}Q{num(here[0])} {num(here[1])} {num(b[0])} {num(b[1])}"
        )
    out.append(f"L{num(points[-1][0])} {num(points[-1][1])}")
    return "".join(out)


def _towards(a: Point, b: Point, r: float) -> Point:
    long = abs(a[0] - b[0]) + abs(a[1] - b[1])
    if long == 0:
        return a
    return (a[0] + (b[0] - a[0]) * r / long, a[1] + (b[1] - a[1]) * r / long)


def stroke_px(size_mm2: float | None) -> float:
    """How thick a run is drawn: its outside diameter to scale, as far as its lane is wide.

    >>> stroke_px(0.5) < stroke_px(4.0) < stroke_px(6.0) < stroke_px(50.0) == 6.1
    True
    """
    if size_mm2 is None:
        return 3.2
    return min(6.1, round(PX_PER_MM * outside_mm(max(0.1, min(120.0, size_mm2))), 2))
