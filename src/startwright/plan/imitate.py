"""Ways to imitate a foot on the brake before the car's own start control.

The brake wire is cut. A change-over relay takes the control's side from the pedal to the level of a
pressed brake; a resting contact before it takes the pedal away while the ending press is given. The
unit itself reads the pedal's side, or it would hear its own foot. Where one signal is there in
every step that imitates the foot and in the ending, one relay does both.
"""

from __future__ import annotations

from collections.abc import Iterator

from startwright.plan.demand import Demand
from startwright.plan.outputs import Output, load_A, pulse_sets
from startwright.plan.relays import coil_links, coils, fuses
from startwright.plan.way import GROUND, SMALL, Bench, Found, Link, Use, Way, minutes_of
from startwright.records.stock import Part
from startwright.records.unit import Unit
from startwright.records.vehicle import Circuit


def foot_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add every way of imitating the foot on one brake circuit and of hiding it on all of them."""
    circuits = [bench.job.vehicle.circuit(id) for id in demand.circuits]
    for c in circuits:
        if not bench.reachable(c):
            found.reject(demand.id, f"{c.id} is at {c.place}, which the job does not allow")
            return
        if c.active_level not in ("battery", "ground"):
            found.reject(demand.id, f"{c.id} has no level that could be imitated")
            return
    feet = [o for o in bench.outputs if o.does in demand.drives]
    hides = [o for o in bench.outputs if hides_with(bench.job.unit, o.does)]
    if not hides:
        found.reject(
            demand.id,
            "no output is driven in the unit's ending and by no command, to hide the foot",
        )
    for circuit in circuits:
        others = [c for c in circuits if c is not circuit]
        for foot in feet:
            for hide in hides:
                if hide.lead != foot.lead and _agree(foot, hide):
                    found.ways += _two(bench, demand, circuit, others, foot, hide, found)
                    found.ways += _one(bench, demand, circuit, others, foot, hide, found)


def hides_with(unit: Unit, does: str) -> bool:
    """Whether a function is driven while the ending press is given, and by no command."""
    ending = unit.ending
    if ending is None or does not in ending.drives or does == "brake":
        return False
    return not any(does in pulse for pulse in pulse_sets(unit))


def with_the_foot(unit: Unit, does: str) -> bool:
    """Whether a function is driven in every step that imitates the foot."""
    return all(does in s.drives for s in unit.sequence if "brake" in s.drives)


def _agree(a: Output, b: Output) -> bool:
    chosen = dict(a.settings)
    return all(chosen.get(k, v) == v for k, v in b.settings)


def _hidden(
    bench: Bench,
    demand: Demand,
    circuits: list[Circuit],
    hide: Output,
    found: Found,
) -> Iterator[tuple[Part, float]]:
    """The relays whose resting contact can stand in every one of these circuits, with coil amps."""
    amps = max((load_A(c) for c in circuits), default=0.0)
    for part, coil_A in coils(bench, demand, hide, found):
        if (part.contact_A or 0.0) < amps:
            found.reject(
                demand.id, f"the contact of {part.id} carries {part.contact_A:g} A, not {amps:g} A"
            )
        elif coil_A * len(circuits) > hide.limit_A:
            found.reject(
                demand.id,
                f"{hide.lead} carries {hide.limit_A:g} A, the coils of {len(circuits)} {part.id} "
                f"{coil_A * len(circuits):.2g} A",
            )
        else:
            yield part, coil_A


def _resting(
    circuit: Circuit, role: str, hide: Output, supply: str, guard: str, coil_A: float, to: str
) -> tuple[Link, ...]:
    """A resting contact between the pedal and what leads on to the control; the ending opens it."""
    amps = load_A(circuit)
    return (
        Link(
            f"vehicle.{circuit.id}.source",
            f"@{role}.87a",
            amps,
            "car",
            f"the pedal's side of {circuit.id}: at rest it works as before",
        ),
        Link(
            f"@{role}.30",
            to,
            amps,
            "car",
            "while the ending press is given the control must not see the pedal, or it cranks an "
            "engine that has stalled",
        ),
        *coil_links(hide, supply, coil_A, guard, role),
    )


def _beside(
    others: list[Circuit], hide: Output, supply: str, guard: str, coil_A: float
) -> tuple[Link, ...]:
    """The same in every other brake circuit, for the control looks at each."""
    return tuple(
        link
        for k, c in enumerate(others)
        for link in _resting(c, f"H{k}", hide, supply, guard, coil_A, f"vehicle.{c.id}.load")
    )


def _two(
    bench: Bench,
    demand: Demand,
    circuit: Circuit,
    others: list[Circuit],
    foot: Output,
    hide: Output,
    found: Found,
) -> Iterator[Way]:
    """One relay presses, another hides; each other brake circuit takes one that hides."""
    amps = load_A(circuit)
    for part, coil_A in coils(bench, demand, foot, found):
        if (part.contact_A or 0.0) < amps:
            found.reject(
                demand.id, f"the contact of {part.id} carries {part.contact_A:g} A, not {amps:g} A"
            )
            continue
        for hidden, hide_A in _hidden(bench, demand, [circuit, *others], hide, found):
            grounded = [(foot, coil_A), (hide, hide_A * (1 + len(others)))]
            drawn = sum(a for o, a in grounded if o.level == "ground")
            for battery, fuse in _supplies(bench, demand, circuit, amps, drawn, part, found):
                supply, guard = ("@F.b", "F") if fuse else (SMALL, "small")
                pressed = (
                    Link("@F.b", "@K.87", amps, "F", "a pressed brake is battery, fused")
                    if fuse
                    else Link("@K.87", GROUND, amps, "car", "a pressed brake is ground")
                )
                links = (
                    *_fed(battery, amps + drawn if fuse else 0.0),
                    pressed,
                    Link(
                        "@K.30",
                        f"vehicle.{circuit.id}.load",
                        amps,
                        "F" if fuse else "car",
                        f"what the car's control sees of {circuit.id}",
                    ),
                    *coil_links(foot, supply, coil_A, guard),
                    *_resting(circuit, "H", hide, supply, guard, hide_A, "@K.87a"),
                    *_beside(others, hide, supply, guard, hide_A),
                )
                relays = (("K", part), ("H", hidden), *((f"H{k}", hidden)
                          for k in range(len(others))))  # fmt: skip
                yield _way(demand, circuit, others, foot, coil_A, "cut", hide, hide_A, relays,
                           fuse, battery, amps + drawn, drawn, links)  # fmt: skip


def _one(
    bench: Bench,
    demand: Demand,
    circuit: Circuit,
    others: list[Circuit],
    foot: Output,
    hide: Output,
    found: Found,
) -> Iterator[Way]:
    """One relay takes the control's side from the pedal to the unit's own brake output."""
    amps = load_A(circuit)
    if (
        foot.level != circuit.active_level
        or amps > foot.limit_A
        or not with_the_foot(bench.job.unit, hide.does)
    ):
        return
    for part, coil_A in _hidden(bench, demand, [circuit, *others], hide, found):
        drawn = coil_A * (1 + len(others)) if hide.level == "ground" else 0.0
        links = (
            Link(
                f"unit.{foot.lead}",
                "@H.87",
                amps,
                f"feed:{foot.feed}" if foot.level == "battery" else "car",
                f"{foot.lead} stands in for the foot",
            ),
            *_resting(circuit, "H", hide, SMALL, "small", coil_A, f"vehicle.{circuit.id}.load"),
            *_beside(others, hide, SMALL, "small", coil_A),
        )
        relays = (("H", part), *((f"H{k}", part) for k in range(len(others))))
        yield _way(demand, circuit, others, foot, amps, "direct", hide, coil_A, relays, None, None,
                   0.0, drawn, links)  # fmt: skip


def _supplies(
    bench: Bench,
    demand: Demand,
    circuit: Circuit,
    amps: float,
    drawn: float,
    part: Part,
    found: Found,
) -> Iterator[tuple[str | None, Part | None]]:
    """Battery wire and fuse for a brake that is pressed to battery; neither for one to ground."""
    if circuit.active_level == "ground":
        yield None, None
        return
    for battery in bench.batteries:
        cap = min(part.contact_A or 0.0, battery.fuse_A or 1e9)
        fit = fuses(bench, amps + drawn, False, cap, circuit.id)
        for fuse in fit:
            yield battery.id, fuse
        if not fit:
            found.reject(
                demand.id,
                f"no fuse on the shelf fits {amps + drawn:.3g} A between {circuit.id} and "
                f"{battery.id} (at most {cap:g} A)",
            )


def _fed(battery: str | None, amps: float) -> tuple[Link, ...]:
    if battery is None:
        return ()
    return (Link(f"vehicle.{battery}", "@F.a", amps, "car", "the feed of the imitated foot"),)


def _way(
    demand: Demand,
    circuit: Circuit,
    others: list[Circuit],
    foot: Output,
    foot_A: float,
    shape: str,
    hide: Output,
    hide_A: float,
    relays: tuple[tuple[str, Part], ...],
    fuse: Part | None,
    battery: str | None,
    battery_A: float,
    drawn: float,
    links: tuple[Link, ...],
) -> Way:
    parts = (*relays, ("F", fuse)) if fuse is not None else relays
    cuts = (circuit.id, *(c.id for c in others))
    return Way(
        demand.id,
        "foot",
        f"{foot.lead} imitates a foot on {circuit.id}, {hide.lead} hides the pedal while the "
        "ending press is given",
        uses=(Use(foot, foot_A, shape), Use(hide, hide_A * (1 + len(others)), "cut")),
        circuit=circuit,
        parts=parts,
        battery=battery,
        battery_A=battery_A if battery else 0.0,
        small_A=drawn if fuse is None and drawn else None,
        relies=(*cuts, battery) if battery else cuts,
        cuts=cuts,
        links=links,
        minutes=minutes_of(links, len(parts), 0, len(cuts)),
    )
