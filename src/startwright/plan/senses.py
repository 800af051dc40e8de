"""Ways into the unit's inputs: straight, through a relay, or from a switch of its own."""

from __future__ import annotations

from collections.abc import Iterator

from startwright.car.circuits import load_ohm
from startwright.car.fitted import thresholds
from startwright.car.surroundings import RAILS
from startwright.plan.demand import Demand
from startwright.plan.joins import floats
from startwright.plan.relays import COIL_V, LOWEST_V
from startwright.plan.way import GROUND, SMALL, Bench, Found, Link, Way, minutes_of
from startwright.records.stock import Part
from startwright.records.unit import Lead
from startwright.records.vehicle import Circuit

SWITCH_A = 0.002
"""What an input's pull lets through its wire, A."""

PARKED = frozenset({"park_neutral", "parking_brake"})
"""What is active for as long as the car stands parked."""


def level_when(
    rail_V: float, tied: str | None, load_ohm: float | None, load_to: str, lead: Lead
) -> float | None:
    """Volts at an input: tied to a rail by a switch, or left to its load and the input's pull.

    Returns None where nothing holds the wire.
    """
    if tied is not None:
        return rail_V if tied == "battery" else 0.0
    _, pull, _, _ = thresholds(lead)
    up = down = 0.0
    if load_ohm is not None:
        if load_to == "battery":
            up += 1 / load_ohm
        else:
            down += 1 / load_ohm
    if pull == "up":
        up += 1 / lead.pull_ohm
    elif pull == "down":
        down += 1 / lead.pull_ohm
    if up + down == 0:
        return None
    return rail_V * up / (up + down)


def reads(lead: Lead, volts_V: float | None) -> bool | None:
    """What the input reads at a voltage: active, inactive, or None where it stays as it was."""
    if volts_V is None:
        return None
    active, _, on_V, off_V = thresholds(lead)
    if active == "battery":
        return True if volts_V >= on_V else (False if volts_V <= off_V else None)
    return True if volts_V <= on_V else (False if volts_V >= off_V else None)


def why_not_read(lead: Lead, circuit: Circuit, of_source: bool = False) -> str | None:
    """Why an input does not read a circuit as it should at every rail; None where it does.

    With `of_source` it reads the source side of a cut, which the load does not always hold.
    """
    level = circuit.active_level
    if level not in ("battery", "ground"):
        return _why_not_open(lead, circuit)
    cold = "ground" if level == "battery" else "battery"
    for rail_V in RAILS.values():
        on = reads(lead, level_when(rail_V, level, None, cold, lead))
        off = reads(lead, level_when(rail_V, None, load_ohm(circuit), cold, lead))
        alone = off
        if of_source:
            alone = reads(lead, level_when(rail_V, None, None, cold, lead))
        if on is not True or off is not False or alone is not False:
            active = thresholds(lead)[0]
            if active != level:
                return f"{lead.id} is active at {active} and {circuit.id} at {level}"
            return f"{lead.id} does not tell {circuit.id} apart at {rail_V:g} V of battery"
    return None


def _why_not_open(lead: Lead, circuit: Circuit) -> str | None:
    """The same for a circuit that is let go when active: the input's own pull tells it."""
    if circuit.rest not in ("battery", "ground"):
        return f"{circuit.id} has no level that an input could read"
    for rail_V in RAILS.values():
        on = reads(lead, level_when(rail_V, None, None, "ground", lead))
        off = reads(lead, level_when(rail_V, circuit.rest, None, "ground", lead))
        if on is not True or off is not False:
            return f"{lead.id} does not tell {circuit.id} at rest from {circuit.id} let go"
    return None


