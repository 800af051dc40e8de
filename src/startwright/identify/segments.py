"""The recording cut into stretches of one state of the car each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from startwright.identify.actions import KEY_ALL, MOMENTARY, PRINCIPAL, key_bit
from startwright.identify.blocks import F64, Bools, Ints
from startwright.identify.cranking import Crank
from startwright.identify.edges import Cluster
from startwright.identify.timeline import Noted
from startwright.records.words import KEY_POSITIONS

UNKNOWN = 0.5
"""Between 0 (no) and 1 (yes)."""

SURE_GUARD_s = 0.1
LOOSE_GUARD_s = 0.7
MOMENT_TAIL_s = 0.6
COMMAND_s = 1.5
MOST_EXTRA = 60

RUNNING = key_bit("run") | key_bit("start")


@dataclass(frozen=True)
class Table:
    """States of the car, one row a stretch; truth values are 0, 1 or `UNKNOWN`."""

    start_s: F64
    end_s: F64
    core_start_s: F64
    core_end_s: F64
    key: Ints
    """Set of key positions possible in the stretch, as bits."""
    crank: F64
    engine: F64
    hands: dict[str, F64]
    moment: Bools
    """Stretches in which a wire counts by the farthest it goes."""
    weight: F64
    exercised: frozenset[str]
    """Hands, key positions and commands that were worked at least once."""
    sure: Bools

    def __len__(self) -> int:
        return len(self.start_s)

    def key_in(self, *positions: str) -> F64:
        """Truth value of the key standing in one of the positions."""
        wanted = sum(key_bit(p) for p in positions)
        inside = (self.key & wanted) != 0
        outside = (self.key & ~wanted & KEY_ALL) != 0
        return np.where(inside & ~outside, 1.0, np.where(inside, UNKNOWN, 0.0))

    def hand(self, name: str) -> F64:
        """Truth value of a hand being worked; never where it was never noted."""
        return self.hands.get(name, np.zeros(len(self)))

    def says(self, row: int) -> str:
        """One stretch in words."""
        positions = [p for p in KEY_POSITIONS if self.key[row] & key_bit(p)]
        words = [f"key {positions[0]}" if len(positions) == 1 else "key somewhere"]
        if self.crank[row] == 1:
            words = ["cranking"]
        elif self.engine[row] == 1:
            words.append("engine running")
        words += [name.replace("_", " ") for name, v in self.hands.items() if v[row] == 1]
        return ", ".join(words)


@dataclass
class _Mark:
    time_s: float
    before_s: float
    after_s: float
    note: Noted | None = None
    crank: str = ""
    cluster: Cluster | None = None


@dataclass
class _State:
    key: int = KEY_ALL
    crank: float = 0.0
    engine: float = 0.0
    hands: dict[str, float] = field(default_factory=dict)


def cut(
    span: tuple[float, float],
    noted: Sequence[Noted],
    cranks: Sequence[Crank],
    clusters: Sequence[Cluster],
) -> Table:
    """Cut the time `span` at every action, at the starter's turns and at unexplained changes."""
    marks = _marks(noted, cranks, clusters)
    moments = _moments(noted)
    marks = [
        m
        for m in marks
        if m.cluster is None or not any(a - 0.3 < m.time_s < b for a, b, _ in moments)
    ]
    marks.sort(key=lambda m: (m.time_s, m.note is None))
    states = _states(marks, noted, cranks)
    bounds = [span[0], *(min(max(m.time_s, span[0]), span[1]) for m in marks), span[1]]
    rows: list[tuple[float, float, float, float, bool, bool]] = []
    for k in range(len(bounds) - 1):
        a, b = bounds[k], bounds[k + 1]
        left = marks[k - 1] if k > 0 else None
        right = marks[k] if k < len(marks) else None
        core_a = a + (left.after_s if left else 0.05)
        core_b = b - (right.before_s if right else 0.05)
        sure = (left is None or left.after_s < 0.5) and (right is None or right.before_s < 0.5)
        moment = False
        for begin, until, name in moments:
            pressed = left is not None and left.note is not None and left.note.time_s == begin
            if pressed and left is not None and left.note is not None and left.note.what == name:
                core_a, core_b = begin - left.before_s, min(until, span[1])
                moment = True
            elif a < until and a >= begin and not pressed:
                core_a = max(core_a, until)
        if core_b <= core_a and not moment and b - a > 0.12:
            middle, half = (a + b) / 2, (b - a) * 0.15
            core_a, core_b, sure = middle - half, middle + half, False
        rows.append((a, b, core_a, core_b, moment, sure))
    keep = [k for k, r in enumerate(rows) if r[3] - r[2] > 0.05]
    if not keep:
        keep = [max(range(len(rows)), key=lambda k: rows[k][1] - rows[k][0])]
    table = np.asarray([rows[k][:4] for k in keep], dtype=np.float64)
    states = [states[k] for k in keep]
    hands = sorted({h for s in states for h in s.hands} | set(PRINCIPAL))
    key = np.asarray([s.key for s in states], dtype=np.int64)
    hands_by_row = {h: np.asarray([s.hands.get(h, 0.0) for s in states]) for h in hands}
    result = Table(
        start_s=table[:, 0],
        end_s=table[:, 1],
        core_start_s=table[:, 2],
        core_end_s=table[:, 3],
        key=key,
        crank=np.asarray([s.crank for s in states]),
        engine=np.asarray([s.engine for s in states]),
        hands=hands_by_row,
        moment=np.asarray([rows[k][4] for k in keep], dtype=bool),
        weight=_weights(states, rows, keep),
        exercised=_exercised(noted, key) | worked_key_off(hands_by_row, key),
        sure=np.asarray([rows[k][5] for k in keep], dtype=bool),
    )
    return result


