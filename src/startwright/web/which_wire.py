"""Which wire is it, with a recording: verdicts beside the curves, and into the record."""

from __future__ import annotations

import hashlib
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from startwright.identify import keep_off
from startwright.identify.actions import parse
from startwright.records import RecordError, Vehicle
from startwright.sheets.doing import DO, do_line
from startwright.web import (
    curves,
    handed_in,
    meter_bench,
    meter_checks,
    meter_record,
    meter_say,
    say,
)
from startwright.web.desk import Task
from startwright.web.handed_in import Looked
from startwright.web.page import answers_of, folder_of, render

if TYPE_CHECKING:
    from startwright.identify import NextCheck, WireVerdict

router = APIRouter(include_in_schema=False)

MOST_POINTS = 500_000
"""Points a wire sent at once; what is longer comes as the least and most of each stretch."""

ACTION_WORDS = (*(word for word in DO if word != "key off"), "key off")
"""What is offered for a line of what was done; any other action can be typed."""


@router.get("/which-wire")
def ask(request: Request) -> Response:
    """Where a recording is handed in."""
    return render(
        request,
        "which_wire.html",
        {"recordings": list(handed_in.recordings_in(folder_of(request).path))},
    )


@router.post("/which-wire")
def hand_in(
    request: Request,
    recording: Annotated[UploadFile | None, File()] = None,
    actions: Annotated[UploadFile | None, File()] = None,
    wires: Annotated[UploadFile | None, File()] = None,
    speeds: Annotated[UploadFile | None, File()] = None,
    engine: Annotated[str, Form()] = "",
    lying: str = "",
) -> Response:
    """Begin to look at a recording that was handed in, or at one that lies in the folder."""
    room = handed_in.Room()
    if lying:
        kept = handed_in.taken(folder_of(request).path, lying, room.path)
    else:
        sent = {"recording": recording, "actions": actions, "wires": wires, "speeds": speeds}
        kept = {
            kind: p for kind, file in sent.items() if (p := handed_in.received(room.path, file))
        }
    if "recording" not in kept:
        raise RecordError("no recording was handed in", "recording", "a CSV, VCD, sigrok file")
    if engine not in handed_in.ENGINES:
        raise RecordError(f"the engine {engine[:20]!r}", "engine", "petrol, diesel or nothing")
    diesel = handed_in.ENGINES[engine]
    digest = hashlib.sha256(engine.encode())
    for kind in sorted(kept):
        digest.update(kind.encode() + kept[kind].read_bytes())
    key = digest.hexdigest()[:32]
    work = answers_of(request).recordings
    work.start(key, lambda task: handed_in.look(task, room, kept, diesel), again=True)
    return RedirectResponse(f"/which-wire/{key}", 303)


def _task(request: Request, key: str) -> Task:
    task = answers_of(request).recordings.get(key)
    if task is None:
        raise RecordError(
            "this recording is no longer kept here", "which-wire", "to hand it in again"
        )
    return task


def _looked(request: Request, key: str) -> Looked:
    """What was made of a recording, once it is.

    Raises
    ------
    RecordError
        It is not read yet, or cannot be.
    """
    task = _task(request, key)
    task.wait(30)
    task = task.now()
    if task.state == "failed" and task.error is not None:
        raise task.error
    if task.state != "done":
        raise RecordError("the recording is not read yet", "which-wire", "to ask again in a moment")
    looked: Looked = task.result
    return looked


@router.get("/which-wire/{key}")
def see(request: Request, key: str) -> Response:
    """The verdicts beside the curves."""
    task = _task(request, key)
    task.wait(0.5)
    task = task.now()
    if "hx-request" in request.headers and not task.busy:
        # the page that waited is loaded anew, with its scripts
        return Response(headers={"hx-refresh": "true"})
    if task.state == "failed" and task.error is not None:
        raise task.error
    context: dict[str, Any] = {"key": key, "task": task}
    if task.state != "done":
        return render(request, "reading.html", context)
    looked: Looked = task.result
    report, recording = looked.report, looked.recording
    car = _car(request, looked)
    verdicts = report.wires
    if car is not None:
        verdicts = keep_off(car, verdicts, looked.wires)
    often = curves.said_once(verdicts)
    once = {note for note, _ in often}
    alone = {v.wire for v in verdicts if v.leave_alone}
    checks = [c for c in report.next_checks if c.wire not in alone]
    context |= {
        "looked": looked,
        "verdicts": [_said(v, once) for v in verdicts],
        "often": often,
        "lanes": curves.lanes(
            report.actions, float(recording.time_s[0]), float(recording.time_s[-1])
        ),
        "noted": [
            {"time_s": a.time_s, "action": curves.as_noted(a.action), "noted_s": a.noted_s}
            for a in report.actions
        ],
        "proposed": any(a.proposed for a in report.actions),
        "checks": [_check(c) for c in checks[:4]],
        "car": car,
        "place_words": meter_checks.place_words,
        "places": looked.wires,
        "words": ACTION_WORDS,
    }
    return render(request, "wires.html", context)


