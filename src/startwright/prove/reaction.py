"""The reaction: after every change the network, the inputs, the unit and the engine follow.

In a fixed order until nothing moves: network settles → inputs are read → the unit moves at most one
step → network settles → engine follows → network settles → inputs are read. Not quiet after eight
rounds is unstable. All rows are worked at once; all nondeterminism sits in the choice before.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
from startwright.prove.tables import Array

ROUNDS = 8


@dataclass
class Settled:
    """The columns after a reaction, and what went wrong on the way, by row."""

    columns: dict[str, Array]
    raced: Array
    outcomes: Array
    chatters: Array
    unstable: Array


class Reaction:
    """Works the reaction of a model on columns of states."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self._coils = list(model.coils)
        self._tables = [model.coils[c] for c in self._coils]
        names = {f"coil.{c}" for c in self._coils}
        self._coupled = any(
            v in names and v != f"coil.{c}"
            for c, t in zip(self._coils, self._tables, strict=True)
            for v in t.over
        )
        self._over = sorted({v for t in self._tables for v in t.over})
        self._used = {v for t in model.feedback for v in t.over}
        self._memo: dict[tuple[int, ...], tuple[tuple[tuple[int, ...], ...], bool, bool]] = {}

    def react(self, columns: dict[str, Array], event: Array, policy: int = 0) -> Settled:
        """The columns after everything has followed.

        Parameters
        ----------
        columns : mapping of str to (S,) of int
            The state after the choice's own change.
        event : (S,) of int
            0 none, 1 start, 2 stop, 3 the step's timer ran out.
        policy : int
            Which of several outcomes of a relay race is taken.
        """
        rows = len(event)
        now = dict(columns)
        out = Settled(
            now,
            np.zeros(rows, dtype=bool),
            np.ones(rows, dtype=np.int32),
            np.zeros(rows, dtype=bool),
            np.zeros(rows, dtype=bool),
        )
        quiet = False
        moved = np.zeros(rows, dtype=bool)
        for turn in range(ROUNDS):
            before = {k: v for k, v in now.items() if k not in self.model.surroundings}
            self._settle(out, policy)
            self._read(now)
            self._step(now, event if turn == 0 else np.zeros_like(event))
            self._settle(out, policy)
            self._follow(now)
            self._settle(out, policy)
            self._read(now)
            moved = np.zeros(rows, dtype=bool)
            for name, old in before.items():
                if now[name] is not old:
                    moved |= now[name] != old
            quiet = not moved.any()
            if quiet:
                break
        if not quiet:
            out.unstable |= moved
        return out

    def _settle(self, out: Settled, policy: int) -> None:
        if not self._coils:
            return
        now = out.columns
        seen = self.model.derive(now, self._used)
        for _ in range(2 * len(self._coils) + 2):
            wants = []
            changing = np.zeros(len(out.raced), dtype=np.int32)
            for name, table in zip(self._coils, self._tables, strict=True):
                value = table.look(seen)
                old = now[f"coil.{name}"]
                new = np.where(value == HOLD, old, value).astype(old.dtype)
                wants.append(new)
                changing += new != old
            if not changing.any():
                return
            contested = changing > 1 if self._coupled else np.zeros_like(changing, dtype=bool)
            for name, new in zip(self._coils, wants, strict=True):
                old = now[f"coil.{name}"]
                now[f"coil.{name}"] = seen[f"coil.{name}"] = np.where(contested, old, new)
            if self.model.trail is not None:
                self.model.trail.append(dict(now))
            if contested.any():
                self._race(out, seen, np.flatnonzero(contested), policy)
        restless = (changing > 0) & self._restless(seen)
        if restless.any():
            out.chatters |= restless
            self._race(out, seen, np.flatnonzero(restless), policy)

    def _restless(self, seen: dict[str, Array]) -> Array:
        rows = len(next(iter(seen.values())))
        still = np.zeros(rows, dtype=bool)
        for name, table in zip(self._coils, self._tables, strict=True):
            value = table.look(seen)
            still |= (value != HOLD) & (value != seen[f"coil.{name}"])
        return still

    def _race(self, out: Settled, seen: dict[str, Array], rows: Array, policy: int) -> None:
        names = sorted({*self._over, *(f"coil.{c}" for c in self._coils)})
        stack = np.stack([seen[n][rows].astype(np.int64) for n in names], axis=1)
        unique, back = np.unique(stack, axis=0, return_inverse=True)
        back = back.ravel()
        new = np.empty((len(unique), len(self._coils)), dtype=np.int64)
        many = np.ones(len(unique), dtype=np.int32)
        raced = np.zeros(len(unique), dtype=bool)
        chatter = np.zeros(len(unique), dtype=bool)
        for k, row in enumerate(unique):
            ends, raced[k], chatter[k] = self._orders(names, tuple(int(x) for x in row))
            many[k] = len(ends)
            new[k] = ends[policy % len(ends)]
        for k, name in enumerate(self._coils):
            column = out.columns[f"coil.{name}"].copy()
            column[rows] = new[back, k]
            out.columns[f"coil.{name}"] = seen[f"coil.{name}"] = column
        out.outcomes[rows] = np.maximum(out.outcomes[rows], many[back])
        out.raced[rows] |= raced[back]
        out.chatters[rows] |= chatter[back]

    def _orders(
        self, names: list[str], row: tuple[int, ...]
    ) -> tuple[tuple[tuple[int, ...], ...], bool, bool]:
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
        ends = _recurrent(onward)
        result = (tuple(sorted(set().union(*ends))), len(ends) > 1, _cyclic(onward))
        self._memo[row] = result
        return result

    def _read(self, now: dict[str, Array]) -> None:
        if not self.model.inputs:
            return
        seen = self.model.derive(now, self._used)
        for name, (_, table) in self.model.inputs.items():
            value = table.look(seen)
            old = now[f"in.{name}"]
            new = np.where(value == HOLD, old, value).astype(old.dtype)
            now[f"in.{name}"] = new if (new != old).any() else old

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
        if model.hears_tach:
            by_sense["tach"] = runs
        guards = np.ones(rows, dtype=bool)
        for guard in model.unit.record.guards:
            bit = by_sense.get(guard.input, nothing)
            guards &= bit if guard.reads == "active" else ~bit
        signal = model.unit.signal
        if signal == "charge_lamp":
            engine = by_sense.get("charge_lamp", nothing) | (motion == RESTING)
        else:
            engine = runs if signal in ("tach", "volts") else nothing
            if model.car.tach_lost:
                engine = nothing
        waiting = by_sense.get("wait_to_start", nothing)
        seen = model.derive(now, self._used)
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
        trial = Settled(
            {**now, **{n: np.zeros_like(now[n]) for n in opened}},
            np.zeros(len(now["key"]), dtype=bool),
            np.ones(len(now["key"]), dtype=np.int32),
            np.zeros(len(now["key"]), dtype=bool),
            np.zeros(len(now["key"]), dtype=bool),
        )
        self._settle(trial, 0)
        return {f"coil_o.{c}": trial.columns[f"coil.{c}"] for c in self._coils}

    def _step(self, now: dict[str, Array], event: Array) -> None:
        model = self.model
        reads = self.reads(now)
        old = now["start"]
        new = model.moves[old, event, reads].astype(old.dtype)
        if not (model.alive.constant and bool(model.alive.data.flat[0])):
            alive = model.alive.look(model.derive(now, self._used)).astype(bool)
            new = np.where(alive, new, 0).astype(old.dtype)
            press = np.where(alive, now["press"], 0).astype(now["press"].dtype)
            if (press != now["press"]).any():
                now["press"] = press
        now["start"] = new if (new != old).any() else old

    def _follow(self, now: dict[str, Array]) -> None:
        seen = self.model.derive(now, self._used)
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


def _recurrent(
    onward: dict[tuple[int, ...], list[tuple[int, ...]]],
) -> set[frozenset[tuple[int, ...]]]:
    """The sets of places that are never left again, each place of which comes again from each."""
    reach: dict[tuple[int, ...], frozenset[tuple[int, ...]]] = {}
    for place in onward:
        found, todo = {place}, [place]
        while todo:
            new = set(onward[todo.pop()]) - found
            found |= new
            todo += new
        reach[place] = frozenset(found)
    return {r for r in reach.values() if all(reach[p] == r for p in r)}


def _cyclic(onward: dict[tuple[int, ...], list[tuple[int, ...]]]) -> bool:
    state: dict[tuple[int, ...], int] = {}

    def visit(node: tuple[int, ...]) -> bool:
        state[node] = 1
        for follow in onward[node]:
            mark = state.get(follow, 0)
            if mark == 1 or (mark == 0 and visit(follow)):
                return True
        state[node] = 2
        return False

    return any(visit(n) for n in onward if n not in state)
