"""Shorts and overloads as tables: which combination of contacts gives too much current where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache, partial

import numpy as np

from startwright.car.build import Car
from startwright.car.fitted import is_wire
from startwright.physics.fuse import holds
from startwright.physics.wire import ampacity_A
from startwright.prove.tables import Array, Solved, Table, Tabulated
from startwright.records.unit import Lead

LEAST_WATT = 0.25
"""Power of a resistor whose record states none, W: the smallest common size (package default)."""
SPARE = 1.001
CRANK_SHARE = 1.5
"""A wire carries this much more through a crank of some seconds (common practice, no source)."""


@dataclass(frozen=True)
class Overload:
    """One thing that carries current, what it may carry for long and for a moment, A.

    For a diode that blocks the numbers are volts against its reverse voltage.
    """

    name: str
    amps: Table
    long_A: float
    short_A: float
    runs: tuple[str, ...] = ()


def shorts(tabulated: Tabulated) -> list[tuple[Solved, Table]]:
    """For each island whether a path without a load joins battery and ground.

    A path goes through closed contacts, runs, fuses, and diodes in their forward direction.
    """
    out = []
    for solved in tabulated.solved:
        table = solved.once(
            "short",
            partial(_short_table, solved, tabulated.held_at),
        )
        if bool(table.data.any()):
            out.append((solved, table))
    return out


def _short_table(solved: Solved, held_at: dict[int, str]) -> Table:
    return solved.table(_shorted(solved, held_at))


def _shorted(solved: Solved, held_at: dict[int, str]) -> Array:
    part = solved.island.network
    rows = len(solved.rail_V)
    reach = np.zeros((rows, len(part.names)), dtype=bool)
    grounds = []
    for local in part.held:
        if held_at[solved.island.nodes[local]] == "battery":
            reach[:, local] = True
        else:
            grounds.append(local)
    if not grounds or not reach.any():
        return np.zeros(rows, dtype=bool)
    wires = [r for r in part.resistors if is_wire(r)]
    links: list[tuple[int, int, Array | bool]] = [(r.a, r.b, True) for r in wires]
    links += [(r.b, r.a, True) for r in wires]
    for k, c in enumerate(part.contacts):
        links += [(c.a, c.b, solved.closed[:, k]), (c.b, c.a, solved.closed[:, k])]
    links += [(d.anode, d.cathode, True) for d in part.diodes]
    while True:
        before = reach.copy()
        for a, b, on in links:
            if b not in grounds:
                reach[:, b] |= reach[:, a] & on
        if (before == reach).all():
            break
    hit = np.zeros(rows, dtype=bool)
    for a, b, on in links:
        if b in grounds:
            hit |= reach[:, a] & on
    return hit


def overloads(car: Car, tabulated: Tabulated) -> list[Overload]:
    """Everything with a limit inside the islands and on the feeds, with its amps as a table.

    What a feed carries is the sum over its islands; see `feeds`.
    """
    out: list[Overload] = []
    for solved in tabulated.solved:
        out += solved.once("overloads", partial(_overloads, car, solved))
    return out


def _overloads(car: Car, solved: Solved) -> list[Overload]:
    out = []
    for name, amps, long_A, short_A, runs in _limited(car, solved):
        peak = float(np.abs(amps).max(initial=0.0))
        if peak > min(long_A, short_A) * SPARE:
            out.append(Overload(name, solved.table(np.abs(amps)), long_A, short_A, runs))
    return out


def _limited(
    car: Car, solved: Solved
) -> Iterator[tuple[str, Array, float, float, tuple[str, ...]]]:
    part = solved.island.network
    leads = {lead.id: lead for lead in car.unit.out_leads}
    for k, contact in enumerate(part.contacts):
        if contact.name.startswith("out."):
            lead = leads[contact.name.removeprefix("out.")]
            limit = car.unit.limit_A(lead)
            if limit is not None:
                yield f"unit.{lead.id}", solved.contact_A[:, k], limit, limit, ()
        elif contact.control.startswith("coil."):
            rating = car.parts[contact.control.removeprefix("coil.")].contact_A
            if rating is not None:
                yield contact.name, solved.contact_A[:, k], rating, rating, ()
        elif (owner := contact.name.removesuffix(".switch")) in car.parts:
            rating = car.parts[owner].contact_A
            if rating is not None:
                yield owner, solved.contact_A[:, k], rating, rating, ()
        elif "rail.battery" in (part.names[contact.a], part.names[contact.b]):
            rating = _car_fuse_A(car, contact.name)
            if rating is not None:
                yield _owner(contact.name), solved.contact_A[:, k], rating, short_fuse_A(rating), ()
    yield from _hung(car, solved)
    for k, diode in enumerate(part.diodes):
        rating = car.parts[diode.name.removesuffix(".diode")].forward_A
        if rating is not None:
            yield diode.name.removesuffix(".diode"), solved.diode_A[:, k], rating, rating, ()
        blocks_V = car.parts[diode.name.removesuffix(".diode")].reverse_V
        if blocks_V is not None:
            volts = solved.node_V[:, diode.cathode] - solved.node_V[:, diode.anode]
            yield diode.name.removesuffix(".diode"), np.maximum(volts, 0.0), blocks_V, blocks_V, ()
    for k, resistor in enumerate(part.resistors):
        owner, _, what = resistor.name.partition(".")
        amps = solved.resistor_A[:, k]
        if owner == "run":
            long_A, short_A = run_limits(car, what)
            yield f"run {what}", amps, long_A, short_A, (what,)
        elif what == "fuse":
            rating = car.parts[owner].rating_A
            assert rating is not None
            yield owner, amps, rating, short_fuse_A(rating), ()
        elif what == "resistor":
            watt = car.parts[owner].watt or LEAST_WATT
            rating = float(np.sqrt(watt / resistor.ohm))
            yield owner, amps, rating, rating * 2, ()


def _owner(contact: str) -> str:
    return contact.partition("#")[0].removeprefix("vehicle.")


def _car_fuse_A(car: Car, contact: str) -> float | None:
    """The car's own fuse before a contact of the key or a switch, A; None where there is none.

    What the circuit draws by its own record is no overload.
    """
    circuit = next((c for c in car.job.vehicle.circuits if c.id == _owner(contact)), None)
    if circuit is None or circuit.fuse_A is None:
        return None
    return max(circuit.fuse_A, circuit.load_A or 0.0)


def _hung(car: Car, solved: Solved) -> Iterator[tuple[str, Array, float, float, tuple[str, ...]]]:
    """Feed and ground leads that hang on a rail through more than runs and fuses."""
    part = solved.island.network
    for lead in car.job.unit.leads:
        name = f"unit.{lead.id}"
        limits = _lead_limits(lead)
        if limits is None or name not in part.names or part.names.index(name) in part.held:
            continue
        at = part.names.index(name)
        amps = np.zeros(len(solved.rail_V))
        for k, r in enumerate(part.resistors):
            if r.name.startswith("run."):
                amps += solved.resistor_A[:, k] * ((r.b == at) * 1.0 - (r.a == at) * 1.0)
        yield name, amps, *limits, ()


def _limited_leads(car: Car) -> list[tuple[str, tuple[float, float]]]:
    """The feed and ground leads whose record says what they carry, A, by the name of their node."""
    limits = [(f"unit.{lead.id}", _lead_limits(lead)) for lead in car.job.unit.leads]
    return [(name, limit) for name, limit in limits if limit is not None]


def _lead_limits(lead: Lead) -> tuple[float, float] | None:
    """What a feed or ground lead carries for long and for a moment, A; None where unsaid."""
    limits = [x for x in (lead.limit_A, lead.fuse_A) if isinstance(x, float | int)]
    if lead.way not in ("feed", "ground") or not limits:
        return None
    limit = float(min(limits))
    return limit, max(limit, short_fuse_A(lead.fuse_A) if lead.fuse_A else limit)


def run_limits(car: Car, run: str) -> tuple[float, float]:
    """What a run may carry for long, and during a crank of some seconds, A.

    A run whose size the record does not state is not judged here; `size` assumes one and says so.
    """
    wire = next(r for r in car.wiring.runs if r.id == run)
    if wire.size_mm2 is None:
        return float("inf"), float("inf")
    long_A = ampacity_A(wire.size_mm2)
    return long_A, long_A * CRANK_SHARE


@cache
def short_fuse_A(rating_A: float) -> float:
    """The most a fuse is sure to carry through a crank, A, by its time-current gates.

    Gates are published for blade fuses of 1 to 100 A; any other fuse is held to its rating.
    """
    if not 1 <= rating_A <= 100:
        return rating_A
    for percent in range(200, 99, -5):
        if holds(rating_A, rating_A * percent / 100, 15.0):
            return rating_A * percent / 100
    return rating_A


@dataclass(frozen=True)
class Feed:
    """A run, fuse or feed lead on the held side: amps are the sum of its islands' draws."""

    name: str
    draws: tuple[Table, ...]
    long_A: float
    short_A: float
    runs: tuple[str, ...]


