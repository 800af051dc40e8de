"""The reaction: after every change the network, the inputs, the unit and the engine follow.

In a fixed order until nothing moves: network settles → inputs are read → the unit moves at most one
step → network settles → engine follows → network settles → inputs are read. Not quiet after eight
rounds is unstable. All rows are worked at once; all nondeterminism sits in the choice before.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from startwright.car.hybrid import TURNS
from startwright.car.start_control import BUTTON, MODE, RUN, START
from startwright.prove.model import (
    COASTING,
    HOLD,
    RESTING,
    RUNNING,
    STOPPED,
    TURNING,
    Model,
)
from startwright.prove.races import Outcomes, outcomes
from startwright.prove.tables import Array, Table

ROUNDS = 8
FEW = 256
"""Rows up to this many are not worth being parted into those that moved and those that did not."""


@dataclass
class Settled:
    """The columns after a reaction, and what went wrong on the way, by row.

    Where relays raced and every outcome is followed a row of the beginning has several here, the
    first of them first; `origin` (S,) tells which row each comes of.
    """

    columns: dict[str, Array]
    event: Array
    origin: Array
    raced: Array
    chatters: Array
    unstable: Array
    main: Array
    before: dict[str, Array]

    @classmethod
    def of(cls, columns: dict[str, Array], event: Array | None = None) -> Settled:
        """Nothing has happened yet."""
        rows = len(columns["key"])
        return cls(
            columns,
            np.zeros(rows, dtype=np.int32) if event is None else event,
            np.arange(rows),
            np.zeros(rows, dtype=bool),
            np.zeros(rows, dtype=bool),
            np.zeros(rows, dtype=bool),
            np.ones(rows, dtype=bool),
            {},
        )

    def take(self, at: Array) -> Settled:
        """Some of the rows."""
        return Settled(
            {k: v[at] for k, v in self.columns.items()},
            self.event[at],
            self.origin[at],
            self.raced[at],
            self.chatters[at],
            self.unstable[at],
            self.main[at],
            {k: v[at] for k, v in self.before.items()},
        )

    def copy(self) -> Settled:
        """The same rows, held apart."""
        return replace(self, columns=dict(self.columns))

    def become(self, other: Settled) -> None:
        """Hold the rows of another; `columns` stays the same dictionary."""
        self.columns.update(other.columns)
        self.event, self.origin, self.main = other.event, other.origin, other.main
        self.raced, self.chatters, self.unstable = other.raced, other.chatters, other.unstable
        self.before = other.before

    def once(self) -> Array:
        """The rows that differ, the first of each kind, in order."""
        several = np.flatnonzero(np.bincount(self.origin)[self.origin] > 1)
        held = [self.origin, *self.columns.values(), *self.before.values()]
        _, first = np.unique(_kinds([v[several] for v in held]), return_index=True)
        keep = np.ones(len(self.origin), dtype=bool)
        keep[several] = False
        keep[several[first]] = True
        return np.flatnonzero(keep)


class Reaction:
    """Works the reaction of a model on columns of states."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self._coils = list(model.coils)
        self._tables = [model.coils[c] for c in self._coils]
        names = {f"coil.{c}" for c in self._coils}
        self.coupled = any(
            v in names and v != f"coil.{c}"
            for c, t in zip(self._coils, self._tables, strict=True)
            for v in t.over
        )
        self._over = sorted({v for t in self._tables for v in t.over})
        inputs = [t for _, t in model.inputs.values()]
        self._looks_at = {
            "coils": _columns(self._tables) | names,
            "inputs": _columns(inputs) | {f"in.{i}" for i in model.inputs},
        }
        self._looked: dict[str, tuple[Array, ...]] = {}
        self._used = {v for t in model.feedback for v in t.over}
        nothing = np.empty(0, dtype=np.int32)
        self._last: tuple[tuple[Array, ...], dict[str, Array]] = ((nothing,) * 3, {})
        self._memo: dict[tuple[int, ...], Outcomes] = {}

    def react(self, columns: dict[str, Array], event: Array, every: bool = False) -> Settled:
        """The columns after everything has followed.

        Parameters
        ----------
        columns : mapping of str to (S,) of int
            The state after the choice's own change.
        event : (S,) of int
            0 none, 1 start, 2 stop, 3 the step's timer ran out.
        every : bool
            Follow every outcome of relays that race, not the first alone.
        """
        rows = len(event)
        out = Settled.of(dict(columns), event)
        now = out.columns
        self._looked.clear()
        parted: list[tuple[Settled, Array]] = []
        self._settle(out, every)
        self._read(now)
        for turn in range(ROUNDS):
            out.before = {k: v for k, v in now.items() if k not in self.model.surroundings}
            steps_again = self._step(now, out.event if turn == 0 else np.zeros_like(out.event))
            self._settle(out, every)
            self._follow(now)
            self._settle(out, every)
            self._read(now)
            if turn == 0:
                moved = steps_again if out.main.all() else out.event != 0
            else:
                moved = np.zeros(len(out.origin), dtype=bool)
            for name, old in out.before.items():
                if now[name] is not old:
                    moved |= now[name] != old
            if not moved.any():
                break
            if parted or len(moved) > rows or (rows > FEW and int(moved.sum()) < 0.75 * rows):
                parted.append((out.copy(), moved))
                out.become(out.take(np.flatnonzero(moved)))
        else:
            out.unstable |= moved[moved] if parted else moved
        if not parted and len(out.origin) == rows:
            return out
        if out.main.all() and all(part.main.all() for part, _ in parted):
            return self._in_place(parted, out)
        ended = [part.take(np.flatnonzero(~moved)) for part, moved in parted]
        return _together([*ended, out], rows)

    def _in_place(self, parted: list[tuple[Settled, Array]], out: Settled) -> Settled:
        """Rows that were followed further put back among those that were not."""
        for part, moved in reversed(parted):
            at = np.flatnonzero(moved)
            for name, column in part.columns.items():
                if name not in self.model.surroundings:
                    part.columns[name] = column.copy()
                    part.columns[name][at] = out.columns[name]
            for name in ("raced", "chatters", "unstable"):
                getattr(part, name)[at] = getattr(out, name)
            out = part
        return out

    def _derived(self, now: dict[str, Array]) -> dict[str, Array]:
        """The columns with what follows from them, worked again only where that has moved."""
        model = self.model
        if model.trail is not None:
            return model.derive(now, self._used)
        of = (now["motion"], now["start"], now["press"])
        last, held = self._last
        if not all(a is b for a, b in zip(of, last, strict=True)):
            whole = model.derive({"motion": of[0], "start": of[1], "press": of[2]}, self._used)
            held = {k: v for k, v in whole.items() if k not in ("motion", "start", "press")}
            self._last = of, held
        return now | held

    def _settle(self, out: Settled, every: bool) -> None:
        now = out.columns
        if not self._coils or self._unmoved("coils", now):
            return
        seen = self._derived(now)
        rested = self._stays(out, seen) if every else np.zeros(len(out.origin), dtype=bool)
        for _ in range(2 * len(self._coils) + 2):
            wants = []
            changing = np.zeros(len(out.origin), dtype=np.int32)
            for name, table in zip(self._coils, self._tables, strict=True):
                value = table.look(seen)
                old = now[f"coil.{name}"]
                new = np.where(value == HOLD, old, value).astype(old.dtype)
                wants.append(new)
                changing += new != old
            changing[rested] = 0
            if not changing.any():
                break
            contested = changing > 1 if self.coupled else np.zeros_like(rested)
            stays = contested | rested
            for name, new in zip(self._coils, wants, strict=True):
                old = now[f"coil.{name}"]
                now[f"coil.{name}"] = seen[f"coil.{name}"] = np.where(stays, old, new)
            if self.model.trail is not None:
                self.model.trail.append(dict(now))
            if contested.any():
                rested |= contested
                rested = self._race(out, seen, np.flatnonzero(contested), rested, every)
        else:
            restless = self._restless(seen) & ~rested
            if restless.any():
                self._race(out, seen, np.flatnonzero(restless), rested, every)
        if not out.main.all():
            out.become(out.take(out.once()))
        self._looked_at("coils", now)

    def _restless(self, seen: dict[str, Array]) -> Array:
        rows = len(next(iter(seen.values())))
        still = np.zeros(rows, dtype=bool)
        for name, table in zip(self._coils, self._tables, strict=True):
            value = table.look(seen)
            still |= (value != HOLD) & (value != seen[f"coil.{name}"])
        return still

    def _stays(self, out: Settled, seen: dict[str, Array]) -> Array:
        """The rows that chattered in this reaction and stand where they may stay.

        Which of its places a chatter is found in is chosen once in a reaction.
        """
        stays = np.zeros(len(out.origin), dtype=bool)
        rows = np.flatnonzero(out.chatters)
        if len(rows):
            at, back, found = self._found(seen, rows)
            here = [tuple(int(seen[f"coil.{c}"][k]) for c in self._coils) for k in rows[at]]
            stays[rows] = np.array([h in f[0] for h, f in zip(here, found, strict=True)])[back]
        return stays

    def _found(self, seen: dict[str, Array], rows: Array) -> tuple[Array, Array, list[Outcomes]]:
        """What can come of each kind of row: one of its rows, the kind of each, its outcomes."""
        names = sorted({*self._over, *(f"coil.{c}" for c in self._coils)})
        kinds = _kinds([seen[n][rows] for n in names])
        _, at, back = np.unique(kinds, return_index=True, return_inverse=True)
        unique = np.stack([seen[n][rows[at]] for n in names], axis=1).tolist()
        return at, back, [self._orders(names, tuple(row)) for row in unique]

    def _race(
        self, out: Settled, seen: dict[str, Array], rows: Array, rested: Array, every: bool
    ) -> Array:
        """Put coils where they can end; more rows follow where they can end in several ways."""
        _, back, found = self._found(seen, rows)
        out.raced[rows] |= np.array([raced for _, raced, _ in found])[back]
        out.chatters[rows] |= np.array([cycles for _, _, cycles in found])[back]
        first = np.array([ends[0] for ends, _, _ in found])[back]
        more = np.array([len(ends) - 1 for ends, _, _ in found])[back] if every else back * 0
        others = np.array([e for k in back[more > 0] for e in found[k][0][1:]])
        own = len(out.origin)
        if more.any():
            at = np.concatenate([np.arange(own), np.repeat(rows, more)])
            out.become(out.take(at))
            out.main[own:] = False
            rested = rested[at]
            for name, column in seen.items():
                seen[name] = column[at]
        for k, name in enumerate(self._coils):
            column = out.columns[f"coil.{name}"].copy()
            column[rows] = first[:, k]
            if len(others):
                column[own:] = others[:, k]
            out.columns[f"coil.{name}"] = seen[f"coil.{name}"] = column
        return rested

    def _orders(self, names: list[str], row: tuple[int, ...]) -> Outcomes:
        """Every way the coils can end, in any order; whether orders differ; whether they may cycle.

        Where a relay chatters without end, the ends are all that comes again and again, with every
        other relay settled.
        """
        if row in self._memo:
            return self._memo[row]
        fixed = dict(zip(names, row, strict=True))
        start = tuple(fixed[f"coil.{c}"] for c in self._coils)
        onward: dict[tuple[int, ...], list[tuple[int, ...]]] = {}
        todo = [start]
        while todo:
            coils = todo.pop()
            if coils in onward:
                continue
            at = {**fixed, **{f"coil.{c}": v for c, v in zip(self._coils, coils, strict=True)}}
            follow = []
            for k, table in enumerate(self._tables):
                value = int(table.data[tuple(at[v] for v in table.over)])
                if value not in (HOLD, coils[k]):
                    follow.append((*coils[:k], value, *coils[k + 1 :]))
            onward[coils] = follow
            todo += follow
        self._memo[row] = outcomes(onward)
        return self._memo[row]

    def _read(self, now: dict[str, Array]) -> None:
        if not self.model.inputs or self._unmoved("inputs", now):
            return
        seen = self._derived(now)
        for name, (_, table) in self.model.inputs.items():
            value = table.look(seen)
            old = now[f"in.{name}"]
            new = np.where(value == HOLD, old, value).astype(old.dtype)
            now[f"in.{name}"] = new if (new != old).any() else old
        self._looked_at("inputs", now)

    def _unmoved(self, what: str, now: dict[str, Array]) -> bool:
        """Whether coils or inputs were worked before, and nothing that they look at moved since."""
        held = self._looked.get(what)
        if held is None or self.model.trail is not None:
            return False
        return all(now[n] is c for n, c in zip(self._looks_at[what], held, strict=True))

    def _looked_at(self, what: str, now: dict[str, Array]) -> None:
        self._looked[what] = tuple(now[n] for n in self._looks_at[what])

    def reads(self, now: dict[str, Array]) -> Array:
        """What the unit reads, packed: guards, engine, waiting, ignition, service."""
        model = self.model
        rows = len(now["key"])
        by_sense: dict[str, Array] = {}
        for lead, (inp, _) in model.inputs.items():
            bit = now[f"in.{lead}"].astype(bool)
            by_sense[inp.senses] = by_sense.get(inp.senses, np.zeros(rows, dtype=bool)) | bit
        nothing = np.zeros(rows, dtype=bool)
        motion = now["motion"]
        runs = (motion == RUNNING) | (motion == RESTING)
        seen = self._derived(now)
        heard = runs & model.tach_lives.look(seen).astype(bool)
        if model.comes_and_goes:
            heard &= now[TURNS] == 1
        if model.hears_tach:
            by_sense["tach"] = heard
        guards = np.ones(rows, dtype=bool)
        for guard in model.unit.record.guards:
            bit = by_sense.get(guard.input, nothing)
            guards &= bit if guard.reads == "active" else ~bit
        signal = model.unit.signal
        if signal == "charge_lamp":
            engine = by_sense.get("charge_lamp", nothing) | (motion == RESTING)
        else:
            engine = {"tach": heard, "volts": runs}.get(signal, nothing)
            if model.car.tach_lost:
                engine = nothing
        waiting = by_sense.get("wait_to_start", nothing)
        if any(v.startswith("coil_o.") for v in model.ignition_seen.over):
            seen |= self.open_coils(now)
        ignition = model.ignition_seen.look(seen).astype(bool)
        ignition |= by_sense.get("ignition", nothing)
        service = (
            now["service"].astype(bool)
            if model.service_inside
            else by_sense.get("service", nothing)
        )
        packed = guards | (engine << 1) | (waiting << 2) | (ignition << 3) | (service << 4)
        return np.asarray(packed, dtype=np.int32)

    def open_coils(self, now: dict[str, Array]) -> dict[str, Array]:
        """Where the coils stand once all outputs are open (`coil_o.*`)."""
        if not self._coils:
            return {}
        opened = [n for n in ("start", "press", MODE) if n in now]
        rested = self.rested({**now, **{n: np.zeros_like(now[n]) for n in opened}})
        return {f"coil_o.{c}": rested[f"coil.{c}"] for c in self._coils}

    def rested(self, columns: dict[str, Array]) -> dict[str, Array]:
        """The columns once the relays have come to rest, and nothing else has moved."""
        trial = Settled.of(dict(columns))
        self._settle(trial, every=False)
        return trial.columns

    def _step(self, now: dict[str, Array], event: Array) -> Array:
        """The unit's step; where an event is worked, whether another follows without one."""
        model = self.model
        reads = self.reads(now)
        old = now["start"]
        new = model.moves[old, event, reads].astype(old.dtype)
        if not (model.alive.constant and bool(model.alive.data.flat[0])):
            alive = model.alive.look(self._derived(now)).astype(bool)
            new = np.where(alive, new, 0).astype(old.dtype)
            press = np.where(alive, now["press"], 0).astype(now["press"].dtype)
            if (press != now["press"]).any():
                now["press"] = press
        now["start"] = new if (new != old).any() else old
        return np.asarray((event != 0) & (model.moves[new, 0, reads] != new))

    def _follow(self, now: dict[str, Array]) -> None:
        seen = self._derived(now)
        turns = self.model.turns.look(seen).astype(bool)
        ignition = self.model.ignition.look(seen).astype(bool)
        old = now["motion"]
        new = old.copy()
        new[(old == STOPPED) & turns] = TURNING
        new[(old == TURNING) & ~turns] = STOPPED
        new[(old == RUNNING) & ~ignition] = COASTING
        new[(old == RESTING) & ~ignition] = STOPPED
        now["motion"] = new if (new != old).any() else old
        if self.model.car.imitates:
            self._button(now, seen)

    def _button(self, now: dict[str, Array], seen: dict[str, Array]) -> None:
        """The car's start control acts on a press, and ends its crank when the engine runs."""
        model = self.model
        line, brake = (t.look(seen).astype(np.int32) for t in model.button.values())
        motion, mode, button = now["motion"], now[MODE], now[BUTTON]
        engine = ((motion == RUNNING) | (motion == RESTING)).astype(np.int32)
        valid = model.immobilizer.look(seen).astype(np.int32)
        may = brake * (now["gear"] < 2)
        after = model.presses_button[mode, now["key"], engine, may, valid]
        new = np.where((line == 1) & (button == 0), after, mode).astype(mode.dtype)
        new[(new == START) & (motion == RUNNING)] = RUN
        now[MODE] = new if (new != mode).any() else mode
        now[BUTTON] = line.astype(button.dtype) if (line != button).any() else button


