"""A fleet of cars to listen to: recordings made from a network, not from the model under test.

Every wire is a node between resistances and contacts (switches, pull-ups of a body computer,
loads, the meter's own input resistance); the project's network solver gives its voltage in every
pattern of contacts, on a battery rail with internal resistance, starter, and alternator.
Then come bounce, hum into whatever impedance the node has, noise, a scope's gain error, clipping
and steps. All spreads are far wider than the model under test assumes. Everything is invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from startwright.network.elements import Contact, Network, Resistor
from startwright.network.solve import closed_by, solve
from startwright.records.recordings import Recording, TimedAction, WirePlace

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


@dataclass
class Car:
    """A recording with the truth about every wire: function, level, whether it is dangerous."""

    recording: Recording
    actions: list[TimedAction]
    wires: dict[str, WirePlace]
    truth: dict[str, tuple[str | None, str | None]]
    kinds: dict[str, str]
    script: Script


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
    else:
        for name in late:
            work(name, *short.get(name, (0.7, 3.0)))
    duration = now + rng.uniform(0.5, 4.0)

    t = np.arange(0.0, duration, 1.0 / rate)
    position = np.zeros(len(t), dtype=int)
    for at, p in keys:
        # the key passes the positions between in a tenth of a second or two
        here = int(np.searchsorted(t, at))
        before = position[here - 1] if here else 0
        steps = list(range(before, p, 1 if p > before else -1))[1:]
        travel = rng.uniform(0.03, 0.12)
        for i, s in enumerate(steps):
            position[int(np.searchsorted(t, at - travel * (len(steps) - i))) :] = s
        position[here:] = p
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
    _power(s)
    return s


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


def _power(s: Script) -> None:
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


class Node:
    """A wire joined by resistances and contacts to held voltages; the network solver gives its own.

    Every source has a held node of its own. The network is linear, so it is solved once for every
    pattern of contacts with one source at 1 V and the others at 0 V, and the sources' true volts
    are superposed sample by sample.
    """

    def __init__(self, s: Script, meter_ohm: float) -> None:
        self.s = s
        self.meter_ohm = meter_ohm
        self.ties: list[tuple[float, float | Array, Array]] = []

    def tie(self, ohm: float, volts: float | Array, when: Array | None = None) -> Node:
        closed = np.ones(len(self.s.t), dtype=bool) if when is None else when.astype(bool)
        self.ties.append((float(ohm), volts, closed))
        return self

    def rail(self, ohm: float, when: Array | None = None) -> Node:
        return self.tie(ohm, self.s.rail, when)

    def ground(self, ohm: float, when: Array | None = None) -> Node:
        return self.tie(ohm, 0.0, when)

    def network(self) -> Network:
        """Node 0 is the wire, node 1 the far end of the meter, the others the sources."""
        return Network(
            names=("wire", "meter", *(f"source {k}" for k in range(len(self.ties)))),
            held=tuple(range(1, len(self.ties) + 2)),
            resistors=(Resistor("meter", 0, 1, self.meter_ohm),),
            contacts=tuple(
                Contact(f"tie {k}", k + 2, 0, f"tie {k}", (False, True), ohm)
                for k, (ohm, _, _) in enumerate(self.ties)
            ),
        )

    def solve(self) -> Array:
        """The wire's voltage at every sample; hum is a current that the meter's lead picks up."""
        s, rng = self.s, self.s.rng
        mains = rng.choice([50.0, 60.0])
        hum_A = rng.uniform(0.02, 1.2) * 1e-6
        phase = rng.uniform(0, 6)
        hum = hum_A * (
            np.sin(2 * np.pi * mains * s.t + phase) + 0.2 * np.sin(6 * np.pi * mains * s.t)
        )
        code = np.zeros(len(s.t), dtype=np.int64)
        for k, (_, _, when) in enumerate(self.ties):
            code |= when.astype(np.int64) << k
        patterns, which = np.unique(code, return_inverse=True)
        network, sources = self.network(), len(self.ties) + 1
        repeated = np.repeat(patterns, sources)
        closed = closed_by(network, {"": repeated} | {
            f"tie {k}": repeated >> k & 1 for k in range(len(self.ties))
        })  # fmt: skip
        ones = np.tile(np.eye(sources), (len(patterns), 1))
        share = solve(network, closed, ones).node_V[:, 0].reshape(len(patterns), sources)
        volts = share[which, 0] * hum * self.meter_ohm
        for k, (_, source_V, _) in enumerate(self.ties):
            volts = volts + share[which, k + 1] * source_V
        return volts


def bounced(s: Script, value: Array) -> Array:
    """A contact that bounces for a few milliseconds."""
    value = value.copy()
    dt = s.t[1] - s.t[0]
    for i in np.flatnonzero(np.diff(value.astype(int)) != 0):
        n = int(s.rng.uniform(0, 0.012) / dt)
        if n:
            value[i + 1 : i + 1 + n] = s.rng.random(len(value[i + 1 : i + 1 + n])) < 0.6
    return value


def delayed(s: Script, value: Array, on_s: float = 0.0, off_s: float = 0.0) -> Array:
    """A value that follows later: on after `on_s`, off after `off_s`."""
    dt = s.t[1] - s.t[0]
    result = value.copy()
    edges = np.flatnonzero(np.diff(value.astype(int)) != 0) + 1
    for i in edges:
        n = int((on_s if value[i] else off_s) / dt)
        result[i : i + n] = not value[i]
    return result


def pulse_train(s: Script, hz: float, duty: float) -> Array:
    return ((s.t * hz + s.rng.random()) % 1.0) < duty


def shaft_pulses(s: Script, per_rev: float, duty: float) -> Array:
    turns = np.cumsum(s.rpm / 60.0) * (s.t[1] - s.t[0])
    return ((turns * per_rev) % 1.0 < duty) & (s.rpm > 0)


def pull_up(s: Script, node: Node) -> str:
    """A body computer's pull-up: to the rail or to 5 V, steady or by pulses, awake or always."""
    rng = s.rng
    ohm = float(np.exp(rng.uniform(np.log(800), np.log(27_000))))
    volts = s.rail - 0.6 * (rng.random() < 0.4) if rng.random() < 0.6 else 5.0
    if rng.random() < 0.12:
        train = pulse_train(s, rng.uniform(8, 60), rng.uniform(0.05, 0.4))
        node.tie(ohm, volts, train)
        node.ground(rng.uniform(1e4, 1e5))
        return "strobe"
    node.tie(ohm, volts)
    return "steady"


