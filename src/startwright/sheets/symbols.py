"""Small signs for the kinds of parts, after IEC 60617 (drawn anew, from memory of the standard)."""

from __future__ import annotations

from xml.etree import ElementTree as ET

PATHS: dict[str, str] = {
    "relay": "M2 -4h12v8h-12zM5 4l6 -8M18 6v-4l5 -6M18 -6v-2",
    "diode": "M0 0h8M8 -5v10l9 -5zM17 -5v10M17 0h8",
    "fuse": "M3 -4h20v8h-20zM0 0h26",
    "resistor": "M4 -4h18v8h-18zM0 0h4M22 0h4",
    "switch": "M0 2h7M7 2l11 -7M19 2h7M19 0v4",
    "interface": "M3 -6h20v12h-20zM3 6l20 -12",
}
"""Paths in a field of 26 by 12 pixels around its left middle."""


def symbol(group: ET.Element, kind: str, x: float, y: float, ink: str) -> None:
    """Draw the sign of a kind of part with its left middle at (x, y); nothing for other kinds."""
    if kind not in PATHS:
        return
    ET.SubElement(
        group,
        "path",
        {
            "class": "mark",
            "transform": f"translate({round(x, 2):g} {round(y, 2):g})",
            "d": PATHS[kind],
            "fill": "none",
            "stroke": ink,
            "stroke-width": "1.3",
        },
    )
