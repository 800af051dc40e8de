"""Text to plain data, with the line of every value: YAML 1.2 (core schema) and JSON.

Nothing here knows a record. Size, nesting, aliases and tags are capped while reading, before
anything is built from them, so that no file can make the reader run away.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass, field
from typing import Any

from startwright.records.errors import RecordError

MOST_BYTES = 2 * 1024 * 1024
MOST_DEPTH = 32
MOST_ALIASES = 100
MOST_VALUES = 200_000

Path = tuple[str | int, ...]

_INT = re.compile(r"^[-+]?[0-9]+$")
_OCTAL = re.compile(r"^0o[0-7]+$")
_HEX = re.compile(r"^0x[0-9a-fA-F]+$")
_FLOAT = re.compile(r"^[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$")
_NOT_A_NUMBER = re.compile(r"^([-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN))$")
_NULL = frozenset({"", "~", "null", "Null", "NULL"})
_TRUE = frozenset({"true", "True", "TRUE"})
_FALSE = frozenset({"false", "False", "FALSE"})


@dataclass
class Marked:
    """Plain data with where each value stands.

    Attributes
    ----------
    name : str
        What to call the text in an error (a file name).
    data : Any
        Mappings, lists, strings, numbers, booleans, None.
    lines : dict
        Line (from 1) of each value, by path from the top.
    sources : dict
        The letters a number was written with, by path.
    """

    name: str
    data: Any = None
    lines: dict[Path, int] = field(default_factory=dict)
    sources: dict[Path, str] = field(default_factory=dict)
    text: str | None = None

    def where(self, path: Path = ()) -> str:
        """``file:line path`` of a value, as an error says it."""
        if self.text is not None and not self.lines:
            self._find_lines()
        known = path
        while known not in self.lines and known:
            known = known[:-1]
        line = self.lines.get(known)
        place = self.name if line is None else f"{self.name}:{line}"
        return f"{place} {spell(path)}".rstrip()

    def _find_lines(self) -> None:
        """Lines of a JSON text, which is YAML too; without them where it is not."""
        assert self.text is not None
        try:
            self.lines = from_yaml(self.text, self.name).lines
        except RecordError:
            self.lines = {(): 1}


def spell(path: Path) -> str:
    """``circuits[3].size_mm2`` for a path."""
    out = ""
    for step in path:
        if isinstance(step, int):
            out += f"[{step}]"
        else:
            out += f".{step}" if out else str(step)
    return out if len(out) <= 200 else out[:197] + "…"


def decode(raw: bytes, name: str) -> str:
    """Bytes to text: UTF-8 (with or without mark) or marked UTF-16; any line ends.

    Raises
    ------
    RecordError
        Where there are too many bytes, or they are no text.
    """
    if len(raw) > MOST_BYTES:
        raise RecordError(f"more than {MOST_BYTES // 1024} KiB", name, "a smaller file")
    try:
        if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
            text = raw.decode("utf-16")
        else:
            text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise RecordError("bytes that are no UTF-8 text", f"{name}:{line}", "a text file") from None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\x00" in text:
        line = text[: text.index("\x00")].count("\n") + 1
        raise RecordError("a zero byte", f"{name}:{line}", "a text file")
    return text


def load(text: str, name: str, *, as_json: bool) -> Marked:
    """Plain data of a text.

    Raises
    ------
    RecordError
        Where the text is no YAML 1.2 or JSON, or goes beyond the caps.
    """
    if len(text) > MOST_BYTES:
        raise RecordError(f"more than {MOST_BYTES // 1024} KiB", name, "a smaller file")
    return from_json(text, name) if as_json else from_yaml(text, name)


def _too_deep(where: str) -> RecordError:
    return RecordError(
        f"values nested more than {MOST_DEPTH} deep", where, "a record, which is shallow"
    )


def _too_many(where: str) -> RecordError:
    return RecordError(f"more than {MOST_VALUES} values", where, "a smaller record")


# -- JSON -----------------------------------------------------------------------------------------


def from_json(text: str, name: str) -> Marked:
    """Plain data of a JSON text; lines are found when an error asks for them."""

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        seen: dict[str, Any] = {}
        for key, value in pairs:
            if key in seen:
                raise RecordError(f"the key `{key}` twice", name, "each key once")
            seen[key] = value
        return seen

    def number(source: str) -> float:
        value = float(source)
        if not math.isfinite(value):
            raise RecordError(f"{source}", name, "a number that can be held")
        return value

    def integer(source: str) -> int:
        if len(source) > 30:
            raise RecordError(f"a number of {len(source)} digits", name, "a number of use")
        return int(source)

    def constant(source: str) -> float:
        raise RecordError(source, name, "a number; NaN and Infinity are none")

    try:
        data = json.loads(
            text,
            object_pairs_hook=once,
            parse_float=number,
            parse_int=integer,
            parse_constant=constant,
        )
    except RecursionError:
        raise _too_deep(name) from None
    except json.JSONDecodeError as error:
        raise RecordError(
            f"no JSON ({error.msg})", f"{name}:{error.lineno}", "a JSON text"
        ) from None
    _measure(data, name)
    return Marked(name, data, text=text)


def _measure(data: Any, name: str) -> None:
    level, count = [data], 0
    for depth in range(MOST_DEPTH + 2):
        count += len(level)
        if count > MOST_VALUES:
            raise _too_many(name)
        below: list[Any] = []
        for value in level:
            if isinstance(value, dict):
                below.extend(value.values())
            elif isinstance(value, list):
                below.extend(value)
        if not below:
            return
        if depth >= MOST_DEPTH:
            raise _too_deep(name)
        level = below


# -- YAML -----------------------------------------------------------------------------------------


@dataclass
class _Open:
    """A mapping or list that is being filled."""

    value: Any
    path: Path
    anchor: str | None
    key: str | None = None
    weight: int = 1

    def next_path(self) -> Path:
        if isinstance(self.value, list):
            return (*self.path, len(self.value))
        return self.path if self.key is None else (*self.path, self.key)


def from_yaml(text: str, name: str) -> Marked:
    """Plain data of a YAML 1.2 text, by the core schema: ``yes``, ``off`` and dates are text."""
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    marked = Marked(name)
    builder = _Builder(marked)
    try:
        for event in YAML(typ="safe", pure=True).parse(text):
            builder.take(event)
    except RecordError:
        raise
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = f":{mark.line + 1}" if mark is not None else ""
        problem = " ".join(str(error.problem or error.context or "not readable").split())
        raise RecordError(
            f"no YAML ({problem})", f"{name}{line}", "a YAML text (a tab does not indent)"
        ) from None
    except YAMLError as error:
        problem = " ".join(str(error).split())[:200]
        raise RecordError(f"no YAML ({problem})", name, "a YAML text") from None
    except (
        Exception
    ) as error:  # the parser trips over some broken texts; whatever it says, it is no YAML
        raise RecordError(f"no YAML ({type(error).__name__})", name, "a YAML text") from None
    return marked


class _Builder:
    """Builds plain data from parser events, within the caps."""

    def __init__(self, marked: Marked) -> None:
        self.marked = marked
        self.stack: list[_Open] = []
        self.anchors: dict[str, tuple[Any, int]] = {}
        self.open_anchors: set[str] = set()
        self.aliases = 0
        self.values = 0
        self.documents = 0

    def take(self, event: Any) -> None:
        """One event of the parser."""
        kind = type(event).__name__
        line = event.start_mark.line + 1
        if kind == "ScalarEvent":
            self._scalar(event, line)
        elif kind in ("MappingStartEvent", "SequenceStartEvent"):
            self._open(event, {} if kind == "MappingStartEvent" else [], line)
        elif kind in ("MappingEndEvent", "SequenceEndEvent"):
            self._close()
        elif kind == "AliasEvent":
            self._alias(event, line)
        elif kind == "DocumentStartEvent":
            self.documents += 1
            if self.documents > 1:
                raise RecordError("a second document", self._at(line), "one record in a file")

    def _at(self, line: int, path: Path = ()) -> str:
        return f"{self.marked.name}:{line} {spell(path)}".rstrip()

    def _path(self) -> Path:
        return self.stack[-1].next_path() if self.stack else ()

    def _waits_for_key(self) -> bool:
        return (
            bool(self.stack)
            and isinstance(self.stack[-1].value, dict)
            and (self.stack[-1].key is None)
        )

    def _no_tag(self, event: Any, line: int) -> None:
        tag = getattr(event, "tag", None)
        if tag is not None:
            raise RecordError(f"the tag {str(tag)!r}", self._at(line, self._path()), "no tags")

    def _count(self, weight: int, line: int) -> None:
        self.values += weight
        if self.values > MOST_VALUES:
            raise _too_many(self._at(line))

    def _scalar(self, event: Any, line: int) -> None:
        self._no_tag(event, line)
        self._count(1, line)
        if self._waits_for_key():
            self._key(event.value, line)
            if event.anchor:
                self.anchors[event.anchor] = (event.value, 1)
            return
        path = self._path()
        plain = bool(event.implicit and event.implicit[0]) and event.style in (None, "")
        value = _scalar(event.value, self._at(line, path)) if plain else event.value
        if plain and not isinstance(value, str):
            self.marked.sources[path] = event.value
        self.marked.lines[path] = line
        if event.anchor:
            self.anchors[event.anchor] = (value, 1)
        self._put(value, 1)

    def _key(self, key: str, line: int) -> None:
        top = self.stack[-1]
        if key in top.value:
            first = self.marked.lines.get((*top.path, key))
            also = f", first on line {first}" if first else ""
            raise RecordError(
                f"the key `{key}` twice{also}", self._at(line, top.path), "each key once"
            )
        top.key = key
        self.marked.lines[(*top.path, key)] = line

    def _open(self, event: Any, value: Any, line: int) -> None:
        self._no_tag(event, line)
        self._count(1, line)
        if self._waits_for_key():
            raise RecordError(
                "a list or mapping as a key", self._at(line, self._path()), "a word as the key"
            )
        if len(self.stack) >= MOST_DEPTH:
            raise _too_deep(self._at(line))
        path = self._path()
        self.marked.lines.setdefault(path, line)
        if event.anchor:
            self.open_anchors.add(event.anchor)
        self.stack.append(_Open(value, path, event.anchor))

    def _close(self) -> None:
        done = self.stack.pop()
        if done.anchor:
            self.open_anchors.discard(done.anchor)
            self.anchors[done.anchor] = (done.value, done.weight)
        self._put(done.value, done.weight)

    def _alias(self, event: Any, line: int) -> None:
        self.aliases += 1
        where = self._at(line, self._path())
        if self.aliases > MOST_ALIASES:
            raise RecordError(f"more than {MOST_ALIASES} aliases", where, "values written out")
        if event.anchor in self.open_anchors:
            raise RecordError(f"*{event.anchor} inside itself", where, "values written out")
        if event.anchor not in self.anchors:
            raise RecordError(f"*{event.anchor}, which nothing is called", where, "an anchor above")
        value, weight = self.anchors[event.anchor]
        self._count(weight, line)
        if self._waits_for_key():
            if not isinstance(value, str):
                raise RecordError("a list or mapping as a key", where, "a word as the key")
            self._key(value, line)
            return
        self.marked.lines[self._path()] = line
        self._put(value, weight)

    def _put(self, value: Any, weight: int) -> None:
        if not self.stack:
            self.marked.data = value
            return
        top = self.stack[-1]
        top.weight += weight
        if isinstance(top.value, list):
            top.value.append(value)
        else:
            assert top.key is not None
            top.value[top.key] = value
            top.key = None


def _scalar(text: str, where: str) -> Any:
    """A plain scalar by YAML 1.2's core schema (YAML 1.2.2, 10.3.2 "Tag Resolution")."""
    if text in _NULL:
        return None
    if text in _TRUE:
        return True
    if text in _FALSE:
        return False
    for pattern, base in ((_INT, 10), (_OCTAL, 8), (_HEX, 16)):
        if pattern.match(text):
            if len(text) > 30:
                raise RecordError(f"a number of {len(text)} digits", where, "a number of use")
            return int(text if base == 10 else text[2:], base)
    if _NOT_A_NUMBER.match(text):
        raise RecordError(text, where, "a number; .nan and .inf are none")
    if _FLOAT.match(text):
        value = float(text)
        if not math.isfinite(value):
            raise RecordError(text, where, "a number that can be held")
        return value
    return text
