"""Tables of numbers as scopes and loggers write them.

Comma, semicolon, tab or spaces; point or decimal comma; heads, units rows and metadata lines
above, or nothing above; with a byte-order mark or without; seconds, milliseconds, or a count of
samples with the rate in a metadata line.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

import numpy as np

from startwright.records.errors import RecordError
from startwright.records.recordings.model import MOST_WIRES, Recording, checked

SNIFF_characters = 200_000
CHUNK_rows = 100_000
LARGEST = 3e38
"""Single precision ends here."""

_SHAPES = ((";", ","), (";", "."), ("\t", ","), ("\t", "."), (",", "."), ("|", "."), (None, "."))
"""Delimiter and decimal mark, in the order in which they are tried; None is runs of blanks."""

_TIME_SCALE = {"s": 1.0, "sec": 1.0, "secs": 1.0, "second": 1.0, "seconds": 1.0,
               "ms": 1e-3, "msec": 1e-3, "millisecond": 1e-3, "milliseconds": 1e-3,
               "us": 1e-6, "µs": 1e-6, "μs": 1e-6, "usec": 1e-6, "microseconds": 1e-6,
               "ns": 1e-9, "min": 60.0}  # fmt: skip
_VOLT_SCALE = {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": 1e-3, "millivolts": 1e-3,
               "uv": 1e-6, "µv": 1e-6, "kv": 1e3}  # fmt: skip
_COUNT_HEADS = {"sample", "samples", "index", "n", "nr", "no", "no.", "#", "point", "points", "i"}
_TIME_HEADS = {"time", "t", "x-axis", "x", "seconds", "elapsed"}
_UNIT = re.compile(r"^(?P<name>.*?)\s*[\(\[/]\s*(?P<unit>[^\)\]/\s]+)\s*[\)\]]?\s*$")
_RATE = re.compile(
    r"(?:sampl\w*[\s_]*(?:rate|freq\w*)|rate|frequency)\D*?"
    r"(?P<value>\d[\d.,]*(?:e[+-]?\d+)?)\s*(?P<prefix>[kKM]?)(?:S/s|Sa/s|Hz|samples)?",
    re.IGNORECASE,
)
_STEP = re.compile(
    r"(?:increment|interval|sampl\w*[\s_]*(?:period|time|interval)|delta|dt|tstep)\D*?"
    r"(?P<value>\d[\d.,]*(?:e[+-]?\d+)?)\s*[,;\t ]*[\"(\[]?(?P<unit>[munµμ]?s)?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class _Layout:
    """How a table is written, as told from its first lines."""

    delimiter: str | None
    decimal: str
    first_row: int
    """Lines above the first row of numbers."""
    heads: list[str]
    units: list[str]
    metadata: list[str]
    columns: int
    trailing: bool
    """Whether every row ends in a delimiter."""
    hollow: tuple[int, ...] = ()
    """Columns with a head and nothing below it."""


def _split(line: str, delimiter: str | None) -> list[str]:
    cells = line.split() if delimiter is None else line.split(delimiter)
    return [cell.strip().strip('"').strip() for cell in cells]


def _numbers(line: str, delimiter: str | None, decimal: str) -> int:
    """How many numbers the line holds; 0 if anything else stands in it."""
    cells = _split(line, delimiter)
    if len(cells) > 1 and cells[-1] == "":
        cells.pop()
    try:
        for cell in cells:
            if decimal == ",":
                if "." in cell:
                    return 0
                cell = cell.replace(",", ".")
            float(cell)
    except ValueError:
        return 0
    return len(cells)


def _shape(lines: list[str], where: str) -> tuple[str | None, str, int]:
    """Delimiter, decimal mark and column count that most of the lines agree with."""
    tail = lines[-60:] if len(lines) > 120 else lines[len(lines) // 3 :]
    best: tuple[int, str | None, str, int] = (0, None, ".", 0)
    for delimiter, decimal in _SHAPES:
        counts = [_numbers(line, delimiter, decimal) for line in tail]
        usual = max(set(counts), key=lambda n: (counts.count(n) if n > 1 else 0, n))
        agreeing = counts.count(usual) if usual > 1 else 0
        if agreeing > best[0]:
            best = (agreeing, delimiter, decimal, usual)
    if best[0] == 0:
        raise RecordError(
            "no table of numbers found",
            where,
            "rows of a time and one voltage a wire, with commas, semicolons or tabs between",
        )
    return best[1], best[2], best[3]


def _layout(text: str, whole: bool, where: str) -> _Layout:
    lines = text.splitlines()
    if not whole and len(lines) > 1:
        lines.pop()  # cut in two by the end of the look-ahead
    filled = [line for line in lines if line.strip()]
    if not filled:
        raise RecordError("the file holds no text", where, "a table of numbers")
    unused = _hollow(filled)
    if unused is not None:
        lines = [_without(line, *unused).rstrip("\n") for line in lines]
        filled = [line for line in lines if line.strip()]
    delimiter, decimal, columns = _shape(filled, where)
    first = next(i for i, line in enumerate(lines) if _numbers(line, delimiter, decimal) == columns)
    sample = lines[first]
    trailing = delimiter is not None and sample.rstrip(" \r\n").endswith(delimiter)
    if trailing and any(_numbers(line, delimiter, decimal) == columns + 1 for line in filled):
        # what looks like a delimiter at the end of most rows is an empty last cell
        columns, trailing = columns + 1, False
        first = next(i for i, x in enumerate(lines) if _numbers(x, delimiter, decimal) == columns)
    above = lines[:first]
    last = max((i for i, line in enumerate(above) if line.strip()), default=-1)
    found = _numbers(above[last], delimiter, decimal) if last >= 0 else 0
    if 2 <= found < columns and len(_split(above[last], delimiter)) != columns:
        raise RecordError(
            f"{found} columns", f"{where}:{last + 1}", f"{columns} columns as in the rows below"
        )
    heads, units = _heads(above, delimiter, columns, trailing)
    if len(heads) == columns and _some_number(heads[0], decimal):
        line = max(i for i, text in enumerate(above) if text.strip()) + 1
        raise RecordError("a row with something that is no number", f"{where}:{line}", "numbers")
    hollow = unused[1] if unused is not None and unused[0] == delimiter else ()
    return _Layout(delimiter, decimal, first, heads, units, above, columns, trailing, hollow)


def _hollow(lines: list[str]) -> tuple[str, tuple[int, ...]] | None:
    """The delimiter, and the columns that hold nothing in any of the later rows; None for none."""
    tail = lines[-60:] if len(lines) > 120 else lines[len(lines) // 3 + 1 :]
    for delimiter in (";", "\t", ",", "|"):
        rows = [_split(line, delimiter) for line in tail]
        width = len(rows[-1]) if rows else 0
        rows = [row for row in rows if len(row) == width]
        if width < 3 or 2 * len(rows) < len(tail):
            continue
        empty = tuple(i for i in range(1, width - 1) if not any(row[i] for row in rows))
        if empty:
            return delimiter, empty
    return None


def _without(line: str, delimiter: str, hollow: tuple[int, ...]) -> str:
    """The line without its empty columns; as it is where it has not so many."""
    cells = line.rstrip("\r\n").split(delimiter)
    if len(cells) <= hollow[-1] + 1:
        return line
    return delimiter.join(c for i, c in enumerate(cells) if i not in hollow) + "\n"


def _heads(
    above: list[str], delimiter: str | None, columns: int, trailing: bool
) -> tuple[list[str], list[str]]:
    """The head row and the units row, if there are any, from the lines above the numbers."""
    rows: list[list[str]] = []
    for line in reversed(above):
        if not line.strip():
            if rows:
                break
            continue
        cells = _split(line.lstrip("#% \t"), delimiter)
        if len(cells) == columns + 1 and (trailing or cells[-1] == ""):
            cells.pop()
        if len(cells) != columns or len(rows) == 2:
            break
        rows.append(cells)
    if not rows:
        return [], []
    if len(rows) == 2 and _are_units(rows[0]):
        return rows[1], [cell.strip("()[] ").lower() for cell in rows[0]]
    if _are_units(rows[0]) and any(c.strip("()[] ") for c in rows[0]):
        return [], [cell.strip("()[] ").lower() for cell in rows[0]]
    return rows[0], []


def _some_number(cell: str, decimal: str) -> bool:
    """Whether the first cell of what should be heads is a number: then it is a broken row."""
    try:
        float(cell.replace(",", ".") if decimal == "," else cell)
    except ValueError:
        return False
    return True


def _are_units(cells: list[str]) -> bool:
    bare = [cell.strip("()[] ").lower() for cell in cells]
    known = {**_TIME_SCALE, **_VOLT_SCALE, "": 1.0, "-": 1.0, "hz": 1.0}
    return all(cell in known for cell in bare) and any(bare[1:])


def _value(text: str) -> float:
    return float(text.rstrip(".,").replace(",", "."))


def _step_s(metadata: list[str]) -> float | None:
    """Seconds from sample to sample as a metadata line says, by rate or by step."""
    for line in metadata:
        found = _STEP.search(line)
        if found:
            unit = (found.group("unit") or "s").lower()
            value = _value(found.group("value"))
            if value > 0:
                return value * _TIME_SCALE.get(unit, 1.0)
        found = _RATE.search(line)
        if found:
            value = _value(found.group("value"))
            prefix = {"k": 1e3, "K": 1e3, "M": 1e6}.get(found.group("prefix"), 1.0)
            if value > 0:
                return 1.0 / (value * prefix)
    return None


def _named(head: str) -> tuple[str, str | None]:
    """A head as name and unit: ``CH1 (mV)`` is ``CH1`` in millivolts."""
    found = _UNIT.match(head)
    if found and found.group("name"):
        unit = found.group("unit").lower()
        if unit in _TIME_SCALE or unit in _VOLT_SCALE:
            return found.group("name").strip(), unit
    return head, None


def _time_scale(layout: _Layout, name: str, unit: str | None) -> float | None:
    """Seconds in one step of the time column, or None where it counts samples."""
    said = (layout.units[0] if layout.units else None) or unit
    if said in _TIME_SCALE:
        return _TIME_SCALE[said]
    words = re.split(r"[_\s]+", name.lower())
    if words[-1] in _TIME_SCALE and (len(words) > 1 or words[-1] not in {"min"}):
        return _TIME_SCALE[words[-1]]
    if name.lower().strip(" .:") in _COUNT_HEADS or words[0] in _COUNT_HEADS:
        return None
    return 1.0


def _lines(file: TextIO, layout: _Layout) -> Iterator[str]:
    """The rows as text that a plain reader of numbers takes."""
    cut = layout.delimiter if layout.trailing else None
    for line in file:
        if layout.hollow and layout.delimiter is not None:
            cells = line.split(layout.delimiter)
            if any(i < len(cells) and cells[i].strip(' "\r\n') for i in layout.hollow):
                raise ValueError("a value in an empty column")
            line = _without(line, layout.delimiter, layout.hollow)
        if layout.decimal == ",":
            line = line.replace(",", ".")
        if cut is not None:
            line = line.rstrip().removesuffix(cut)
        yield line


def _encoding(path: Path) -> str:
    with path.open("rb") as file:
        head = file.read(SNIFF_characters)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    if b"\x00" in head:
        raise RecordError(
            "bytes that are no text", path.name, "a CSV, VCD, sigrok session or WAV file"
        )
    try:
        head.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # a character cut in two by the end of the look-ahead is no sign of another encoding
        return "utf-8-sig" if error.start > len(head) - 4 else "latin-1"
    return "utf-8-sig"


def read_delimited(path: Path, *, rate_hz: float | None = None) -> Recording:
    """Read a table of numbers; the first column is time or a count of samples.

    Parameters
    ----------
    path : Path
        The file.
    rate_hz : float, optional
        Samples per second, where the table counts samples and does not say how fast.

    Raises
    ------
    RecordError
        With the line of the first row that cannot be used.
    """
    where = path.name
    encoding = _encoding(path)
    with path.open(encoding=encoding, errors="replace", newline=None) as file:
        text = file.read(SNIFF_characters)
        whole = len(text) < SNIFF_characters
    layout = _layout(text, whole, where)
    if layout.columns - 1 > MOST_WIRES:
        raise RecordError(f"{layout.columns - 1} wires", where, f"at most {MOST_WIRES}")
    times, volts = _load(path, encoding, layout)
    if not (np.isfinite(times).all() and np.isfinite(volts).all()):
        raise _broken(path, encoding, layout)

    heads = layout.heads or ["time_s", *(f"ch{i}" for i in range(1, layout.columns))]
    first_name, first_unit = _named(heads[0])
    names: list[str] = []
    for i, head in enumerate(heads[1:], start=1):
        name, unit = _named(head)
        unit = (layout.units[i] if layout.units else None) or unit
        names.append(name or f"ch{i}")
        scale = _VOLT_SCALE.get(unit or "v", 1.0)
        if scale != 1.0:
            volts[:, i - 1] *= scale

    notes: list[str] = []
    if layout.hollow:
        told = ", ".join(str(i + 1) for i in layout.hollow)
        notes.append(f"nothing in column {told}: left out")
    if layout.trailing and any(
        len(cells) == layout.columns + 1 and cells[-1]
        for cells in (_split(line, layout.delimiter) for line in layout.metadata)
    ):
        notes.append(f"nothing in column {layout.columns + 1}: left out")
    scale_s = _time_scale(layout, first_name, first_unit)
    counted = bool(len(times) > 2 and np.all(np.diff(times[:1000]) == 1.0))
    if not layout.heads and not layout.units and counted:
        scale_s = None
    if scale_s is None:
        step_s = 1.0 / rate_hz if rate_hz else _step_s(layout.metadata)
        if step_s is None and counted:
            raise RecordError(
                f"the column {first_name!r} counts samples and no line says how fast",
                where,
                "a line such as `Sample rate: 1000 Hz` above the table, or seconds in time_s",
            )
        if step_s is None:
            scale_s = 1.0
        else:
            times = times * step_s
            notes.append(f"time from the count of samples, {1 / step_s:g} a second")
    if scale_s is not None and scale_s != 1.0:
        times = times * scale_s
    times = _spread(times, notes)
    return checked(where, times, volts, names, notes=tuple(notes))


def _spread(
    times: np.ndarray[tuple[int], np.dtype[np.float64]], notes: list[str]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Times that were rounded until several rows share one, laid evenly between the rounded ones.

    A time that falls is left as it is, for `checked` to refuse.
    """
    steps = np.diff(times)
    if len(times) < 3 or not np.isfinite(times).all() or (steps < 0).any() or (steps > 0).all():
        return times
    first = np.flatnonzero(np.concatenate([[True], steps > 0]))
    most = int(np.diff(np.append(first, len(times))).max())
    if len(first) < 3 or most > 1000:
        return times
    usual = float(np.median(np.diff(times[first])))
    ends = np.append(times[first], times[first[-1]] + usual)
    notes.append(f"times rounded so that up to {most} rows share one: laid evenly between")
    return np.asarray(np.interp(np.arange(len(times)), np.append(first, len(times)), ends))


