"""One relay that borrows: it joins a circuit to a neighbour exactly while both should be alike.

A circuit that is live in `run` alone (a second ignition) is often wanted on a unit that has one
ignition and one accessory output, both already in use. A relay whose coil hangs on the accessory
circuit joins it to the ignition circuit: closed in `accessory` (both dead) and in `run` (both
live), open in `start`. Or a resting contact, opened by the start circuit, joins it to the ignition
circuit at all other times. Which neighbours can serve is computed for every key position and every
step of the unit, never taken from a name.
"""

from __future__ import annotations

from startwright.plan.demand import Demand
from startwright.plan.joins import floats
from startwright.plan.outputs import FEEDING, Output, load_A, pulse_sets
from startwright.plan.relays import coils
from startwright.plan.way import GROUND, Bench, Found, Link, Use, Way, minutes_of
from startwright.records.unit import Step, Unit
from startwright.records.vehicle import Circuit
from startwright.records.words import KEY_POSITIONS


def borrow_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add every way of joining the demand's circuit to a neighbour by one relay."""
    circuit = bench.job.vehicle.circuit(demand.circuits[0])
    if not bench.reachable(circuit) or circuit.active_level != "battery":
        return
    if circuit.function == "starter":
        return
    pulsed = {f for p in pulse_sets(bench.job.unit) for f in p}
    fed = [o for o in bench.outputs if o.does in FEEDING and o.level == "battery" and not o.signal]
    fed = [o for o in fed if o.does not in pulsed]
    lenders = _neighbours(bench, circuit)
    for coil in fed:
        for by in lenders:
            if floats(by) or not _serves(bench.job.unit, coil, by):
                continue
            for feed in fed:
                if feed.lead == coil.lead or not _agree(coil, feed):
                    continue
                for source in lenders:
                    if source.id == by.id or source.function == "starter":
                        continue
                    if not _serves(bench.job.unit, feed, source):
                        continue
                    for resting in (False, True):
                        if alike(bench.job.unit, circuit, coil, by, feed, source, resting):
                            _add(bench, demand, circuit, coil, by, feed, source, resting, found)


def _neighbours(bench: Bench, circuit: Circuit) -> list[Circuit]:
    return [
        c
        for c in bench.job.vehicle.of("ignition", "accessory", "starter")
        if c.id != circuit.id
        and c.key_fed
        and c.active_level == "battery"
        and not c.leave_dead
        and c.interlock != "upstream"
        and bench.reachable(c)
    ]


def _serves(unit: Unit, output: Output, circuit: Circuit) -> bool:
    """Whether an output stands in each step as the circuit does under the key."""
    live = set(circuit.live or ())
    return all((output.does in s.drives) == (s.like in live) for s in unit.sequence)


def _agree(a: Output, b: Output) -> bool:
    chosen = dict(a.settings)
    return all(chosen.get(k, v) == v for k, v in b.settings)


def alike(
    unit: Unit,
    circuit: Circuit,
    coil: Output,
    by: Circuit,
    feed: Output,
    source: Circuit,
    resting: bool,
) -> bool:
    """Whether the relay joins the two only where that changes nothing that is not called for.

    Every key position is tried with the unit idle and in every step: the circuit may stand at
    battery only where the key, the step or a function that the step drives calls for it; the
    neighbour, on whose lead others may hang, not once more than without the relay; and with the
    key out or off the circuit stands as the step is like.

    Parameters
    ----------
    unit : Unit
        Its steps.
    circuit, source : Circuit
        What is joined to what.
    coil, by : Output, Circuit
        The output and the circuit on which the coil hangs.
    feed : Output
        The output that works `source`.
    resting : bool
        Whether the resting contact (87a) is used.
    """
    live, by_live, source_live = (set(c.live or ()) for c in (circuit, by, source))
    steps: list[Step | None] = [None, *unit.sequence]
    for position in KEY_POSITIONS:
        for step in steps:
            drives = frozenset(step.drives) if step is not None else frozenset[str]()
            coil_on = position in by_live or coil.does in drives
            fed = position in source_live or feed.does in drives
            own = position in live
            closed = coil_on != resting
            now, then = own or (closed and fed), fed or (closed and own)
            wanted = step is not None and step.like in live
            held = bool(circuit.may_hold_in_crank) and step is not None and step.like == "start"
            if now and not (own or wanted or held or circuit.function in drives):
                return False
            if then and not fed:
                return False
            if position in ("out", "off") and wanted and not now:
                return False
            if now and position in ("out", "off") and not (wanted or held or own):
                return False
    return True


def _add(
    bench: Bench,
    demand: Demand,
    circuit: Circuit,
    coil: Output,
    by: Circuit,
    feed: Output,
    source: Circuit,
    resting: bool,
    found: Found,
) -> None:
    amps = load_A(circuit)
    if amps > feed.limit_A:
        return
    pin = "87a" if resting else "87"
    state = "opens" if resting else "closes"
    for part, coil_A in coils(bench, demand, coil, found):
        if (part.contact_A or 0.0) < amps:
            continue
        guard = f"feed:{feed.feed}"
        links = (
            Link(
                f"unit.{coil.lead}",
                "@K.86",
                coil_A,
                f"feed:{coil.feed}",
                f"{by.id} {state} the contact, under the key as under the unit",
            ),
            Link("@K.85", GROUND, coil_A, f"feed:{coil.feed}", "the coil's ground"),
            Link(
                f"unit.{feed.lead}",
                "@K.30",
                amps,
                guard,
                f"{feed.lead} carries {circuit.id} beside {source.id}",
            ),
            Link(
                f"@K.{pin}",
                f"vehicle.{circuit.id}",
                amps,
                guard,
                f"{circuit.id} differs from {source.id} in some key positions, so it is joined to "
                "it only where the two stand alike",
            ),
        )
        found.ways.append(
            Way(
                demand.id,
                "borrow",
                f"{circuit.id} from {feed.lead} through a relay that {by.id} {state}",
                uses=(Use(coil, coil_A, "tap"), Use(feed, amps, "tap")),
                circuit=circuit,
                parts=(("K", part),),
                relies=(circuit.id, by.id, source.id),
                links=links,
                minutes=minutes_of(links, 1, 0),
                beside=((coil.lead, by.id), (feed.lead, source.id)),
            )
        )
