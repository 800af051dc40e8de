"""Lanes: how the runs lie side by side in each bundle, and on which track each turns off."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from startwright.sheets.arrange import lead_order
from startwright.sheets.channel import Pass, Tracks, assign
from startwright.sheets.ends import End, Web
from startwright.sheets.measure import Measure
from startwright.sheets.stack import Arrangement, Heights, stack


class Lanes:
    """Heights of all rows and lanes, and the tracks of all channels.

    Attributes
    ----------
    heights : Heights
        The rows.
    lanes : dict
        For each place the lanes of the bundle that reaches it: run to height.
    junction, local : dict
        For each place the tracks on which lanes peel off, and those of runs that stay there.
    root : Tracks
        The tracks in which the unit's leads gather.
    unit_y, unit_rows : dict
        The height of each end at the unit, and upper and lower edge of each lead's row.
    """

    def __init__(self, web: Web, order: Arrangement, size: Measure) -> None:
        self.web = web
        self.order = order
        self.size = size
        self.heights = Heights()
        self.junction: dict[str, Tracks[str]] = {}
        self.local: dict[str, Tracks[str]] = {}
        self.lanes: dict[str, dict[str, float]] = {}
        self.root: Tracks[str] = Tracks({}, 0, 0)
        self.unit_y: dict[End, int] = {}
        self.unit_rows: dict[str, tuple[int, int]] = {}
        self._settle_heights()
        self._lay(web.tree.root)
        self._seat_unit()

    def _settle_heights(self) -> None:
        """Stack the rows; where runs within a place would meet, its flags go half a row lower."""
        shift: set[str] = set()
        while True:
            self.heights = stack(self.web, self.order, frozenset(shift), self.size)
            clash = set()
            for place in self.web.tree.legs:
                self.local[place] = assign(self._local_passes(place))
                if self.local[place].clashes and place not in shift:
                    clash.add(place)
            if not clash:
                return
            shift |= clash

    def _local_passes(self, place: str) -> dict[str, Pass]:
        passes: dict[str, Pass] = {}
        for item in self.web.at(place):
            for end in item.ends:
                y = self.heights.y[end]
                if self.web.is_local(end):
                    old = passes.get(end[0], Pass((), ()))
                    if item.is_part:
                        passes[end[0]] = Pass((*old.left, y), old.right)
                    else:
                        passes[end[0]] = Pass(old.left, (*old.right, y))
                elif not item.is_part:
                    passes[end[0]] = Pass((y,), (y,))
        return passes

    def _lay(self, place: str) -> None:
        """From the far ends inwards: the lanes of the bundle that reaches `place`."""
        right: dict[str, list[int]] = {}
        for child in self.web.tree.children.get(place, []):
            self._lay(child)
            for run, y in self.lanes[child].items():
                right.setdefault(run, []).append(int(y))
        for item in self.web.at(place):
            for end in item.ends:
                if not self.web.is_local(end):
                    right.setdefault(end[0], []).append(self.heights.y[end])
        onward = sorted((ys[0], run) for run, ys in right.items() if len(ys) == 1)
        base = self._base([y for y, _ in onward])
        lanes = {run: base + k * self.size.pitch for k, (_, run) in enumerate(onward)}
        self.lanes[place] = dict(lanes)
        self.junction[place] = assign(
            {
                run: Pass((), (ys[0], ys[1])) if len(ys) == 2 else Pass((lanes[run],), (ys[0],))
                for run, ys in right.items()
            }
        )

    def _base(self, heights: list[int]) -> int:
        """Where a bundle's first lane stands: straight on if most lanes can, else in the middle."""
        if not heights:
            return 0
        starts = [y - k * self.size.pitch for k, y in enumerate(heights)]
        (start, times), *_ = Counter(starts).most_common(1)
        return start if 2 * times > len(starts) else sorted(starts)[len(starts) // 2]

    def _seat_unit(self) -> None:
        """The unit's rows beside the bundle, moved up or down until no lines meet."""
        trunk = self.lanes[self.web.tree.root]
        row = self.size.unit_row

        leads = lead_order(self.web, self.heights)
        rows = sum(len(ends) for ends in leads.values())
        middle = round((min(trunk.values()) + max(trunk.values())) / 2) if trunk else 0
        start = middle - rows * row // 2 + row // 2
        reach = rows * row + len(trunk) * self.size.pitch + row
        for step in range(0, reach, 3):
            for offset in (step, -step):
                self._unit_rows(leads, start + offset)
                self.root = assign(self._root_passes(trunk))
                if not self.root.clashes:
                    return

    def _unit_rows(self, leads: Mapping[str, list[End]], y: int) -> None:
        row = self.size.unit_row
        for lead, ends in leads.items():
            self.unit_rows[lead] = (y - row // 2, y - row // 2 + row * len(ends))
            for end in ends:
                self.unit_y[end] = y
                y += row

    def _root_passes(self, trunk: Mapping[str, float]) -> dict[str, Pass]:
        passes: dict[str, Pass] = {}
        for (run, _), y in self.unit_y.items():
            old = passes.get(run, Pass((), (int(trunk[run]),) if run in trunk else ()))
            passes[run] = Pass((*old.left, y), old.right)
        return passes

    def move_down(self, dy: float) -> None:
        """Shift the lanes; the rows are shifted where they are used."""
        for lanes in self.lanes.values():
            for run in lanes:
                lanes[run] += dy
