"""A wheel without its page scripts is refused: it would show half a page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

WANTED = ("htmx.min.js", "uPlot.iife.min.js", "uPlot.min.css")


class PageScripts(BuildHookInterface[Any]):
    """Looks for the page scripts before a wheel is built."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Refuse to build a wheel that lacks them; an editable install may do without."""
        if version == "editable":
            return
        vendor = Path(self.root, "src", "startwright", "web", "static", "vendor")
        missing = [name for name in WANTED if not (vendor / name).is_file()]
        if missing:
            raise RuntimeError(f"{', '.join(missing)} are not in {vendor}: run `make vendor` first")
