"""Printed pages and drawings: the loom as SVG; bench, customer's, failure-mode sheets as PDF.

Each room is loaded when one of its names is asked for: a page that wants a colour's name should not
wait for the drawing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from startwright.sheets.bench import bench_pdf
    from startwright.sheets.customer import customer_pdf
    from startwright.sheets.failure_modes import failure_modes_pdf
    from startwright.sheets.loom import loom_svg
    from startwright.sheets.whole import write_sheets

__all__ = ["bench_pdf", "customer_pdf", "failure_modes_pdf", "loom_svg", "write_sheets"]

_ROOM = {
    "bench_pdf": "bench",
    "customer_pdf": "customer",
    "failure_modes_pdf": "failure_modes",
    "loom_svg": "loom",
    "write_sheets": "whole",
}
"""The rooms that give what others ask for."""


def __getattr__(name: str) -> Any:
    if name not in _ROOM:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_ROOM[name]}"), name)
