"""A recording in, verdicts beside the curves out: which wire is it."""

from __future__ import annotations

import hashlib
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import numpy as np
from fastapi import APIRouter, File, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from startwright.records import RecordError
from startwright.web import say
from startwright.web.answers import Answers
from startwright.web.desk import Task
from startwright.web.page import render

if TYPE_CHECKING:
    from startwright.identify import IdentifyReport, WireVerdict
    from startwright.records.recordings import Recording

router = APIRouter(include_in_schema=False)

MOST_POINTS = 500_000
"""Points a wire sent at once; what is longer comes as the least and most of each stretch."""


@dataclass(frozen=True)
class Looked:
    """A recording and what was made of it."""

    name: str
    recording: Recording
    report: IdentifyReport


def _answers(request: Request) -> Answers:
    answers: Answers = request.app.state.answers
    return answers


def _recordings(request: Request) -> dict[str, Path]:
    """The recordings that lie in the folder, by name."""
    folder: Path = request.app.state.folder.path / "recordings"
    if not folder.is_dir():
        return {}
    found = sorted(p for p in folder.iterdir() if p.is_file())
    beside = ("-actions", "-wires")
    kinds = (".csv", ".vcd", ".sr", ".wav")
    return {p.name: p for p in found if p.suffix in kinds and not p.stem.endswith(beside)}


@router.get("/which-wire")
def ask(request: Request) -> Response:
    """Where a recording is handed in."""
    return render(request, "which_wire.html", {"recordings": list(_recordings(request))})


@router.post("/which-wire")
def hand_in(
    request: Request,
    recording: Annotated[UploadFile | None, File()] = None,
    actions: Annotated[UploadFile | None, File()] = None,
    wires: Annotated[UploadFile | None, File()] = None,
    lying: str = "",
) -> Response:
    """Begin to look at a recording that was handed in, or at one that lies in the folder."""
    folder = Path(tempfile.mkdtemp(prefix="startwright-"))
    try:
        if lying:
            kept = _lying(request, lying, folder)
        else:
            sent = {"recording": recording, "actions": actions, "wires": wires}
            kept = {kind: p for kind, file in sent.items() if (p := _kept(folder, file))}
        if "recording" not in kept:
            raise RecordError("no recording was handed in", "recording", "a CSV, VCD, sigrok file")
        digest = hashlib.sha256()
        for kind in sorted(kept):
            digest.update(kind.encode() + kept[kind].read_bytes())
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    key = digest.hexdigest()[:32]
    _answers(request).recordings.start(key, lambda task: _look(task, folder, kept), again=True)
    return RedirectResponse(f"/which-wire/{key}", 303)


def _kept(folder: Path, file: UploadFile | None) -> Path | None:
    if file is None or not file.filename:
        return None
    # The name is shown and told in errors, never used as a way.
    name = "".join(c for c in Path(file.filename).name if c.isalnum() or c in "._- ")[:80]
    kept = Path(tempfile.mkdtemp(dir=folder)) / (name.strip(". ") or "recording")
    with kept.open("wb") as out:
        shutil.copyfileobj(file.file, out)
    return kept


def _lying(request: Request, name: str, folder: Path) -> dict[str, Path]:
    found = _recordings(request)
    if name not in found:
        known = ", ".join(found) or "a file in the folder's recordings/"
        raise RecordError(
            f"no recording is called {name[:80]!r}", "recordings/", f"one of: {known}"
        )
    kept = {"recording": found[name]}
    for kind in ("actions", "wires"):
        beside = found[name].with_name(f"{found[name].stem}-{kind}.csv")
        if beside.is_file():
            kept[kind] = beside
    return {kind: Path(shutil.copy(path, folder)) for kind, path in kept.items()}


def _look(task: Task, folder: Path, kept: dict[str, Path]) -> Looked:
    from startwright.identify import identify
    from startwright.records.recordings import read_actions, read_recording, read_wires

    try:
        task.say("reading the recording")
        recording = read_recording(kept["recording"])
        actions = read_actions(kept["actions"]) if "actions" in kept else None
        wires = read_wires(kept["wires"]) if "wires" in kept else None
        task.say(f"weighing {len(recording.names)} wires")
        report = identify(recording, actions, wires)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return Looked(kept["recording"].name, recording, report)


def _task(request: Request, key: str) -> Task:
    task = _answers(request).recordings.get(key)
    if task is None:
        raise RecordError(
            "this recording is no longer kept here", "which-wire", "to hand it in again"
        )
    return task


