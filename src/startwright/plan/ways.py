"""Ways from the unit's outputs to a circuit: straight, by diode, relay, cut relay or resistor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from startwright.car.circuits import LADDER_SHARE, load_ohm
from startwright.plan.answer import Mend
from startwright.plan.needs import Demand
from startwright.plan.outputs import (
    Output,
    continuous,
    load_A,
    outputs_of,
    pulse_sets,
    why_not_for_key,
)
from startwright.plan.way import FUSE_SHARE, GROUND, SMALL, Found, Link, Use, Way, minutes_of
from startwright.records.job import WholeJob
from startwright.records.stock import Part
from startwright.records.vehicle import Circuit

COIL_V = 14.4
"""Voltage at which coil currents are reckoned: the rail while the engine runs."""
LOWEST_V = 7.5
"""Lowest rail of the proof, V: starter turning on a low battery."""
FUSES_OFFERED = 3
LADDER_MARGIN = LADDER_SHARE * 2 / 3
"""How far a resistor may be off a coded step: two thirds of what is recognised."""


@dataclass(frozen=True)
class Bench:
    """What the search for ways works on: the job, its outputs, the parts it may take."""

    job: WholeJob
    outputs: tuple[Output, ...]
    parts: tuple[Part, ...]
    mend: Mend

    def of(self, kind: str) -> list[Part]:
        """The parts of a kind that may be taken, in the order of the shelf."""
        return [p for p in self.parts if p.kind == kind]

    def reachable(self, circuit: Circuit) -> bool:
        """Whether the circuit's place is one the job allows."""
        allowed = self.job.places_allowed
        return allowed is None or circuit.place is None or circuit.place in allowed

    @property
    def batteries(self) -> list[Circuit]:
        """Battery circuits that stand at battery in every key position and may be reached."""
        return [
            c
            for c in self.job.vehicle.of("battery")
            if (not c.key_fed or len(c.live or ()) == 5)
            and c.active_level == "battery"
            and self.reachable(c)
        ]


def bench_of(job: WholeJob, mend: Mend, extra: tuple[Part, ...] = ()) -> Bench:
    """The bench of a job; `extra` are parts that are wished for and not on the shelf."""
    parts = (*(p for p in job.stock.parts if p.count > 0), *extra)
    return Bench(job, outputs_of(job.unit), parts, mend)


def output_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add every way in which an output can feed or work one of the demand's circuits."""
    for id in demand.circuits:
        circuit = bench.job.vehicle.circuit(id)
        if not bench.reachable(circuit):
            found.reject(demand.id, f"{id} is at {circuit.place}, which the job does not allow")
            continue
        if circuit.style == "vacuum":
            found.reject(demand.id, f"{id} is a vacuum system, which is not planned for yet")
            continue
        for output in bench.outputs:
            why = _unfit(bench, demand, output, circuit)
            if why is not None:
                if why:
                    found.reject(demand.id, f"{output.lead}: {why}")
                continue
            _one_output(bench, demand, output, circuit, found)
    if not found.rejected.get(demand.id) and not any(w.demand == demand.id for w in found.ways):
        found.reject(
            demand.id, f"no output of the unit does {' or '.join(demand.drives) or 'this'}"
        )


def _unfit(bench: Bench, demand: Demand, output: Output, circuit: Circuit) -> str | None:
    """Why the output's function is wrong; '' where it is not worth a word; None where it fits."""
    unit = bench.job.unit
    if demand.kind == "fed":
        why = why_not_for_key(unit, output.does, circuit)
        return (
            None if why is None else ("" if why.startswith(output.does + " is not there") else why)
        )
    if output.does not in demand.drives:
        return ""
    if circuit.pulse_s is not None and circuit.style in ("pulse", None):
        listed = [
            p.pulse_s
            for name in type(unit.commands).model_fields
            for p in getattr(unit.commands, name)
            if output.does in p.drives
        ]
        if listed and max(listed) < circuit.pulse_s * 0.999 and not continuous(unit, output.does):
            return (
                f"its pulse of {max(listed):g} s is shorter than the {circuit.pulse_s:g} s that "
                f"{circuit.id} takes"
            )
    return None


