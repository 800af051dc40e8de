"""At the car with a meter: one check a screen, the value in, the verdict back at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response

from startwright.identify import IdentifyReport, WireVerdict
from startwright.identify.actions import parse
from startwright.identify.checks import CHECKS
from startwright.records import Meter, Reading, RecordError, WholeJob
from startwright.records.recordings import WirePlace
from startwright.records.words import COLOURS
from startwright.sheets import colour
from startwright.sheets.doing import do_line
from startwright.web import meter_checks, meter_record, meter_say, say
from startwright.web.meter_bench import (
    Bench,
    Wire,
    add_wire,
    bench_of,
    keep,
    take_back,
    vehicles,
)
from startwright.web.meter_checks import Step
from startwright.web.page import folder_of, render

router = APIRouter(prefix="/meter", include_in_schema=False)

LIT_V = 12.0
"""What a probe lamp that lights is written down as; one that stays dark as 0 V."""

MOST_V = 60.0


@dataclass(frozen=True)
class Told:
    """What is known of one wire, as the page says it."""

    wire: Wire
    state: str
    title: str
    sure: str
    rivals: str
    against: str
    notes: list[str]
    evidence: list[str]
    values: list[tuple[int, Reading]]
    leave_alone: bool


def _jobs(request: Request) -> list[WholeJob]:
    return [file.whole for file in folder_of(request).jobs() if file.whole is not None]


def _bench(request: Request, id: str) -> Bench:
    return bench_of(folder_of(request).path, id, _jobs(request))


@router.get("")
def cars(request: Request) -> Response:
    """The cars of the shop, with how much of each is known by a meter."""
    jobs = _jobs(request)
    folder = folder_of(request).path
    found, wrong = vehicles(folder)
    benches: list[Bench] = []
    for vehicle, _ in found:
        try:
            benches.append(bench_of(folder, vehicle.id, jobs))
        except RecordError as error:
            wrong.append(error)
    benches.sort(key=lambda b: -len(b.wanted))
    return render(request, "meters.html", {"benches": benches, "wrong": wrong})


@router.get("/{id}")
def at_the_car(
    request: Request,
    id: str,
    wire: str = "",
    do: Annotated[list[str] | None, Query()] = None,
    lamp: bool = False,
    at: int | None = None,
) -> Response:
    """The next check, or the one that the fitter chose; `at` corrects a value."""
    bench = _bench(request, id)
    report = meter_checks.report_of(bench)
    return _page(request, bench, _step(bench, report, wire, do, lamp, at), report, at=at)


def _step(
    bench: Bench,
    report: IdentifyReport,
    wire: str,
    do: list[str] | None,
    lamp: bool,
    at: int | None,
) -> Step | None:
    if at is not None:
        if not 0 <= at < len(bench.readings):
            raise RecordError(
                f"no value number {at + 1}", "at", f"1 to {len(bench.readings)}, in their order"
            )
        old = bench.readings[at]
        return meter_checks.own_step(
            bench, report, bench.wire(old.wire), list(old.during), lamp=old.meter.kind == "lamp"
        )
    checks = meter_checks.ranked(bench, report)
    if wire:
        chosen = bench.wire(wire)
        if do is not None or lamp:
            return meter_checks.own_step(bench, report, chosen, _done(do or []), lamp=lamp)
        mine = [c for c in checks if c.wire == wire]
        if mine:
            return meter_checks.step_of(bench, report, mine[0])
        return meter_checks.own_step(bench, report, chosen, [], lamp=lamp)
    return meter_checks.step_of(bench, report, checks[0]) if checks else None


def _done(do: list[str]) -> list[str]:
    """Actions as a request gives them, one or several in a word, checked."""
    done = [one.strip() for part in do for one in part.split(",")]
    done = [one for one in done if one and one != "key off"]
    for one in done:
        parse(one, "do")
    return done


def _page(
    request: Request,
    bench: Bench,
    step: Step | None,
    report: IdentifyReport,
    *,
    at: int | None = None,
    error: RecordError | None = None,
    typed: str = "",
) -> Response:
    told = [_told(bench, wire, report) for wire in bench.wires]
    last = bench.readings[-1] if bench.readings else None
    wanted = {w.name for w in bench.wanted}
    known = [t for t in told if t.wire.name in wanted and t.state in ("ok", "bad")]
    checks = meter_checks.ranked(bench, report)
    others = [
        (check, _address(bench, check.wire, check.do, check.meter == "test load"))
        for check in checks
        if step is None
        or check.wire != step.wire.name
        or set(check.do) - {"key off"} != set(step.do)
    ]
    old = bench.readings[at] if at is not None else None
    context = {
        "bench": bench,
        "step": step,
        "told": told,
        "stops": _by_place(told),
        "last": next((t for t in told if last is not None and t.wire.name == last.wire), None),
        "last_reading": last,
        "known": len(known),
        "wanted": len(wanted),
        "named": any(t.state == "ok" and t.values for t in told),
        "others": others[:5],
        "old": old,
        "at": at,
        "error": error,
        "typed": typed or (f"{old.volts_V:g}" if old is not None else ""),
        "say": meter_say,
        "do_line": do_line,
        "place_words": meter_checks.place_words,
        "colour_words": colour.words,
        "choices": [(",".join(c), do_line(c)) for c in CHECKS],
        "function_words": say.function_words,
    }
    return render(request, "meter.html", context, 422 if error else 200)


def _address(bench: Bench, wire: str, do: list[str], lamp: bool) -> str:
    query = [("wire", wire), ("do", ",".join(d for d in do if d != "key off"))]
    if lamp:
        query.append(("lamp", "1"))
    return f"/meter/{bench.vehicle.id}?{urlencode(query)}#now"


def _by_place(told: list[Told]) -> list[tuple[str, list[Told]]]:
    """The wires place by place, in the order of the record; those to be kept off last."""
    places: dict[str, list[Told]] = {}
    for one in sorted(told, key=lambda t: bool(t.wire.keep_off)):
        places.setdefault(one.wire.place.place or "place not written down", []).append(one)
    return list(places.items())


def _told(bench: Bench, wire: Wire, report: IdentifyReport) -> Told:
    values = [(k, r) for k, r in enumerate(bench.readings) if r.wire == wire.name]
    verdict = next((v for v in report.wires if v.wire == wire.name), None)
    if wire.keep_off:
        said = Told(wire, "bad", "keep off", "", "", "", [wire.keep_off], [], values, True)
    elif verdict is None:
        measured = wire.how == "measured"
        title = "measured" if measured else "not read yet"
        said = Told(wire, "plain", title, "", "", "", [], [], values, False)
    else:
        said = _of_verdict(wire, verdict, values)
    return said


def _of_verdict(wire: Wire, verdict: WireVerdict, values: list[tuple[int, Reading]]) -> Told:
    rivals = ", ".join(
        f"{say.function_words(r.function)} {meter_say.percent(r.probability)}"
        for r in verdict.rivals[:3]
        if r.probability >= 0.01
    )
    claim = say.function_words(wire.claimed) if wire.claimed else ""
    by = {"manual": "the manual says", "told": "somebody told", "guessed": "it was guessed"}
    against = ""
    if verdict.leave_alone:
        title, sure, state = "leave it alone", "", "bad"
    elif verdict.function is None:
        best = verdict.rivals[0] if verdict.rivals else None
        title = f"not known yet, {say.function_words(best.function)} most likely" if best else ""
        title, sure, state = title or "not known yet", "", "todo"
    else:
        title = meter_say.function_said(verdict.function, verdict.active)
        sure = f"{meter_say.sure_words(verdict.probability)}, "
        sure += meter_say.percent(verdict.probability)
        state = "ok"
        if claim and verdict.function == wire.claimed:
            against = "as the record has it"
        elif claim:
            against = f"but {by.get(wire.how, 'the record says')} {claim}"
    return Told(
        wire,
        state,
        title,
        sure,
        rivals,
        against,
        [n for n in verdict.notes if n != "not known yet"],
        verdict.evidence,
        values,
        verdict.leave_alone,
    )


@router.post("/{id}/value")
def value(
    request: Request,
    id: str,
    wire: Annotated[str, Form()],
    do: Annotated[str, Form()] = "",
    volts: Annotated[str, Form()] = "",
    lamp: Annotated[bool, Form()] = False,
    hum: Annotated[bool, Form()] = False,
    seen: Annotated[int, Form()] = 0,
    at: Annotated[int | None, Form()] = None,
) -> Response:
    """A value as it was read; it is kept before anything else is done with it."""
    bench = _bench(request, id)
    chosen = bench.wire(wire)
    during = _done([do])
    report = meter_checks.report_of(bench)
    verdict = next((v for v in report.wires if v.wire == wire), None)
    no = meter_checks.refused(chosen, verdict, lamp=lamp)
    if no and at is None:
        raise RecordError(f"a value of {wire[:64]}, which no probe should touch: {no}", "wire",
                          "a value of a wire that may be probed")  # fmt: skip
    try:
        number = _volts(volts)
    except RecordError as error:
        step = meter_checks.own_step(bench, report, chosen, during, lamp=lamp)
        return _page(request, bench, step, report, at=at, error=error, typed=volts[:20])
    place = chosen.place
    known_colour = bool(place.colour) and all(c in COLOURS for c in str(place.colour).split("/"))
    reading = Reading(
        wire=wire,
        volts_V=number,
        during=during,
        meter=Meter(kind="lamp" if lamp else "digital", hum=hum and not lamp),
        **{
            key: text
            for key, text in (
                ("place", place.place),
                ("plug", place.plug),
                ("pin", place.pin),
                ("colour", place.colour if known_colour else None),
            )
            if text
        },
    )
    keep(folder_of(request).path, bench, reading, seen, at)
    return RedirectResponse(f"/meter/{bench.vehicle.id}#now", 303)


def _volts(text: str) -> float:
    """Volts as they are typed; a decimal comma is one.

    Raises
    ------
    RecordError
        No number, or none of a 12 V car.
    """
    plain = text.strip().removesuffix("V").strip().replace("−", "-").replace(",", ".")
    try:
        number = float(plain)
    except ValueError:
        raise RecordError(
            f"{text[:20]!r} was entered" if plain else "no value was entered",
            "volts",
            "the volts that the meter shows, such as 12.4",
        ) from None
    if not abs(number) <= MOST_V:
        raise RecordError(
            f"{text[:20]!r} was entered",
            "volts",
            "the volts of a 12 V car; above 60 V take the probe away and leave the wire alone",
        )
    return number


@router.post("/{id}/take-back")
def undo(
    request: Request,
    id: str,
    at: Annotated[int, Form()],
    seen: Annotated[int, Form()],
) -> Response:
    """Take a value out again."""
    bench = _bench(request, id)
    take_back(folder_of(request).path, bench, at, seen)
    return RedirectResponse(f"/meter/{bench.vehicle.id}#now", 303)


@router.post("/{id}/wire")
def another_wire(
    request: Request,
    id: str,
    wire: Annotated[str, Form()] = "",
    place: Annotated[str, Form()] = "",
    plug: Annotated[str, Form()] = "",
    pin: Annotated[str, Form()] = "",
    colour: Annotated[str, Form()] = "",
) -> Response:
    """A wire that the record does not have."""
    bench = _bench(request, id)
    cells = [" ".join(text.split())[:80] for text in (wire, place, plug, pin, colour)]
    code = cells[4].upper()
    if code and not all(part in COLOURS for part in code.split("/")):
        raise RecordError(
            f"the colour {cells[4]!r}",
            "colour",
            f"letters such as GN/YE out of {', '.join(COLOURS)}",
        )
    name = cells[0] or " ".join(c for c in (cells[2], cells[3] and f"pin {cells[3]}", code) if c)
    new = WirePlace(name, cells[1] or None, cells[2] or None, cells[3] or None, code or None)
    add_wire(folder_of(request).path, bench, new)
    return RedirectResponse(_address(bench, name, [], False), 303)


SOURCE = "meter readings kept in readings/"


@router.get("/{id}/record")
def record(request: Request, id: str) -> Response:
    """What the meter found against what the record says, before it is written."""
    bench = _bench(request, id)
    shown = meter_record.preview(bench.vehicle, bench.path, _found(bench), bench.places, SOURCE)
    return render(request, "record.html", _record_context(bench) | {"shown": shown})


@router.post("/{id}/record")
def write_record(
    request: Request,
    id: str,
    mark: Annotated[str, Form()],
    wire: Annotated[list[str] | None, Form()] = None,
    by: Annotated[str, Form()] = "",
) -> Response:
    """Write what was found into the record."""
    bench = _bench(request, id)
    found = _found(bench)
    applied = meter_record.put(
        bench.vehicle,
        bench.path,
        found,
        bench.places,
        SOURCE,
        chosen=wire or [],
        mark=mark,
        by=" ".join(by.split())[:60],
    )
    shown = meter_record.preview(applied.vehicle, bench.path, found, bench.places, SOURCE)
    context = _record_context(bench) | {"shown": shown, "applied": applied}
    return render(request, "record.html", context)


def _found(bench: Bench) -> list[WireVerdict]:
    """The wires that the meter named or left open; those to be kept off it never touched."""
    return meter_checks.report_of(bench).wires


def _record_context(bench: Bench) -> dict[str, Any]:
    here = f"/meter/{bench.vehicle.id}"
    job = f"/job/{bench.jobs[0]}" if bench.jobs else here
    return {
        "back": here,
        "back_says": "Back to the meter",
        "cars": [],
        "applied": None,
        "onward": job,
        "onward_says": "To the job" if bench.jobs else "Back to the meter",
    }
