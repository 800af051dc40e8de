"""The rows of wires and the slips of the runs, as the page lays out what the sheets know."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from startwright.records import Plan, SizeReport
from startwright.sheets import build, wires
from startwright.sheets.ends import Web
from startwright.sheets.naming import in_words
from startwright.web import figures, say


@dataclass(frozen=True)
class Row:
    """One wire of the car that is joined: what the sheet says of it, its volts apart from when."""

    said: dict[str, Any]
    rest: str
    active: str
    when: str
    ways: list[list[str]]
    worked_by: list[str]
    why: list[str]


@dataclass(frozen=True)
class Stop:
    """A place where the hand is, with its cautions and rows."""

    place: str
    way: str
    cautions: list[Any]
    rows: list[Row]


@dataclass(frozen=True)
class Slip:
    """What lights up when a run is touched."""

    said: dict[str, Any]
    load: list[tuple[str, str]]
    why: list[str]


def apart(text: str) -> tuple[str, str]:
    """The volts and when they stand, out of one phrase.

    >>> apart("12.6 V with the key in run, start")
    ('12.6 V', 'with the key in run, start')
    >>> apart("open, pulled to 0 V by its load")
    ('open, pulled to 0 V by its load', '')
    """
    found = re.match(r"(.*?) ((?:with|while|when|in) .*)$", text)
    return (found[1], found[2]) if found else (text, "")


def said_once(why: list[str]) -> list[str]:
    """Reasons without those that another begins with."""
    whole = list(dict.fromkeys(w for w in why if w))
    return [w for w in whole if not any(o != w and o.startswith(w) for o in whole)]


def sentence(text: str, leads: set[str]) -> str:
    """A reason as a sentence; a lead that it begins with is said to be one.

    >>> sentence("lamps works the horn wire through a diode", {"lamps"})
    'The lead lamps works the horn wire through a diode.'
    >>> sentence("lamps are to flash", {"lamps"})
    'Lamps are to flash.'
    """
    first, _, rest = text.partition(" ")
    then = rest.split(" ", 1)[0]
    if first in leads and then != "is" and (then.endswith("s") or then in ("on", "through")):
        text = f"the lead {text}"
    return text[0].upper() + text[1:].rstrip(".") + "."


def stops(web: Web, plan: Plan, size: SizeReport | None) -> list[Stop]:
    """The joined wires, place by place, in the order in which the hand gets to them."""
    return [
        Stop(
            place=stop["place"],
            way=stop["way"],
            cautions=stop["cautions"],
            rows=[_row(web, plan, said) for said in stop["rows"]],
        )
        for stop in wires.stops(web, plan, size)
    ]


def _row(web: Web, plan: Plan, said: dict[str, Any]) -> Row:
    rest, _ = apart(said["rest"])
    active, when = apart(said["becomes"])
    if active.startswith("the same"):
        active, when = "", active
    leads = _leads(web)
    reasons = [
        in_words(web.job, r.says)
        for r in plan.reasons
        if r.of in (f"vehicle.{said['id']}", *said["runs"])
    ]
    return Row(
        said=said,
        rest=rest,
        active=active,
        when=when,
        ways=[way.split(" · ") for way in said["through"]],
        worked_by=_worked_by(web, said),
        why=[sentence(w, leads) for w in said_once(said["why"] + reasons)],
    )


def _leads(web: Web) -> set[str]:
    """The unit's leads."""
    return {lead.id for lead in web.job.unit.leads}


def _reasons(web: Web, plan: Plan, run: str) -> list[str]:
    """Why the plan has a run."""
    return [in_words(web.job, r.says) for r in plan.reasons if r.of == run]


def _worked_by(web: Web, said: dict[str, Any]) -> list[str]:
    """Who works the relays that a wire goes through: what is joined to their coils."""
    parts = [p for p, record in web.parts.items() if record.kind == "relay"]
    mine = [p for p in parts if any(f"relay {p}" in way for way in said["through"])]
    coils = {f"{p}.{pin}" for p in mine for pin in ("85", "86")}
    found = [
        run.ends[0] if run.ends[1] in coils else run.ends[1]
        for run in web.wiring.runs
        if coils & set(run.ends)
    ]
    known = dict.fromkeys(e for e in found if e.startswith(("unit.", "vehicle.")))
    return [in_words(web.job, say.terminal(e), bare=True) for e in known]


def slips(web: Web, plan: Plan, size: SizeReport | None) -> list[Slip]:
    """One slip a run: where from and to, how thick, how joined, what it carries, why."""
    sized = {str(row.get("id")): row for row in (size.runs if size else [])}
    leads = _leads(web)
    return [
        Slip(
            said=said,
            load=figures.load_of(sized[said["id"]], web.job) if said["id"] in sized else [],
            why=[
                sentence(w, leads)
                for w in said_once([said["why"], *_reasons(web, plan, said["id"])])
            ],
        )
        for said in build.runs_table(web, plan, size)
    ]
