"""What a drawing must never do, as counts over its geometry."""

from __future__ import annotations

from itertools import combinations, pairwise

from startwright.sheets.shapes import Box, Loom, Point

Segment = tuple[Point, Point]


def segments(points: list[Point]) -> list[Segment]:
    """The straight pieces of a run."""
    return list(pairwise(points))


def hull(segment: Segment) -> Box:
    """A segment as a box without width."""
    (x1, y1), (x2, y2) = segment
    return Box(min(x1, x2), min(y1, y2), abs(x1 - x2), abs(y1 - y2))


def gap(a: Box, b: Box) -> float:
    """The distance of two boxes along the axis on which they are farther apart; below 0 inside."""
    return max(a.x - b.right, b.x - a.right, a.y - b.bottom, b.y - a.bottom)


def slanted(loom: Loom) -> list[str]:
    """Runs with a piece that is neither level nor upright."""
    return [
        run
        for run, points in loom.runs.items()
        if any(a[0] != b[0] and a[1] != b[1] for a, b in segments(points))
    ]


def behind_boxes(loom: Loom) -> list[tuple[str, str]]:
    """Runs that go through the inside of the unit, a part or a flag."""
    boxes = {"unit": loom.unit, **loom.parts, **loom.flags}
    return [
        (run, name)
        for run, points in loom.runs.items()
        for name, box in boxes.items()
        if any(gap(hull(s), box) < 0 for s in segments(points))
    ]


def too_close(loom: Loom, least: float) -> list[tuple[str, str, Segment, Segment]]:
    """Pairs of pieces of different runs that lie on or beside each other nearer than `least`.

    Two pieces that cross properly are not meant; a piece that ends on or just beside another is.
    """
    out = []
    pieces = [(r, s, hull(s)) for r, points in loom.runs.items() for s in segments(points)]
    for (r1, s1, h1), (r2, s2, h2) in combinations(pieces, 2):
        if r1 == r2 or gap(h1, h2) >= least or crosses(s1, s2, inner=least / 2):
            continue
        out.append((r1, r2, s1, s2))
    return out


def crosses(a: Segment, b: Segment, inner: float = 0.0) -> bool:
    """Whether two pieces cross at right angles, at least `inner` away from the ends of each."""
    for one, two in ((a, b), (b, a)):
        if one[0][1] == one[1][1] and two[0][0] == two[1][0]:
            x, y = two[0][0], one[0][1]
            h, v = hull(one), hull(two)
            return h.x + inner < x < h.right - inner and v.y + inner < y < v.bottom - inner
    return False


def crossings(loom: Loom) -> int:
    """How often runs cross in all."""
    pieces = [(r, s) for r, points in loom.runs.items() for s in segments(points)]
    return sum(crosses(s1, s2) for (r1, s1), (r2, s2) in combinations(pieces, 2) if r1 != r2)


def labels_on_labels(loom: Loom) -> list[tuple[str, str]]:
    """Pairs of texts that cover each other."""
    return [(a.text, b.text) for a, b in combinations(loom.labels, 2) if gap(a.box, b.box) < 0]


def labels_on_runs(loom: Loom) -> list[tuple[str, str]]:
    """Texts that a run goes through."""
    return [
        (label.text, run)
        for label in loom.labels
        for run, points in loom.runs.items()
        if any(gap(hull(s), label.box) < 0 for s in segments(points))
    ]


def labels_on_parts(loom: Loom) -> list[tuple[str, str]]:
    """Texts that lie on a part they do not belong to, or stick out of their own."""
    out = []
    for label in loom.labels:
        for part, box in loom.parts.items():
            touches = gap(label.box, box) < 0
            inside = (
                box.x <= label.box.x
                and label.box.right <= box.right
                and box.y <= label.box.y
                and label.box.bottom <= box.bottom
            )
            if (label.of == part and not inside) or (label.of != part and touches):
                out.append((label.text, part))
    return out


def boxes_on_boxes(loom: Loom) -> list[tuple[str, str]]:
    """Parts, flags and the unit that cover each other."""
    boxes = {"unit": loom.unit, **loom.parts, **loom.flags}
    return [(a, b) for a, b in combinations(boxes, 2) if gap(boxes[a], boxes[b]) < 0]


def out_of_page(loom: Loom) -> list[str]:
    """Runs and texts beyond the edge of the drawing."""
    page = Box(0, 0, loom.width, loom.height)

    def outside(box: Box) -> bool:
        return (
            box.x < page.x or box.y < page.y or box.right > page.right or box.bottom > page.bottom
        )

    out = [run for run, pts in loom.runs.items() if any(outside(hull(s)) for s in segments(pts))]
    return out + [label.text for label in loom.labels if outside(label.box)]
