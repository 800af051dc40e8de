"""Reading records from files and text.

YAML 1.2 or JSON; the first key, ``format``, says which record it is.
"""

from __future__ import annotations

import difflib
import os
import re
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from startwright.records.base import Record
from startwright.records.check import check
from startwright.records.errors import RecordError
from startwright.records.job import Job, WholeJob
from startwright.records.lines import Lines
from startwright.records.marked import MOST_BYTES, Marked, decode, load
from startwright.records.readings import Readings
from startwright.records.stock import Stock
from startwright.records.unit import Unit
from startwright.records.vehicle import Vehicle
from startwright.records.wiring import Plan, Wiring

R = TypeVar("R", bound=Record)

KINDS: dict[str, type[Record]] = {
    "vehicle": Vehicle,
    "unit": Unit,
    "stock": Stock,
    "job": Job,
    "wiring": Wiring,
    "plan": Plan,
    "readings": Readings,
}
"""Every kind of record, by the middle word of its format."""

FOLDERS: dict[str, str] = {"vehicle": "vehicles", "unit": "units", "stock": "stock"}
"""Where a shop folder keeps what a job names by id."""

SUFFIXES = (".yaml", ".yml", ".json")

Find = Callable[[str, str], Record]
"""Finds what a job refers to: kind and reference in, record out, or `RecordError`."""


def read_text(path: Path | str) -> str:
    """The text of a file.

    Raises
    ------
    RecordError
        Where there is no such file, or it is a folder, too large or no text.
    """
    path = Path(path)
    name = str(path)
    try:
        with open(os.open(path, os.O_RDONLY | os.O_NONBLOCK), "rb") as file:
            kind = os.fstat(file.fileno()).st_mode
            if not stat.S_ISREG(kind):
                raise RecordError("no ordinary file", name, "a record file")
            raw = file.read(MOST_BYTES + 1)
    except RecordError:
        raise
    except FileNotFoundError:
        raise RecordError("no such file", name, _neighbour(path)) from None
    except IsADirectoryError:
        raise RecordError("a folder", name, "a file") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise RecordError(f"a file that cannot be read ({reason})", name, "a file") from None
    return decode(raw, name)


def _neighbour(path: Path) -> str:
    try:
        names = [p.name for p in path.parent.iterdir() if p.is_file()]
    except (OSError, ValueError):
        return "a file that exists; its folder does not exist either"
    near = difflib.get_close_matches(path.name, names, n=1, cutoff=0.6)
    return f"a file that exists, such as {near[0]}" if near else "a file that exists"


def _marked(text: str, name: str) -> Marked:
    as_json = name.lower().endswith(".json") or (
        not name.lower().endswith((".yaml", ".yml")) and text.lstrip()[:1] == "{"
    )
    return load(text, name, as_json=as_json)


def _kind(marked: Marked, kind: str | None) -> str:
    """Which record it is, and that it is the one expected."""
    wanted = f"`format: startwright/{kind}/1`" if kind else _formats()
    if kind == "readings" and isinstance(marked.data, list):
        _bare_readings(marked)
    data = marked.data
    if data is None:
        raise RecordError("nothing in it", marked.name, f"a record that begins with {wanted}")
    if not isinstance(data, dict):
        raise RecordError(
            "no keys and values", marked.where(), f"a record that begins with {wanted}"
        )
    if "format" not in data:
        raise RecordError("no `format`", marked.where(), wanted)
    found = data["format"]
    named = re.fullmatch(r"startwright/([a-z]+)/(\d+)", found) if isinstance(found, str) else None
    if named is None or named[1] not in KINDS:
        shown = repr(found)[:80]
        raise RecordError(f"the format {shown}", marked.where(("format",)), wanted)
    if kind is not None and named[1] != kind:
        raise RecordError(f"a {named[1]} record", marked.where(("format",)), wanted)
    if named[2] != "1":
        raise RecordError(
            f"version {named[2][:20]} of the {named[1]} format",
            marked.where(("format",)),
            f"version 1, `format: startwright/{named[1]}/1`",
        )
    return named[1]


def _bare_readings(marked: Marked) -> None:
    """A list of readings alone is a readings record too."""
    marked.where()  # finds the lines of a JSON text while it is as it was written
    marked.data = {"format": "startwright/readings/1", "readings": marked.data}
    marked.lines = {("readings", *path): line for path, line in marked.lines.items()}
    marked.sources = {("readings", *path): text for path, text in marked.sources.items()}


def _formats() -> str:
    return "`format: startwright/KIND/1`, KIND one of " + ", ".join(KINDS)


def _record(marked: Marked, kind: str | None) -> Record:
    found = _kind(marked, kind)
    if found != "job":
        return check(KINDS[found], marked)
    _inline(marked)
    return check(Job, marked)


def _inline(marked: Marked) -> None:
    """Check the records that a job carries within itself, with their own lines."""
    for key in FOLDERS:
        value = marked.data.get(key)
        if isinstance(value, dict):
            marked.data[key] = check(KINDS[key], marked, (key,))
        elif value is not None and not isinstance(value, str):
            raise RecordError(
                f"`{key}` as {type(value).__name__}",
                marked.where((key,)),
                f"a path, an id, or a {key} record",
            )


