"""Locks, tach lines and telltales."""

from __future__ import annotations

import numpy as np

from identify.fleet.cycle import Array, Script
from identify.fleet.node import Node, bounced, delayed, pull_up, shaft_pulses


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
