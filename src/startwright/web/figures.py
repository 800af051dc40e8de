"""What `size` answers, as tables: heads from the keys, which carry their units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from startwright.records import SizeReport

UNITS = {
    "A": "A", "V": "V", "W": "W", "K": "K", "C": "°C", "F": "°F", "m": "m", "mm": "mm",
    "mm2": "mm²", "s": "s", "h": "h", "ohm": "Ω", "mOhm": "mΩ", "mohm": "mΩ", "A2s": "A²s",
    "Ah": "Ah", "mA": "mA", "Hz": "Hz", "days": "days", "min": "min", "minutes": "minutes",
    "km": "km", "percent": "%", "pct": "%", "rpm": "rpm", "Wh": "Wh",
}  # fmt: skip
HIDDEN = {"ok", "holds", "verdict", "why", "says", "source", "sources"}


@dataclass
class Line:
    """One row of figures."""

    cells: list[str]
    ok: bool
    touch: str = ""


@dataclass
class Table:
    """Rows of figures under their heads."""

    heads: list[str]
    rows: list[Line]


def head(key: str) -> str:
    """``drop_V`` as a head: drop, V."""
    words, _, unit = key.rpartition("_")
    if words and unit in UNITS:
        return f"{words.replace('_', ' ')}, {UNITS[unit]}"
    return key.replace("_", " ")


def cell(value: Any) -> str:
    """A value as it stands in a table."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.3g}" if abs(value) < 1000 else f"{value:,.0f}"
    if isinstance(value, list | tuple):
        return ", ".join(cell(v) for v in value)
    if isinstance(value, dict):
        return ", ".join(f"{head(str(k))} {cell(v)}" for k, v in value.items())
    return str(value)


def _ok(row: dict[str, Any]) -> bool:
    for key in ("ok", "holds"):
        if key in row:
            return bool(row[key])
    return row.get("verdict", "holds") in ("holds", "ok")


def table(rows: list[dict[str, Any]]) -> Table:
    """Dictionaries with the same keys as one table; what speaks for itself comes last."""
    keys = list(dict.fromkeys(k for row in rows for k in row if k not in HIDDEN))
    said = any(row.get("why") or row.get("says") for row in rows)
    lines = []
    for row in rows:
        cells = [cell(row.get(k)) for k in keys]
        if said:
            cells.append(cell(row.get("why") or row.get("says")))
        lines.append(Line(cells, _ok(row), str(row.get("run", row.get("id", "")))))
    return Table([head(k) for k in keys] + ([""] if said else []), lines)


def tables(size: SizeReport) -> list[tuple[str, Table]]:
    """The three tables of a size report, with their titles."""
    return [
        ("Wires", table(size.runs)),
        ("Fuses", table(size.fuses)),
        ("Contacts and leads", table(size.contacts)),
    ]


def standing(size: SizeReport) -> list[tuple[str, list[tuple[str, str]]]]:
    """What is said of starting and of standing parked."""
    return [
        (title, [(head(k), cell(v)) for k, v in facts.items() if k not in HIDDEN])
        for title, facts in (("While cranking", size.starting), ("Parked", size.parked))
        if facts
    ]