# ---------------------------------------------------------------- the wires

Maker = Callable[[Script, Node], tuple[str | None, str | None]]


def _feed(s: Script, node: Node, live: Array, truth: tuple[str | None, str | None]):
    rng = s.rng
    load = float(np.exp(rng.uniform(np.log(0.7), np.log(300))))
    harness = rng.uniform(0.01, 0.06) + (rng.uniform(0.02, 0.3) if load > 10 else 0.0)
    node.rail(harness, bounced(s, live))
    node.ground(load)
    if rng.random() < 0.12:  # back-feed through a lamp or a module
        node.rail(load * rng.uniform(4, 40), s.key >= 1)
    return truth


def battery(s: Script, node: Node):
    return _feed(s, node, np.ones(len(s.t), dtype=bool), ("battery", "battery"))


def accessory(s: Script, node: Node):
    rng = s.rng
    live = (s.key == 2) | (s.key == 3)
    style = rng.choice(["plain", "delayed", "retained", "held"], p=[0.68, 0.12, 0.12, 0.08])
    if style == "delayed":
        live = delayed(s, live, rng.uniform(0.1, 0.8), 0.0)
    elif style == "held":
        live = s.key >= 2
    elif style == "retained":
        closed = delayed(s, live, 0.0, rng.uniform(4, 40))
        opened = np.maximum.accumulate(np.where(s.hand("driver_door"), s.t, -1.0))
        last_live = np.maximum.accumulate(np.where(live, s.t, -1.0))
        live = live | (closed & (s.key < 2) & (opened <= last_live))
    return _feed(s, node, live, ("accessory", "battery"))