@router.get("/which-wire/{key}")
def see(request: Request, key: str) -> Response:
    """The verdicts beside the curves."""
    task = _task(request, key)
    task.wait(0.5)
    task = task.now()
    if task.state == "failed" and task.error is not None:
        raise task.error
    looked: Looked | None = task.result if task.state == "done" else None
    verdicts = [_said(v) for v in looked.report.wires] if looked else []
    done = (
        [{"time_s": a.time_s, "action": a.action} for a in looked.report.actions] if looked else []
    )
    context = {"key": key, "task": task, "looked": looked, "verdicts": verdicts, "done": done}
    return render(request, "wires.html", context)


@router.post("/which-wire/{key}/stop")
def stop(request: Request, key: str) -> Response:
    """Stop looking at a recording."""
    _task(request, key)
    _answers(request).recordings.stop(key)
    return RedirectResponse("/which-wire", 303)


@dataclass(frozen=True)
class Said:
    """One wire's verdict as it is shown."""

    verdict: WireVerdict
    title: str
    state: str
    rivals: str


def _said(verdict: WireVerdict) -> Said:
    percent = f"{verdict.probability * 100:.0f} %"
    if verdict.leave_alone:
        what = f"the {say.function_words(verdict.function)}" if verdict.function else "this wire"
        return Said(verdict, f"leave {what} alone", "bad", "")
    rivals = ", ".join(
        f"{say.function_words(r.function)} {r.probability * 100:.0f} %"
        for r in verdict.rivals[:3]
        if r.probability >= 0.01
    )
    if verdict.function is None:
        likely = f"; most likely {say.function_words(verdict.likely)}" if verdict.likely else ""
        return Said(verdict, f"not known yet{likely}", "todo", rivals)
    level = f", to {verdict.active}" if verdict.active else ""
    return Said(verdict, f"{say.function_words(verdict.function)}{level}, {percent}", "ok", rivals)


@router.get("/which-wire/{key}/samples")
def samples(
    request: Request, key: str, start_s: float = float("-inf"), end_s: float = float("inf")
) -> Response:
    """The curves between two times, as numbers in little-endian order.

    First the count of points n and of wires w (two uint32), then n times (float64, s), then n
    volts (float32) for each wire in turn.
    """
    task = _task(request, key)
    if task.state != "done":
        raise RecordError("the recording is not read yet", "which-wire", "to ask again in a moment")
    recording: Recording = task.result.recording
    first, last = np.searchsorted(recording.time_s, [start_s, end_s])
    time_s = recording.time_s[max(first - 1, 0) : last + 1]
    volts = recording.volts[max(first - 1, 0) : last + 1]
    time_s, volts = thinned(time_s, volts, MOST_POINTS)
    head = np.array([len(time_s), volts.shape[1]], dtype="<u4").tobytes()
    body = time_s.astype("<f8").tobytes() + np.ascontiguousarray(volts.T, dtype="<f4").tobytes()
    headers = {"cache-control": "no-store", "content-encoding": "identity"}
    return Response(head + body, media_type="application/octet-stream", headers=headers)


def thinned(time_s: np.ndarray, volts: np.ndarray, most: int) -> tuple[np.ndarray, np.ndarray]:
    """At most `most` points that keep every peak: each stretch gives its least and its most.

    Parameters
    ----------
    time_s : ndarray, shape (N,)
    volts : ndarray, shape (N, W)
    most : int
        Points wanted at most.

    Returns
    -------
    tuple of ndarray
        Times and volts; as they were where they are few enough.
    """
    n = len(time_s)
    if n <= most:
        return time_s, volts
    stretch = -(-2 * n // most)
    whole = n // stretch * stretch
    blocks = volts[:whole].reshape(-1, stretch, volts.shape[1])
    out = np.empty((2 * len(blocks), volts.shape[1]), dtype=volts.dtype)
    # The order within a stretch follows the curve's first and last value, so that ramps stay ramps.
    falling = blocks[:, 0] > blocks[:, -1]
    low, high = blocks.min(axis=1), blocks.max(axis=1)
    out[0::2] = np.where(falling, high, low)
    out[1::2] = np.where(falling, low, high)
    starts = time_s[:whole].reshape(-1, stretch)
    at = np.empty(2 * len(blocks))
    at[0::2] = starts[:, 0]
    at[1::2] = starts[:, stretch // 2]
    return np.append(at, time_s[-1]), np.vstack([out, volts[-1:]])
