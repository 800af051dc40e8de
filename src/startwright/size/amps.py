"""The worst amps and volts of every run, contact, coil, diode and fuse, found on the network."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from startwright.car.build import Car
from startwright.car.surroundings import LOAD_AT_V
from startwright.network.elements import Network
from startwright.network.solve import Solution, closed_by, solve
from startwright.physics.relay import inrush
from startwright.physics.wire import resistance_ohm
from startwright.size.built import Built
from startwright.size.shorts import joined_by
from startwright.size.states import States, held_V, loaded, settled

Floats = NDArray[np.float64]
MOTOR_INRUSH = 3.0


@dataclass(frozen=True)
class Peak:
    """The worst value of one quantity and the state it is met in, in words."""

    value: float
    state: str
    at: int = -1


@dataclass(frozen=True)
class Solved:
    """All states solved at 14.4 V, where every resistive load draws most.

    Attributes
    ----------
    network : Network
        With every run at the resistance of its size, length and temperature.
    states : States
    answer : Solution
        Volts and amps, shape (S, elements).
    rush_A, listed_rush_A : mapping
        Worst current by element name while loads switch on: estimated where the record says
        nothing, and by recorded inrush alone.
    chatters : bool
        A relay did not come to rest.
    amps : mapping
        Amps of every element by name, shape (S,), from `a` to `b`.
    shorted_by : mapping
        Runs through which battery and ground are joined without a load, and the first state of it,
        in words. Such a state has no volts and amps here (`nan` in `answer`, 0 in `amps`).
    """

    car: Car
    network: Network
    states: States
    answer: Solution
    rush_A: Mapping[str, float]
    listed_rush_A: Mapping[str, float]
    chatters: bool
    amps: Mapping[str, Floats]
    shorted_by: Mapping[str, str]

    def column(self, name: str) -> Floats:
        """Amps of one element in every state, from `a` to `b`, shape (S,)."""
        return self.amps[name]

    def peak(self, name: str) -> Peak:
        """The worst amps of one element."""
        return self.worst(np.abs(self.column(name)))

    def worst(self, values: Floats) -> Peak:
        """The largest of S values; the first state where several are within a thousandth."""
        clean = np.nan_to_num(values)
        top = float(clean.max()) if clean.size else 0.0
        at = int(np.argmax(clean >= top * 0.999)) if clean.size else -1
        return Peak(top, self.states.says[at] if at >= 0 else "", at)

    def across_V(self, a: int, b: int) -> Floats:
        """Volts from node `a` to node `b` in every state, floating nodes as 0, shape (S,)."""
        return np.nan_to_num(self.answer.node_V[:, a] - self.answer.node_V[:, b])

    def through(self, terminal: str, signed: Iterable[tuple[str, float]]) -> Floats:
        """Sum of signed run currents at a terminal, shape (S,)."""
        total = np.zeros(len(self.states))
        for name, sign in signed:
            total += sign * self.column(name)
        return total


def _named(network: Network, answer: Solution) -> Iterator[tuple[str, Floats]]:
    for k, r in enumerate(network.resistors):
        yield r.name, np.nan_to_num(answer.resistor_A[:, k])
    for k, c in enumerate(network.contacts):
        yield c.name, np.nan_to_num(answer.contact_A[:, k])
    for k, d in enumerate(network.diodes):
        yield d.name, np.nan_to_num(answer.diode_A[:, k])


def with_ohms(network: Network, ohm_of: Callable[[str, float], float]) -> Network:
    """Give the network with other resistances, by name.

    Source: none, a copy.
    """
    return replace(
        network,
        resistors=tuple(
            replace(r, ohm=max(ohm_of(r.name, r.ohm), 1e-6)) for r in network.resistors
        ),
    )


def _both(
    car: Car, network: Network, states: States, rail_V: float
) -> tuple[States, Solution, bool]:
    """Every state from relays at rest and from relays pulled in, stacked where they differ."""
    first, answer, quiet = settled(car, network, states, rail_V, 0)
    if not car.coils:
        return first, answer, quiet
    second, other, calm = settled(car, network, states, rail_V, 1)
    differ = np.zeros(len(states), dtype=bool)
    for name in first.controls:
        differ |= first.controls[name] != second.controls[name]
    rows = np.flatnonzero(differ)
    if not rows.size:
        return first, answer, quiet and calm
    more = second.only(rows)
    stacked = States(
        {k: np.concatenate([v, more.controls[k]]) for k, v in first.controls.items()},
        first.says + tuple(f"{s}, relays still held" for s in more.says),
        first.step + more.step,
        first.seconds + more.seconds,
    )
    return stacked, _stack(answer, other, rows), quiet and calm


def _stack(one: Solution, other: Solution, rows: NDArray[np.int64]) -> Solution:
    return Solution(
        np.concatenate([one.node_V, other.node_V[rows]]),
        np.concatenate([one.resistor_A, other.resistor_A[rows]]),
        np.concatenate([one.contact_A, other.contact_A[rows]]),
        np.concatenate([one.diode_A, other.diode_A[rows]]),
        np.concatenate([one.floating, other.floating[rows]]),
        np.concatenate([one.shorted, other.shorted[rows]]),
    )


def without_shorts(answer: Solution) -> Solution:
    """Give the answer with no number in a state in which battery and ground are joined.

    Source: none; `startwright.size.shorts.joined` says which.
    """
    if not answer.shorted.any():
        return answer
    gone = answer.shorted[:, None]
    return replace(
        answer,
        node_V=np.where(gone, np.nan, answer.node_V),
        resistor_A=np.where(gone, np.nan, answer.resistor_A),
        contact_A=np.where(gone, np.nan, answer.contact_A),
        diode_A=np.where(gone, np.nan, answer.diode_A),
    )


def _shorted_by(
    car: Car, network: Network, states: States, shorted: NDArray[np.bool_], built: list[Built]
) -> dict[str, str]:
    """Runs that a short goes through, with the first state of it in words."""
    rows = np.flatnonzero(shorted)
    found: dict[str, str] = {}
    if rows.size:
        closed = closed_by(network, states.controls)[rows]
        volts = held_V(car, network, LOAD_AT_V)
        ways = joined_by(network, closed, volts, [b.run.id for b in built])
        for s, way in zip(rows, ways, strict=True):
            for run in way:
                found.setdefault(run, states.says[s])
    return found


def solve_all(
    car: Car, built: list[Built], temperature_C: Mapping[str, float] | None = None
) -> Solved:
    """Solve every loaded state with the runs as built.

    Parameters
    ----------
    car : Car
        Built with ``hold=False``.
    built : list of Built
    temperature_C : mapping, optional
        Copper temperature by run; 20 °C where not given.

    Returns
    -------
    Solved

    Source: nodal analysis, `startwright.network.solve`; a load's amps are what a clamp meter shows
    at 14.4 V.
    """
    hot = temperature_C or {}
    ohms = {
        f"run.{b.run.id}": resistance_ohm(b.size_mm2, b.length_m, hot.get(b.run.id, 20.0))
        for b in built
    }
    network = with_ohms(car.network, lambda name, ohm: ohms.get(name, ohm))
    states, answer, quiet = _both(car, network, loaded(car), LOAD_AT_V)
    estimated = _inrush(car, network, states, answer.shorted, listed_only=False)
    listed = _inrush(car, network, states, answer.shorted, listed_only=True)
    shorted_by = _shorted_by(car, network, states, answer.shorted, built)
    answer = without_shorts(answer)
    amps = dict(_named(network, answer))
    return Solved(car, network, states, answer, estimated, listed, not quiet, amps, shorted_by)


def _inrush(
    car: Car, network: Network, states: States, shorted: NDArray[np.bool_], listed_only: bool
) -> dict[str, float]:
    """The most of each element. A load's rush is no short: `shorted` says which states are."""
    factors: dict[str, float] = {}
    for c in car.job.vehicle.circuits:
        if c.inrush_A and c.load_A:
            factors[f"vehicle.{c.id}#load"] = max(1.0, c.inrush_A / c.load_A)
        elif not listed_only:
            factors[f"vehicle.{c.id}#load"] = inrush(c.function)[0]
            factors[f"vehicle.{c.id}#motor"] = MOTOR_INRUSH
    if not any(f > 1 for f in factors.values()):
        return {}
    rushing = with_ohms(network, lambda name, ohm: ohm / factors.get(name, 1.0))
    answer = solve(rushing, closed_by(rushing, states.controls), held_V(car, rushing, LOAD_AT_V))
    answer = without_shorts(replace(answer, shorted=shorted))
    return {n: float(np.abs(a).max(initial=0.0)) for n, a in _named(network, answer)}


def inrush_s(car: Car) -> float:
    """Give the longest recorded inrush, seconds; 0 where none is recorded.

    Source: the vehicle record's `inrush_s`.
    """
    return max((c.inrush_s or 0.1 for c in car.job.vehicle.circuits if c.inrush_A), default=0.0)