def ignition(s: Script, node: Node):
    return _feed(s, node, s.key >= 3, ("ignition", "battery"))


def ignition_second(s: Script, node: Node):
    return _feed(s, node, s.key == 3, ("ignition", "battery"))


def starter(s: Script, node: Node):
    rng = s.rng
    live = s.starter if rng.random() < 0.4 else (s.key == 4)
    return _feed(s, node, live, ("starter", "battery"))


def key_sense(s: Script, node: Node):
    inside = s.key >= 1
    if s.rng.random() < 0.5:
        node.rail(s.rng.uniform(0.05, 50), inside)
        node.ground(s.rng.uniform(500, 50_000))
        return "key_sense", "battery"
    pull_up(s, node)
    node.ground(s.rng.uniform(0.05, 30), inside)
    return "key_sense", "ground"


def switched(
    s: Script, node: Node, name: str, value: Array, fed_share: float
) -> tuple[str | None, str | None]:
    rng = s.rng
    value = bounced(s, value)
    if rng.random() < fed_share:
        node.rail(rng.uniform(0.03, 0.4), value)
        if rng.random() < 0.7:
            node.ground(float(np.exp(rng.uniform(np.log(3), np.log(20_000)))))
        if rng.random() < 0.15:  # lamp test pulses of a body computer
            period = rng.uniform(0.25, 2.0)
            test = (s.t % period < rng.uniform(0.0003, 0.003)) & (s.key >= 1)
            node.rail(50.0, test & ~value)
        return name, "battery"
    pull_up(s, node)
    node.ground(rng.uniform(0.05, 30), value)
    if rng.random() < 0.15:
        node.ground(float(rng.uniform(30_000, 300_000)))  # damp
    return name, "ground"


def brake(s: Script, node: Node):
    return switched(s, node, "brake", s.hand("brake"), 0.9)


def hood(s: Script, node: Node):
    return switched(s, node, "hood", s.hand("hood"), 0.1)


def driver_door(s: Script, node: Node):
    return switched(s, node, "driver_door", s.hand("driver_door"), 0.1)


def trunk(s: Script, node: Node):
    return switched(s, node, "trunk", s.hand("trunk"), 0.15)


def horn(s: Script, node: Node):
    return switched(s, node, "horn", s.hand("horn"), 0.2)


def parking_light(s: Script, node: Node):
    on = s.hand("parking_light")
    for name in ("lock", "unlock"):
        if s.rng.random() < 0.2:  # the car flashes its lights
            on = on | delayed(s, s.hand(name), 0.1, 0.3)
    return switched(s, node, "parking_light", on, 0.75)


def park_neutral(s: Script, node: Node):
    if s.rng.random() < 0.2:
        node.rail(0.3, (s.key >= 3) & ~s.hand("drive"))
        node.ground(s.rng.uniform(100, 5000))
        return "park_neutral", "battery"
    return switched(s, node, "park_neutral", ~s.hand("drive"), 0.15)


def seat_heater(s: Script, node: Node):
    return switched(s, node, "seat_heater", s.hand("seat_heater"), 0.6)


def rear_defogger(s: Script, node: Node):
    return switched(s, node, "rear_defogger", s.hand("rear_defogger"), 0.7)


def dome_light(s: Script, node: Node):
    on = delayed(s, s.hand("driver_door"), 0.0, s.rng.uniform(0.0, 12.0))
    on &= ~((s.key >= 3) & ~s.hand("driver_door"))
    return switched(s, node, "dome_light", on, 0.45)