def _marks(
    noted: Sequence[Noted], cranks: Sequence[Crank], clusters: Sequence[Cluster]
) -> list[_Mark]:
    marks: list[_Mark] = []
    for note in noted:
        guard = SURE_GUARD_s if note.sure else LOOSE_GUARD_s
        if note.what == "engine":
            # how the engine is heard moves no level but the rail's, and that has marks of its own
            turned = any(abs(note.time_s - c.end_s) < 2.0 for c in cranks)
            guard = SURE_GUARD_s if turned else 0.3
        marks.append(_Mark(note.time_s, guard, guard, note=note))
    for crank in cranks:
        marks.append(_Mark(crank.start_s, 0.08, 0.15, crank="begin"))
        marks.append(_Mark(crank.end_s, 0.15, 0.25, crank="end"))
    times = [(m.time_s, m) for m in marks]
    extra: list[_Mark] = []
    for group in clusters:
        if any(c.start_s + 0.15 < group.time_s < c.end_s - 0.15 for c in cranks):
            continue  # compressions swing the rail
        near = [m for t, m in times if -0.12 <= group.time_s - t <= 0.25 and m.after_s < 0.5]
        if near:
            nearest = min(near, key=lambda m: abs(m.time_s - group.time_s))
            delay = group.time_s - nearest.time_s
            nearest.after_s = max(nearest.after_s, delay + 0.08)
            nearest.before_s = max(nearest.before_s, 0.05 - delay)
        else:
            extra.append(_Mark(group.time_s, 0.06, 0.08, cluster=group))
    extra.sort(key=lambda m: -len(m.cluster.wires) if m.cluster else 0)
    return marks + extra[:MOST_EXTRA]


def _moments(noted: Sequence[Noted]) -> list[tuple[float, float, str]]:
    """Windows of short presses and of commands: begin, end with tail, and what."""
    windows: list[tuple[float, float, str]] = []
    for k, note in enumerate(noted):
        following = [n.time_s for n in noted[k + 1 :]]
        if note.what == "command":
            until = note.time_s + COMMAND_s
        elif note.what in MOMENTARY and note.to == "on":
            release = next(
                (n.time_s for n in noted[k + 1 :] if n.what == note.what), note.time_s + 1.0
            )
            release = min(release, note.time_s + 6.0)
            until = release + (MOMENT_TAIL_s if note.sure else MOMENT_TAIL_s + 0.5)
            following = [n.time_s for n in noted[k + 1 :] if n.what != note.what or n.to == "on"]
        else:
            continue
        ahead = [t for t in following if t > note.time_s + 0.05]
        if ahead:
            until = min(until, max(min(ahead) - 0.1, note.time_s + 0.1))
        windows.append((note.time_s, until, note.what))
    return windows