def _one_output(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit, found: Found
) -> None:
    if circuit.style == "ladder":
        found.ways += _ladder(bench, demand, output, circuit, found)
        return
    if circuit.style == "reversing":
        found.ways += _reversing(bench, demand, output, circuit, found)
        return
    amps = load_A(circuit)
    same = output.level == circuit.active_level
    if not same:
        found.reject(
            demand.id,
            f"{output.lead} drives to {output.level} and {circuit.id} is active at "
            f"{circuit.active_level}: it takes a relay",
        )
    elif amps > output.limit_A + 1e-9:
        found.reject(
            demand.id,
            f"{output.lead} carries {output.limit_A:g} A and {circuit.id} draws {amps:g} A: it "
            "takes a relay",
        )
    else:
        found.ways.append(_direct(demand, output, circuit, amps))
        found.ways += _diodes(bench, demand, output, circuit, amps)
    found.ways += relays(bench, demand, output, circuit, amps, found)


def _direct(demand: Demand, output: Output, circuit: Circuit, amps: float) -> Way:
    links = (
        Link(
            f"unit.{output.lead}",
            f"vehicle.{circuit.id}",
            amps,
            f"feed:{output.feed}" if output.level == "battery" else "car",
            f"{output.lead} works {circuit.id} straight: same level, and {amps:g} A is within its "
            f"{output.limit_A:g} A",
        ),
    )
    return Way(
        demand.id,
        "direct",
        f"{output.lead} straight to {circuit.id}",
        uses=(Use(output, amps, "direct"),),
        circuit=circuit,
        relies=(circuit.id,),
        links=links,
        minutes=minutes_of(links, 0, 0),
    )


def _diodes(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit, amps: float
) -> Iterator[Way]:
    guard = f"feed:{output.feed}" if output.level == "battery" else "car"
    forward = output.level == "battery"
    for part in bench.of("diode"):
        assert part.forward_A is not None
        if part.forward_A < amps:
            continue
        near, far = ("@D.anode", "@D.cathode") if forward else ("@D.cathode", "@D.anode")
        links = (
            Link(
                f"unit.{output.lead}",
                near,
                amps,
                guard,
                f"{output.lead} works {circuit.id} through a diode",
            ),
            Link(
                far,
                f"vehicle.{circuit.id}",
                amps,
                guard,
                f"the diode keeps {circuit.id} from feeding what else hangs on {output.lead}",
            ),
        )
        yield Way(
            demand.id,
            "diode",
            f"{output.lead} through a diode to {circuit.id}",
            uses=(Use(output, amps, "diode"),),
            circuit=circuit,
            parts=(("D", part),),
            relies=(circuit.id,),
            links=links,
            minutes=minutes_of(links, 1, 0),
        )


def coil_links(output: Output, supply: str, amps: float, guard: str) -> tuple[Link, ...]:
    """The two runs of a relay's coil on an output, 86 always the positive end."""
    if output.level == "battery":
        return (
            Link(
                f"unit.{output.lead}",
                "@K.86",
                amps,
                f"feed:{output.feed}",
                f"{output.lead} pulls the relay in",
            ),
            Link("@K.85", GROUND, amps, f"feed:{output.feed}", "the coil's ground"),
        )
    return (
        Link(supply, "@K.86", amps, guard, "the coil's supply, fused"),
        Link(
            "@K.85",
            f"unit.{output.lead}",
            amps,
            guard,
            f"{output.lead} pulls the relay in by grounding its coil",
        ),
    )


def coils(
    bench: Bench, demand: Demand, output: Output, found: Found
) -> Iterator[tuple[Part, float]]:
    """The relays that an output can pull in, with the coil's amps."""
    seen = False
    for part in bench.of("relay"):
        assert part.coil_ohm is not None
        assert part.pull_in_V is not None
        seen = True
        amps = COIL_V / part.coil_ohm
        if output.transistor and not (output.suppressed or part.suppressed):
            found.reject(
                demand.id,
                f"{output.lead} is a transistor without suppression, and so is the coil of "
                f"{part.id}",
            )
            continue
        if amps > output.limit_A:
            found.reject(
                demand.id,
                f"{output.lead} carries {output.limit_A:g} A, the coil of {part.id} {amps:.2g} A",
            )
            continue
        if part.pull_in_V > LOWEST_V:
            found.reject(
                demand.id,
                f"{part.id} pulls in only at {part.pull_in_V:g} V; while cranking on a low battery "
                f"there may be {LOWEST_V:g} V",
            )
            continue
        yield part, amps
    if not seen:
        found.reject(demand.id, "there is no relay on the shelf")


def fuses(bench: Bench, amps: float, lasting: bool, cap_A: float, feeds: str) -> list[Part]:
    """The fuses for a load, the smallest first: 75 % loaded at most where the load lasts."""
    least = max(amps / FUSE_SHARE if lasting else amps, bench.mend.fuse_A.get(feeds, 0.0))
    fit = [p for p in bench.of("fuse") if p.rating_A is not None and least <= p.rating_A <= cap_A]
    fit.sort(key=lambda p: (p.rating_A or 0.0, p.price, p.id))
    return fit[:FUSES_OFFERED]


