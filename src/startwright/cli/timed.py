"""`prove --timeline`: seconds and volts of a line, or of one of the usual ones."""

from __future__ import annotations

from startwright.cli import show
from startwright.cli.run import NO, WELL
from startwright.prove.timeline import timeline
from startwright.prove.usual import NAMES, usual_line
from startwright.records import WholeJob, Wiring
from startwright.records.reports import Timeline


def timed(job: WholeJob, wiring: Wiring, line: str, battery_C: float | None, json: bool) -> int:
    """Answer `--timeline`; the exit status."""
    if line.strip() in NAMES:
        line = usual_line(job, wiring, line.strip(), "--timeline").line
    found = timeline(job, wiring, line, battery_C=battery_C, where="--timeline")
    show.as_json(found) if json else page(found)
    return WELL if found.holds else NO


def page(found: Timeline) -> None:
    """What happened when, the volts of every circuit that moves, the unit's steps."""
    show.verdict("holds" if found.holds else "does not hold", f": {found.line}", well=found.holds)
    for expect in found.expects:
        show.say(f"{'✓' if expect['met'] else '✗'} {expect['expect']}")
    show.say(*(f"! {what}" for what in (*found.flaws, *found.shorts)), style="yellow")
    moving = [t for t in found.traces if t.kind in ("rail", "circuit") and t.moves]
    show.table(
        ("s", "what", "unit", "engine", *(f"{t.id}, V" for t in moving)),
        [
            (f"{m.time_s:g}", m.what, m.step, m.engine, *(_volts(t.volts_V[k]) for t in moving))
            for k, m in enumerate(found.moments)
        ],
        "Circuits that change",
        ("{} s", "{}", "unit {}", "engine {}", *(f"{t.id} {{}}" for t in moving)),
    )
    show.table(
        ("unit", "try", "from s", "to s", "lasts s"),
        [
            (s.step, s.tries or "", f"{s.from_s:g}", f"{s.to_s:g}", f"{s.lasts_s:g}")
            for s in found.steps
        ],
        "The unit's steps",
        ("{}", "try {}", "from {} s", "to {} s", "lasts {} s"),
    )
    show.say(*(f"({note})" for note in found.notes), style="dim")


def _volts(volts_V: float | None) -> str:
    return "floats" if volts_V is None else f"{volts_V:.1f}"
