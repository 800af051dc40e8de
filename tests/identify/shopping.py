"""A simulated fitter with a meter: checks needed, by the best next check and by a fixed list.

A wire of the fleet is read in a state of the car by solving its node for that state; the same seed
builds the same wire every time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from identify.fleet import CATALOGUE, Maker, Node, Script
from startwright.identify import identify_readings
from startwright.identify.actions import parse
from startwright.identify.checks import CHECKS, FIXED_LIST, PROBE_s, TEST_LOAD_s
from startwright.identify.report import IdentifyReport
from startwright.records.readings import Meter, Reading

MOST_CHECKS = 60
NAMES = ("battery", "accessory", "ignition", "starter", "brake", "hood", "parking_light", "lock")
POSITION = {"out": 0, "off": 1, "accessory": 2, "run": 3, "start": 4}


@dataclass
class Run:
    checks: int
    minutes: float
    known: int
    wrong: int
    wires: int


def still(seed: int, actions: tuple[str, ...]) -> Script:
    """A quarter of a second of the car in one state."""
    rng = np.random.default_rng(seed)
    n = 100
    key, engine, starter = 1, False, False
    hands = {}
    for action in actions:
        what, to = parse(action)
        if what == "key":
            key = POSITION[to]
            starter = to == "start"
        elif what == "engine":
            engine = to == "on"
        else:
            hands["drive" if what == "shift" else what] = np.ones(n, dtype=bool)
    s = Script(
        t=np.arange(n) / 400.0,
        rng=rng,
        key=np.full(n, key),
        starter=np.full(n, starter),
        engine=np.full(n, engine),
        hands=hands,
        noted=[],
        true=[],
    )
    s.rail = np.full(n, 10.2 if starter else 14.1 if engine else 12.5)
    s.rpm = np.full(n, 800.0 if engine else 200.0 if starter else 0.0)
    return s


def value(seed: int, maker: Maker, actions: tuple[str, ...], lamp: bool = False) -> float:
    """What the meter shows."""
    s = still(seed, actions)
    node = Node(s, 45.0 if lamp else 1e7)
    maker(s, node)
    volts = float(np.median(node.solve()[20:]))
    return (12.0 if volts > 6.0 else 0.0) if lamp else round(volts, 2)


def checks_needed(seed: int) -> tuple[Run, Run]:
    """The same car by the best next check, and by the fixed list."""
    rng = np.random.default_rng(seed)
    catalogue = {name: maker for name, maker, _ in CATALOGUE}
    chosen = [n for n in NAMES if rng.random() < 0.8] or ["battery"]
    wires = {f"w{k}": (seed * 1000 + k, catalogue[n], n) for k, n in enumerate(chosen)}
    return _by_next_check(wires), _by_list(wires)


Wires = dict[str, tuple[int, Maker, str]]


def _count(report: IdentifyReport, wires: Wires, checks: int, seconds: float) -> Run:
    verdicts = {v.wire: v for v in report.wires}
    known = [w for w in wires if verdicts[w].function is not None]
    wrong = [w for w in known if verdicts[w].function != wires[w][2]]
    return Run(checks, seconds / 60.0, len(known), len(wrong), len(wires))


def _read(wires: Wires, wire: str, actions: tuple[str, ...], lamp: bool = False) -> Reading:
    seed, maker, _ = wires[wire]
    return Reading(
        wire=wire,
        volts_V=value(seed, maker, actions, lamp),
        during=list(actions),
        meter=Meter(kind="lamp" if lamp else "digital"),
    )


def _by_next_check(wires: Wires) -> Run:
    readings = [_read(wires, w, ("key run",)) for w in wires]
    seconds = len(wires) * (PROBE_s + 3.0)
    report = identify_readings(readings)
    while len(readings) < MOST_CHECKS:
        report = identify_readings(readings)
        open_wires = {v.wire for v in report.wires if v.function is None and not v.leave_alone}
        nexts = [c for c in report.next_checks if c.wire in open_wires]
        if not nexts:
            break
        check = nexts[0]
        actions = tuple(a for a in check.do if a != "key off")
        lamp = check.meter == "test load"
        readings.append(_read(wires, check.wire, actions, lamp))
        seconds += check.seconds
    return _count(report, wires, len(readings), seconds)


def _by_list(wires: Wires) -> Run:
    readings: list[Reading] = []
    seconds = 0.0
    report = None
    for actions in FIXED_LIST:
        for wire in wires:
            readings.append(_read(wires, wire, actions))
            seconds += PROBE_s + CHECKS[actions]
        report = identify_readings(readings)
        if all(v.function is not None for v in report.wires):
            break
    for wire in wires:
        verdict = {v.wire: v for v in report.wires}[wire] if report else None
        if verdict is not None and verdict.likely == "battery":
            readings.append(_read(wires, wire, (), lamp=True))
            seconds += TEST_LOAD_s
    report = identify_readings(readings)
    return _count(report, wires, len(readings), seconds)