def _check(check: NextCheck) -> dict[str, Any]:
    """A check as the page says it."""
    shows: dict[str, list[str]] = {}
    for who, symbol in check.candidates.items():
        shows.setdefault(meter_say.shown(symbol, check.do), []).append(meter_say.candidate(who))
    do = [d for d in check.do if d != "key off"]
    return {
        "check": check,
        "do": do_line(do),
        "shows": shows,
        "cautions": meter_checks.turning(do, check.caution),
    }


@router.post("/which-wire/{key}/actions")
def confirm(
    request: Request,
    key: str,
    time_s: Annotated[list[str] | None, Form()] = None,
    action: Annotated[list[str] | None, Form()] = None,
) -> Response:
    """Weigh a recording anew by actions that a person looked over; an empty line is left out."""
    looked = _looked(request, key)
    rows = list(zip(time_s or [], action or [], strict=False))
    text = "time_s,action\n" + "".join(
        f"{_seconds(at)},{_action(what)}\n" for at, what in rows if at.strip() and what.strip()
    )
    digest = hashlib.sha256(f"{key}\n{text}".encode()).hexdigest()[:32]

    def weigh(task: Task) -> Looked:
        task.say(f"weighing {len(looked.recording.names)} wires")
        table = Path(tempfile.mkdtemp(dir=looked.room.path)) / "actions.csv"
        table.write_text(text, "utf-8")
        kept = looked.kept | {"actions": table}
        report = handed_in.weighed(looked.recording, kept, looked.wires, looked.diesel)
        return replace(looked, report=report, kept=kept, confirmed=True)

    if "\n" not in text.strip():
        raise RecordError("no action was given", "action", "at least one, such as `key run`")
    answers_of(request).recordings.start(digest, weigh, again=True)
    return RedirectResponse(f"/which-wire/{digest}", 303)


def _seconds(text: str) -> str:
    try:
        return f"{float(text.strip().replace(',', '.')):.3f}"
    except ValueError:
        raise RecordError(f"{text[:20]!r} is no time", "time_s", "seconds, such as 12.5") from None


def _action(text: str) -> str:
    words = " ".join(text.lower().split())
    parse(words, "action")
    return words


def _car(request: Request, looked: Looked) -> Vehicle | None:
    """The car of the shop whose record has most of these plugs and pins; None where none has any.

    Colours decide between cars that have the same plug.
    """
    best: tuple[tuple[int, int], Vehicle] | None = None
    for vehicle, _ in meter_bench.vehicles(folder_of(request).path)[0]:
        pins = {(c.plug, c.pin): c.colour for c in vehicle.circuits if c.plug and c.pin}
        places = [(p.plug, p.pin, p.colour) for p in looked.wires.values() if p.plug and p.pin]
        hits = [(pins[plug, pin], colour) for plug, pin, colour in places if (plug, pin) in pins]
        score = (len(hits), sum(a == b for a, b in hits))
        if hits and (best is None or score > best[0]):
            best = (score, vehicle)
    return best[1] if best is not None else None


@router.get("/which-wire/{key}/record")
def record(request: Request, key: str, vehicle: str = "") -> Response:
    """What was found against what the record of a car says, before it is written."""
    looked = _looked(request, key)
    cars = [v for v, _ in meter_bench.vehicles(folder_of(request).path)[0]]
    guess = _car(request, looked)
    id = vehicle or (guess.id if guess is not None else "")
    context = _record_context(key, cars)
    if id:
        car, path = meter_bench.vehicle_of(folder_of(request).path, id)
        context["shown"] = meter_record.preview(
            car, path, looked.report.wires, looked.wires, looked.name
        )
    return render(request, "record.html", context)


