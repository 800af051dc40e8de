"""A wire as a node of a network, and how contacts and pulses behave on it."""

from __future__ import annotations

import numpy as np

from identify.fleet.cycle import Array, Script
from startwright.network.elements import Contact, Network, Resistor
from startwright.network.solve import closed_by, solve


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
