"""Value change dumps, IEEE 1364-2005 clause 18: bits, vectors and reals over ticks."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from startwright.records.errors import RecordError
from startwright.records.recordings.model import Recording, checked
from startwright.records.recordings.sigrok import LOGIC_HIGH_V

MOST_samples = 2_000_000
"""Changes are laid on an even grid of at most this many samples."""

_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "ps": 1e-12, "fs": 1e-15}
_SCALE = re.compile(r"^(1|10|100)\s*(s|ms|us|ns|ps|fs)$")


@dataclass
class _Wire:
    name: str
    real: bool
    width: int
    ticks: list[int] = field(default_factory=list)
    values: list[float] = field(default_factory=list)


def _bit(char: str) -> float:
    """Volts of one bit; ``x`` and ``z`` are given as not a number and held from before."""
    return {"0": 0.0, "1": LOGIC_HIGH_V}.get(char, float("nan"))


def read_vcd(path: Path) -> Recording:
    """Read a value change dump onto an even time grid.

    Reals are volts. A bit is given as 0 V or 12 V and named in ``logic``. A vector is given as
    its whole number in volts. What is unknown (``x``, ``z``) holds the value before.

    Raises
    ------
    RecordError
        No time scale, no variables, a change of a variable that was never declared, time that
        runs backwards, a value that is none.
    """
    where = path.name
    wires: dict[str, list[_Wire]] = {}
    order: list[_Wire] = []
    scale_s: float | None = None
    tick = 0
    last_tick = 0
    first_tick: int | None = None
    scope: list[str] = []
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        number = 0
        pending: list[str] | None = None
        for line in file:
            number += 1
            tokens = line.split()
            i = 0
            while i < len(tokens):
                token = tokens[i]
                i += 1
                if pending is not None:
                    if token == "$end":
                        scale_s = _declare(
                            pending, wires, order, scope, scale_s, f"{where}:{number}"
                        )
                        pending = None
                    else:
                        pending.append(token)
                elif token[0] == "$":
                    # the dump's own brackets hold value changes; every other section is a
                    # declaration that runs to its $end
                    if token not in ("$dumpvars", "$dumpall", "$dumpon", "$dumpoff", "$end"):
                        pending = [token]
                elif token[0] == "#":
                    try:
                        tick = int(token[1:])
                    except ValueError as error:
                        raise RecordError(
                            f"{token!r} is no time", f"{where}:{number}", "# and a whole number"
                        ) from error
                    if tick < last_tick:
                        raise RecordError(
                            f"time runs backwards to {tick}", f"{where}:{number}", "rising times"
                        )
                    last_tick = tick
                    first_tick = tick if first_tick is None else first_tick
                elif token[0] in "01xXzZ":
                    _change(wires, token[1:], _bit(token[0]), tick, f"{where}:{number}")
                elif token[0] in "rRbB":
                    if i >= len(tokens):
                        raise RecordError(
                            f"{token!r} without a variable", f"{where}:{number}", "value and name"
                        )
                    _change(wires, tokens[i], _number(token, f"{where}:{number}"), tick,
                            f"{where}:{number}")  # fmt: skip
                    i += 1
                else:
                    raise RecordError(
                        f"{token[:40]!r} is no value change", f"{where}:{number}", "a value change"
                    )
        if pending is not None:
            raise RecordError(
                f"the file ends inside {pending[0]}", f"{where}:{number}", "a closing $end"
            )
    if scale_s is None:
        raise RecordError("no $timescale", where, "a time scale such as `1 us`")
    if not order:
        raise RecordError("no variables", where, "at least one $var")
    return _gridded(order, scale_s, first_tick or 0, last_tick, where)


def _declare(
    section: list[str],
    wires: dict[str, list[_Wire]],
    order: list[_Wire],
    scope: list[str],
    scale_s: float | None,
    where: str,
) -> float | None:
    """Take one declaration; gives back the time scale, new or as it was."""
    word, rest = section[0], section[1:]
    if word == "$timescale":
        found = _SCALE.match(" ".join(rest).replace("  ", " ")) or _SCALE.match("".join(rest))
        if not found:
            raise RecordError(
                f"time scale {' '.join(rest)!r}", where, "1, 10 or 100 and s, ms, us, ns, ps or fs"
            )
        return int(found.group(1)) * _UNITS[found.group(2)]
    if word == "$scope" and len(rest) >= 2:
        scope.append(rest[1])
    elif word == "$upscope" and scope:
        scope.pop()
    elif word == "$var":
        if len(rest) < 4 or not rest[1].isdigit():
            raise RecordError(f"$var {' '.join(rest)}", where, "kind, width, identifier and name")
        name = " ".join(rest[3:])
        if any(w.name == name for w in order):
            name = ".".join([*scope, name])
        wire = _Wire(name, rest[0] in ("real", "realtime"), int(rest[1]))
        wires.setdefault(rest[2], []).append(wire)
        order.append(wire)
    return scale_s


def _number(token: str, where: str) -> float:
    text = token[1:]
    try:
        if token[0] in "rR":
            return float(text)
        if set(text.lower()) & {"x", "z"}:
            return float("nan")
        return float(int(text, 2))
    except ValueError as error:
        raise RecordError(
            f"{token!r} is no value", where, "r and a number, or b and bits"
        ) from error


def _change(wires: dict[str, list[_Wire]], key: str, value: float, tick: int, where: str) -> None:
    if key not in wires:
        raise RecordError(
            f"a change of {key!r}, which no $var declares", where, "a declared identifier"
        )
    for wire in wires[key]:
        if value != value and wire.values:
            value = wire.values[-1]
        if wire.width == 1 and not wire.real and value == 1.0:
            value = LOGIC_HIGH_V  # `b1` of a one-bit wire
        wire.ticks.append(tick)
        wire.values.append(value)


def _gridded(order: list[_Wire], scale_s: float, first: int, last: int, where: str) -> Recording:
    if last <= first:
        raise RecordError("no time passes in it", where, "value changes at rising times")
    moments = np.unique(np.concatenate([np.asarray(w.ticks, dtype=np.int64) for w in order]))
    moments = np.append(moments[moments > first] - first, last - first)
    step = max(int(np.gcd.reduce(moments)), -(-(last - first) // MOST_samples), 1)
    grid = np.arange(0, last - first + 1, step, dtype=np.int64)
    notes = []
    if np.gcd.reduce(moments) < step:
        notes.append(f"laid on a grid of {step * scale_s:g} s: quicker changes are not resolved")
    volts = np.zeros((len(grid), len(order)), dtype=np.float32)
    for column, wire in enumerate(order):
        if not wire.ticks:
            continue
        ticks = np.asarray(wire.ticks, dtype=np.int64) - first
        values = np.nan_to_num(np.asarray(wire.values, dtype=np.float32))
        at = np.searchsorted(ticks, grid, side="right") - 1
        volts[:, column] = np.where(at >= 0, values[np.maximum(at, 0)], values[0])
    logic = tuple(w.name for w in order if not w.real and w.width == 1)
    if logic:
        notes.append("logic channels: a one is given as 12 V, the true level is not known")
    time_s = np.asarray((grid + first) * scale_s, dtype=np.float64)
    return checked(where, time_s, volts, [w.name for w in order], logic=logic, notes=tuple(notes))