def feeds(car: Car, tabulated: Tabulated) -> list[Feed]:
    """What hangs on the battery or ground through runs and fuses alone, with its draws.

    The held side is a resistive network driven by the islands' draws; its branch currents are
    linear in them (nodal analysis on the runs' resistances).
    """
    draws = _draws(tabulated)
    peak_A = {n: sum(float(t.data.max()) for t in tables) for n, tables in draws.items()}
    once = tabulated.kept.once
    out: list[Feed] = []
    for rail in ("battery", "ground"):
        nodes = [n for n, r in tabulated.held_at.items() if r == rail]
        root = car.number[f"rail.{rail}"]
        branches = [
            (r.name, r.a, r.b, r.ohm)
            for r in tabulated.network.resistors
            if r.a in nodes and r.b in nodes and r.a != r.b
        ]
        shares = once(
            ("shares", root, *nodes, *branches), partial(_branch_shares, nodes, root, branches)
        )
        for (name, _, _, _), share in zip(branches, shares, strict=True):
            limit = once(("limit", name), partial(_limit_of, car, name))
            if limit is None:
                continue
            most_A = sum(amps * share.get(n, 0.0) for n, amps in peak_A.items())
            if most_A > limit.long_A * SPARE:
                some = (_times(t, part) for n, part in share.items() for t in draws.get(n, ()))
                out.append(replace(limit, draws=tuple(some)))
        for lead, limits in once("lead limits", partial(_limited_leads, car)):
            node = car.number[lead]
            if node in nodes and peak_A.get(node, 0.0) > limits[0] * SPARE:
                out.append(Feed(lead, tuple(draws[node]), *limits, ()))
    return out


