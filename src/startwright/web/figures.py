"""What `size` answers, as the page shows it: rows of figures, worst first, and what they say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from startwright.records import SizeReport, WholeJob
from startwright.sheets.naming import in_words
from startwright.web import say

Row = Mapping[str, Any]


@dataclass
class Line:
    """One row: its name, its figures, how much of what it may carry it carries, what is said."""

    name: str
    cells: list[str]
    share: float | None
    says: str
    source: str
    ok: bool
    touch: str
    unfolds: str = ""
    """The id of the row of `size` that says where its numbers come from."""


@dataclass
class Table:
    """Rows under their heads."""

    title: str
    heads: list[str]
    rows: list[Line]


def amount(value: Any, unit: str, digits: int = 3) -> str:
    """A number with its unit; a dash where there is none.

    >>> amount(24.933, "A"), amount(None, "A"), amount(1047.4, "A")
    ('24.9 A', '–', '1,047 A')
    """
    if value is None:
        return "–"
    number = float(value)
    text = f"{number:,.0f}" if abs(number) >= 1000 else f"{number:.{digits}g}"
    return f"{text} {unit}"


def carried(amps_A: Any, limit_A: Any) -> str:
    """What something carries, of what it may where that is known.

    >>> carried(0.21, None), carried(20.83, 30.2)
    ('0.21 A', '20.8 A of 30.2 A')
    """
    return amount(amps_A, "A") + ("" if limit_A is None else f" of {amount(limit_A, 'A')}")


def rail(value: Any) -> str:
    """Volts while cranking, to the tenth; a dash where there are none.

    >>> rail(11.02), rail(5.318), rail(None)
    ('11.0 V', '5.3 V', '–')
    """
    return "–" if value is None else f"{float(value):.1f} V"


def drop(value: Any) -> str:
    """Volts lost, to the hundredth; what is less is said to be less."""
    if value is None:
        return "–"
    return "under 0.01 V" if float(value) < 0.01 else f"{float(value):.2f} V"


def _line(row: Row, name: str, cells: list[str], share: Any, touch: str) -> Line:
    return Line(
        name=name,
        cells=cells,
        share=None if share is None else float(share),
        says=str(row.get("says", "")),
        source=str(row.get("source", "")),
        ok=bool(row.get("holds", True)),
        touch=touch,
        unfolds=str(row.get("id") or ""),
    )


def _run(row: Row) -> Line:
    size = amount(row.get("size_mm2"), "mm²")
    awg = row.get("awg")
    cells = [
        f"{size}, {awg}" if awg else size,
        amount(row.get("length_m"), "m"),
        carried(row.get("amps_A"), row.get("ampacity_A")),
        drop(row.get("drop_V")),
        amount(row.get("temperature_C"), "°C"),
    ]
    return _line(row, str(row.get("id")), cells, row.get("loading"), str(row.get("id")))


def _fuse(row: Row, job: WholeJob) -> Line:
    clears = row.get("clears_s")
    stands = row.get("survives_s")
    cells = [
        amount(row.get("rating_A"), "A"),
        f"{amount(row.get('load_A'), 'A')}",
        amount(row.get("short_A"), "A"),
        "–" if clears is None else f"{amount(clears, 's')}, wire stands {amount(stands, 's')}",
    ]
    name = in_words(job, say.terminal(str(row.get("id") or row.get("what"))), bare=True)
    return _line(row, name, cells, row.get("share"), " ".join(row.get("runs") or []))


def _contact(row: Row) -> Line:
    cells = [
        str(row.get("kind", "")),
        carried(row.get("amps_A"), row.get("limit_A")),
        amount(row.get("inrush_A"), "A"),
    ]
    return _line(row, say.terminal(str(row.get("id"))), cells, row.get("share"), "")


def tables(size: SizeReport, job: WholeJob) -> list[Table]:
    """The three tables of a job's size report."""
    return [
        Table(
            "Wires",
            ["Run", "Wire", "Length", "Carries", "Drops", "Gets to"],
            [_run(r) for r in size.runs],
        ),
        Table(
            "Fuses",
            ["Fuse", "Rating", "Carries", "In a short", "Opens within"],
            [_fuse(r, job) for r in size.fuses],
        ),
        Table(
            "Contacts and leads",
            ["Where", "What", "Carries", "Inrush"],
            [_contact(r) for r in size.contacts],
        ),
    ]


def load_of(row: Row, job: WholeJob) -> list[tuple[str, str]]:
    """What a run carries, for its slip."""
    facts = [
        ("Carries", carried(row.get("amps_A"), row.get("ampacity_A"))),
        ("Drops", drop(row.get("drop_V"))),
        ("Gets to", amount(row.get("temperature_C"), "°C")),
    ]
    if row.get("state"):
        facts.append(("Most in", str(row["state"])))
    if row.get("fuse"):
        fuse = in_words(job, say.terminal(str(row["fuse"])), bare=True)
        facts.append(("Behind", f"{fuse}, {amount(row.get('fuse_A'), 'A')}"))
    return facts


def tightest(size: SizeReport) -> str:
    """The run that carries most of what it may, in words; empty where none carries anything."""
    loaded = [r for r in size.runs if r.get("loading")]
    if not loaded:
        return ""
    row = max(loaded, key=lambda r: float(r["loading"]))
    return f"{row['id']} carries {carried(row['amps_A'], row['ampacity_A'])}"


def cold(size: SizeReport, job: WholeJob) -> Table | None:
    """The volts while cranking, by how cold it is."""
    rows = size.starting.get("table") or []
    if not rows:
        return None
    starters = list(dict.fromkeys(k for r in rows for k in (r.get("starter_V") or {})))
    heads = [in_words(job, s, bare=True) for s in starters]
    lines = []
    for r in rows:
        lets_go = r.get("let_go") or []
        cells = [rail(r.get("battery_V")), rail(r.get("unit_V"))]
        cells += [rail((r.get("starter_V") or {}).get(s)) for s in starters]
        says = f"lets go: {', '.join(lets_go)}" if lets_go else ""
        lines.append(Line(amount(r.get("battery_C"), "°C"), cells, None, says, "", not lets_go, ""))
    return Table("By how cold it is", ["Battery at", "Battery", "Unit", *heads], lines)
