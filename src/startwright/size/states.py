"""The states in which the wiring is loaded: key, hands, unit steps and pulses, relays settled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from startwright.car.build import Car
from startwright.car.surroundings import values
from startwright.network.elements import Network
from startwright.network.solve import Solution, closed_by, solve
from startwright.records.words import KEY_POSITIONS
from startwright.size.shorts import joined

ROUNDS = 12
SHORT_STEP_S = 30.0
"""A step no longer than this is weighed by time-current, a longer one as lasting."""
CRANK_BY_HAND_S = 15.0
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class States:
    """S states: every control variable's value, and what each state is in words."""

    controls: dict[str, Ints]
    says: tuple[str, ...]
    step: tuple[str, ...] = field(default=())
    """Name of the unit's step in each state; empty where it is idle."""
    seconds: tuple[float, ...] = field(default=())
    """How long each state lasts; infinite where it may last for good."""

    def __len__(self) -> int:
        return len(self.says)

    def only(self, rows: NDArray[np.int64]) -> States:
        """Some of the states."""
        return States(
            {k: v[rows] for k, v in self.controls.items()},
            tuple(self.says[i] for i in rows),
            tuple(self.step[i] for i in rows),
            tuple(self.seconds[i] for i in rows),
        )


@dataclass
class _Rows:
    names: tuple[str, ...]
    rows: list[dict[str, int]] = field(default_factory=list)
    says: list[str] = field(default_factory=list)
    step: list[str] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)

    def add(
        self, says: str, chosen: Mapping[str, int], step: str = "", seconds: float = inf
    ) -> None:
        row = dict.fromkeys(self.names, 0)
        row.update({k: v for k, v in chosen.items() if k in row})
        self.rows.append(row)
        self.says.append(says)
        self.step.append(step)
        self.seconds.append(seconds)

    def done(self) -> States:
        columns = {n: np.array([r[n] for r in self.rows], dtype=np.int64) for n in self.names}
        return States(columns, tuple(self.says), tuple(self.step), tuple(self.seconds))


def _hands(car: Car) -> tuple[str, ...]:
    return tuple(
        n
        for n in car.network.controls()
        if n not in ("key", "gear", "engine") and not n.startswith(("out.", "coil."))
    )


def loaded(car: Car) -> States:
    """List the states in which a wire, contact or fuse can carry most.

    The key in every position; every hand switch alone and all at once; every step of the unit, key
    out and key in run, hands still and working; every pulse of every command, alone and during each
    step. Coils stand open; `settled` moves them.

    Parameters
    ----------
    car : Car
        Built with ``hold=False``.

    Returns
    -------
    States

    Source: none, enumeration of the unit's and vehicle's records.
    """
    names = tuple(car.network.controls())
    rows = _Rows(names)
    hands = _hands(car)
    every = dict.fromkeys(hands, 1)
    run = KEY_POSITIONS.index("run")
    for k, key in enumerate(KEY_POSITIONS):
        rows.add(f"key {key}", {"key": k}, seconds=CRANK_BY_HAND_S if key == "start" else inf)
    for hand in hands:
        word = f"{hand.replace('_', ' ')} {values(hand)[1]}"
        rows.add(f"key out, {word}", {hand: 1})
        rows.add(f"key run, {word}", {"key": run, "engine": 1, hand: 1})
    rows.add("key run, everything on", {"key": run, "engine": 1, **every})
    always: list[tuple[str, str, float, dict[str, int]]] = [("unit idle", "", inf, {})]
    for step in car.unit.steps:
        outs = {f"out.{lead}": 1 for lead in car.unit.driven(frozenset(step.drives))}
        outs["engine"] = int("starter" not in step.drives and step.like == "run")
        lasts = step.for_s or step.at_most_s or inf
        always.append(
            (f"step {step.step}", step.step, lasts if lasts <= SHORT_STEP_S else inf, outs)
        )
    for says, name, lasts, outs in always[1:]:
        for key in ("out", "run"):
            base = {**outs, "key": KEY_POSITIONS.index(key)}
            rows.add(f"{says}, key {key}", base, name, lasts)
            rows.add(f"{says}, key {key}, everything on", {**base, **every}, name, lasts)
            for hand in hands:
                word = f"{hand.replace('_', ' ')} {values(hand)[1]}"
                rows.add(f"{says}, key {key}, {word}", {**base, hand: 1}, name, lasts)
    for command, pulses in car.unit.pulses.items():
        for pulse in pulses:
            driven = {f"out.{lead}": 1 for lead in car.unit.driven(frozenset(pulse.drives))}
            word = f"command {command.replace('_', ' ')}"
            lasts = pulse.repeat_s or pulse.pulse_s
            for says, name, _, outs in always:
                rows.add(f"{word}, {says}", {**outs, **driven}, name, lasts)
            rows.add(f"{word}, key run", {"key": run, "engine": 1, **driven}, seconds=lasts)
    return rows.done()


def held_V(car: Car, network: Network, rail_V: float) -> NDArray[np.float64]:
    """Give the volts of the held nodes with the battery rail at a voltage.

    Source: none, the car's own list of held nodes.
    """
    return np.array([rail_V if car.held_at[n] == "battery" else 0.0 for n in network.held])


def settled(
    car: Car, network: Network, states: States, rail_V: float, start: int | None = 0
) -> tuple[States, Solution, bool]:
    """Let the relays pull in and drop out until nothing moves.

    Parameters
    ----------
    car : Car
    network : Network
        The car's network, perhaps with other resistances.
    states : States
    rail_V : float
        Volts of the battery rail.
    start : int
        0 begins with every relay at rest, 1 with every relay pulled in, None as the states say.

    Returns
    -------
    States, Solution, bool
        The states with their coils as settled, volts and amps (`shorted` where battery and ground
        are joined without a load, see `startwright.size.shorts`), and whether all came to rest
        (a chattering relay stays as the last round left it).

    Source: coil thresholds of the stock record (`pull_in_V`, `drop_out_V`); volts by
    `startwright.network.solve`.
    """
    controls = dict(states.controls)
    known = network.controls()
    n = len(states)
    for coil in car.coils:
        if start is not None and f"coil.{coil.part}" in known:
            controls[f"coil.{coil.part}"] = np.full(n, start, dtype=np.int64)
    volts = held_V(car, network, rail_V)
    answer = solve(network, closed_by(network, controls), volts)
    quiet = True
    for _ in range(ROUNDS):
        quiet = True
        for coil in car.coils:
            name = f"coil.{coil.part}"
            if name not in controls:
                continue
            across = np.abs(np.nan_to_num(answer.node_V[:, coil.a] - answer.node_V[:, coil.b]))
            now = controls[name]
            then = np.where(
                across >= coil.pull_in_V, 1, np.where(across < coil.drop_out_V, 0, now)
            ).astype(np.int64)
            if (then != now).any():
                quiet = False
                controls[name] = then
        if quiet:
            break
        answer = solve(network, closed_by(network, controls), volts)
    short = joined(network, closed_by(network, controls), volts)
    return replace(states, controls=controls), replace(answer, shorted=short), quiet
