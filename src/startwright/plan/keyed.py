"""Ways past a key with a resistor in its blade: a resistor of its value while the unit starts.

The car measures the key on a line of its own (`startwright.car.key_resistor`). The line is cut; a
relay takes the car's side from the lock to a resistor of the key's value, in the unit's steps and
at no other time. Uncut, a key that is put in while the engine runs by remote would lie beside the
resistor, and the car would read half of it.
"""

from __future__ import annotations

from startwright.car.circuits import LADDER_PULL_OHM, LADDER_SHARE
from startwright.car.key_resistor import key_line
from startwright.plan.demand import Demand
from startwright.plan.outputs import Output, why_not_to_enable
from startwright.plan.relays import COIL_V, coil_links, coils
from startwright.plan.resistors import MOST_IN_SERIES, chain, in_series, roles, total_ohm
from startwright.plan.way import GROUND, SMALL, Bench, Found, Link, Use, Way, minutes_of
from startwright.records.stock import Part

KEY_MARGIN = LADDER_SHARE * 2 / 3
"""How far the resistor may be off the key's: two thirds of what is taken for the key."""
ENABLES = ("running_signal", "ignition_signal", "immobilizer")
"""What an output may do that puts the resistor in."""


def key_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add every way of putting the key's resistance into its line while the unit starts."""
    vehicle = bench.job.vehicle
    line = key_line(vehicle)
    ohm = vehicle.immobilizer.key_ohm
    if line is None or ohm is None:
        missing = "resistance" if ohm is None else "line"
        found.reject(
            demand.id,
            f"the key's {missing} is not on record, so no resistor can be put in its place: "
            + (
                "measure the key's blade and enter `key_ohm`"
                if ohm is None
                else "find the wire between lock and computer and enter it as immobilizer"
            ),
        )
        return
    every = [line, *vehicle.of("immobilizer")[1:2]]
    for c in every:
        if not bench.reachable(c):
            found.reject(demand.id, f"{c.id} is at {c.place}, which the job does not allow")
            return
    fit = combinations(bench, ohm)
    if not fit:
        low, high = ohm * (1 - KEY_MARGIN), ohm * (1 + KEY_MARGIN)
        found.reject(
            demand.id,
            f"no resistor, nor up to {MOST_IN_SERIES} in series, between {low:.0f} and "
            f"{high:.0f} ohm on the shelf for the key's {ohm:g} ohm",
        )
    back = f"vehicle.{every[1].id}" if len(every) > 1 else GROUND
    amps = COIL_V / (LADDER_PULL_OHM + ohm)
    for output in bench.outputs:
        if output.does not in ENABLES:
            continue
        why = why_not_to_enable(bench.job.unit, output.does)
        if why is not None:
            found.reject(demand.id, f"{output.lead}: {why}")
            continue
        for part, coil_A in coils(bench, demand, output, found):
            for chosen in fit:
                found.ways.append(
                    _way(demand, output, part, coil_A, chosen, line.id, back, amps, ohm)
                )


def combinations(bench: Bench, ohm: float) -> list[tuple[Part, ...]]:
    """Resistors of the shelf that make up the key's, in series: the fewest, then the nearest."""
    amps = COIL_V / (LADDER_PULL_OHM + ohm)
    return in_series(bench, ohm, amps, lambda total: abs(total - ohm) <= KEY_MARGIN * ohm)


def _way(
    demand: Demand,
    output: Output,
    part: Part,
    coil_A: float,
    chosen: tuple[Part, ...],
    line: str,
    back: str,
    amps: float,
    ohm: float,
) -> Way:
    total = total_ohm(chosen)
    first, between, last = chain(chosen, amps)
    links = (
        *coil_links(output, SMALL, coil_A, "small"),
        Link(
            "@K.30",
            f"vehicle.{line}.load",
            amps,
            "car",
            f"the computer's side of {line}, which measures the key",
        ),
        Link(
            "@K.87a",
            f"vehicle.{line}.source",
            amps,
            "car",
            "at rest the key is measured as before; and a key that is put in while the engine "
            "runs does not lie beside the resistor",
        ),
        Link(
            "@K.87",
            first,
            amps,
            "car",
            f"{total:g} ohm stands in for the key's {ohm:g} while the unit starts and runs the "
            "engine",
        ),
        *between,
        Link(last, back, amps, "car", "the way back of the key's line"),
    )
    return Way(
        demand.id,
        "key",
        f"{output.lead} puts {total:g} ohm in the place of the key's {ohm:g} through a relay in "
        f"the cut of {line}",
        uses=(Use(output, coil_A, "cut"),),
        parts=(("K", part), *roles(chosen)),
        small_A=coil_A if output.level == "ground" else None,
        relies=(line,) if back == GROUND else (line, back.removeprefix("vehicle.")),
        cuts=(line,),
        links=links,
        minutes=minutes_of(links, 1 + len(chosen), 0, 1),
    )
