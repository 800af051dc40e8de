"""Heights: every row of the drawing, from top to bottom.

A place has a band of its own; in it stand its parts and the flags of the car's wires, one row for
each end of a run. The bands of the places that lie beyond stand above or below it. What comes
from elsewhere in the car enters a place from the left; what stays within the place runs on the
right of its parts.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from startwright.sheets.ends import End, Web
from startwright.sheets.measure import SCREEN, Measure

OWN = ""
"""Stands in a place's list of slots for the place's own band."""


@dataclass
class Arrangement:
    """All that can be ordered freely, from top to bottom.

    `slots`: for each place its own band (`OWN`) and the places beyond. `main`: for each place its
    parts and the flags that something reaches from elsewhere. `pins`: for each part its pins.
    """

    slots: dict[str, list[str]]
    main: dict[str, list[str]]
    pins: dict[str, list[str]]


@dataclass
class Heights:
    """Where everything stands from top to bottom; y grows downwards, in pixels."""

    size: Measure = SCREEN
    y: dict[End, int] = field(default_factory=dict)
    span: dict[str, tuple[int, int]] = field(default_factory=dict)
    pin_y: dict[tuple[str, str], tuple[int, int]] = field(default_factory=dict)
    head: dict[str, int] = field(default_factory=dict)
    band: dict[str, tuple[int, int]] = field(default_factory=dict)
    bottom: int = 0


def left_and_right(web: Web, item: str, pin: str) -> tuple[list[End], list[End]]:
    """The ends at a part's pin that leave to the left (elsewhere) and to the right (here)."""
    ends = web.items[item].pins[pin]
    return [e for e in ends if not web.is_local(e)], [e for e in ends if web.is_local(e)]


def pin_groups(web: Web, item: str, pins: list[str]) -> list[list[str]]:
    """Pins that share rows: a part of two pins, one to the left and one to the right, is a line."""
    if len(pins) == 2:
        sides = [left_and_right(web, item, pin) for pin in pins]
        for first, second in ((0, 1), (1, 0)):
            if not sides[first][1] and not sides[second][0]:
                return [[pins[first], pins[second]]]
    return [[pin] for pin in pins]


def beside(web: Web, place: str) -> set[str]:
    """The flags of a place that only parts of the same place reach: they stand beside those."""
    out = set()
    for item in web.at(place):
        if item.is_part or not all(web.is_local(e) for e in item.ends):
            continue
        if any(web.items[web.owner[web.other(e)]].is_part for e in item.ends):
            out.add(item.id)
    return out


def first_arrangement(web: Web) -> Arrangement:
    """The order to start from: near places first, parts and wires as the wiring lists them."""
    slots = {p: [OWN, *web.tree.children.get(p, [])] for p in web.tree.legs}
    main: dict[str, list[str]] = {}
    for place in web.tree.legs:
        side = beside(web, place)
        main[place] = [item.id for item in web.at(place) if item.id not in side]
    pins = {item.id: list(item.pins) for item in web.items.values() if item.is_part}
    return Arrangement(slots, main, pins)


def stack(
    web: Web,
    order: Arrangement,
    shift: frozenset[str] = frozenset(),
    size: Measure = SCREEN,
) -> Heights:
    """Give every row its height.

    Parameters
    ----------
    web : Web
        What ends where.
    order : Arrangement
        The order to stack in.
    shift : frozenset of str
        Places whose flags beside parts stand half a row lower than the pins (where lines of
        different runs would otherwise meet end to end).
    size : Measure
        How high a row is.
    """
    out = Heights(size=size)
    _band(web, order, shift, web.tree.root, out)
    for place in web.tree.legs:
        for item in web.at(place):
            if not item.is_part:
                _rows_of_flag(web, item.id, out)
    return out


def _band(web: Web, order: Arrangement, shift: frozenset[str], place: str, out: Heights) -> None:
    for slot in order.slots[place]:
        if slot != OWN:
            _band(web, order, shift, slot, out)
            continue
        top = out.bottom
        out.head[place] = top
        y = top + out.size.band_head
        side = beside(web, place)
        half = out.size.row // 2 if place in shift else 0
        flags_y = y
        placed: set[str] = set()
        for k, id in enumerate(order.main[place]):
            y = y if k == 0 else max(y, flags_y) + out.size.item_gap
            if not web.items[id].is_part:
                rows = len(web.items[id].ends)
                out.span[id] = (y, y + rows * out.size.row)
                y += rows * out.size.row
                flags_y = max(flags_y, y)
                continue
            start = y
            y = _rows_of_part(web, order, id, y + out.size.part_head, out)
            out.span[id] = (start, y)
            for pin in order.pins[id]:
                for end in left_and_right(web, id, pin)[1]:
                    flag = web.owner[web.other(end)]
                    if flag in side and flag not in placed:
                        placed.add(flag)
                        flags_y = max(flags_y, out.y[end] - out.size.row // 2 + half)
                        rows = len(web.items[flag].ends)
                        out.span[flag] = (flags_y, flags_y + rows * out.size.row)
                        flags_y += rows * out.size.row
        out.bottom = max(y, flags_y) + out.size.band_gap
        out.band[place] = (top, out.bottom)


def _rows_of_part(web: Web, order: Arrangement, id: str, y: int, out: Heights) -> int:
    for group in pin_groups(web, id, order.pins[id]):
        rows = 1
        for pin in group:
            for ends in left_and_right(web, id, pin):
                for k, end in enumerate(ends):
                    out.y[end] = y + k * out.size.row + out.size.row // 2
                rows = max(rows, len(ends))
        for pin in group:
            out.pin_y[(id, pin)] = (y, y + rows * out.size.row)
        y += rows * out.size.row
    return y


def _rows_of_flag(web: Web, id: str, out: Heights) -> None:
    """Order the ends at a flag so that they leave towards where they go."""
    top = out.span[id][0]
    item = web.items[id]

    def key(end: End) -> tuple[int, int, str]:
        other = web.other(end)
        if other in out.y:
            y = out.y[other]
        elif (owner := web.owner[other]) in out.span:
            y = sum(out.span[owner]) // 2
        else:
            y = top
        group = 0 if y < top else 2 if y > out.span[id][1] else 1
        # to a part the lowest of several comes first above, so that they do not cross
        return (group, y, end[0])

    for k, end in enumerate(sorted(item.ends, key=key)):
        out.y[end] = top + k * out.size.row + out.size.row // 2
