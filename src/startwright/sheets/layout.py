"""The geometry of the loom: boxes, flags, lanes and labels, in pixels. Nothing is drawn here.

From left to right: the unit with the leads in use, a channel in which they gather to a bundle,
and the tree. At each place a channel lets lanes peel off to the rows of that place and hands the
others on. A leg is as long as it is in the car, to scale, between a shortest and a longest length.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from startwright.records import WholeJob, Wiring
from startwright.sheets.arrange import arrange
from startwright.sheets.channel import Tracks
from startwright.sheets.ends import UNIT, End, Web, read_web
from startwright.sheets.labels import flag_lines, lead_lines, part_title, run_lines, unit_name
from startwright.sheets.lanes import Lanes
from startwright.sheets.lettering import letter
from startwright.sheets.measure import SCREEN, Measure
from startwright.sheets.shapes import Box, Loom, Point, Sleeve
from startwright.sheets.stack import left_and_right, pin_groups


@dataclass
class Column:
    """Where things stand from left to right at one place."""

    channel: float = 0.0
    after: float = 0.0
    parts: float = 0.0
    parts_width: float = 0.0
    locals: float = 0.0
    flags: float = 0.0
    far: float = 0.0


class Layout:
    """One loom being laid out."""

    def __init__(self, web: Web, size: Measure, bundles: Mapping[str, float]) -> None:
        self.web = web
        self.bundles = bundles
        self.size = size
        self.plan = Lanes(web, arrange(web, size), size)
        self.columns: dict[str, Column] = {}
        texts = [
            size.wide(line, size.small, bold=True)
            for run in web.runs.values()
            for line in run_lines(run, full=size.full)
        ]
        self.spec_room = round(max(texts, default=0.0) + 16)

    # ---- from left to right --------------------------------------------------------------

    def set_columns(self, place: str, x: float) -> float:
        """Columns of `place` and all beyond, from the left edge of its channel; the far right."""
        web, size, plan = self.web, self.size, self.plan
        column = self.columns[place] = Column(channel=x)
        column.after = x + (plan.junction[place].count + 1) * size.pitch
        items = web.at(place)
        parts = [item for item in items if item.is_part]
        flags = [item for item in items if not item.is_part]
        column.parts = column.locals = column.after
        if parts:
            reached = any(not web.is_local(e) for p in parts for e in p.ends)
            column.parts += self.spec_room if reached else 16
            column.parts_width = max(self.part_width(p.id) for p in parts)
            both = any(
                web.is_local(e) and web.items[web.owner[web.other(e)]].is_part
                for p in parts
                for e in p.ends
            )
            column.locals = column.parts + column.parts_width
            column.locals += self.spec_room if both else size.id_room
        tracks = plan.local[place].count
        column.flags = column.locals + (tracks + 1) * size.pitch * (tracks > 0)
        column.flags += self.spec_room if flags else 0
        column.far = column.flags + max((self.flag_width(f.id) for f in flags), default=0.0)
        far = column.far
        for child in web.tree.children.get(place, []):
            far = max(far, self.set_columns(child, column.after + self.leg_px(child)[0]))
        return far

    def leg_px(self, place: str) -> tuple[float, bool]:
        """How long the leg to `place` is drawn, and whether it is shortened."""
        length, size = self.web.tree.legs[place].length_m, self.size
        if length is None:
            return size.leg_least * 2, True
        true = length * size.per_m
        return max(size.leg_least, min(size.leg_most, true)), true > size.leg_most

    def part_width(self, part: str) -> float:
        """How wide a part's box must be for its words."""
        small = self.size.small
        title, pins = part_title(self.web, part)
        wide = [self.size.wide(title, small, bold=True) + 56]
        for group in pin_groups(self.web, part, list(self.web.items[part].pins)):
            words = sum(self.size.wide(pins[p], small) for p in group)
            wide.append(words + 20 + 24 * (len(group) - 1))
        return round(max(84.0, *wide))

    def flag_width(self, flag: str) -> float:
        """How wide a flag must be for its words, with the swatch of the car's wire before them."""
        lines, size = flag_lines(self.web, flag, full=self.size.full), self.size
        return round(
            max(
                size.wide(lines.name, size.name, bold=True) + 52,
                size.wide(lines.where, size.small) + 18,
            )
        )

    def unit_width(self) -> float:
        """How wide the unit must be for its name and its leads."""
        size = self.size
        rows = [lead_lines(self.web, lead, full=size.full) for lead in self.plan.unit_rows]
        return round(
            max(
                130.0,
                size.wide(unit_name(self.web), size.title, bold=True) + 24,
                *(
                    size.wide(t.name, size.small, bold=True) + size.wide(t.does, size.small) + 60
                    for t in rows
                ),
            )
        )

    # ---- putting it together -------------------------------------------------------------

    def compose(self) -> Loom:
        """All boxes, runs and labels in place."""
        web, size, plan = self.web, self.size, self.plan
        loom = Loom(web, size)
        unit_top = min((y for y, _ in plan.unit_rows.values()), default=0) - 52
        unit_bottom = max((b for _, b in plan.unit_rows.values()), default=0) + 10
        dy = size.margin - min(unit_top, 0)
        wide = self.unit_width()
        loom.unit = Box(size.margin, unit_top + dy, wide, unit_bottom - unit_top)
        at_unit = any(web.owner[(r, 0)] == web.owner[(r, 1)] == UNIT for r in web.runs)
        gather = loom.unit.right + (self.spec_room if at_unit else size.id_room)
        trunk_end = gather + (plan.root.count + 1) * size.pitch + size.trunk
        far = self.set_columns(web.tree.root, trunk_end)
        for lead, (top, bottom) in plan.unit_rows.items():
            loom.leads[lead] = Box(loom.unit.x, top + dy, wide, bottom - top)
        ports = self._ports(loom, dy)
        plan.move_down(dy)
        for run in web.runs:
            loom.runs[run] = self._route(run, ports, gather)
        self._sleeves(loom, trunk_end)
        loom.height = max(plan.heights.bottom + dy, loom.unit.bottom + 48) + size.margin
        loom.scale = Box(size.margin, loom.height - size.margin - 12, size.per_m / 2, 8)
        heads = {
            place: Box(
                column.after + 2, plan.heights.head[place] + dy, column.far - column.after, 24
            )
            for place, column in self.columns.items()
        }
        letter(loom, ports, heads, plan.order.pins, self.bundles)
        loom.width = max([far, *(label.box.right for label in loom.labels)]) + size.margin
        return loom

    def _ports(self, loom: Loom, dy: float) -> dict[End, Point]:
        """Boxes and flags, and the point at which each run ends."""
        web, heights = self.web, self.plan.heights
        ports: dict[End, Point] = {
            end: (loom.unit.right, y + dy) for end, y in self.plan.unit_y.items()
        }
        for item in web.items.values():
            column = self.columns[item.place]
            top, bottom = heights.span[item.id]
            if not item.is_part:
                wide = self.flag_width(item.id)
                loom.flags[item.id] = Box(column.flags, top + dy, wide, bottom - top)
                ports |= {end: (column.flags, heights.y[end] + dy) for end in item.ends}
                continue
            loom.parts[item.id] = Box(column.parts, top + dy, column.parts_width, bottom - top)
            for pin in item.pins:
                a, b = heights.pin_y[(item.id, pin)]
                loom.pins[(item.id, pin)] = Box(column.parts, a + dy, column.parts_width, b - a)
                for side, ends in enumerate(left_and_right(web, item.id, pin)):
                    x = column.parts + side * column.parts_width
                    ports |= {end: (x, heights.y[end] + dy) for end in ends}
        return ports

    def _sleeves(self, loom: Loom, trunk_end: float) -> None:
        half = 0.8 * self.size.pitch
        for place, lanes in self.plan.lanes.items():
            if not lanes:
                continue
            leg = self.web.tree.legs[place]
            x2 = self.columns[place].channel
            long, shortened = self.size.trunk, False
            if leg.parent is not None:
                long, shortened = self.leg_px(place)
            y1, y2 = min(lanes.values()) - half, max(lanes.values()) + half
            box = Box(x2 - long, y1, long, y2 - y1)
            loom.sleeves.append(Sleeve(place, box, leg.length_m, shortened, tuple(lanes)))

    # ---- the runs ------------------------------------------------------------------------

    def _route(self, run: str, port: Mapping[End, Point], gather: float) -> list[Point]:
        """The corner points of one run, from its `from` to its `to`."""
        web, plan, a, b = self.web, self.plan, (run, 0), (run, 1)
        if web.is_local(a):
            place = web.items[web.owner[a]].place
            x = self.columns[place].locals
            return _tidy(
                [port[a], *self._turn(plan.local[place], run, x, port[a], port[b][1]), port[b]]
            )
        places = [web.place(e) for e in (a, b)]
        paths = [web.tree.path(p) if p is not None else [] for p in places]
        shared = [p for p, q in zip(*paths, strict=False) if p == q]
        ways: list[list[Point]] = []
        for end, path in zip((a, b), paths, strict=True):
            points = [port[end]]
            for place in reversed(path[len(shared) :]):
                x, lane = self.columns[place].channel, plan.lanes[place][run]
                points += self._turn(plan.junction[place], run, x, points[-1], lane)
            ways.append(points)
        first, second = ways
        if shared:
            tracks, x = plan.junction[shared[-1]], self.columns[shared[-1]].channel
        else:
            tracks, x = plan.root, gather
        middle = self._turn(tracks, run, x, first[-1], second[-1][1])
        return _tidy([*first, *middle, *reversed(second)])

    def _turn(
        self, tracks: Tracks[str], run: str, x: float, before: Point, y: float
    ) -> list[Point]:
        """From the height of `before` to `y` on the run's own track, if it has one."""
        if run not in tracks.track:
            return [(x, y)]
        at = x + (tracks.track[run] + 1) * self.size.pitch
        return [(at, before[1]), (at, y)]


def _tidy(points: list[Point]) -> list[Point]:
    """Without points that stand on a straight line between their neighbours."""
    out: list[Point] = []
    for point in points:
        if out and out[-1] == point:
            continue
        while len(out) >= 2 and (
            out[-2][0] == out[-1][0] == point[0] or out[-2][1] == out[-1][1] == point[1]
        ):
            out.pop()
        out.append(point)
    return out


def lay_out(
    job: WholeJob,
    wiring: Wiring,
    *,
    at: str | None = None,
    size: Measure = SCREEN,
    bundles: Mapping[str, float] | None = None,
) -> Loom:
    """Lay the loom out.

    Parameters
    ----------
    job, wiring
        What is drawn.
    at : str, optional
        The unit's place; by default `tree.unit_place`.
    size : Measure
        How large, and with how many words.
    bundles : mapping, optional
        Place to the diameter in mm of the bundle that reaches it, where that is known.

    Returns
    -------
    Loom
        Boxes, corner points and labels in pixels; the same input always gives the same numbers.
    """
    return Layout(read_web(job, wiring, at=at), size, bundles or {}).compose()
