"""Ways to circuits of a special kind: motors and pumps that are switched over, coded lines."""

from __future__ import annotations

from collections.abc import Iterator

from startwright.car.circuits import LADDER_PULL_OHM, LADDER_SHARE
from startwright.plan.demand import Demand
from startwright.plan.outputs import Output, load_A
from startwright.plan.relays import COIL_V, coil_links, coils, fuses
from startwright.plan.resistors import MOST_IN_SERIES, chain, in_series, roles
from startwright.plan.way import GROUND, SMALL, Bench, Found, Link, Use, Way, minutes_of
from startwright.records.stock import Part
from startwright.records.vehicle import Circuit

LADDER_MARGIN = LADDER_SHARE * 2 / 3
"""How far a resistor may be off a coded step: two thirds of what is recognised."""


def changeover(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit, found: Found
) -> Iterator[Way]:
    """A wire that the factory switch holds at one rail or the other is cut; a relay stands there.

    So are the wires of a lock motor, which rest at ground, and that of a vacuum pump. Fed uncut,
    battery and ground would meet in the switch.
    """
    amps = load_A(circuit)
    motor = circuit.style == "reversing"
    level = "battery" if motor else circuit.active_level
    what = "motor" if motor else "pump"
    if not motor and {circuit.rest, circuit.active} != {"battery", "ground"}:
        found.reject(
            demand.id,
            f"{circuit.id} does not say at which level the pump rests and at which it works: "
            "measure both and enter `rest` and `active`",
        )
        return
    for part, coil_A in coils(bench, demand, output, found):
        if (part.contact_A or 0.0) < amps:
            found.reject(
                demand.id, f"the contact of {part.id} carries {part.contact_A:g} A, not {amps:g} A"
            )
            continue
        at_rest = (
            Link(
                "@K.87a",
                f"vehicle.{circuit.id}.source",
                amps,
                "car",
                f"at rest the factory switch works the {what} as before",
            ),
            Link(
                "@K.30",
                f"vehicle.{circuit.id}.load",
                amps,
                "car",
                f"the {what} rests at {'ground' if level == 'battery' else 'battery'} through its "
                "switch; fed uncut it would be a short",
            ),
        )
        says = f"{output.lead} through a change-over relay in the cut of {circuit.id}"
        if level == "ground":
            links = (
                Link("@K.87", GROUND, amps, "car", f"the {what} is worked to ground"),
                *coil_links(output, SMALL, coil_A, "small"),
                *at_rest,
            )
            yield Way(
                demand.id,
                "cut",
                says,
                uses=(Use(output, coil_A, "cut"),),
                circuit=circuit,
                parts=(("K", part),),
                small_A=coil_A if output.level == "ground" else None,
                relies=(circuit.id,),
                cuts=(circuit.id,),
                links=links,
                minutes=minutes_of(links, 1, 0, 1),
            )
            continue
        drawn = coil_A if output.level == "ground" else 0.0
        for battery in bench.batteries:
            cap = min(part.contact_A or 0.0, battery.fuse_A or 1e9)
            fit = fuses(bench, amps + drawn, False, cap, circuit.id)
            if not fit:
                found.reject(
                    demand.id,
                    f"no fuse on the shelf fits {amps:g} A between {circuit.id} and {battery.id} "
                    f"(at most {cap:g} A)",
                )
            for fuse in fit:
                links = (
                    Link(f"vehicle.{battery.id}", "@F.a", amps, "car", f"the {what}'s feed"),
                    Link("@F.b", "@K.87", amps, "F", "fused feed of the contact"),
                    *coil_links(output, "@F.b", coil_A, "F"),
                    *at_rest,
                )
                yield Way(
                    demand.id,
                    "cut",
                    says,
                    uses=(Use(output, coil_A, "cut"),),
                    circuit=circuit,
                    parts=(("K", part), ("F", fuse)),
                    battery=battery.id,
                    battery_A=amps + drawn,
                    relies=(circuit.id, battery.id),
                    cuts=(circuit.id,),
                    links=links,
                    minutes=minutes_of(links, 2, 0, 1),
                )


def ladder(
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
        fit: list[tuple[Part, ...]] = [()]
    else:
        through_A = COIL_V / (LADDER_PULL_OHM + wanted)
        fit = in_series(bench, beside, through_A, lambda total: _hits(total, wanted, steps.rest))
    if not fit:
        found.reject(
            demand.id,
            f"no resistor near {beside:.0f} ohm on the shelf, nor up to {MOST_IN_SERIES} in "
            f"series, for the {output.does} step of {circuit.id}",
        )
    for chosen in fit:
        parts = roles(chosen)
        tail, head = _to_line(circuit, chosen, amps, f"the {output.does} step is {wanted:g} ohm")
        shown = "a resistor" if len(chosen) == 1 else f"{len(chosen)} resistors"
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
                "resistor" if chosen else "direct",
                f"{output.lead} through {shown} to {circuit.id}",
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
                f"{output.lead} through a relay and {shown} to {circuit.id}",
                uses=(Use(output, coil_A, "relay"),),
                circuit=circuit,
                parts=(("K", part), *parts),
                small_A=coil_A if output.level == "ground" else None,
                relies=(circuit.id,),
                links=links,
                minutes=minutes_of(links, 1 + len(parts), 0),
            )


def _to_line(
    circuit: Circuit, chosen: tuple[Part, ...], amps: float, why: str
) -> tuple[str, tuple[Link, ...]]:
    """Where the way to a coded line begins, and its runs: through resistors, or at the line."""
    line = f"vehicle.{circuit.id}"
    if not chosen:
        return line, ()
    first, between, last = chain(chosen, amps)
    return first, (*between, Link(last, line, amps, "car", f"{circuit.id}: {why}"))


def _hits(ohm: float, wanted: float, rest: float) -> bool:
    total = ohm if not rest else 1 / (1 / max(ohm, 1e-3) + 1 / rest)
    return abs(total - wanted) <= LADDER_MARGIN * wanted
