"""A starter circuit cut in two, joined again by a resting contact while not armed."""

from __future__ import annotations

from collections.abc import Iterator

from startwright.plan.demand import Demand
from startwright.plan.outputs import Output, load_A, why_not_to_enable
from startwright.plan.relays import coil_links, coils
from startwright.plan.way import SMALL, Bench, Found, Link, Use, Way, minutes_of
from startwright.records.stock import Part
from startwright.records.vehicle import Circuit

BRIDGES = ("starter_signal", "running_signal", "ignition_signal")
"""Signals that may join the two sides while the unit starts."""


def cut_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add every way of cutting the demand's starter circuit while the unit is armed.

    Where the car's own control cranks on the unit's behalf, a second relay joins the two sides in
    the steps that crank, for a car is started by remote while it stands armed.
    """
    for id in demand.circuits:
        circuit = bench.job.vehicle.circuit(id)
        if not bench.reachable(circuit):
            found.reject(demand.id, f"{id} is at {circuit.place}, which the job does not allow")
            continue
        for output in bench.outputs:
            if output.does in demand.drives:
                found.ways += _ways(bench, demand, circuit, output, found)
    if not any(w.demand == demand.id for w in found.ways) and not found.rejected.get(demand.id):
        found.reject(demand.id, "no output of the unit does armed_signal")


def _ways(
    bench: Bench, demand: Demand, circuit: Circuit, output: Output, found: Found
) -> Iterator[Way]:
    amps = load_A(circuit)
    for part, coil_A in coils(bench, demand, output, found):
        if (part.contact_A or 0.0) < amps:
            found.reject(
                demand.id, f"the contact of {part.id} carries {part.contact_A:g} A, not {amps:g} A"
            )
            continue
        links = (
            *coil_links(output, SMALL, coil_A, "small"),
            Link(
                "@K.87a",
                f"vehicle.{circuit.id}.source",
                amps,
                "car",
                "at rest the key cranks as before",
            ),
            Link(
                "@K.30",
                f"vehicle.{circuit.id}.load",
                amps,
                "car",
                "while armed the contact is open and the key cannot crank",
            ),
        )
        uses = (Use(output, coil_A, "cut"),)
        if not demand.by_car:
            yield _way(demand, circuit, f"{output.lead} opens {circuit.id} through a relay in its "
                       "cut", uses, (("K", part),), links)  # fmt: skip
            continue
        for bridge, joins, bridge_A in _bridges(bench, demand, amps, found):
            over = (
                Link("@K.30", "@B.30", amps, "car", "the motor's side"),
                Link(
                    "@B.87",
                    "@K.87a",
                    amps,
                    "car",
                    "while the unit starts the car's own control cranks, armed or not",
                ),
                *coil_links(bridge, SMALL, bridge_A, "small", "B"),
            )
            yield _way(
                demand,
                circuit,
                f"{output.lead} opens {circuit.id} through a relay in its cut, {bridge.lead} joins "
                "it while the unit starts",
                (*uses, Use(bridge, bridge_A, "cut")),
                (("K", part), ("B", joins)),
                (*links, *over),
            )


def _bridges(
    bench: Bench, demand: Demand, amps: float, found: Found
) -> Iterator[tuple[Output, Part, float]]:
    """Signals that are on in every step that cranks, and relays that they pull in."""
    seen = False
    for output in bench.outputs:
        if output.does not in BRIDGES:
            continue
        why = why_not_to_enable(bench.job.unit, output.does)
        if why is not None:
            found.reject(demand.id, f"{output.lead}: {why}")
            continue
        for part, coil_A in coils(bench, demand, output, found):
            if (part.contact_A or 0.0) >= amps:
                seen = True
                yield output, part, coil_A
    if not seen:
        found.reject(
            demand.id,
            "armed, the cut would keep the car's own control from cranking, and no signal of the "
            "unit can join it in the steps that crank",
        )


def _way(
    demand: Demand,
    circuit: Circuit,
    says: str,
    uses: tuple[Use, ...],
    parts: tuple[tuple[str, Part], ...],
    links: tuple[Link, ...],
) -> Way:
    small_A = sum(u.amps for u in uses if u.output.level == "ground")
    return Way(
        demand.id,
        "cut",
        says,
        uses=uses,
        circuit=circuit,
        parts=parts,
        small_A=small_A or None,
        relies=(circuit.id,),
        cuts=(circuit.id,),
        links=links,
        minutes=minutes_of(links, len(parts), 0, 1),
    )
