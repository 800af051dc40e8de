"""Relays as make contacts: which an output can pull in, and how coil and contact are fed."""

from __future__ import annotations

from collections.abc import Iterator

from startwright.car.surroundings import RAILS
from startwright.plan.demand import Demand
from startwright.plan.outputs import Output, continuous
from startwright.plan.way import FUSE_SHARE, GROUND, SMALL, Bench, Found, Link, Use, Way, minutes_of
from startwright.records.stock import Part
from startwright.records.vehicle import Circuit

COIL_V = max(RAILS.values())
"""Voltage at which coil currents are reckoned: the rail while the engine runs."""
LOWEST_V = min(RAILS.values())
"""Lowest rail of the proof, V: starter turning on a low battery."""
FUSES_OFFERED = 3


def coil_links(
    output: Output, supply: str, amps: float, guard: str, role: str = "K"
) -> tuple[Link, ...]:
    """The two runs of a relay's coil on an output, 86 always the positive end."""
    if output.level == "battery":
        return (
            Link(
                f"unit.{output.lead}",
                f"@{role}.86",
                amps,
                f"feed:{output.feed}",
                f"{output.lead} pulls the relay in",
            ),
            Link(f"@{role}.85", GROUND, amps, f"feed:{output.feed}", "the coil's ground"),
        )
    return (
        Link(supply, f"@{role}.86", amps, guard, "the coil's supply, fused"),
        Link(
            f"@{role}.85",
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
