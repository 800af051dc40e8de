"""Value change dumps, IEEE 1364-2005 clause 18: bits, vectors and reals over ticks."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from startwright.records.errors import RecordError
from startwright.records.recordings.model import MOST_WIRES, Recording, checked
from startwright.records.recordings.sigrok import LOGIC_HIGH_V

MOST_samples = 2_000_000
"""Changes are laid on an even grid of at most this many samples."""

MOST_ticks = 1 << 62
_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "ps": 1e-12, "fs": 1e-15}
_BIT_V = {"0": 0.0, "1": LOGIC_HIGH_V, "x": float("nan"), "z": float("nan")}
"""Volts of a bit; what is unknown is no number, and held from before in the end."""

_RANGE = re.compile(r"^(.*?)\s*\[\s*([0-9]+)\s*:\s*([0-9]+)\s*\]$")
_SCALE = re.compile(r"^(1|10|100)\s*(s|ms|us|ns|ps|fs)$")


@dataclass
class _Wire:
    """One column: a real, or one bit of a variable."""

    name: str
    ticks: list[int] = field(default_factory=list)
    values: list[float] = field(default_factory=list)


@dataclass
class _Variable:
    """A declared variable: a real with one wire, or bits with a wire each, the highest first."""

    real: bool
    wires: list[_Wire]


def read_vcd(path: Path) -> Recording:
    """Read a value change dump onto an even time grid.

    Reals are volts. A bit is given as 0 V or 12 V and named in ``logic``; a vector is as many
    wires as it has bits, ``port[3]`` to ``port[0]``. What is unknown (``x``, ``z``) holds the value
    before, or at the beginning the first that is known; a wire that is never known is left out.
    Notes say so.

    Raises
    ------
    RecordError
        No time scale, no variables, a change of a variable that was never declared, time that
        runs backwards, a value that is none or of another kind than its variable.
    """
    where = path.name
    known: dict[str, list[_Variable]] = {}
    order: list[_Variable] = []
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
                            pending, known, order, scope, scale_s, f"{where}:{number}"
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
                    if tick > MOST_ticks:
                        raise RecordError(
                            f"time {token[:30]}", f"{where}:{number}", "times below 2 to the 62"
                        )
                    if tick < last_tick:
                        raise RecordError(
                            f"time runs backwards to {tick}", f"{where}:{number}", "rising times"
                        )
                    last_tick = tick
                    first_tick = tick if first_tick is None else first_tick
                elif token[0] in "01xXzZ":
                    _change(known, token[1:], "b" + token[0], tick, f"{where}:{number}")
                elif token[0] in "rRbB":
                    if i >= len(tokens):
                        raise RecordError(
                            f"{token!r} without a variable", f"{where}:{number}", "value and name"
                        )
                    _change(known, tokens[i], token, tick, f"{where}:{number}")
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
    known: dict[str, list[_Variable]],
    order: list[_Variable],
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
        real, width = rest[0] in ("real", "realtime"), int(rest[1])
        if not real and not 1 <= width <= MOST_WIRES:
            raise RecordError(f"$var of {rest[1]} bits", where, f"1 to {MOST_WIRES} bits")
        names = _names(" ".join(rest[3:]), 1 if real else width)
        if {w.name for v in order for w in v.wires} & set(names):
            names = [".".join([*scope, name]) for name in names]
        variable = _Variable(real, [_Wire(name) for name in names])
        known.setdefault(rest[2], []).append(variable)
        order.append(variable)
    return scale_s


def _names(name: str, width: int) -> list[str]:
    """A name for each bit, from the highest down, by the range in the name if there is one."""
    if width == 1:
        return [name]
    found = _RANGE.match(name)
    if found:
        high, low = int(found.group(2)), int(found.group(3))
        if abs(high - low) == width - 1:
            step = 1 if low >= high else -1
            return [f"{found.group(1)}[{n}]" for n in range(high, low + step, step)]
    return [f"{name}[{n}]" for n in reversed(range(width))]


def _change(known: dict[str, list[_Variable]], key: str, token: str, tick: int, where: str) -> None:
    """Take one change of value: ``r`` and a number, or ``b`` and bits.

    Fewer bits than the variable has are filled up on the left as clause 18.2.1 says: with the
    unknown where the first is unknown, else with 0.
    """
    if key not in known:
        raise RecordError(
            f"a change of {key!r}, which no $var declares", where, "a declared identifier"
        )
    real, text = token[0] in "rR", token[1:].lower()
    try:
        number = float(text) if real else float("nan")
    except ValueError as error:
        raise RecordError(
            f"{token!r} is no value", where, "r and a number, or b and bits"
        ) from error
    if not real and (not text or set(text) - set(_BIT_V)):
        raise RecordError(f"{token!r} is no value", where, "r and a number, or b and bits")
    for variable in known[key]:
        if real != variable.real and (real or set(text) - {"x", "z"}):
            kind = "a real" if variable.real else "made of bits"
            raise RecordError(
                f"{token!r} for {variable.wires[0].name!r}, which is {kind}",
                where,
                "r and a number for reals, bits for every other",
            )
        if variable.real:
            variable.wires[0].ticks.append(tick)
            variable.wires[0].values.append(number)
            continue
        width = len(variable.wires)
        bits = text.rjust(width, "0" if text[0] in "01" else text[0])
        if set(bits[:-width]) - {"0"} and len(bits) > width:
            raise RecordError(
                f"{token!r} for the {width} bits of {variable.wires[0].name!r}",
                where,
                f"at most {width} bits",
            )
        for wire, bit in zip(variable.wires, bits[-width:], strict=True):
            wire.ticks.append(tick)
            wire.values.append(_BIT_V[bit])


def _held(wire: _Wire) -> tuple[npt.NDArray[np.float32], int]:
    """The values with each unknown one as the one before, the first ones as the first known."""
    values = np.asarray(wire.values, dtype=np.float32)
    unknown = np.isnan(values)
    at = np.where(unknown, -1, np.arange(len(values)))
    at = np.maximum(np.maximum.accumulate(at), int(np.argmin(unknown)))
    return values[at], int(unknown.sum())


def _gridded(
    order: list[_Variable], scale_s: float, first: int, last: int, where: str
) -> Recording:
    if last <= first:
        raise RecordError("no time passes in it", where, "value changes at rising times")
    notes = []
    every = [(wire, not v.real) for v in order for wire in v.wires]
    told = [(wire, logic) for wire, logic in every if not np.isnan(wire.values).all()]
    if not told:
        raise RecordError("no value of any variable is known", where, "values other than x and z")
    if len(told) < len(every):
        silent = [wire.name for wire, _ in every if np.isnan(wire.values).all()]
        notes.append(f"no known value of {', '.join(silent[:20])}: left out")
    if len(told) > MOST_WIRES:
        raise RecordError(f"{len(told)} wires", where, f"at most {MOST_WIRES}")
    moments = np.unique(np.concatenate([np.asarray(w.ticks, dtype=np.int64) for w, _ in told]))
    moments = np.append(moments[moments > first] - first, last - first)
    step = max(int(np.gcd.reduce(moments)), -(-(last - first) // MOST_samples), 1)
    grid = np.arange(0, last - first + 1, step, dtype=np.int64)
    if np.gcd.reduce(moments) < step:
        notes.append(f"laid on a grid of {step * scale_s:g} s: quicker changes are not resolved")
    volts = np.zeros((len(grid), len(told)), dtype=np.float32)
    unknown = []
    for column, (wire, _) in enumerate(told):
        ticks = np.asarray(wire.ticks, dtype=np.int64) - first
        values, lost = _held(wire)
        if lost:
            unknown.append(wire.name)
        at = np.searchsorted(ticks, grid, side="right") - 1
        volts[:, column] = np.where(at >= 0, values[np.maximum(at, 0)], values[0])
    if unknown:
        notes.append(f"unknown for a while (x or z), held from before: {', '.join(unknown[:20])}")
    logic = tuple(wire.name for wire, is_logic in told if is_logic)
    if logic:
        notes.append("logic channels: a one is given as 12 V, the true level is not known")
    time_s = np.asarray((grid + first) * scale_s, dtype=np.float64)
    names = [wire.name for wire, _ in told]
    return checked(where, time_s, volts, names, logic=logic, notes=tuple(notes))
