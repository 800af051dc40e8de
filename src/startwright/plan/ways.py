"""Ways from the unit's outputs to a circuit: straight, by diode, relay, cut relay or resistor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from startwright.physics.drop import CRITICAL_SHARE, LESS_CRITICAL_SHARE
from startwright.plan.demand import Demand
from startwright.plan.outputs import Output, load_A, why_not_for_key
from startwright.plan.pulses import pulse_settings
from startwright.plan.relays import coil_links, coils, relays
from startwright.plan.special import changeover, ladder
from startwright.plan.way import SMALL, Bench, Found, Link, Use, Way, minutes_of
from startwright.records.vehicle import Circuit


def output_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add every way in which an output can feed or work one of the demand's circuits."""
    for id in demand.circuits:
        circuit = bench.job.vehicle.circuit(id)
        if not bench.reachable(circuit):
            found.reject(demand.id, f"{id} is at {circuit.place}, which the job does not allow")
            continue
        for output in bench.outputs:
            why = _unfit(bench, demand, output, circuit)
            if why is not None:
                if why:
                    found.reject(demand.id, f"{output.lead}: {why}")
                continue
            settings, short = _pulses(bench, demand, output, circuit)
            if short is not None:
                found.reject(demand.id, f"{output.lead}: {short}")
                continue
            mine = Found(rejected=found.rejected, wishes=found.wishes)
            _one_output(bench, demand, output, circuit, mine)
            found.ways += (_with(w, settings) for w in mine.ways)
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
    if circuit.style in ("vacuum", "reversing") and output.does != circuit.function:
        return f"{circuit.id} is worked for {circuit.function} alone, as its record says"
    return None


def _pulses(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit
) -> tuple[tuple[tuple[str, str], ...], str | None]:
    """The settings that make a command's pulses long enough, or why they are not."""
    if demand.kind == "fed":
        return (), None
    return pulse_settings(bench.job.unit, bench.job.vehicle, output.does, circuit)


def _with(way: Way, settings: tuple[tuple[str, str], ...]) -> Way:
    """The way with settings beside its own."""
    return replace(way, settings=(*way.settings, *settings)) if settings else way


def _one_output(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit, found: Found
) -> None:
    if circuit.style == "ladder":
        found.ways += ladder(bench, demand, output, circuit, found)
        return
    if circuit.style in ("reversing", "vacuum"):
        found.ways += changeover(bench, demand, output, circuit, found)
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


DIODE_DROP_V = 1.1
"""What a silicon power diode costs when loaded (common practice, no source)."""
DROP_SHARE = {"ignition": CRITICAL_SHARE, "starter": CRITICAL_SHARE}
"""What may be lost on the way, of 12 V: 3 % where it is critical, else 10 % (ABYC E-11)."""


def _diodes(
    bench: Bench, demand: Demand, output: Output, circuit: Circuit, amps: float
) -> Iterator[Way]:
    if (
        circuit.key_fed
        and 12 * DROP_SHARE.get(circuit.function, LESS_CRITICAL_SHARE) < DIODE_DROP_V
    ):
        return
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
