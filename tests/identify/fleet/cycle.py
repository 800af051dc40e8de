"""What happens in one key cycle, what is noted of it, and what the battery rail does meanwhile."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from startwright.records.recordings import TimedAction

Array = np.ndarray


@dataclass
class Script:
    """What truly happened, on the sample grid, and what was noted of it."""

    t: Array
    rng: np.random.Generator
    key: Array  # 0 out .. 4 start
    starter: Array
    engine: Array
    hands: dict[str, Array]
    noted: list[TimedAction]
    true: list[TimedAction]
    rail: Array = field(default_factory=lambda: np.zeros(0))
    rpm: Array = field(default_factory=lambda: np.zeros(0))

    def hand(self, name: str) -> Array:
        return self.hands.get(name, np.zeros(len(self.t), dtype=bool))


POSITIONS = ("out", "off", "accessory", "run", "start")
PAIRED = {
    "brake": ("press", "release"), "hood": ("open", "close"), "driver_door": ("open", "close"),
    "trunk": ("open", "close"), "parking_light": ("on", "off"), "horn": ("press", "release"),
    "lock": ("press", "release"), "unlock": ("press", "release"), "seat_heater": ("on", "off"),
    "rear_defogger": ("on", "off"), "drive": ("drive", "park"),
}  # fmt: skip


def script(rng: np.random.Generator, rate: float) -> Script:
    """One key cycle with hands at work before, in between and after."""
    now = rng.uniform(0.8, 2.5)
    true: list[TimedAction] = []
    pieces: dict[str, list[tuple[float, float]]] = {name: [] for name in PAIRED}
    keys: list[tuple[float, int]] = []
    spins: list[tuple[float, float, bool]] = []

    def wait(low: float = 0.5, high: float = 2.5) -> None:
        nonlocal now
        now += rng.uniform(low, high)

    def note(action: str, at: float | None = None) -> None:
        true.append(TimedAction(now if at is None else at, action))

    def key(position: int, word: str) -> None:
        keys.append((now, position))
        note(f"key {word}")

    def work(name: str, low: float, high: float) -> None:
        nonlocal now
        a = now
        on, off = PAIRED[name]
        noun = "shift" if name == "drive" else name
        note(f"{noun} {on}")
        now += rng.uniform(low, high)
        note(f"{noun} {off}")
        pieces[name].append((a, now))
        wait()

    short = {"horn": (0.2, 1.0), "lock": (0.25, 1.2), "unlock": (0.25, 1.2)}
    todo = [n for n in PAIRED if n not in ("brake", "seat_heater", "rear_defogger", "drive")
            and rng.random() < 0.82]  # fmt: skip
    if "unlock" in todo and rng.random() < 0.4:
        todo.append("unlock")
    rng.shuffle(todo)
    cut = rng.integers(0, len(todo) + 1)
    early, late = todo[:cut], todo[cut:]
    # two presses of unlock belong together
    for name in early:
        work(name, *short.get(name, (0.7, 3.0)))
    off_early, off_late = rng.random() < 0.45, rng.random() < 0.35
    if off_early:
        work("brake", 0.4, 2.0)
    if rng.random() < 0.85:
        key(1, "insert")
        wait()
    else:
        keys.append((0.0, 1))
    if rng.random() < 0.9:
        key(2, "accessory")
        wait(0.6, 3.0)
    key(3, "run")
    wait(1.5, 6.0)
    brake_on = now if rng.random() < 0.85 else None
    if brake_on is not None:
        note("brake press")
        wait(0.4, 1.5)
    tries = 2 if rng.random() < 0.12 else 1
    for k in range(tries):
        key(4, "start")
        spin = rng.uniform(0.45, 3.0)
        begin = now + rng.uniform(0.01, 0.08)
        ecu_cut = rng.random() < 0.25
        caught = k == tries - 1 and rng.random() < 0.96
        release = spin + (rng.uniform(0.2, 1.2) if ecu_cut else 0.0)
        end = begin + spin if ecu_cut else now + release
        spins.append((begin, end, caught))
        if caught:
            note("engine starts", end - rng.uniform(0.0, 0.25))
        now += release
        key(3, "run")
        wait(1.0, 3.0)
    if brake_on is not None:
        note("brake release")
        pieces["brake"].append((brake_on, now))
        wait()
    if rng.random() < 0.5:
        work("brake", 0.5, 2.0)
    for name in ("seat_heater", "rear_defogger"):
        if rng.random() < 0.5:
            work(name, 1.0, 3.5)
    if rng.random() < 0.7:
        a = now
        note("brake press")
        wait(0.4, 1.2)
        work("drive", 0.9, 3.0)
        note("brake release")
        pieces["brake"].append((a, now))
        wait()
    wait(0.5, 3.0)
    if rng.random() < 0.75:
        key(1, "off")
        note("engine stops", now + rng.uniform(0.2, 0.7))
        wait(1.0, 4.0)
        if rng.random() < 0.8:
            key(0, "remove")
            wait()
        for name in late:
            work(name, *short.get(name, (0.7, 3.0)))
        if off_late:
            work("brake", 0.4, 2.0)
    else:
        for name in late:
            work(name, *short.get(name, (0.7, 3.0)))
    duration = now + rng.uniform(0.5, 4.0)

    t = np.arange(0.0, duration, 1.0 / rate)
    position = _turned(rng, t, keys)
    hands = {}
    for name, spans in pieces.items():
        value = np.zeros(len(t), dtype=bool)
        for a, b in spans:
            value |= (t >= a) & (t < b)
        hands[name] = value
    starter = np.zeros(len(t), dtype=bool)
    engine = np.zeros(len(t), dtype=bool)
    for a, b, caught in spins:
        starter |= (t >= a) & (t < b)
        if caught:
            engine |= t >= b - min(0.2, 0.3 * (b - a))
    off = [at for at, p in keys if p < 3 and spins and at > spins[-1][1]]
    if off:
        engine &= t < off[0] + rng.uniform(0.1, 0.6)
    s = Script(t, rng, position, starter, engine, hands, _noted(rng, true), true)
    power(s)
    return s


def _turned(rng: np.random.Generator, t: Array, keys: list[tuple[float, int]]) -> Array:
    """The key's position: it passes those between in a tenth of a second or two."""
    position = np.zeros(len(t), dtype=int)
    for at, p in keys:
        here = int(np.searchsorted(t, at))
        before = position[here - 1] if here else 0
        steps = list(range(before, p, 1 if p > before else -1))[1:]
        travel = rng.uniform(0.03, 0.12)
        for i, s in enumerate(steps):
            position[int(np.searchsorted(t, at - travel * (len(steps) - i))) :] = s
        position[here:] = p
    return position