def parse(text: str, name: str, kind: str | None = None, *, lines: Lines | None = None) -> Record:
    """Read a record from text.

    Parameters
    ----------
    text : str
        YAML 1.2 or JSON.
    name : str
        What to call it in an error; a name that ends in ``.json`` is read as JSON.
    kind : str, optional
        The kind it has to be (`KINDS`).
    lines : Lines, optional
        Remembers where every value stands.

    Raises
    ------
    RecordError
        What is wrong first, with file, line and path.
    """
    marked = _marked(text.removeprefix("\ufeff"), name)
    record = _record(marked, kind)
    if lines is not None:
        lines.keep(_kind(marked, kind), marked)
    return record


def read(path: Path | str, kind: str | None = None, *, lines: Lines | None = None) -> Record:
    """Read a record file; see `parse`."""
    return parse(read_text(path), str(path), kind, lines=lines)


def _read_as(path: Path | str, model: type[R], kind: str) -> R:
    record = read(path, kind)
    assert isinstance(record, model)
    return record


def read_plan(path: Path | str) -> Plan:
    """Read a plan file."""
    return _read_as(path, Plan, "plan")


def read_wiring(path: Path | str, *, lines: Lines | None = None) -> Wiring:
    """Read a wiring file, or the wiring of a plan file."""
    text = read_text(path)
    return parse_wiring(text, str(path), lines=lines)


def parse_wiring(text: str, name: str, *, lines: Lines | None = None) -> Wiring:
    """The wiring of a text that holds a wiring or a plan."""
    record = parse_wiring_or_plan(text, name, lines=lines)
    return record.wiring if isinstance(record, Plan) else record


def parse_wiring_or_plan(text: str, name: str, *, lines: Lines | None = None) -> Wiring | Plan:
    """The record of a text that holds a wiring or a plan."""
    marked = _marked(text.removeprefix("\ufeff"), name)
    kind = _kind(marked, None)
    if kind not in ("wiring", "plan"):
        raise RecordError(f"a {kind} record", marked.where(("format",)), "a wiring or a plan")
    record = check(KINDS[kind], marked)
    assert isinstance(record, Wiring | Plan)
    if lines is not None:
        lines.keep("wiring", marked, ("wiring",) if isinstance(record, Plan) else ())
    return record


def read_job(
    path: Path | str, shop: Path | str | None = None, *, lines: Lines | None = None
) -> WholeJob:
    """Read a job with its vehicle, unit and stock.

    Parameters
    ----------
    path : Path
        The job file.
    shop : Path, optional
        The shop folder in which ids are looked up (``vehicles/ units/ stock/``); by default the
        job's folder and the one above it.
    lines : Lines, optional
        Remembers where every value of the job and of what it names stands.

    Raises
    ------
    RecordError
        Where the job or anything it refers to cannot be read.
    """
    path = Path(path)
    here = path.parent
    shops = [Path(shop)] if shop is not None else [here, here.parent]

    def find(kind: str, reference: str) -> Record:
        beside = here / reference
        if _looks_like_path(reference) or _is_file(beside):
            return read(beside, kind, lines=lines)
        return find_id(kind, reference, shops, str(path), lines=lines)

    return parse_job(read_text(path), str(path), find, lines=lines)


def parse_job(text: str, name: str, find: Find, *, lines: Lines | None = None) -> WholeJob:
    """Read a job from text; `find` gets what it names by path or id."""
    marked = _marked(text.removeprefix("\ufeff"), name)
    _kind(marked, "job")
    _inline(marked)
    job = check(Job, marked)
    if lines is not None:
        lines.keep("job", marked)
        for key in FOLDERS:
            if not isinstance(getattr(job, key), str):
                lines.keep(key, marked, (key,))
    return whole(job, find)


def whole(job: Job, find: Find) -> WholeJob:
    """The job with its vehicle, unit and stock, each as it stands or found by its reference."""
    got: dict[str, Any] = {}
    for key in FOLDERS:
        value = getattr(job, key)
        got[key] = find(key, value) if isinstance(value, str) else value
    given = {name: getattr(job, name) for name in job.model_fields_set}
    return WholeJob.model_validate({**given, **got})


def _looks_like_path(reference: str) -> bool:
    return "/" in reference or "\\" in reference or reference.lower().endswith(SUFFIXES)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def find_id(
    kind: str, id: str, shops: list[Path], where: str, *, lines: Lines | None = None
) -> Record:
    """The record of an id in shop folders: by its file's name, else by the ``id`` within."""
    names: list[str] = []
    for folder in [shop / FOLDERS[kind] for shop in shops]:
        try:
            files = sorted(p for p in folder.iterdir() if p.suffix.lower() in SUFFIXES)
        except (OSError, ValueError):
            continue
        names += [p.stem for p in files]
        likely = [p for p in files if p.stem == id]
        for path in likely + [p for p in files if p not in likely]:
            text = read_text(path)
            if id not in text:
                continue
            kept = Lines()
            record = parse(text, str(path), kind, lines=kept)
            if getattr(record, "id", None) == id:
                if lines is not None:
                    lines.take(kind, kept)
                return record
    near = difflib.get_close_matches(id, names, n=1, cutoff=0.5)
    known = f"such as {near[0]}" if near else f"there are: {', '.join(names[:20]) or 'none'}"
    raise RecordError(
        f"no {kind} called {id[:80]!r}", f"{where} {kind}", f"a path or the id of a {kind}, {known}"
    )
