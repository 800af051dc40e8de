"""Plain data to a record, and what is wrong with it in the words of the trade.

The models say what a record may be; this module says to a person what was found, where it stands
and what would be right.
"""

from __future__ import annotations

import difflib
import types
import typing
from collections.abc import Iterator
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from startwright.records.base import Record
from startwright.records.errors import RecordError
from startwright.records.marked import Marked, Path

R = TypeVar("R", bound=Record)

UNITS: dict[str, str] = {
    "A": "amperes",
    "mA": "milliamperes",
    "uA": "microamperes",
    "V": "volts",
    "mV": "millivolts",
    "W": "watts",
    "watt": "watts",
    "ohm": "ohms",
    "kohm": "kilohms",
    "s": "seconds",
    "ms": "milliseconds",
    "min": "minutes",
    "h": "hours",
    "m": "metres",
    "cm": "centimetres",
    "mm": "millimetres",
    "mm2": "square millimetres",
    "in": "inches",
    "ft": "feet",
    "awg": "gauge numbers",
    "AWG": "gauge numbers",
    "Ah": "ampere-hours",
    "C": "degrees Celsius",
    "F": "degrees Fahrenheit",
    "K": "kelvins",
    "rpm": "revolutions a minute",
    "Hz": "hertz",
}
"""Units that a key may end in, and their names."""


def check(model: type[R], marked: Marked, at: Path = ()) -> R:
    """The record that plain data is, or a clear error.

    Parameters
    ----------
    model : type
        The record's model.
    marked : Marked
        Plain data with lines.
    at : tuple
        Where in the data the record stands; the top by default.

    Raises
    ------
    RecordError
        The first thing that is wrong, by line; ``others`` holds the rest.
    """
    data = _reach(marked.data, at)
    if not isinstance(data, dict):
        raise RecordError(
            _shown(data), marked.where(at), "keys and values, the first of them `format`"
        )
    for _ in range(2):
        try:
            return model.model_validate(data)
        except ValidationError as error:
            found = error.errors(include_url=False)
        repaired = _numbers_as_text(data, found, marked, at)
        if repaired is None:
            break
        data = repaired
    raise _first(model, data, found, marked, at)


def _reach(data: Any, path: Path) -> Any:
    for step in path:
        data = data[step]
    return data


def _inside(data: Any, loc: tuple[str | int, ...]) -> tuple[Path, tuple[str | int, ...]]:
    """The part of a location that is in the data, without the names of alternatives; the rest."""
    path: list[str | int] = []
    rest: tuple[str | int, ...] = ()
    here: Any = data
    for n, step in enumerate(loc):
        if isinstance(here, dict):
            found = step in here
        else:
            found = isinstance(here, list) and isinstance(step, int) and step < len(here)
        if found:
            here = here[step]
            path.append(step)
        elif n == len(loc) - 1:
            rest = (step,)
    return tuple(path), rest


def _numbers_as_text(
    data: Any, found: list[Any], marked: Marked, at: Path
) -> dict[str, Any] | None:
    """The data with numbers replaced by the letters they were written with where text belongs.

    ``pin: 5`` means pin "5" and ``pin: 05`` pin "05"; `None` where there is nothing to replace.
    """
    new: dict[str, Any] | None = None
    for error in found:
        if error["type"] != "string_type":
            continue
        path, _ = _inside(data, error["loc"])
        value = _reach(data, path)
        if not path or isinstance(value, bool) or not isinstance(value, int | float):
            continue
        if new is None:
            new = _copy(data)
        holder: Any = _reach(new, path[:-1])
        holder[path[-1]] = marked.sources.get((*at, *path), f"{value}")
    return new