def _load(
    path: Path, encoding: str, layout: _Layout
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]],
           np.ndarray[tuple[int, int], np.dtype[np.float32]]]:  # fmt: skip
    """Read the numbers in pieces, volts kept at single precision."""
    times: list[np.ndarray[tuple[int], np.dtype[np.float64]]] = []
    volts: list[np.ndarray[tuple[int, int], np.dtype[np.float32]]] = []
    plain = layout.decimal == "." and not layout.trailing and not layout.hollow
    with path.open(encoding=encoding, errors="replace", newline=None) as file:
        for _ in range(layout.first_row):
            file.readline()
        source: TextIO | Iterator[str] = file if plain else _lines(file, layout)
        try:
            while True:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore", UserWarning)  # "input contained no data"
                    piece = np.loadtxt(
                        source,
                        delimiter=layout.delimiter,
                        max_rows=CHUNK_rows,
                        ndmin=2,
                        quotechar='"',
                        comments="#",
                    )
                if piece.shape[0] == 0:
                    break
                if piece.shape[1] != layout.columns:
                    raise ValueError("the number of columns changed")
                times.append(piece[:, 0].copy())
                volts.append(piece[:, 1:].astype(np.float32))
        except (ValueError, StopIteration) as error:
            raise _broken(path, encoding, layout) from error
    if not times:
        raise RecordError("no row of numbers", path.name, "a table of numbers")
    return np.concatenate(times), np.concatenate(volts)


