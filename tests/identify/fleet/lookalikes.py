"""Look-alikes: nothing that a fitter may use, and what is never to be touched."""

from __future__ import annotations

import numpy as np

from identify.fleet.cycle import Script
from identify.fleet.key_fed import feed, switched
from identify.fleet.node import Node, delayed, pulse_train, shaft_pulses


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
    return feed(s, node, live & (s.key >= 3), (None, None))


def oil_lamp(s: Script, node: Node):
    pressure = delayed(s, s.engine, s.rng.uniform(0.3, 2.0), 0.5)
    node.rail(s.rng.uniform(40, 2000), s.key >= 3)
    node.ground(s.rng.uniform(0.1, 10), ~pressure)
    return (None, None)


def main_relay(s: Script, node: Node):
    return feed(s, node, delayed(s, s.key >= 3, 0.05, s.rng.uniform(2, 20)), (None, None))


def window_feed(s: Script, node: Node):
    return feed(s, node, delayed(s, s.key >= 3, 0.1, s.rng.uniform(3, 40)), (None, None))


def running_output(s: Script, node: Node):
    return feed(s, node, delayed(s, s.engine, s.rng.uniform(0, 1.5), 0.1), (None, None))


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
    return feed(s, node, (s.key >= 3) & s.hand("brake"), (None, None))


def reverse_lamp(s: Script, node: Node):
    return feed(s, node, (s.key >= 3) & s.hand("drive"), (None, None))


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