def _lock_pulse(s: Script, name: str) -> Array:
    pressed = s.hand(name)
    if s.rng.random() < 0.3:  # a relay's own pulse, whatever the press
        length = s.rng.uniform(0.25, 0.9)
        rising = np.flatnonzero(np.diff(np.concatenate([[0], pressed.astype(int)])) == 1)
        value = np.zeros(len(s.t), dtype=bool)
        for i in rising:
            value |= (s.t >= s.t[i] + 0.02) & (s.t < s.t[i] + 0.02 + length)
        return value
    return pressed


def _lock(s: Script, node: Node, name: str) -> tuple[str | None, str | None]:
    rng = s.rng
    other = "unlock" if name == "lock" else "lock"
    style = rng.choice(["ground", "battery", "reversing", "ladder"], p=[0.4, 0.2, 0.25, 0.15])
    value = bounced(s, _lock_pulse(s, name))
    if style == "reversing":
        node.ground(rng.uniform(0.02, 0.2), ~value)
        node.rail(rng.uniform(0.05, 0.3), value)
        node.ground(rng.uniform(1.0, 4.0), value)
        return name, "battery"
    if style == "battery":
        node.rail(rng.uniform(0.05, 1.0), value)
        if rng.random() < 0.6:
            node.ground(rng.uniform(50, 20_000))
        return name, "battery"
    if style == "ladder":
        up = float(rng.uniform(700, 5000))
        node.tie(up, 5.0 if rng.random() < 0.6 else s.rail)
        node.ground(rng.uniform(5, 60) * up if rng.random() < 0.5 else 1e9)
        one, two = rng.permutation([rng.uniform(0.05, 0.4), rng.uniform(0.7, 3.0)])
        node.ground(up * one, bounced(s, s.hand(name)))
        node.ground(up * two, bounced(s, s.hand(other)) & ~s.hand(name))
        return "lock", "ground"
    pull_up(s, node)
    node.ground(rng.uniform(0.05, 30), value)
    return name, "ground"


def lock(s: Script, node: Node):
    return _lock(s, node, "lock")


def unlock(s: Script, node: Node):
    return _lock(s, node, "unlock")


def tach(s: Script, node: Node):
    rng = s.rng
    style = rng.choice(["module", "module5", "coil", "coil_per_plug"])
    if style in ("module", "module5"):
        low = shaft_pulses(s, rng.choice([1, 1.5, 2, 3, 4]), rng.uniform(0.3, 0.7))
        node.tie(rng.uniform(500, 5000), 5.0 if style == "module5" else s.rail,
                 np.ones(len(s.t), dtype=bool) if rng.random() < 0.5 else s.key >= 3)  # fmt: skip
        node.ground(rng.uniform(5, 100), low)
    else:
        low = shaft_pulses(s, rng.choice([0.5, 1, 2, 3]), rng.uniform(0.1, 0.4))
        node.rail(rng.uniform(0.4, 1.5), s.key >= 3)
        node.ground(rng.uniform(0.05, 0.15), low)
        node.ground(5000.0)
        spike = np.diff(np.concatenate([[0], low.astype(int)])) == -1
        node.tie(0.02, rng.uniform(30, 300), spike & (rng.random(len(s.t)) < 0.7))
    return "tach", "ground"


def charge_lamp(s: Script, node: Node):
    live = s.key >= 3
    charging = s.engine & ~s.starter
    charging = delayed(s, charging, s.rng.uniform(0.1, 1.0), 0.2)
    node.rail(s.rng.uniform(40, 120), live & ~charging)
    node.tie(s.rng.uniform(3, 12), s.rng.uniform(0.7, 1.8), ~charging & live)
    node.ground(s.rng.uniform(5, 50), ~live)
    node.rail(0.3, charging)
    return "charge_lamp", "battery"


def wait_to_start(s: Script, node: Node):
    fresh = (s.key >= 3) & ~s.engine
    first = np.flatnonzero(fresh)
    until = s.t[first[0]] + s.rng.uniform(1.0, 9.0) if len(first) else 0.0
    lit = fresh & (s.t < until) & ~s.starter
    node.rail(s.rng.uniform(50, 2000), s.key >= 3)
    node.ground(s.rng.uniform(0.1, 5), lit)
    return "wait_to_start", "ground"