def _first_key(noted: Sequence[Noted]) -> int:
    """Where the key can have been before the first note of it."""
    first = next((n for n in noted if n.what == "key"), None)
    if first is None:
        return KEY_ALL
    if first.to == "off" and not _inserted(noted):
        return key_bit("accessory") | key_bit("run")
    return {
        "off": key_bit("out"),
        "out": key_bit("off"),
        "accessory": key_bit("out") | key_bit("off"),
        "run": key_bit("out") | key_bit("off"),
        "start": key_bit("run") | key_bit("accessory") | key_bit("off"),
    }[first.to]


def _inserted(noted: Sequence[Noted]) -> bool:
    """Whether the first key note that says `off` is a key put in: something is switched on after
    it and nothing hints that the car was on before."""
    keys = [n for n in noted if n.what == "key"]
    engine_before = any(n.what == "engine" and n.time_s < keys[0].time_s for n in noted)
    return not engine_before and any(n.to in ("accessory", "run", "start") for n in keys[1:])


_ORDER = {p: i for i, p in enumerate(KEY_POSITIONS)}


def _between(a: str, b: str) -> int:
    low, high = sorted((_ORDER[a], _ORDER[b]))
    return sum(1 << i for i in range(low, high + 1))


def _states(marks: list[_Mark], noted: Sequence[Noted], cranks: Sequence[Crank]) -> list[_State]:
    """The state after each mark, the state before the first one in front."""
    state = _State(key=_first_key(noted))
    initial_hands = {}
    for note in noted:
        if note.what not in ("key", "engine", "command") and note.what not in initial_hands:
            # released first means that it was worked before; `shift` is in park unless said
            if note.what == "shift":
                initial_hands["drive"] = 1.0 if note.to == "park" else 0.0
            else:
                initial_hands[note.what] = UNKNOWN if note.to == "off" else 0.0
    if any(n.what == "shift" for n in noted):
        first = next(n for n in noted if n.what == "shift")
        initial_hands["drive"] = UNKNOWN if first.to == "park" else 0.0
        initial_hands.pop("shift", None)
    state.hands = dict(initial_hands)
    first_engine = next((n for n in noted if n.what == "engine"), None)
    if first_engine is not None and first_engine.to == "off" and not cranks:
        state.engine = 1.0
    states = [state]
    for k, mark in enumerate(marks):
        state = _State(state.key, state.crank, state.engine, dict(state.hands))
        for name in [h for h in state.hands if h.startswith("command_")]:
            state.hands[name] = 0.0
        if mark.note is not None:
            _take_note(state, mark.note, marks, k)
        elif mark.crank:
            _take_crank(state, mark, marks, k, cranks)
        elif mark.cluster is not None:
            _take_cluster(state, mark, marks, k)
        states.append(state)
    _doubt_missing_halves(states, marks)
    return states


def _doubt_missing_halves(states: list[_State], marks: list[_Mark]) -> None:
    """A press after a press, or a release after a release, means that a note is missing between.

    In between the hand is taken as worked (or not) up to the first change of anything, and as
    unknown from there on.
    """
    latest: dict[str, tuple[int, Noted]] = {}
    for k, mark in enumerate(marks):
        note = mark.note
        if note is None or note.what in ("key", "engine", "command", "shift"):
            continue
        if note.what in latest and latest[note.what][1].to == note.to:
            begun = latest[note.what][0]
            for row in range(begun + 2, k + 1):
                states[row].hands[note.what] = UNKNOWN
        latest[note.what] = (k, note)
    for name, (k, note) in latest.items():
        if name in MOMENTARY and note.to == "on":
            # never released: held for a moment, then surely let go of
            for row in range(k + 2, len(states)):
                states[row].hands[name] = UNKNOWN if row == k + 2 else 0.0


def _key_note(marks: list[_Mark], k: int, step: int) -> Noted | None:
    k += step
    while 0 <= k < len(marks):
        note = marks[k].note
        if note is not None and note.what == "key":
            return note
        k += step
    return None


