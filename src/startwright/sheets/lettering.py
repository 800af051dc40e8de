"""Where the words stand: names of places, leads, parts and flags, and what is said of each run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from startwright.sheets.ends import UNIT, End, Web
from startwright.sheets.labels import (
    LINE_EM,
    NAME_EM,
    flag_lines,
    lead_lines,
    part_title,
    run_lines,
    unit_name,
)
from startwright.sheets.shapes import Box, Label, Loom, Point
from startwright.sheets.stack import pin_groups
from startwright.sheets.text import short


def letter(
    loom: Loom,
    ports: Mapping[End, Point],
    heads: Mapping[str, Box],
    pins: Mapping[str, list[str]],
    bundles: Mapping[str, float],
) -> None:
    """Add all labels to the loom.

    Parameters
    ----------
    loom : Loom
        With boxes and flags in place.
    ports : mapping
        The point at which each run ends.
    heads : mapping
        The room for each place's name.
    pins : mapping
        The pins of each part from top to bottom.
    bundles : mapping
        The diameter in mm of the bundle that reaches a place, where it is known.
    """
    _unit(loom)
    _scale(loom)
    _places(loom, heads, bundles)
    _parts(loom, pins)
    _flags(loom)
    _runs(loom, ports)
    loom.labels = [replace(label, letter=loom.size.letter) for label in loom.labels if label.text]


def _unit(loom: Loom) -> None:
    web, unit, size = loom.web, loom.unit, loom.size
    loom.labels += [
        Label(unit_name(web), unit.x + 12, unit.y + 23, size.title, bold=True),
        Label("control unit", unit.x + 12, unit.y + 39, size.small, muted=True),
    ]
    for lead, box in loom.leads.items():
        text = lead_lines(web, lead, full=size.full)
        y = box.middle + 4
        loom.labels += [
            Label(text.does, unit.x + 12, y, size.small, muted=True),
            Label(text.name, unit.right - 34, y, size.small, bold=True, anchor="end"),
        ]


def _scale(loom: Loom) -> None:
    bar, small = loom.scale, loom.size.small
    loom.labels += [
        Label("0.5 m of a leg", bar.x, bar.y - 6, small, muted=True),
        Label("// leg shortened", bar.right + 12, bar.middle + 4, small, muted=True),
    ]


def _places(loom: Loom, heads: Mapping[str, Box], bundles: Mapping[str, float]) -> None:
    size = loom.size
    carried = {sleeve.place: len(sleeve.runs) for sleeve in loom.sleeves}
    for place, box in heads.items():
        x, y = box.x, box.y
        name = short(place, NAME_EM)
        wide = size.wide(name, size.title, bold=True)
        note = _distance(loom.web, place, carried.get(place, 0))
        if place in bundles:
            note += f" · ⌀ {bundles[place]:.1f} mm"
        note = short(note, 2 * LINE_EM)
        loom.labels += [
            Label(name, x, y + 17, size.title, bold=True, of=place),
            Label(note, x + wide + 10, y + 17, size.small, muted=True, of=place),
        ]
        end = x + wide + 10 + size.wide(note, size.small)
        loom.rules.append((x, max(box.right, end), box.bottom))


def _distance(web: Web, place: str, runs: int) -> str:
    leg = web.tree.legs[place]
    many = f" · {runs} run{'s' if runs != 1 else ''}"
    if leg.parent is None:
        return f"the unit is here{many}"
    via = f", by way of {', '.join(leg.via)}" if leg.via else ""
    if leg.length_m is None:
        return f"how far from {leg.parent} is not known{via}{many}"
    return f"{leg.length_m:g} m from {leg.parent}{via}{many}"


def _parts(loom: Loom, pins: Mapping[str, list[str]]) -> None:
    web, size = loom.web, loom.size
    for part, box in loom.parts.items():
        title, words = part_title(web, part)
        head = (loom.pins[(part, pins[part][0])].y - box.y) / 2 if pins[part] else 12
        loom.labels.append(
            Label(title, box.x + 10, box.y + head + 5, size.small, bold=True, of=part)
        )
        for group in pin_groups(web, part, pins[part]):
            for k, pin in enumerate(group):
                y = loom.pins[(part, pin)].middle + 4
                x, anchor = (box.right - 10, "end") if k else (box.x + 10, "start")
                loom.labels.append(Label(words[pin], x, y, size.small, anchor=anchor, of=part))


def _flags(loom: Loom) -> None:
    size = loom.size
    for flag, box in loom.flags.items():
        lines = flag_lines(loom.web, flag, full=size.full)
        y = box.middle
        if not lines.where:
            loom.labels.append(Label(lines.name, box.x + 42, y + 4, size.name, bold=True, of=flag))
            continue
        loom.labels += [
            Label(lines.name, box.x + 42, y - 2, size.name, bold=True, of=flag),
            Label(lines.where, box.x + 12, y + 13, size.small, muted=True, of=flag),
        ]


def _runs(loom: Loom, ports: Mapping[End, Point]) -> None:
    web, size = loom.web, loom.size
    for id, run in web.runs.items():
        first, second = run_lines(run, full=size.full)
        main = _main_end(web, id)
        for end in ((id, 0), (id, 1)):
            x, y = ports[end]
            owner = web.owner[end]
            right = owner == UNIT or (web.items[owner].is_part and web.is_local(end))
            at, anchor = (x + 7, "start") if right else (x - 7, "end")
            text = first if end == main else id
            up = Label(text, at, y - 7, size.small, bold=True, anchor=anchor, of=id)
            loom.labels.append(up)
            if end == main and second and owner != UNIT:
                loom.labels.append(Label(second, at, y + 14, size.small, anchor=anchor, of=id))


def _main_end(web: Web, run: str) -> End:
    """The end that carries the size and length: at a flag, else at a part, else at the unit."""

    def rank(end: End) -> int:
        owner = web.owner[end]
        if owner == UNIT:
            return 2
        return 1 if web.items[owner].is_part else 0

    return min(((run, 0), (run, 1)), key=lambda end: (rank(end), end))
