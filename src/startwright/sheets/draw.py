"""The loom as SVG: the geometry of `layout`, painted."""

from __future__ import annotations

from collections.abc import Collection
from xml.etree import ElementTree as ET

from startwright.records import Run
from startwright.sheets.colour import insulation, words
from startwright.sheets.labels import circuit_name, flag_lines, said, size_words
from startwright.sheets.palette import Palette, style_sheet
from startwright.sheets.shapes import Box, Label, Loom
from startwright.sheets.strokes import num, rounded, stroke_px
from startwright.sheets.symbols import symbol
from startwright.sheets.text import printable

SVG = "http://www.w3.org/2000/svg"
FONT = "'Source Sans Pro', 'Source Sans 3', system-ui, sans-serif"


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
                "viewBox": f"0 0 {num(loom.width)} {num(loom.height)}",
                "width": num(loom.width),
                "height": num(loom.height),
                "role": "group",
                "aria-labelledby": "loom-title loom-desc",
                "font-family": FONT,
                "fill": p.ink,
            },
        )
        ET.SubElement(root, "title", {"id": "loom-title"}).text = f"Loom of job {job.id}"
        ET.SubElement(root, "desc", {"id": "loom-desc"}).text = self._description()
        if self.style:
            ET.SubElement(root, "style").text = style_sheet(self.palette)
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
        for element in root.iter():
            element.text = printable(element.text) if element.text else None
            for key, value in element.items():
                element.set(key, printable(value))
        return ET.tostring(root, encoding="unicode") + "\n"

    def _description(self) -> str:
        web = self.loom.web
        return (
            f"{len(web.runs)} runs and {len(web.parts)} parts. The harness grows from the unit "
            f"at the left; it goes to {', '.join(web.tree.legs)}."
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
                    "x": num(b.x),
                    "y": num(b.y),
                    "width": num(b.width),
                    "height": num(b.height),
                    "rx": num(min(b.height / 2, 9)),
                    "fill": self.palette.sleeve,
                },
            )
            if sleeve.shortened:
                self._break(group, b)

    def _rules(self, group: ET.Element) -> None:
        """Thin lines under the names of places, and the scale."""
        loom, p = self.loom, self.palette
        lines = [f"M{num(a)} {num(y)}H{num(b)}" for a, b, y in loom.rules]
        scale = loom.scale
        x, y = num(scale.x), scale.middle
        lines.append(f"M{x} {num(y - 4)}v8m0 -4h{num(scale.width)}m0 -4v8")
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
                    "d": f"M{num(x + dx - 4)} {num(b.bottom + 5)}L{num(x + dx + 4)} {num(b.y - 5)}",
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
                "x": num(box.x),
                "y": num(box.y),
                "width": num(box.width),
                "height": num(box.height),
                "rx": num(radius),
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
            f"M{num(x)} {num(y - 5)}V{num(y)}M{num(x - 8)} {num(y)}h16"
            f"M{num(x - 5)} {num(y + 3)}h10M{num(x - 2)} {num(y + 6)}h4"
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
        self._wire(group, f"M{num(x)} {num(y)}H{num(x + wide)}", colour, 6.0)

    def _text(self, group: ET.Element, label: Label) -> None:
        at = {
            "class": "muted" if label.muted else "ink",
            "x": num(label.x),
            "y": num(label.y),
            "font-size": num(label.size),
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
                "stroke-width": num(width + 1.8),
            },
        )
        at = {"d": d, **base, "stroke": paint.base, "stroke-width": num(width)}
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
                    "stroke-width": num(max(1.3, width * 0.46)),
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
        d = rounded(self.loom.runs[id])
        width = stroke_px(run.size_mm2)
        halo = {
            "class": "halo",
            "d": d,
            "fill": "none",
            "stroke": self.palette.guilty if id in self.guilty else self.palette.lit,
            "stroke-width": num(width + 6),
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
                        "d": f"M{num(box.x)} {num(box.y + row / 2)}V{num(box.bottom - row / 2)}",
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
                        "cx": num(x),
                        "cy": num(y),
                        "r": "4.2" if flag else "2.6",
                        "fill": self.palette.paper,
                        "stroke": self.palette.ink,
                        "stroke-width": "1.4",
                    },
                )


__all__ = ["Painter"]
