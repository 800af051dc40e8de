"""How the unit learns that the engine runs: tach wire, an interface, charge lamp, or volts."""

from __future__ import annotations

from startwright.plan.demand import Demand
from startwright.plan.pins import tach_ways
from startwright.plan.senses import SWITCH_A, by_relay, why_not_read
from startwright.plan.way import Bench, Found, Link, Way, minutes_of


def engine_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """How the unit learns that the engine runs: tach wire, charge lamp, or volts."""
    unit, signal = bench.job.unit, bench.job.unit.engine_signal
    choices = list(signal.choices) if signal else []

    def settings(choice: str) -> tuple[tuple[str, str], ...]:
        return ((signal.by, choice),) if signal and choice in choices else ()

    for id in demand.circuits:
        circuit = bench.job.vehicle.circuit(id)
        if not bench.reachable(circuit):
            found.reject(demand.id, f"{id} is at {circuit.place}, which the job does not allow")
            continue
        for lead in unit.leads:
            if lead.way != "in" or lead.senses != circuit.function:
                continue
            tach = circuit.function == "tach"
            if not tach:
                if "charge_lamp" not in choices:
                    continue
                why = why_not_read(lead, circuit)
                if why is not None:
                    found.reject(demand.id, why)
                    found.ways += (
                        _with_settings(w, settings("charge_lamp"))
                        for w in list(by_relay(bench, demand, lead, circuit, found))
                    )
                    continue
            links = (
                Link(
                    f"vehicle.{id}",
                    f"unit.{lead.id}",
                    SWITCH_A,
                    "car",
                    "the tach signal, straight" if tach else "the charge lamp, straight",
                ),
            )
            found.ways.append(
                Way(
                    demand.id,
                    "direct",
                    f"{lead.id} straight on {id}",
                    inputs=(lead.id,),
                    circuit=circuit,
                    settings=settings("tach" if tach else "charge_lamp"),
                    relies=(id,),
                    links=links,
                    minutes=minutes_of(links, 0, 0),
                    by_tach=tach,
                )
            )
    tach_ways(bench, demand, settings("tach"), found)
    if "volts" in choices:
        found.ways.append(
            Way(
                demand.id,
                "setting",
                "by the battery's voltage",
                settings=settings("volts"),
            )
        )
    if "timed" in choices:
        found.reject(
            demand.id, "by time alone the unit goes on cranking after the engine has caught"
        )


def _with_settings(way: Way, settings: tuple[tuple[str, str], ...]) -> Way:
    return Way(**{**way.__dict__, "settings": settings})