def relays(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit, amps: float, found: Found
) -> Iterator[Way]:
    """Ways through a relay whose contact brings the circuit's active level."""
    inverts = output.level != circuit.active_level
    word = "an inverting relay" if inverts else "a relay"
    lasting = continuous(bench.job.unit, output.does)
    for part, coil_A in coils(bench, demand, output, found):
        if (part.contact_A or 0.0) < amps:
            found.reject(
                demand.id, f"the contact of {part.id} carries {part.contact_A:g} A, not {amps:g} A"
            )
            continue
        use = (Use(output, coil_A, "relay"),)
        says = f"{output.lead} through {word} to {circuit.id}"
        if circuit.active_level == "ground":
            links = (
                *coil_links(output, SMALL, coil_A, "small"),
                Link("@K.30", GROUND, amps, "car", "the contact's ground"),
                Link(
                    "@K.87", f"vehicle.{circuit.id}", amps, "car", f"the relay grounds {circuit.id}"
                ),
            )
            yield Way(
                demand.id,
                "relay",
                says,
                uses=use,
                circuit=circuit,
                parts=(("K", part),),
                small_A=coil_A if output.level == "ground" else None,
                relies=(circuit.id,),
                links=links,
                minutes=minutes_of(links, 1, 0),
            )
            continue
        for battery in bench.batteries:
            cap = min(part.contact_A or 0.0, battery.fuse_A or 1e9)
            offered = fuses(bench, amps, lasting, cap, circuit.id)
            if not offered:
                found.reject(
                    demand.id,
                    f"no fuse on the shelf fits {amps:g} A between {circuit.id} and {battery.id} "
                    f"(at most {cap:g} A)",
                )
            for fuse in offered:
                links = (
                    Link(
                        f"vehicle.{battery.id}",
                        "@F.a",
                        amps,
                        "car",
                        "the relay's own feed, so that a fault takes out one circuit alone",
                    ),
                    Link("@F.b", "@K.30", amps, "F", "fused feed of the contact"),
                    *coil_links(output, "@F.b", coil_A, "F"),
                    Link(
                        "@K.87",
                        f"vehicle.{circuit.id}",
                        amps,
                        "F",
                        f"the relay feeds {circuit.id}, and {circuit.id} cannot reach "
                        f"{output.lead}",
                    ),
                )
                yield Way(
                    demand.id,
                    "relay",
                    says,
                    uses=use,
                    circuit=circuit,
                    parts=(("K", part), ("F", fuse)),
                    battery=battery.id,
                    battery_A=amps + (coil_A if output.level == "ground" else 0.0),
                    relies=(circuit.id, battery.id),
                    links=links,
                    minutes=minutes_of(links, 2, 0),
                )


def _reversing(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit, found: Found
) -> Iterator[Way]:
    """A motor wire that rests at ground is cut; a change-over relay stands in the cut."""
    amps = load_A(circuit)
    for part, coil_A in coils(bench, demand, output, found):
        if (part.contact_A or 0.0) < amps:
            continue
        for battery in bench.batteries:
            cap = min(part.contact_A or 0.0, battery.fuse_A or 1e9)
            for fuse in fuses(bench, amps, False, cap, circuit.id):
                links = (
                    Link(f"vehicle.{battery.id}", "@F.a", amps, "car", "the motor's feed"),
                    Link("@F.b", "@K.87", amps, "F", "fused feed of the contact"),
                    *coil_links(output, "@F.b", coil_A, "F"),
                    Link(
                        "@K.87a",
                        f"vehicle.{circuit.id}.source",
                        amps,
                        "car",
                        "at rest the factory switch works the motor as before",
                    ),
                    Link(
                        "@K.30",
                        f"vehicle.{circuit.id}.load",
                        amps,
                        "car",
                        "the motor rests at ground through its switch; fed uncut it would be a "
                        "short",
                    ),
                )
                yield Way(
                    demand.id,
                    "cut",
                    f"{output.lead} through a change-over relay in the cut of {circuit.id}",
                    uses=(Use(output, coil_A, "cut"),),
                    circuit=circuit,
                    parts=(("K", part), ("F", fuse)),
                    battery=battery.id,
                    battery_A=amps,
                    relies=(circuit.id, battery.id),
                    cuts=(circuit.id,),
                    links=links,
                    minutes=minutes_of(links, 2, 0, 1),
                )


