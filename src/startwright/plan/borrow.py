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
from startwright.plan.joins import floats, may_join
from startwright.plan.outputs import FEEDING, Output, load_A, pulse_sets
from startwright.plan.relays import coils
from startwright.plan.way import GROUND, Bench, Found, Link, Use, Way, minutes_of
from startwright.records.unit import Step, Unit
from startwright.records.vehicle import Circuit
from startwright.records.words import KEY_POSITIONS

MOST = 60
"""Most ways of this kind for one need; a car of ordinary size has fewer."""


def borrow_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add the ways of joining the demand's circuit to a neighbour by one relay.

    Circuits that move together stand for one another; of all ways the first `MOST` are taken,
    those that hang on no setting before the others.
    """
    circuit = bench.job.vehicle.circuit(demand.circuits[0])
    if not bench.reachable(circuit) or circuit.active_level != "battery":
        return
    if circuit.function == "starter":
        return
    unit = bench.job.unit
    pulsed = {f for p in pulse_sets(unit) for f in p}
    fed = [o for o in bench.outputs if o.does in FEEDING and o.level == "battery" and not o.signal]
    fed = sorted((o for o in fed if o.does not in pulsed), key=lambda o: len(o.settings))
    lenders = _neighbours(bench, circuit)
    pairs = [(o, g) for o in fed for g in lenders if _serves(unit, o, g[0])]
    added = 0
    for feed, sources in pairs:
        if sources[0].function == "starter":
            continue
        for coil, holders in pairs:
            if feed.lead == coil.lead or floats(holders[0]) or not _agree(coil, feed):
                continue
            for resting in (False, True):
                if added >= MOST:
                    return
                if alike(unit, circuit, coil, holders[0], feed, sources[0], resting):
                    added += 1
                    _add(bench, demand, circuit, coil, holders, feed, sources, resting, found)


def _neighbours(bench: Bench, circuit: Circuit) -> list[list[Circuit]]:
    """The other circuits of the key that can be fed, those that move together in one group."""
    cut = "starter_cut" in bench.job.wants  # then the key side and the lead are not always one
    groups: list[list[Circuit]] = []
    for c in bench.job.vehicle.of("ignition", "accessory", "starter"):
        if (
            c.id == circuit.id
            or not c.key_fed
            or c.active_level != "battery"
            or c.leave_dead
            or c.interlock == "upstream"
            or (cut and c.function == "starter")
            or not bench.reachable(c)
        ):
            continue
        same = next((g for g in groups if may_join(g[0], c) and g[0].function == c.function), None)
        if same is None:
            groups.append([c])
        else:
            same.append(c)
    return groups


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


def _either(group: list[Circuit]) -> str:
    return " or ".join(c.id for c in group)


def _add(
    bench: Bench,
    demand: Demand,
    circuit: Circuit,
    coil: Output,
    holders: list[Circuit],
    feed: Output,
    sources: list[Circuit],
    resting: bool,
    found: Found,
) -> None:
    by, source = (_either(g) for g in (holders, sources))
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
                f"{by} {state} the contact, under the key as under the unit",
            ),
            Link("@K.85", GROUND, coil_A, f"feed:{coil.feed}", "the coil's ground"),
            Link(
                f"unit.{feed.lead}",
                "@K.30",
                amps,
                guard,
                f"{feed.lead} carries {circuit.id} beside {source}",
            ),
            Link(
                f"@K.{pin}",
                f"vehicle.{circuit.id}",
                amps,
                guard,
                f"{circuit.id} differs from {source} in some key positions, so it is joined to "
                "it only where the two stand alike",
            ),
        )
        found.ways.append(
            Way(
                demand.id,
                "borrow",
                f"{circuit.id} from {feed.lead} through a relay that {by} {state}",
                uses=(Use(coil, coil_A, "tap"), Use(feed, amps, "tap")),
                circuit=circuit,
                parts=(("K", part),),
                relies=(circuit.id,),
                links=links,
                minutes=minutes_of(links, 1, 0),
                beside=(
                    (coil.lead, tuple(c.id for c in holders)),
                    (feed.lead, tuple(c.id for c in sources)),
                ),
            )
        )
