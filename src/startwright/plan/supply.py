"""Ways of supply: the unit's feeds, its ground, and the small fused feed of coils and senses."""

from __future__ import annotations

from startwright.plan.demand import Demand
from startwright.plan.relays import FUSES_OFFERED
from startwright.plan.way import GROUND, Bench, Found, Link, Way, minutes_of


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


SMALL_A = 10.0
"""Largest fuse of a small feed, A, unless the shelf has none so small (common practice, no source);
`size` then asks for wires that stand what it lets through."""


def small_ways(bench: Bench, found: Found) -> None:
    """The small feed: one fuse that supplies coils and sensed levels."""
    for battery in bench.batteries:
        fit = [p for p in bench.of("fuse") if (p.rating_A or 0.0) <= (battery.fuse_A or 1e9)]
        fit.sort(key=lambda p: (p.rating_A or 0.0, p.price, p.id))
        few = [p for p in fit if (p.rating_A or 0.0) <= SMALL_A] or fit[:FUSES_OFFERED]
        for fuse in few:
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