def _times(table: Table, share: float) -> Table:
    return Table(table.over, table.data * share)


def _draws(tabulated: Tabulated) -> dict[int, list[Table]]:
    """For each held node the current that each island draws from it, A (absolute)."""
    out: dict[int, list[Table]] = {}
    for solved in tabulated.solved:
        for local, table in solved.once("draws", partial(_drawn, solved)):
            out.setdefault(solved.island.nodes[local], []).append(table)
    return out


def _drawn(solved: Solved) -> list[tuple[int, Table]]:
    """For each held node of one island, by its own number, what is drawn from it."""
    out = []
    part = solved.island.network
    for local in part.held:
        amps = np.zeros(len(solved.rail_V))
        for k, r in enumerate(part.resistors):
            amps += solved.resistor_A[:, k] * ((r.a == local) * 1.0 - (r.b == local) * 1.0)
        for k, c in enumerate(part.contacts):
            amps += solved.contact_A[:, k] * ((c.a == local) * 1.0 - (c.b == local) * 1.0)
        for k, d in enumerate(part.diodes):
            amps += solved.diode_A[:, k] * ((d.anode == local) * 1.0 - (d.cathode == local) * 1.0)
        if np.abs(amps).max(initial=0.0) > 1e-3:
            out.append((local, solved.table(np.round(np.abs(amps), 4))))
    return out


def _branch_shares(
    nodes: list[int], root: int, branches: list[tuple[str, int, int, float]]
) -> list[dict[int, float]]:
    """How much of one ampere drawn at each node flows through each branch, in whatever sense."""
    at = {n: k for k, n in enumerate(nodes)}
    g = np.zeros((len(nodes), len(nodes)))
    for _, a, b, ohm in branches:
        y = 1.0 / max(ohm, 1e-6)
        g[at[a], at[a]] += y
        g[at[b], at[b]] += y
        g[at[a], at[b]] -= y
        g[at[b], at[a]] -= y
    g[at[root], at[root]] += 1e9
    g += np.eye(len(nodes)) * 1e-9
    volts = np.linalg.solve(g, np.eye(len(nodes)))
    out = []
    for _, a, b, ohm in branches:
        share = np.abs(volts[at[a]] - volts[at[b]]) / max(ohm, 1e-6)
        out.append({n: float(share[at[n]]) for n in nodes if share[at[n]] > 1e-6})
    return out


def _limit_of(car: Car, name: str) -> Feed | None:
    """What a branch of the held side is held to, its draws not known yet; None for no limit."""
    owner, _, what = name.partition(".")
    if owner == "run":
        long_A, short_A = run_limits(car, what)
        return Feed(f"run {what}", (), long_A, short_A, (what,))
    if what == "fuse":
        rating = car.parts[owner].rating_A
        assert rating is not None
        return Feed(owner, (), rating, short_fuse_A(rating), ())
    if owner == "vehicle" and name.endswith("#feed"):
        circuit = car.job.vehicle.circuit(what.removesuffix("#feed"))
        if circuit.fuse_A:
            short_A = short_fuse_A(circuit.fuse_A)
            return Feed(f"vehicle.{circuit.id}", (), circuit.fuse_A, short_A, ())
    return None