def _broken(path: Path, encoding: str, layout: _Layout) -> RecordError:
    """The first row that cannot be used, in words."""
    with path.open(encoding=encoding, errors="replace", newline=None) as file:
        for number, line in enumerate(file, start=1):
            if number <= layout.first_row or not line.strip() or line.startswith("#"):
                continue
            cells = _split(line, layout.delimiter)
            for i in layout.hollow:
                if i < len(cells) and cells[i]:
                    return RecordError(
                        repr(cells[i][:40]), f"{path.name}:{number} column {i + 1}",
                        "nothing, as in the other rows of this column",
                    )  # fmt: skip
            if layout.hollow and layout.delimiter is not None:
                cells = _split(_without(line, layout.delimiter, layout.hollow), layout.delimiter)
            if layout.trailing and cells and cells[-1] == "":
                cells.pop()
            where = f"{path.name}:{number}"
            if len(cells) != layout.columns:
                return RecordError(
                    f"{len(cells)} columns", where, f"{layout.columns} columns as in the rows above"
                )
            for column, cell in enumerate(cells, start=1):
                try:
                    value = float(cell.replace(",", ".") if layout.decimal == "," else cell)
                except ValueError:
                    value = float("nan")
                if not abs(value) < LARGEST:
                    found = f"{cell[:40]!r}, which is no number" if cell else "an empty cell"
                    return RecordError(found, f"{where} column {column}", "a number")
    return RecordError("a row that is no row of numbers", path.name, "a table of numbers")
