"""A car, a unit and a shelf unlike those of the other tests, as files; and ways to spoil them.

A case says what its wiring is by good engineering. Most were decided before they were run; a dozen
were corrected after, where the arithmetic by hand was wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

from startwright.records.job import WholeJob
from startwright.records.wiring import Wiring

HERE = Path(__file__).parent


def _read(name: str) -> Any:
    reader = YAML(typ="safe")
    reader.version = (1, 2)  # type: ignore[assignment]
    return reader.load((HERE / f"{name}.yaml").read_text())


class Bench:
    """The files as plain data, to be changed and then read."""

    def __init__(self) -> None:
        self.car = _read("car")
        self.unit = _read("unit")
        self.shelf = _read("shelf")
        wiring = _read("wiring")
        self.parts: dict[str, str] = {p["id"]: p["of"] for p in wiring["parts"]}
        self.settings: dict[str, Any] = wiring["settings"]
        self.runs: dict[str, tuple[str, str]] = {
            r["id"]: (r["from"], r["to"]) for r in wiring["runs"]
        }
        self.cuts: list[str] = []
        self.size_mm2 = 4.0
        self.wants = ["remote_start", "lock_unlock", "trunk_release", "light_flash"]

    def circuit(self, id: str, **changes: Any) -> None:
        """Change a circuit or add one; None takes a key out."""
        _change(self.car["circuits"], id, changes)

    def lead(self, id: str, **changes: Any) -> None:
        """Change a lead or add one; None takes a key out."""
        _change(self.unit["leads"], id, changes)

    def part(self, **named: str) -> None:
        """Put parts in by name."""
        self.parts |= named

    def without(self, *runs: str) -> None:
        """Take runs out."""
        for run in runs:
            del self.runs[run]

    def join(self, *runs: str) -> None:
        """Add or move runs, each written ``id: terminal - terminal``."""
        for run in runs:
            id, ends = run.split(": ")
            one, other = ends.split(" - ")
            self.runs[id] = (one, other)

    def job(self) -> WholeJob:
        """The job as records."""
        return WholeJob.model_validate(
            {
                "format": "startwright/job/1",
                "id": "bench",
                "vehicle": self.car,
                "unit": self.unit,
                "stock": self.shelf,
                "wants": self.wants,
            }
        )

    def wiring(self) -> Wiring:
        """The wiring as a record."""
        return Wiring.model_validate(
            {
                "format": "startwright/wiring/1",
                "parts": [{"id": k, "of": of} for k, of in self.parts.items()],
                "settings": self.settings,
                "cuts": self.cuts,
                "runs": [
                    {"id": k, "from": a, "to": b, "size_mm2": self.size_mm2, "length_m": 0.6}
                    for k, (a, b) in self.runs.items()
                ],
            }
        )


CASES: dict[str, tuple[frozenset[str], Callable[[Bench], None]]] = {}
"""By name: the rules that it must break (none: it is sound), and what is done to the bench."""


def case(*rules: str) -> Callable[[Callable[[Bench], None]], Callable[[Bench], None]]:
    """A case that breaks these rules at least; without any it must be proven."""

    def add(change: Callable[[Bench], None]) -> Callable[[Bench], None]:
        CASES[change.__name__] = (frozenset(rules), change)
        return change

    return add


def _change(records: list[dict[str, Any]], id: str, changes: dict[str, Any]) -> None:
    found = next((r for r in records if r["id"] == id), None)
    if found is None:
        found = {"id": id}
        records.append(found)
    for key, value in changes.items():
        if value is None:
            found.pop(key, None)
        else:
            found[key] = value