# look-alikes: nothing that a fitter may use


def blower(s: Script, node: Node):
    live = s.key == 3
    dt = s.t[1] - s.t[0]
    tau = s.rng.uniform(0.4, 3.0)
    # a motor coasting down is a source behind its winding: filtered on the way down only
    value = np.zeros(len(s.t))
    k = np.exp(-dt / tau)
    level = 0.0
    duty = s.rng.uniform(0.3, 1.0)
    for i, on in enumerate(live.tolist()):
        level = 1.0 if on else level * k
        value[i] = level
    node.rail(0.2, live)
    node.tie(3.0, s.rail * value * duty)
    return (None, None)


def pump(s: Script, node: Node):
    fresh = (s.key == 3) & ~s.engine & ~s.starter
    first = np.flatnonzero(fresh)
    prime = s.t[first[0]] + s.rng.uniform(1.0, 3.0) if len(first) else 0.0
    live = (fresh & (s.t < prime)) | s.engine | s.starter
    return _feed(s, node, live & (s.key >= 3), (None, None))


def oil_lamp(s: Script, node: Node):
    pressure = delayed(s, s.engine, s.rng.uniform(0.3, 2.0), 0.5)
    node.rail(s.rng.uniform(40, 2000), s.key >= 3)
    node.ground(s.rng.uniform(0.1, 10), ~pressure)
    return (None, None)


def main_relay(s: Script, node: Node):
    return _feed(s, node, delayed(s, s.key >= 3, 0.05, s.rng.uniform(2, 20)), (None, None))


def window_feed(s: Script, node: Node):
    return _feed(s, node, delayed(s, s.key >= 3, 0.1, s.rng.uniform(3, 40)), (None, None))


def running_output(s: Script, node: Node):
    return _feed(s, node, delayed(s, s.engine, s.rng.uniform(0, 1.5), 0.1), (None, None))


def flasher(s: Script, node: Node):
    on = pulse_train(s, s.rng.uniform(1.0, 2.0), 0.5)
    during = s.hand("parking_light") if s.rng.random() < 0.4 else (s.key == 3)
    node.rail(0.1, on & during)
    node.ground(s.rng.uniform(3, 500))
    return (None, None)


def dimmer(s: Script, node: Node):
    on = pulse_train(s, s.rng.uniform(60, 400), s.rng.uniform(0.15, 0.9))
    node.rail(0.5, on & s.hand("parking_light"))
    node.ground(s.rng.uniform(20, 500))
    return (None, None)


def interlock(s: Script, node: Node):
    return _feed(s, node, (s.key >= 3) & s.hand("brake"), (None, None))


def reverse_lamp(s: Script, node: Node):
    return _feed(s, node, (s.key >= 3) & s.hand("drive"), (None, None))


def sensor(s: Script, node: Node):
    level = s.rng.uniform(0.5, 4.5) + np.cumsum(s.rng.normal(0, 0.002, len(s.t)))
    node.tie(2000.0, np.clip(level, 0.2, 4.8), s.key >= 3)
    node.ground(50_000.0)
    return (None, None)


def unused(s: Script, node: Node):
    if s.rng.random() < 0.5:
        node.tie(5e6, s.rail)
    return (None, None)


def injector(s: Script, node: Node):
    node.rail(13.0, s.key >= 3)
    node.ground(0.3, shaft_pulses(s, 0.5, s.rng.uniform(0.03, 0.12)))
    node.ground(10_000.0)
    return "tach", "ground"  # it gives the engine's speed as any tach line does


def fan_control(s: Script, node: Node):
    on = pulse_train(s, s.rng.uniform(10, 400), s.rng.uniform(0.1, 0.9))
    node.tie(1000.0, s.rail, s.key >= 3)
    node.ground(10.0, on & (s.engine if s.rng.random() < 0.5 else s.key == 3))
    node.ground(50_000.0)
    return (None, None)