def _columns(tables: Iterable[Table]) -> set[str]:
    """The columns of the state that tables look at, by themselves or by what follows from them."""
    follows = {"power": ("motion",), "engine": ("motion",)}
    out: set[str] = set()
    for name in {v for t in tables for v in t.over}:
        out.update(("start", "press") if name.startswith("out.") else follows.get(name, (name,)))
    return out


def _kinds(columns: list[Array]) -> Array:
    """(S,) of int64: rows that are alike in all columns have the same number, and no others."""
    kinds = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        kinds = kinds * (int(column.max(initial=0)) + 1) + column
        if int(kinds.max(initial=0)) >= 1 << 50:
            kinds = np.unique(kinds, return_inverse=True)[1].ravel()
    return kinds


def _together(parts: list[Settled], rows: int) -> Settled:
    """The rows of several, by the row they come of; what went wrong counts for all of one row."""

    def joined(name: str) -> Array:
        return np.concatenate([getattr(p, name) for p in parts])

    out = Settled(
        {k: np.concatenate([p.columns[k] for p in parts]) for k in parts[0].columns},
        joined("event"),
        joined("origin"),
        joined("raced"),
        joined("chatters"),
        joined("unstable"),
        joined("main"),
        {},
    )
    out = out.take(np.lexsort((~out.main, out.origin)))
    out = out.take(out.once())
    for name in ("raced", "chatters", "unstable"):
        any_ = np.zeros(rows, dtype=bool)
        np.logical_or.at(any_, out.origin, getattr(out, name))
        setattr(out, name, any_[out.origin])
    out.unstable &= ~out.chatters
    return out