def _ladder(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit, found: Found
) -> Iterator[Way]:
    """A coded switch line: the step's resistance to ground, beside the line's own at rest."""
    steps = circuit.steps_ohm
    wanted = getattr(steps, output.does, None) if steps is not None else None
    if steps is None or wanted is None:
        found.reject(demand.id, f"{circuit.id} has no step for {output.does} on record")
        return
    beside = wanted
    if steps.rest and steps.rest > wanted:
        beside = 1 / (1 / max(wanted, 1e-3) - 1 / steps.rest)
    amps = COIL_V / max(wanted, 50.0)
    if wanted == 0:
        fit: list[Part | None] = [None]
    else:
        fit = [p for p in bench.of("resistor") if _hits(p, wanted, steps.rest)]
        fit.sort(key=lambda p: abs((p.ohm or 0.0) - beside) if p else 0.0)
    if not fit:
        found.reject(
            demand.id,
            f"no resistor near {beside:.0f} ohm on the shelf for the {output.does} step of "
            f"{circuit.id}",
        )
    for resistor in fit:
        parts = (("R", resistor),) if resistor else ()
        tail, head = (
            (
                "@R.a",
                (
                    Link(
                        "@R.b",
                        f"vehicle.{circuit.id}",
                        amps,
                        "car",
                        f"the {output.does} step of {circuit.id} is {wanted:g} ohm",
                    ),
                ),
            )
            if resistor
            else (f"vehicle.{circuit.id}", ())
        )
        if output.level == "ground" and amps <= output.limit_A:
            links = (
                Link(
                    f"unit.{output.lead}",
                    tail,
                    amps,
                    "car",
                    f"{output.lead} gives the {output.does} step",
                ),
                *head,
            )
            yield Way(
                demand.id,
                "resistor" if resistor else "direct",
                f"{output.lead} through a resistor to {circuit.id}",
                uses=(Use(output, amps, "resistor"),),
                circuit=circuit,
                parts=parts,
                relies=(circuit.id,),
                links=links,
                minutes=minutes_of(links, len(parts), 0),
            )
            continue
        for part, coil_A in coils(bench, demand, output, found):
            links = (
                *coil_links(output, SMALL, coil_A, "small"),
                Link("@K.30", GROUND, amps, "car", "the contact's ground"),
                Link("@K.87", tail, amps, "car", f"the relay gives the {output.does} step"),
                *head,
            )
            yield Way(
                demand.id,
                "relay",
                f"{output.lead} through a relay and a resistor to {circuit.id}",
                uses=(Use(output, coil_A, "relay"),),
                circuit=circuit,
                parts=(("K", part), *parts),
                small_A=coil_A if output.level == "ground" else None,
                relies=(circuit.id,),
                links=links,
                minutes=minutes_of(links, 1 + len(parts), 0),
            )


def _hits(part: Part, wanted: float, rest: float) -> bool:
    assert part.ohm is not None
    total = part.ohm if not rest else 1 / (1 / max(part.ohm, 1e-3) + 1 / rest)
    return abs(total - wanted) <= LADDER_MARGIN * wanted


def cut_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """A starter circuit cut in two, joined again by a resting contact while not armed."""
    for id in demand.circuits:
        circuit = bench.job.vehicle.circuit(id)
        amps = load_A(circuit)
        if not bench.reachable(circuit):
            found.reject(demand.id, f"{id} is at {circuit.place}, which the job does not allow")
            continue
        for output in bench.outputs:
            if output.does not in demand.drives:
                continue
            for part, coil_A in coils(bench, demand, output, found):
                if (part.contact_A or 0.0) < amps:
                    continue
                links = (
                    *coil_links(output, SMALL, coil_A, "small"),
                    Link(
                        "@K.87a",
                        f"vehicle.{id}.source",
                        amps,
                        "car",
                        "at rest the key cranks as before",
                    ),
                    Link(
                        "@K.30",
                        f"vehicle.{id}.load",
                        amps,
                        "car",
                        "while armed the contact is open and the key cannot crank",
                    ),
                )
                found.ways.append(
                    Way(
                        demand.id,
                        "cut",
                        f"{output.lead} opens {id} through a relay in its cut",
                        uses=(Use(output, coil_A, "cut"),),
                        circuit=circuit,
                        parts=(("K", part),),
                        small_A=coil_A if output.level == "ground" else None,
                        relies=(id,),
                        cuts=(id,),
                        links=links,
                        minutes=minutes_of(links, 1, 0, 1),
                    )
                )
    if not any(w.demand == demand.id for w in found.ways) and not found.rejected.get(demand.id):
        found.reject(demand.id, "no output of the unit does armed_signal")