def _copy(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: _copy(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_copy(value) for value in data]
    return data


def _first(
    model: type[BaseModel], data: Any, found: list[Any], marked: Marked, at: Path
) -> RecordError:
    found = _without_shadows(data, found)
    told: dict[tuple[Path, str], RecordError] = {}
    lines: list[tuple[int, int, RecordError]] = []
    explained = set()
    for n, error in enumerate(sorted(found, key=lambda e: e["type"] == "missing")):
        path, rest = _inside(data, error["loc"])
        what, expected = _say(model, data, path, rest, error)
        if error["type"] == "extra_forbidden":
            explained.add((path[:-1], expected.split("`")[1] if "`" in expected else ""))
        if error["type"] == "missing" and (path, what.split("`")[1]) in explained:
            continue
        path = _below(data, path, error.get("ctx", {}).get("at", ()))
        whole = (*at, *path)
        key = (whole, what)
        if key in told:
            told[key].expected += f", or {expected}"
            continue
        told[key] = RecordError(what, marked.where(whole), expected)
        lines.append((_line(marked, whole), n, told[key]))
    lines.sort(key=lambda item: item[:2])
    errors = [RecordError(e.what, e.where, e.expected) for _, _, e in lines]
    errors[0].others = tuple(errors[1:])
    return errors[0]


def _below(data: Any, path: Path, at: tuple[str | int, ...]) -> Path:
    """The path, and what of `at` there is below it."""
    return (*path, *_inside(_reach(data, path), at)[0])


def _without_shadows(data: Any, found: list[Any]) -> list[Any]:
    """Of the alternatives a value might have been, those that got furthest into it."""
    paths = [_inside(data, error["loc"])[0] for error in found]
    return [
        error
        for error, path in zip(found, paths, strict=True)
        if not error["type"].endswith("_type")
        or not any(len(other) > len(path) and other[: len(path)] == path for other in paths)
    ]


def _line(marked: Marked, path: Path) -> int:
    while path not in marked.lines and path:
        path = path[:-1]
    return marked.lines.get(path, 0)


def _say(
    model: type[BaseModel], data: Any, path: Path, rest: tuple[str | int, ...], error: Any
) -> tuple[str, str]:
    """What was found and what would be right, for one of pydantic's errors."""
    kind, context = error["type"], error.get("ctx", {})
    value = _reach(data, path)
    key = path[-1] if path else ""
    if rest == ("[key]",):
        value = key
    if kind == "missing":
        holder = next(_models(model, path), None)
        name = str(rest[0] if rest else error["loc"][-1])
        return f"no `{name}`", _meaning(holder, name)
    if kind == "extra_forbidden":
        holder = next(_models(model, path[:-1]), None)
        return _unknown_key(str(key), holder)
    if kind == "wrong":
        return context["what"], context["expected"]
    if kind == "literal_error":
        words = _words(context["expected"])
        near = difflib.get_close_matches(str(value), words, n=1, cutoff=0.6)
        hint = f"{near[0]!r}, or another of: " if near and len(words) > 3 else ""
        return _shown(value), hint + ", ".join(words)
    return _shown(value), _KINDS.get(kind, lambda c: error["msg"])(context)


_KINDS: dict[str, Any] = {
    "string_type": lambda c: "text",
    "string_pattern_mismatch": lambda c: (
        "a name of lower-case letters, digits, '_' and '-'"
        if c.get("pattern", "").startswith("^[a-z0-9]")
        else "a name of letters, digits, '_' and '-'"
    ),
    "string_too_long": lambda c: f"at most {c['max_length']} characters",
    "too_long": lambda c: f"at most {c['max_length']} entries",
    "float_type": lambda c: "a number",
    "float_parsing": lambda c: "a number",
    "int_type": lambda c: "a whole number",
    "int_parsing": lambda c: "a whole number",
    "int_from_float": lambda c: "a whole number",
    "bool_type": lambda c: "true or false",
    "bool_parsing": lambda c: "true or false",
    "finite_number": lambda c: "a number that can be held",
    "greater_than": lambda c: f"more than {c['gt']:g}",
    "greater_than_equal": lambda c: f"{c['ge']:g} or more",
    "less_than": lambda c: f"less than {c['lt']:g}",
    "less_than_equal": lambda c: f"{c['le']:g} or less",
    "list_type": lambda c: "a list, such as [a, b]",
    "tuple_type": lambda c: "a list of two, such as [2015, 2017]",
    "dict_type": lambda c: "keys and values, such as {a: 1}",
    "model_type": lambda c: "keys and values, such as {a: 1}",
    "model_attributes_type": lambda c: "keys and values, such as {a: 1}",
    "date_type": lambda c: "a date such as 2026-03-02",
    "date_parsing": lambda c: "a date such as 2026-03-02",
    "date_from_datetime_parsing": lambda c: "a date such as 2026-03-02",
    "date_from_datetime_inexact": lambda c: "a date such as 2026-03-02",
}


def _words(expected: str) -> list[str]:
    return [word.strip().strip("'") for word in expected.replace(" or ", ", ").split(", ")]


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return repr(value if len(value) <= 60 else value[:57] + "…")
    if isinstance(value, dict):
        return "keys and values"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    return f"{value}"


def _unknown_key(key: str, holder: type[BaseModel] | None) -> tuple[str, str]:
    allowed = keys_of(holder) if holder is not None else []
    base, unit = _split(key)
    for other in allowed:
        other_base, other_unit = _split(other)
        if other_unit and other_base.lower() == base.lower() and unit != other_unit:
            said = f"in {UNITS[unit]}" if unit else "without its unit"
            return f"the key `{key}`, {said}", f"`{other}`, in {UNITS[other_unit]}"
    near = difflib.get_close_matches(key, allowed, n=1, cutoff=0.6)
    shown = key if len(key) <= 60 else key[:57] + "…"
    if near:
        return f"the unknown key `{shown}`", _meaning(holder, near[0])
    return (
        f"the unknown key `{shown}`",
        f"one of {', '.join(allowed)}" if allowed else "no key here",
    )


def _split(key: str) -> tuple[str, str]:
    base, _, unit = key.rpartition("_")
    return (base, unit) if base and unit in UNITS else (key, "")


def keys_of(model: type[BaseModel]) -> list[str]:
    """The keys of a record as they are written."""
    return [field.alias or name for name, field in model.model_fields.items()]


def _meaning(holder: type[BaseModel] | None, key: str) -> str:
    from startwright.records.keys import meaning

    said = meaning(holder.__name__, key) if holder is not None else ""
    return f"`{key}`: {said}" if said else f"`{key}`"


def _models(model: Any, path: Path) -> Iterator[type[BaseModel]]:
    """The models that may stand at a path."""
    candidates = [model]
    for step in path:
        below: list[Any] = []
        for candidate in candidates:
            for kind in alternatives(candidate):
                origin, arguments = typing.get_origin(kind), typing.get_args(kind)
                if isinstance(step, int) and origin in (list, tuple):
                    below.append(arguments[0])
                elif isinstance(step, str) and origin is dict:
                    below.append(arguments[1])
                elif isinstance(kind, type) and issubclass(kind, BaseModel):
                    for name, field in kind.model_fields.items():
                        if (field.alias or name) == step or name == step:
                            below.append(field.annotation)
        candidates = below
    for candidate in candidates:
        for kind in alternatives(candidate):
            if isinstance(kind, type) and issubclass(kind, BaseModel):
                yield kind


def alternatives(kind: Any) -> list[Any]:
    """The kinds that an annotation allows, without `Annotated` and `|`."""
    origin = typing.get_origin(kind)
    if origin is typing.Annotated:
        return alternatives(typing.get_args(kind)[0])
    if origin in (typing.Union, types.UnionType):
        return [one for part in typing.get_args(kind) for one in alternatives(part)]
    return [kind]