def _noted(rng: np.random.Generator, true: list[TimedAction]) -> list[TimedAction]:
    """Early or late by a few tenths; some missing."""
    spread = rng.uniform(0.03, 0.3)
    bias = rng.normal(0.0, 0.1)
    missing = rng.choice([0.0, 0.02, 0.06])
    kept = [
        TimedAction(max(0.0, round(a.time_s + bias + spread * rng.standard_normal(), 2)), a.action)
        for a in true
        if rng.random() >= missing
    ]
    # the hand that notes keeps the order
    times = sorted(a.time_s for a in kept)
    return [TimedAction(x, a.action) for x, a in zip(times, kept, strict=True)]


def power(s: Script) -> None:
    """Battery, starter, alternator: the rail, and the engine's speed."""
    rng, t = s.rng, s.t
    dt = t[1] - t[0]
    ocv = rng.uniform(11.9, 12.9)
    ohm = rng.uniform(0.006, 0.022)
    idle, flare = rng.uniform(620, 1100), rng.uniform(1.2, 2.2)
    crank_rpm = rng.uniform(130, 320)
    amps = (
        0.5 + rng.uniform(1, 6) * ((s.key == 2) | (s.key == 3)) + rng.uniform(4, 20) * (s.key >= 3)
    )
    amps = amps + 8.0 * s.hand("brake") + 5.0 * s.hand("parking_light")
    if rng.random() < 0.12:  # glow plugs
        fresh = (s.key == 3) & ~s.engine
        amps = amps + rng.uniform(30, 80) * fresh
    since = np.zeros(len(t))
    on = np.flatnonzero(np.diff(np.concatenate([[0], s.starter.astype(int)])) == 1)
    for i in on:
        since[i:] = t[i:] - t[i]
    compression = 1 + rng.uniform(0.08, 0.3) * np.sin(
        2 * np.pi * crank_rpm / 60 * rng.choice([1.5, 2, 3]) * since
    )
    draw = rng.uniform(90, 230) * compression + rng.uniform(200, 450) * np.exp(-since / 0.06)
    amps = amps + np.where(s.starter, draw, 0.0)
    rail = ocv - ohm * amps
    started = np.flatnonzero(np.diff(np.concatenate([[0], s.engine.astype(int)])) == 1)
    target = rng.uniform(13.4, 14.8)
    lift = np.zeros(len(t))
    speed = np.where(s.starter, crank_rpm * (1 + 0.1 * np.sin(2 * np.pi * 6 * t)), 0.0)
    for i in started:
        delay, tau = rng.uniform(0.1, 2.0), rng.uniform(0.05, 0.8)
        after = t[i:] - t[i]
        lift[i:] = np.clip(1 - np.exp(-np.maximum(after - delay, 0) / tau), 0, 1)
        speed[i:] = idle * (1 + (flare - 1) * np.exp(-after / rng.uniform(0.5, 1.5)))
    lift *= s.engine & ~s.starter
    wander = 1 + 0.015 * np.sin(2 * np.pi * rng.uniform(0.3, 1.0) * t + rng.uniform(0, 6))
    s.rpm = np.where(s.engine & ~s.starter, speed * wander, speed * s.starter)
    ripple = rng.uniform(0.01, 0.15) * np.sin(2 * np.pi * rng.uniform(200, 900) * t)
    s.rail = rail + lift * (target - rail + ripple)
    del dt
