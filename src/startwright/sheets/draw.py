"""The loom as SVG: the geometry of `layout`, painted."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from startwright.physics.wire import outside_mm
from startwright.records import Run
from startwright.sheets.colour import insulation, words
from startwright.sheets.labels import circuit_name, flag_lines, said, size_words
from startwright.sheets.shapes import Box, Label, Loom, Point
from startwright.sheets.symbols import symbol

SVG = "http://www.w3.org/2000/svg"
FONT = "'Source Sans Pro', 'Source Sans 3', system-ui, sans-serif"
RADIUS = 5.0
PX_PER_MM = 1.12
"""Scale of wire diameters; far larger than that of the legs."""


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


def _num(value: float) -> str:
    return f"{round(value, 2):g}"


def _path(points: list[Point]) -> str:
    """Straight lines with rounded corners."""
    out = [f"M{_num(points[0][0])} {_num(points[0][1])}"]
    for before, here, after in zip(points, points[1:], points[2:], strict=False):
        lead = abs(before[0] - here[0]) + abs(before[1] - here[1])
        tail = abs(after[0] - here[0]) + abs(after[1] - here[1])
        r = min(RADIUS, lead / 2, tail / 2)
        a = _towards(here, before, r)
        b = _towards(here, after, r)
        out.append(
            f"L{_num(a[0])} {_num(a[1])}Q{_num(here[0])} {_num(here[1])} {_num(b[0])} {_num(b[1])}"
        )
    out.append(f"L{_num(points[-1][0])} {_num(points[-1][1])}")
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


class Painter:
    """Paints one loom."""

    def __init__(
        self,
        loom: Loom,
        palette: Palette,
        lit: Collection[str],
        guilty: Collection[str],
        links: bool,
        style: bool,
    ) -> None:
        self.loom = loom
        self.palette = palette
        self.lit = lit
        self.guilty = guilty
        self.links = links
        self.style = style

    def svg(self) -> str:
        """The whole drawing."""
        loom, p = self.loom, self.palette
        job = loom.web.job
        root = ET.Element(
            "svg",
            {
                "xmlns": SVG,
                "class": "loom marked" if self.lit or self.guilty else "loom",
                "viewBox": f"0 0 {_num(loom.width)} {_num(loom.height)}",
                "width": _num(loom.width),
                "height": _num(loom.height),
                "role": "group",
                "aria-labelledby": "loom-title loom-desc",
                "font-family": FONT,
                "fill": p.ink,
            },
        )
        ET.SubElement(root, "title", {"id": "loom-title"}).text = f"Loom of job {job.id}"
        ET.SubElement(root, "desc", {"id": "loom-desc"}).text = self._description()
        if self.style:
            ET.SubElement(root, "style").text = self._css()
        ET.SubElement(
            root,
            "rect",
            {"class": "paper", "width": "100%", "height": "100%", "fill": p.paper},
        )
        self._sleeves(ET.SubElement(root, "g", {"class": "sleeves"}))
        self._rules(ET.SubElement(root, "g", {"class": "rules"}))
        self._boxes(ET.SubElement(root, "g", {"class": "boxes"}))
        runs = ET.SubElement(root, "g", {"class": "runs"})
        marked = set(self.lit) | set(self.guilty)
        for id, run in sorted(loom.web.runs.items(), key=lambda kv: kv[0] in marked):
            self._run(runs, id, run)
        self._terminals(ET.SubElement(root, "g", {"class": "ends"}))
        return ET.tostring(root, encoding="unicode") + "\n"

    def _description(self) -> str:
        web = self.loom.web
        return (
            f"{len(web.runs)} runs and {len(web.parts)} parts. The harness grows from the unit "
            f"at the left; it goes to {', '.join(web.tree.legs)}."
        )

    def _css(self) -> str:
        p = self.palette
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

    # ---- what stands behind --------------------------------------------------------------

    def _sleeves(self, group: ET.Element) -> None:
        for sleeve in self.loom.sleeves:
            b = sleeve.box
            ET.SubElement(
                group,
                "rect",
                {
                    "class": "sleeve",
                    "x": _num(b.x),
                    "y": _num(b.y),
                    "width": _num(b.width),
                    "height": _num(b.height),
                    "rx": _num(min(b.height / 2, 9)),
                    "fill": self.palette.sleeve,
                },
            )
            if sleeve.shortened:
                self._break(group, b)

    def _rules(self, group: ET.Element) -> None:
        """Thin lines under the names of places, and the scale."""
        loom, p = self.loom, self.palette
        lines = [f"M{_num(a)} {_num(y)}H{_num(b)}" for a, b, y in loom.rules]
        scale = loom.scale
        x, y = _num(scale.x), scale.middle
        lines.append(f"M{x} {_num(y - 4)}v8m0 -4h{_num(scale.width)}m0 -4v8")
        for d in lines:
            ET.SubElement(
                group,
                "path",
                {"class": "rule", "d": d, "fill": "none", "stroke": p.line, "stroke-width": "1"},
            )

    def _break(self, group: ET.Element, b: Box) -> None:
        """The mark of a leg that is longer in the car than on paper."""
        x = b.x + b.width / 2
        for dx in (-4, 4):
            ET.SubElement(
                group,
                "path",
                {
                    "class": "rule",
                    "d": f"M{_num(x + dx - 4)} {_num(b.bottom + 5)}"
                    f"L{_num(x + dx + 4)} {_num(b.y - 5)}",
                    "fill": "none",
                    "stroke": self.palette.line,
                    "stroke-width": "1.6",
                },
            )

    def _panel(self, group: ET.Element, box: Box, radius: float) -> None:
        ET.SubElement(
            group,
            "rect",
            {
                "class": "panel",
                "x": _num(box.x),
                "y": _num(box.y),
                "width": _num(box.width),
                "height": _num(box.height),
                "rx": _num(radius),
                "fill": self.palette.panel,
                "stroke": self.palette.line,
                "stroke-width": "1.2",
            },
        )

    def _boxes(self, group: ET.Element) -> None:
        loom, web = self.loom, self.loom.web
        unit = ET.SubElement(group, "g", {"class": "unit"})
        self._panel(unit, loom.unit, 8)
        for lead, box in loom.leads.items():
            self._swatch(
                unit, web.job.unit.lead(lead).colour, box.right - 26, box.y + box.height / 2
            )
        for part, box in loom.parts.items():
            g = ET.SubElement(group, "g", {"class": "part", "id": f"part-{part}"})
            self._panel(g, box, 4)
            symbol(g, web.parts[part].kind, box.right - 34, box.y + 12, self.palette.ink)
        for flag, box in loom.flags.items():
            g = ET.SubElement(group, "g", {"class": "flag"})
            colour = flag_lines(web, flag).colour
            y = box.middle - (6.5 if loom.size.full else 0.5)
            if flag.startswith("ground."):
                self._earth(g, box.x + 26, y)
            else:
                self._swatch(g, colour, box.x + 13, y, wide=22)
        texts = ET.SubElement(group, "g", {"class": "words"})
        for label in loom.labels:
            if label.of not in web.runs:
                self._text(texts, label)

    def _earth(self, group: ET.Element, x: float, y: float) -> None:
        d = (
            f"M{_num(x)} {_num(y - 5)}V{_num(y)}M{_num(x - 8)} {_num(y)}h16"
            f"M{_num(x - 5)} {_num(y + 3)}h10M{_num(x - 2)} {_num(y + 6)}h4"
        )
        ET.SubElement(
            group,
            "path",
            {
                "class": "mark",
                "d": d,
                "fill": "none",
                "stroke": self.palette.ink,
                "stroke-width": "1.4",
            },
        )

    def _swatch(
        self, group: ET.Element, colour: str | None, x: float, y: float, wide: float = 18
    ) -> None:
        """A short piece of the wire as it looks, seen from the side."""
        self._wire(group, f"M{_num(x)} {_num(y)}H{_num(x + wide)}", colour, 6.0)

    def _text(self, group: ET.Element, label: Label) -> None:
        at = {
            "class": "muted" if label.muted else "ink",
            "x": _num(label.x),
            "y": _num(label.y),
            "font-size": _num(label.size),
        }
        if label.bold:
            at["font-weight"] = "600"
        if label.anchor != "start":
            at["text-anchor"] = label.anchor
        if label.muted:
            at["fill"] = self.palette.muted
        ET.SubElement(group, "text", at).text = label.text

    # ---- runs ----------------------------------------------------------------------------

    def _wire(self, group: ET.Element, d: str, colour: str | None, width: float) -> None:
        """Edge, insulation and stripe along one path."""
        paint = insulation(colour)
        base = {"fill": "none", "stroke-linejoin": "round"}
        ET.SubElement(
            group,
            "path",
            {
                "class": "edge",
                "d": d,
                **base,
                "stroke": self.palette.edge,
                "stroke-width": _num(width + 1.8),
            },
        )
        at = {"d": d, **base, "stroke": paint.base, "stroke-width": _num(width)}
        if colour is None:
            at["stroke-dasharray"] = "3 3"
        ET.SubElement(group, "path", at)
        for k, stripe in enumerate(paint.stripes):
            dash = (
                {"stroke-dasharray": "10 5"}
                if len(paint.stripes) == 1
                else {"stroke-dasharray": "8 12", "stroke-dashoffset": str(10 * k)}
            )
            ET.SubElement(
                group,
                "path",
                {
                    "d": d,
                    **base,
                    "stroke": stripe,
                    "stroke-width": _num(max(1.3, width * 0.46)),
                    **dash,
                },
            )

    def _run(self, group: ET.Element, id: str, run: Run) -> None:
        classes = ["run"]
        if id in self.lit:
            classes.append("lit")
        if id in self.guilty:
            classes.append("guilty")
        told = self._told(id, run, classes)
        g = ET.SubElement(group, "g", {"id": f"run-{id}", "class": " ".join(classes)})
        inner = g
        if self.links:
            g.set("role", "listitem")
            inner = ET.SubElement(g, "a", {"href": f"#row-{id}", "aria-label": told})
        else:
            g.set("tabindex", "0")
            g.set("role", "img")
            g.set("aria-label", told)
        ET.SubElement(inner, "title").text = told
        d = _path(self.loom.runs[id])
        width = stroke_px(run.size_mm2)
        halo = {
            "class": "halo",
            "d": d,
            "fill": "none",
            "stroke": self.palette.guilty if id in self.guilty else self.palette.lit,
            "stroke-width": _num(width + 6),
            "stroke-opacity": "1" if len(classes) > 1 else "0",
        }
        if self.style or len(classes) > 1:
            ET.SubElement(inner, "path", halo)
        painted = ET.SubElement(inner, "g", {"class": "wire"})
        if (self.lit or self.guilty) and len(classes) == 1:
            painted.set("opacity", "0.3")
        self._wire(painted, d, run.colour, width)
        for label in self.loom.labels:
            if label.of == id:
                self._text(inner, label)

    def _told(self, id: str, run: Run, classes: list[str]) -> str:
        facts = [
            f"{id}: from {self._end(run.from_)} to {self._end(run.to)}",
            words(run.colour),
            size_words(run.size_mm2) if run.size_mm2 else "size not known",
            f"{run.length_m:g} m" if run.length_m else "length not known",
        ]
        if "lit" in classes:
            facts.append("live in this step")
        if "guilty" in classes:
            facts.append("takes part in the breach")
        return ", ".join(facts)

    def _end(self, terminal: str) -> str:
        owner, _, rest = terminal.partition(".")
        if owner == "unit":
            return f"unit lead {rest}"
        if owner == "ground":
            return f"ground at {said(rest)}"
        if owner == "vehicle":
            id, _, side = rest.partition(".")
            return circuit_name(self.loom.web.job.vehicle.circuit(id), side)
        return f"{owner} pin {rest}"

    def _terminals(self, group: ET.Element) -> None:
        """A ring where each run ends at a wire of the car, a dot at pins and leads.

        Runs that meet at one wire are tied by a bar.
        """
        row = self.loom.size.row
        for box in self.loom.flags.values():
            if box.height > row:
                ET.SubElement(
                    group,
                    "path",
                    {
                        "class": "mark",
                        "d": f"M{_num(box.x)} {_num(box.y + row / 2)}V{_num(box.bottom - row / 2)}",
                        "fill": "none",
                        "stroke": self.palette.ink,
                        "stroke-width": "2",
                    },
                )
        for id in self.loom.web.runs:
            points = self.loom.runs[id]
            for which, (x, y) in enumerate((points[0], points[-1])):
                owner = self.loom.web.owner[(id, which)]
                flag = owner in self.loom.flags
                ET.SubElement(
                    group,
                    "circle",
                    {
                        "class": "panel mark",
                        "cx": _num(x),
                        "cy": _num(y),
                        "r": "4.2" if flag else "2.6",
                        "fill": self.palette.paper,
                        "stroke": self.palette.ink,
                        "stroke-width": "1.4",
                    },
                )


__all__ = ["DARK", "LIGHT", "Painter", "Palette"]
