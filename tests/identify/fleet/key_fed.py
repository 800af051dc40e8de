"""Wires fed by the key switch, and those worked by hand."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from identify.fleet.cycle import Array, Script
from identify.fleet.node import Node, bounced, delayed, pull_up

Maker = Callable[[Script, Node], tuple[str | None, str | None]]


def feed(s: Script, node: Node, live: Array, truth: tuple[str | None, str | None]):
    rng = s.rng
    load = float(np.exp(rng.uniform(np.log(0.7), np.log(300))))
    harness = rng.uniform(0.01, 0.06) + (rng.uniform(0.02, 0.3) if load > 10 else 0.0)
    node.rail(harness, bounced(s, live))
    node.ground(load)
    if rng.random() < 0.12:  # back-feed through a lamp or a module
        node.rail(load * rng.uniform(4, 40), s.key >= 1)
    return truth


def battery(s: Script, node: Node):
    return feed(s, node, np.ones(len(s.t), dtype=bool), ("battery", "battery"))


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
    return feed(s, node, live, ("accessory", "battery"))


def ignition(s: Script, node: Node):
    return feed(s, node, s.key >= 3, ("ignition", "battery"))


def ignition_second(s: Script, node: Node):
    return feed(s, node, s.key == 3, ("ignition", "battery"))


def starter(s: Script, node: Node):
    rng = s.rng
    live = s.starter if rng.random() < 0.4 else (s.key == 4)
    return feed(s, node, live, ("starter", "battery"))


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