def lamp_test(s: Script, node: Node):
    fresh = (s.key >= 3) & ~s.engine
    first = np.flatnonzero(fresh)
    until = s.t[first[0]] + s.rng.uniform(2.0, 5.0) if len(first) else 0.0
    node.rail(s.rng.uniform(50, 2000), s.key >= 3)
    node.ground(0.5, fresh & (s.t < until))
    return (None, None)


def other_door(s: Script, node: Node):
    return switched(s, node, "door", np.zeros(len(s.t), dtype=bool), 0.1)


def ground(s: Script, node: Node):
    node.ground(s.rng.uniform(0.005, 0.2))
    return "ground", "ground"


# never to be touched


def srs(s: Script, node: Node):
    awake = s.key >= 3
    node.tie(s.rng.uniform(100, 5000), s.rng.uniform(0.3, 5.0), awake)
    if s.rng.random() < 0.4:
        node.tie(200.0, 0.0, awake & pulse_train(s, s.rng.uniform(0.3, 20), 0.1))
    node.ground(s.rng.uniform(1000, 50_000))
    return "srs", None


def data(s: Script, node: Node):
    rng = s.rng
    n = len(s.t)
    style = rng.choice(["can_h", "can_l", "lin", "slow_h", "slow_l", "single", "kline"],
                       p=[0.22, 0.22, 0.22, 0.1, 0.08, 0.1, 0.06])  # fmt: skip
    recessive, dominant = {
        "can_h": (2.5, 3.5), "can_l": (2.5, 1.5), "lin": (-1.0, 0.6), "slow_h": (0.1, 3.6),
        "slow_l": (5.0, 1.4), "single": (0.0, rng.choice([4.0, 7.0])), "kline": (-1.0, 0.3),
    }[style]  # fmt: skip
    awake = (s.key >= 2) if rng.random() < 0.5 else np.ones(n, dtype=bool)
    if rng.random() < 0.3:
        awake = s.key >= 1
    if style == "kline":
        awake = np.zeros(n, dtype=bool)
    load = rng.uniform(0.05, 0.6)
    # frames come and go in runs of a few samples; within a frame bits fall as they like
    dt = s.t[1] - s.t[0]
    frame_s = 0.006 if style in ("lin", "kline") else 0.0003
    slots = max(1, round(frame_s / dt))
    busy = np.repeat(rng.random(-(-n // slots)) < load, slots)[:n]
    if rng.random() < 0.3 and style not in ("lin", "kline"):
        bits = np.clip(rng.normal(0.5, 0.15, n), 0, 1) * busy  # a scope that averages
    else:
        bits = (busy & (rng.random(n) < 0.5)).astype(float)
    bits = bits * awake
    rest = s.rail * rng.uniform(0.9, 1.0) if recessive < 0 else np.full(n, recessive)
    if recessive == 2.5 and rng.random() < 0.5:
        rest = np.where(awake, rest, 0.05)
    node.tie(60.0 if recessive == 2.5 else 900.0, rest + bits * (dominant - rest))
    return "data", None


CATALOGUE: list[tuple[str, Maker, float]] = [
    ("battery", battery, 0.9), ("accessory", accessory, 0.9), ("ignition", ignition, 0.95),
    ("ignition_second", ignition_second, 0.6), ("starter", starter, 0.95),
    ("key_sense", key_sense, 0.4), ("brake", brake, 0.8), ("hood", hood, 0.4),
    ("driver_door", driver_door, 0.5), ("trunk", trunk, 0.4), ("horn", horn, 0.4),
    ("parking_light", parking_light, 0.7), ("park_neutral", park_neutral, 0.35),
    ("seat_heater", seat_heater, 0.15), ("rear_defogger", rear_defogger, 0.2),
    ("dome_light", dome_light, 0.2), ("lock", lock, 0.7), ("unlock", unlock, 0.7),
    ("tach", tach, 0.6), ("charge_lamp", charge_lamp, 0.12), ("wait_to_start", wait_to_start, 0.05),
    ("blower", blower, 0.15), ("pump", pump, 0.15), ("oil_lamp", oil_lamp, 0.1),
    ("main_relay", main_relay, 0.1), ("window_feed", window_feed, 0.08),
    ("running_output", running_output, 0.1), ("flasher", flasher, 0.15), ("dimmer", dimmer, 0.2),
    ("interlock", interlock, 0.08), ("reverse_lamp", reverse_lamp, 0.1), ("sensor", sensor, 0.2),
    ("unused", unused, 0.25), ("injector", injector, 0.08), ("fan_control", fan_control, 0.1),
    ("lamp_test", lamp_test, 0.08), ("other_door", other_door, 0.1), ("ground", ground, 0.25),
    ("srs", srs, 0.2), ("data", data, 0.7), ("data", data, 0.35),
]  # fmt: skip


def digitised(rng: np.random.Generator, volts: Array) -> Array:
    """What a scope makes of it: gain, offset, noise, range, steps."""
    bits = int(rng.integers(8, 13))
    low, high = [(-20.0, 20.0), (0.0, 20.0), (-5.0, 25.0), (-16.0, 16.0), (-40.0, 40.0)][
        rng.integers(0, 5 if bits > 8 else 4)
    ]
    volts = volts * rng.normal(1.0, 0.006) + rng.normal(0.0, 0.02)
    volts = volts + rng.normal(0.0, rng.uniform(0.003, 0.08), len(volts))
    step = (high - low) / 2**bits
    return np.clip(np.round((volts - low) / step), 0, 2**bits - 1) * step + low


def _where(kind: str, rng: np.random.Generator) -> tuple[str, str]:
    """Place and plug as a fitter would write them down."""
    if kind in ("battery", "accessory", "ignition", "ignition_second", "starter", "key_sense"):
        return "steering column", "ignition switch, white 8-way"
    if kind == "data" and rng.random() < 0.6:
        return "behind the dash", "gateway, black 20-way"
    return str(rng.choice(["driver's kick panel", "behind the dash"])), "body computer, grey 24-way"


def car(seed: int, rate: float | None = None) -> Car:
    """One recording; the same for the same seed."""
    rng = np.random.default_rng(seed)
    rate = rate or float(np.exp(rng.uniform(np.log(250), np.log(4000))))
    s = script(rng, round(rate))
    meter = float(rng.choice([1e6, 1e7]))
    names: list[str] = []
    columns: list[Array] = []
    truth: dict[str, tuple[str | None, str | None]] = {}
    kinds: dict[str, str] = {}
    places: dict[str, WirePlace] = {}
    chosen = [c for c in CATALOGUE if rng.random() < c[2]]
    rng.shuffle(chosen)  # type: ignore[arg-type]
    told = rng.random() < 0.5
    spark = rng.uniform(0.0, 0.25) if rng.random() < 0.5 else 0.0
    for k, (kind, maker, _) in enumerate(chosen):
        node = Node(s, meter)
        function, active = maker(s, node)
        volts = node.solve()
        if spark:
            volts = volts + np.where(
                s.engine & (rng.random(len(s.t)) < 0.01), rng.normal(0, 3 * spark, len(s.t)), 0.0
            )
        name = f"ch{k + 1}"
        names.append(name)
        columns.append(digitised(rng, volts).astype(np.float32))
        truth[name] = (function, active)
        kinds[name] = kind
        if function == "srs":
            places[name] = WirePlace(name, "under the seat", "yellow 2-way", "1", "GN")
        elif told:
            places[name] = WirePlace(name, *_where(kind, rng), str(k + 1), "GY/RD")
    recording = Recording(s.t, np.stack(columns, axis=1), tuple(names))
    return Car(recording, s.noted, places, truth, kinds, s)