def armed_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """The armed signal on the car's own arming wire, or on a relay whose contact is free."""
    output_ways(bench, demand, found)
    for output in bench.outputs:
        if output.does not in demand.drives:
            continue
        for part, coil_A in coils(bench, demand, output, found):
            links = coil_links(output, SMALL, coil_A, "small")
            found.ways.append(
                Way(
                    demand.id,
                    "relay",
                    f"{output.lead} on a relay with a free contact",
                    uses=(Use(output, coil_A, "relay"),),
                    parts=(("K", part),),
                    small_A=coil_A if output.level == "ground" else None,
                    links=links,
                    minutes=minutes_of(links, 1, 0),
                )
            )


def feed_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """The battery circuits that can supply a feed lead, through a fuse where it has none."""
    lead = bench.job.unit.lead(demand.lead)
    amps = min(lead_limit(lead.limit_A), lead.fuse_A or 1e6)
    for battery in bench.batteries:
        where = f"vehicle.{battery.id}"
        if lead.fuse_A is not None:
            links = (
                Link(
                    where,
                    f"unit.{lead.id}",
                    amps,
                    f"feed:{lead.id}",
                    f"feed of the unit; the lead carries its own {lead.fuse_A:g} A fuse",
                ),
            )
            found.ways.append(
                Way(
                    demand.id,
                    "direct",
                    f"{lead.id} from {battery.id}",
                    battery=battery.id,
                    relies=(battery.id,),
                    links=links,
                    minutes=minutes_of(links, 0, 0),
                )
            )
            continue
        cap = min(lead_limit(lead.limit_A), battery.fuse_A or 1e9)
        fit = [p for p in bench.of("fuse") if (p.rating_A or 0.0) <= cap]
        fit.sort(key=lambda p: (-(p.rating_A or 0.0), p.price, p.id))
        for fuse in fit[:FUSES_OFFERED]:
            fused = (
                Link(where, "@F.a", amps, "car", "feed of the unit, fused near the battery wire"),
                Link("@F.b", f"unit.{lead.id}", amps, "F", "fused feed of the unit"),
            )
            found.ways.append(
                Way(
                    demand.id,
                    "direct",
                    f"{lead.id} from {battery.id} through a fuse",
                    battery=battery.id,
                    parts=(("F", fuse),),
                    relies=(battery.id,),
                    links=fused,
                    minutes=minutes_of(fused, 1, 0),
                )
            )
    if not bench.batteries:
        found.reject(demand.id, "no battery circuit can be reached")
        for c in bench.job.vehicle.of("battery"):
            if not bench.reachable(c):
                found.reject(demand.id, f"{c.id} is at {c.place}, which the job does not allow")


def lead_limit(limit: object) -> float:
    """A feed's limit as a number; 30 A where none is stated (package default)."""
    return float(limit) if isinstance(limit, int | float) else 30.0


def small_ways(bench: Bench, found: Found) -> None:
    """The small feed: one fuse that supplies coils and sensed levels."""
    for battery in bench.batteries:
        fit = [
            p for p in bench.of("fuse") if (p.rating_A or 0.0) <= min(10.0, battery.fuse_A or 1e9)
        ]
        fit.sort(key=lambda p: (p.rating_A or 0.0, p.price, p.id))
        for fuse in fit:
            links = (
                Link(
                    f"vehicle.{battery.id}",
                    "@F.a",
                    fuse.rating_A or 0.0,
                    "car",
                    "small fused feed for coils and sensed levels",
                ),
            )
            found.ways.append(
                Way(
                    "small-feed",
                    "direct",
                    f"small feed from {battery.id}",
                    battery=battery.id,
                    parts=(("F", fuse),),
                    relies=(battery.id,),
                    links=links,
                    minutes=minutes_of(links, 1, 0),
                )
            )


def ground_ways(demand: Demand, found: Found) -> None:
    """The unit's ground lead to a ground point of the body."""
    links = (
        Link(f"unit.{demand.lead}", GROUND, 0.0, "ground", "the unit's ground, on bare metal"),
    )
    found.ways.append(
        Way(
            demand.id,
            "direct",
            f"{demand.lead} to a ground point",
            links=links,
            minutes=minutes_of(links, 0, 0),
        )
    )


__all__ = [
    "Bench",
    "armed_ways",
    "bench_of",
    "cut_ways",
    "feed_ways",
    "ground_ways",
    "load_ohm",
    "output_ways",
    "pulse_sets",
    "relays",
    "small_ways",
]
