"""The two small tables beside a recording: the actions noted, and where each wire is."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

from startwright.records.errors import RecordError
from startwright.records.recordings.beside import TimedAction, WirePlace

LARGEST_bytes = 5_000_000
_DELIMITERS = ("\t", ";", ",")


def _rows(path: Path) -> list[tuple[int, list[str]]]:
    """Rows of a small table with their line numbers; blank lines and ``#`` lines left out."""
    where = path.name
    try:
        data = path.read_bytes()
    except OSError as error:
        raise RecordError(
            f"cannot be opened ({error.strerror or error})", where, "a table that can be read"
        ) from error
    if len(data) > LARGEST_bytes:
        raise RecordError(f"{len(data)} bytes", where, f"at most {LARGEST_bytes} bytes")
    text = decode(data)
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if not lines:
        raise RecordError("the table is empty", where, "a head row and rows below it")
    delimiter = max(_DELIMITERS, key=lines[0].count)
    rows: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    for row in reader:
        if any(cell.strip() for cell in row) and not row[0].startswith("#"):
            rows.append((reader.line_num, [cell.strip() for cell in row]))
    return rows


def decode(data: bytes) -> str:
    """Text of a file: UTF-8 with or without mark, UTF-16 with its mark, else Latin-1."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def read_actions(path: str | Path) -> list[TimedAction]:
    """Read the table ``time_s,action``, in the order of time.

    Raises
    ------
    RecordError
        No such columns, a time that is no number, an empty action.
    """
    path = Path(path)
    rows = _rows(path)
    head = [cell.lower() for cell in rows[0][1]]
    if "action" not in head or not any(c in head for c in ("time_s", "time")):
        raise RecordError(
            f"the head row is {', '.join(rows[0][1])!r}",
            f"{path.name}:{rows[0][0]}",
            "the columns time_s and action",
        )
    at = head.index("time_s") if "time_s" in head else head.index("time")
    what = head.index("action")
    found: list[TimedAction] = []
    for line, row in rows[1:]:
        if len(row) <= max(at, what):
            # a decimal comma in a comma table would land here too
            raise RecordError(
                f"{len(row)} columns", f"{path.name}:{line}", f"{len(head)} columns as in the head"
            )
        try:
            time_s = float(row[at].replace(",", "."))
        except ValueError as error:
            raise RecordError(
                f"{row[at]!r} is no time", f"{path.name}:{line} time_s", "seconds, such as 12.5"
            ) from error
        if time_s != time_s or abs(time_s) == float("inf"):
            raise RecordError(
                f"{row[at]!r} is no time", f"{path.name}:{line} time_s", "seconds, such as 12.5"
            )
        action = " ".join(row[what].lower().split())
        if not action:
            raise RecordError(
                "no action", f"{path.name}:{line} action", "two words such as `key run`"
            )
        found.append(TimedAction(time_s, action))
    return sorted(found, key=lambda a: a.time_s)


def read_speeds(path: str | Path) -> list[tuple[float, float]]:
    """Read the table ``time_s,rpm`` of the diagnostic connector, in the order of time.

    Returns
    -------
    list of (time_s, rpm)
        Engine speed as the connector gave it (SAE J1979 PID 0C).

    Raises
    ------
    RecordError
        No such columns, or a value that is no number.
    """
    path = Path(path)
    rows = _rows(path)
    head = [cell.lower() for cell in rows[0][1]]
    if head[:2] not in (["time_s", "rpm"], ["time", "rpm"]) or len(rows) < 2:
        raise RecordError(
            f"the head row is {', '.join(rows[0][1])!r}",
            f"{path.name}:{rows[0][0]}",
            "the columns time_s and rpm, and rows below",
        )
    found: list[tuple[float, float]] = []
    for line, row in rows[1:]:
        try:
            time_s, rpm = (float(cell.replace(",", ".")) for cell in row[:2])
        except ValueError as error:
            raise RecordError(
                f"{', '.join(row)!r}",
                f"{path.name}:{line}",
                "seconds and revolutions a minute, such as 12.5,780",
            ) from error
        if not (math.isfinite(time_s) and 0 <= rpm <= 20_000):
            raise RecordError(
                f"{', '.join(row)!r}", f"{path.name}:{line}", "a speed of 0 to 20,000 rpm"
            )
        found.append((time_s, rpm))
    return sorted(found)


def read_wires(path: str | Path) -> dict[str, WirePlace]:
    """Read the table ``wire,place,plug,pin,colour``; all columns but the first may be missing.

    Raises
    ------
    RecordError
        No column ``wire``, or a wire that stands twice.
    """
    path = Path(path)
    rows = _rows(path)
    head = [cell.lower() for cell in rows[0][1]]
    if "wire" not in head:
        raise RecordError(
            f"the head row is {', '.join(rows[0][1])!r}",
            f"{path.name}:{rows[0][0]}",
            "the columns wire, place, plug, pin, colour",
        )
    found: dict[str, WirePlace] = {}
    for line, row in rows[1:]:
        cells = dict(zip(head, row, strict=False))
        name = cells.get("wire", "")
        if not name:
            raise RecordError("no wire", f"{path.name}:{line} wire", "the name of a column")
        if name in found:
            raise RecordError(
                f"{name!r} stands twice", f"{path.name}:{line} wire", "every wire once"
            )
        found[name] = WirePlace(
            wire=name,
            place=cells.get("place") or None,
            plug=cells.get("plug") or None,
            pin=cells.get("pin") or None,
            colour=cells.get("colour") or cells.get("color") or None,
        )
    return found