def sense_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add every way in which an input can sense what the demand wants sensed."""
    leads = [
        lead for lead in bench.job.unit.leads if lead.way == "in" and lead.senses == demand.sense
    ]
    if not leads:
        found.reject(demand.id, f"the unit has no {demand.sense} input")
    for lead in leads:
        for id in demand.circuits:
            circuit = bench.job.vehicle.circuit(id)
            if not bench.reachable(circuit):
                found.reject(demand.id, f"{id} is at {circuit.place}, which the job does not allow")
                continue
            why = why_not_read(lead, circuit, demand.of_source)
            if why is None:
                found.ways.append(_direct(demand, lead, circuit))
            else:
                relay = circuit.active_level in ("battery", "ground")
                found.reject(demand.id, f"{why}: it takes a relay" if relay else why)
                found.ways += by_relay(bench, demand, lead, circuit, found)
        found.ways += _own_switch(bench, demand, lead)
    if not demand.circuits and not any(p.operated_by == demand.sense for p in bench.of("switch")):
        found.reject(
            demand.id,
            f"no {demand.sense} circuit is on record and no {demand.sense} switch on the shelf",
        )


def _end(demand: Demand, circuit: Circuit) -> str:
    """Where a circuit is sensed: the source side of one that is cut to be imitated."""
    return f"vehicle.{circuit.id}" + (".source" if demand.of_source else "")


def _direct(demand: Demand, lead: Lead, circuit: Circuit) -> Way:
    links = (
        Link(
            _end(demand, circuit),
            f"unit.{lead.id}",
            SWITCH_A,
            "car",
            f"{lead.id} reads {circuit.id} as it is: "
            + (
                "let go, it goes where the input pulls it"
                if circuit.active_level == "open"
                else f"both are active at {circuit.active_level}"
            ),
        ),
    )
    return Way(
        demand.id,
        "direct",
        f"{lead.id} straight on {circuit.id}",
        inputs=(lead.id,),
        circuit=circuit,
        relies=(circuit.id,),
        links=links,
        minutes=minutes_of(links, 0, 0),
    )


def by_relay(
    bench: Bench, demand: Demand, lead: Lead, circuit: Circuit, found: Found
) -> Iterator[Way]:
    """A relay pulled in by the circuit brings the level at which the input is active."""
    level = circuit.active_level
    active = thresholds(lead)[0]
    if level not in ("battery", "ground"):
        yield from _by_resting_contact(bench, demand, lead, circuit)
        return
    if circuit.function in PARKED:
        found.reject(
            demand.id,
            f"a relay on {circuit.id} would stay pulled in and drain the battery for as long as "
            "the car stands parked",
        )
        return
    if floats(circuit):
        found.reject(
            demand.id,
            f"nothing on record holds {circuit.id} at rest, and a coil on it would: measure its "
            "rest and its load",
        )
        return
    if not _contact_reads(lead, active, "open"):
        found.reject(demand.id, f"nothing holds {lead.id} at rest when a contact is open")
        return
    for part in bench.of("relay"):
        assert part.coil_ohm is not None
        assert part.pull_in_V is not None
        if part.pull_in_V > LOWEST_V:
            continue
        amps = COIL_V / part.coil_ohm
        coil = (
            (
                Link(_end(demand, circuit), "@K.86", amps, "car", f"{circuit.id} pulls it in"),
                Link("@K.85", GROUND, amps, "car", "the coil's ground"),
            )
            if level == "battery"
            else (
                Link(SMALL, "@K.86", amps, "small", "the coil's supply, fused"),
                Link("@K.85", _end(demand, circuit), amps, "small", f"{circuit.id} pulls it in"),
            )
        )
        rail = SMALL if active == "battery" else GROUND
        links = (
            *coil,
            Link(rail, "@K.30", SWITCH_A, "small", f"what {lead.id} reads as active"),
            Link(
                "@K.87",
                f"unit.{lead.id}",
                SWITCH_A,
                "small",
                f"{lead.id} is active at {active}, {circuit.id} at {level}: the relay turns it",
            ),
        )
        small = amps if level == "ground" else (0.0 if active == "battery" else None)
        yield Way(
            demand.id,
            "relay",
            f"{lead.id} through a relay on {circuit.id}",
            inputs=(lead.id,),
            circuit=circuit,
            parts=(("K", part),),
            small_A=small,
            relies=(circuit.id,),
            links=links,
            minutes=minutes_of(links, 1, 0),
        )


def _by_resting_contact(
    bench: Bench, demand: Demand, lead: Lead, circuit: Circuit
) -> Iterator[Way]:
    """A lever that lets its wire go in park: the coil is dead for as long as the car is parked."""
    active = thresholds(lead)[0]
    rest = circuit.rest
    if circuit.function not in PARKED or not _contact_reads(lead, active, "open"):
        return
    for part in bench.of("relay"):
        assert part.coil_ohm is not None
        assert part.pull_in_V is not None
        if part.pull_in_V > LOWEST_V or rest not in ("battery", "ground"):
            continue
        amps = COIL_V / part.coil_ohm
        pulls = f"{circuit.id} pulls it in while the lever is elsewhere"
        coil = (
            (
                Link(_end(demand, circuit), "@K.86", amps, "car", pulls),
                Link("@K.85", GROUND, amps, "car", "the coil's ground"),
            )
            if rest == "battery"
            else (
                Link(SMALL, "@K.86", amps, "small", "the coil's supply, fused"),
                Link("@K.85", _end(demand, circuit), amps, "small", pulls),
            )
        )
        links = (
            *coil,
            Link(
                SMALL if active == "battery" else GROUND,
                "@K.30",
                SWITCH_A,
                "small",
                f"what {lead.id} reads as active",
            ),
            Link(
                "@K.87a",
                f"unit.{lead.id}",
                SWITCH_A,
                "small",
                f"{circuit.id} is let go when active: the resting contact gives {active} then",
            ),
        )
        needs_small = rest == "ground" or active == "battery"
        yield Way(
            demand.id,
            "relay",
            f"{lead.id} through the resting contact of a relay on {circuit.id}",
            inputs=(lead.id,),
            circuit=circuit,
            parts=(("K", part),),
            small_A=(amps if rest == "ground" else 0.0) if needs_small else None,
            relies=(circuit.id,),
            links=links,
            minutes=minutes_of(links, 1, 0),
        )


def _contact_reads(lead: Lead, tied: str, at: str) -> bool:
    """Whether an input behind a contact to `tied` reads active closed and inactive open."""
    for rail_V in RAILS.values():
        closed = reads(lead, level_when(rail_V, tied, None, "ground", lead))
        opened = reads(lead, level_when(rail_V, None, None, "ground", lead))
        if closed is not True or opened is not False:
            return False
    return at == "open"


def _own_switch(bench: Bench, demand: Demand, lead: Lead) -> Iterator[Way]:
    for part in bench.of("switch"):
        if part.operated_by == demand.sense:
            for rail in ("ground", "battery"):
                if switch_reads(lead, part, rail):
                    yield _switched(demand, lead, part, rail)


def switch_reads(lead: Lead, part: Part, rail: str) -> bool:
    """Whether a switch between a rail and the input is read rightly at rest and worked.

    At rest is: hood shut, brake released (`contact_at_rest`); worked is active.
    """
    for rail_V in RAILS.values():
        closed = reads(lead, level_when(rail_V, rail, None, "ground", lead))
        opened = reads(lead, level_when(rail_V, None, None, "ground", lead))
        rest, worked = (opened, closed) if part.contact_at_rest == "open" else (closed, opened)
        if rest is not False or worked is not True:
            return False
    return True


def _switched(demand: Demand, lead: Lead, part: Part, rail: str) -> Way:
    links = (
        Link(
            GROUND if rail == "ground" else SMALL,
            "@S.a",
            SWITCH_A,
            "small" if rail == "battery" else "car",
            f"the switch is read against {rail}",
        ),
        Link(
            "@S.b",
            f"unit.{lead.id}",
            SWITCH_A,
            "small" if rail == "battery" else "car",
            f"a {demand.sense} switch of its own",
        ),
    )
    return Way(
        demand.id,
        "switch",
        f"{lead.id} on a {demand.sense} switch of its own",
        inputs=(lead.id,),
        parts=(("S", part),),
        small_A=0.0 if rail == "battery" else None,
        links=links,
        minutes=minutes_of(links, 1, 0) + 10.0,
    )