@router.post("/which-wire/{key}/record")
def write_record(
    request: Request,
    key: str,
    vehicle: str,
    mark: Annotated[str, Form()],
    wire: Annotated[list[str] | None, Form()] = None,
    by: Annotated[str, Form()] = "",
) -> Response:
    """Write what was found into the record; the recording is kept in the shop beside it."""
    looked = _looked(request, key)
    shop = folder_of(request).path
    car, path = meter_bench.vehicle_of(shop, vehicle)
    source = handed_in.keep(shop, looked)
    applied = meter_record.put(
        car,
        path,
        looked.report.wires,
        looked.wires,
        source,
        chosen=wire or [],
        mark=mark,
        by=" ".join(by.split())[:60],
    )
    shown = meter_record.preview(applied.vehicle, path, looked.report.wires, looked.wires, source)
    context = _record_context(key, []) | {"shown": shown, "applied": applied}
    context |= {"onward": f"/meter/{car.id}", "onward_says": "On with the meter"}
    return render(request, "record.html", context)


def _record_context(key: str, cars: list[Vehicle]) -> dict[str, Any]:
    return {
        "back": f"/which-wire/{key}",
        "back_says": "Back to the recording",
        "cars": cars,
        "shown": None,
        "applied": None,
        "onward": f"/which-wire/{key}",
        "onward_says": "Back to the recording",
    }


@router.post("/which-wire/{key}/stop")
def stop(request: Request, key: str) -> Response:
    """Stop looking at a recording."""
    _task(request, key)
    answers_of(request).recordings.stop(key)
    return RedirectResponse("/which-wire", 303)


@dataclass(frozen=True)
class Said:
    """One wire's verdict as it is shown."""

    verdict: WireVerdict
    title: str
    sure: str
    state: str
    telling: str
    rivals: str
    notes: list[str]


def _said(verdict: WireVerdict, once: set[str]) -> Said:
    """A verdict in words; notes that stand once for several wires are left out."""
    notes = [n for n in verdict.notes if n not in once and n != curves.NOT_YET]
    telling = curves.telling(verdict)
    if verdict.leave_alone:
        what = f"the {say.function_words(verdict.function)}" if verdict.function else "this wire"
        return Said(verdict, f"leave {what} alone", "", "bad", telling, "", notes)
    rivals = ", ".join(
        f"{say.function_words(r.function)} {meter_say.percent(r.probability)}"
        for r in verdict.rivals[:3]
        if r.probability >= 0.01
    )
    if verdict.function is None:
        likely = f", {say.function_words(verdict.likely)} most likely" if verdict.likely else ""
        return Said(verdict, f"not known yet{likely}", "", "todo", telling, rivals, notes)
    sure = f"{meter_say.sure_words(verdict.probability)}, {meter_say.percent(verdict.probability)}"
    title = meter_say.function_said(verdict.function, verdict.active)
    return Said(verdict, title, sure, "ok", telling, rivals, notes)


@router.get("/which-wire/{key}/samples")
def samples(
    request: Request, key: str, start_s: float = float("-inf"), end_s: float = float("inf")
) -> Response:
    """The curves between two times, as numbers in little-endian order.

    First the count of points n and of wires w (two uint32), then n times (float64, s), then n
    volts (float32) for each wire in turn.
    """
    import numpy as np

    recording = _looked(request, key).recording
    first, last = np.searchsorted(recording.time_s, [start_s, end_s])
    time_s = recording.time_s[max(first - 1, 0) : last + 1]
    volts = recording.volts[max(first - 1, 0) : last + 1]
    time_s, volts = curves.thinned(time_s, volts, MOST_POINTS)
    head = np.array([len(time_s), volts.shape[1]], dtype="<u4").tobytes()
    body = time_s.astype("<f8").tobytes() + np.ascontiguousarray(volts.T, dtype="<f4").tobytes()
    headers = {"cache-control": "no-store", "content-encoding": "identity"}
    return Response(head + body, media_type="application/octet-stream", headers=headers)