def _take_note(state: _State, note: Noted, marks: list[_Mark], k: int) -> None:
    if note.what == "key":
        state.key = key_bit(note.to)
        if note.to in ("out", "off", "accessory"):
            state.engine = 0.0
            state.crank = 0.0
    elif note.what == "engine":
        state.engine = 1.0 if note.to == "on" else 0.0
        if note.to == "off" and state.key & RUNNING and not state.key & key_bit("off"):
            later = _key_note(marks, k, 1)
            if later is not None and later.to == "out":
                state.key |= key_bit("off") | key_bit("accessory")
    elif note.what == "shift":
        state.hands["drive"] = 1.0 if note.to == "drive" else 0.0
    elif note.what == "command":
        state.hands[f"command_{note.to}"] = 1.0
        if note.to in ("start", "stop"):
            state.key = KEY_ALL
            state.engine = UNKNOWN if note.to == "start" else 0.0
    else:
        state.hands[note.what] = 1.0 if note.to == "on" else 0.0


def _take_crank(
    state: _State, mark: _Mark, marks: list[_Mark], k: int, cranks: Sequence[Crank]
) -> None:
    if mark.crank == "begin":
        state.crank = 1.0
        before = _key_note(marks, k, -1)
        if not state.key & key_bit("start") and before is not None:
            state.key = key_bit("start")  # turned without a note
        return
    state.crank = 0.0
    crank = next((c for c in cranks if c.end_s == mark.time_s), None)
    if crank is not None and crank.caught is not None:
        state.engine = 1.0 if crank.caught else max(state.engine, 0.0)
    elif state.engine == 0.0:
        state.engine = UNKNOWN
    following = _key_note(marks, k, 1)
    if state.key & key_bit("start"):
        # the engine computer may have cut the starter while the key is still held
        held = following is not None and following.to == "run"
        near = held and following is not None and following.time_s - mark.time_s < 4.0
        state.key = RUNNING if near or not held else state.key | key_bit("run")


def _take_cluster(state: _State, mark: _Mark, marks: list[_Mark], k: int) -> None:
    """An unexplained change may be a turn of the key that nobody noted."""
    before, after = _key_note(marks, k, -1), _key_note(marks, k, 1)
    wires = len(mark.cluster.wires) if mark.cluster else 0
    if before is None or after is None or wires < 2:
        return
    if state.crank == 1.0:
        return
    if abs(_ORDER[before.to] - _ORDER[after.to]) > 1:
        state.key |= _between(before.to, after.to)
        if not state.key & key_bit("start"):
            return
        if before.to != "start":
            state.key &= ~key_bit("start")


def _weights(
    states: list[_State],
    rows: list[tuple[float, float, float, float, bool, bool]],
    keep: list[int],
) -> F64:
    """Each repetition of the same state counts less: what goes wrong once goes wrong again."""
    seen: dict[tuple[object, ...], int] = {}
    weights = []
    for k, state in zip(keep, states, strict=True):
        what = (state.key, state.crank, state.engine, tuple(sorted(state.hands.items())))
        seen[what] = seen.get(what, 0) + 1
        base = max(1.0 / seen[what], 0.25)
        long = min(1.0, (rows[k][3] - rows[k][2]) / 0.25)
        sure = 1.0 if rows[k][5] else 0.6
        weights.append(base * sure * max(long, 0.3))
    return np.asarray(weights)


def _exercised(noted: Sequence[Noted], key: Ints) -> frozenset[str]:
    worked = {n.what for n in noted if n.to == "on" and n.what not in ("key", "engine")}
    worked |= {f"command_{n.to}" for n in noted if n.what == "command"}
    worked |= {"drive"} if any(n.what == "shift" for n in noted) else set()
    for position in KEY_POSITIONS:
        if any(int(k) == key_bit(position) for k in key):
            worked.add(f"key_{position}")
    return frozenset(worked)


def worked_key_off(hands: Mapping[str, F64], key: Ints) -> frozenset[str]:
    """Hands that were worked while the key was surely off or out, as ``brake_key_off``."""
    off = (key & ~(key_bit("out") | key_bit("off"))) == 0
    return frozenset(f"{name}_key_off" for name, v in hands.items() if bool((off & (v == 1)).any()))
