"""Ways with an immobilizer interface: each pin to what its record says it must meet."""

from __future__ import annotations

from dataclasses import replace

from startwright.car.interfaces import meaning_of
from startwright.plan.demand import Demand
from startwright.plan.enable import PIN_A, Pin, by_signals, by_supply, fit_to_enable
from startwright.plan.fits import fits_model, gives_tach, serves, tach_pin
from startwright.plan.outputs import Output
from startwright.plan.way import GROUND, SMALL, Bench, Found, Link, Way, minutes_of
from startwright.records.stock import Part
from startwright.records.vehicle import Circuit
from startwright.records.words import FUNCTIONS, SIGNALS


def interface_ways(bench: Bench, demand: Demand, found: Found) -> None:
    """Add every way of wiring an interface that serves this car's kind of immobilizer."""
    kind = demand.sense
    looked = False
    for part in bench.of("interface"):
        if kind not in serves(part):
            continue
        looked = True
        if not fits_model(part, bench.job.vehicle):
            found.reject(demand.id, f"{part.id} is not made for this vehicle")
            continue
        _wire(bench, demand, part, found)
    if not looked:
        found.reject(
            demand.id, f"there is no interface on the shelf for a {kind.replace('_', ' ')}"
        )


def tach_ways(
    bench: Bench, demand: Demand, settings: tuple[tuple[str, str], ...], found: Found
) -> None:
    """Add the ways of reading the engine's speed at an interface.

    The interface that stands in for the key may give it as well; else one that is there for it.
    """
    kind = bench.job.vehicle.immobilizer.kind
    leads = [d.id for d in bench.job.unit.leads if d.way == "in" and d.senses == "tach"]
    for part in bench.of("interface"):
        if not gives_tach(part, bench.job.vehicle):
            continue
        pin = tach_pin(part)
        for lead in leads:
            says = f"{lead} on {part.id}, which reads the engine's speed from the car's data line"
            if kind in serves(part):
                link = Link(f"@immobilizer/X.{pin}", f"unit.{lead}", PIN_A, "small", says)
                found.ways.append(
                    Way(
                        demand.id,
                        "interface",
                        says,
                        inputs=(lead,),
                        settings=settings,
                        links=(link,),
                        minutes=minutes_of((link,), 0, 0),
                        by_tach=True,
                        with_part=("immobilizer", part.id),
                    )
                )
            if "tach" in serves(part):
                link = Link(f"@X.{pin}", f"unit.{lead}", PIN_A, "small", says)
                mine = Found()
                _wire(bench, demand, part, mine)
                for why in mine.rejected.get(demand.id, []):
                    found.reject(demand.id, why)
                for w in mine.ways:
                    found.ways.append(
                        replace(
                            w,
                            says=says,
                            inputs=(lead,),
                            settings=settings,
                            links=(*w.links, link),
                            minutes=minutes_of((*w.links, link), 1, 0),
                            by_tach=True,
                        )
                    )


def _wire(bench: Bench, demand: Demand, part: Part, found: Found) -> None:
    draw_A = part.limit_A or 0.5
    links: list[Link] = []
    relies: list[str] = []
    supply: list[str] = []
    signals: list[Pin] = []
    taken: set[str] = set()
    fed: list[tuple[str, Circuit]] = []
    for pin, said in part.needed_pins.items():
        words = (said or meaning_of(part, pin)).replace("vehicle.", "").replace("unit.", "")
        said_words = words.replace(",", " ").split()
        end = f"@X.{pin}"
        outputs = _outputs(bench, said_words)
        circuits = _circuits(bench, said_words, taken)
        if outputs is not None:
            if not outputs:
                found.reject(demand.id, f"no output of the unit does what {part.id}.{pin} needs")
                return
            fit = fit_to_enable(bench, demand, f"{part.id}.{pin}", outputs, found)
            if not fit:
                return
            level = next((w for w in said_words if w in ("battery", "ground")), None)
            signals.append(Pin(pin, tuple(sorted(fit, key=lambda o: o.level != level)), level))
        elif "battery" in said_words:
            supply.append(pin)
        elif "ground" in said_words:
            links.append(Link(end, GROUND, draw_A, "small", f"ground of {part.id}"))
        elif circuits:
            circuit = circuits[0]
            if circuit.key_fed:
                fed.append((pin, circuit))
                continue
            taken.add(circuit.id)
            relies.append(circuit.id)
            links.append(_joined(part, pin, circuit))
        else:
            what = f"a circuit for {words}" if words else "what it must meet on record"
            found.reject(demand.id, f"{part.id}.{pin} needs {what}")
            return
    by_unit = demand.kind == "interface" and (demand.by_car or not signals)
    for pin, circuit in fed:
        if not by_unit:
            relies.append(circuit.id)
            links.append(_joined(part, pin, circuit))
            continue
        driven = [o for o in bench.outputs if o.does == circuit.function]
        fit = fit_to_enable(bench, demand, f"{part.id}.{pin}", driven, found)
        if not fit:
            found.reject(demand.id, _unanswered(demand, part, pin, circuit))
            return
        signals.append(Pin(pin, fit, circuit.active_level))
    if not signals and demand.kind == "interface":
        enabled = by_supply(bench, demand, part, supply, draw_A, found)
        supply = []
    else:
        enabled = by_signals(bench, demand, part, signals, found)
    links += (
        Link(SMALL, f"@X.{pin}", draw_A, "small", f"supply of {part.id}, fused") for pin in supply
    )
    own_A = draw_A * len(supply) if supply else None
    for by in enabled:
        every = (*links, *by.links)
        small = [a for a in (own_A, by.small_A) if a is not None]
        found.ways.append(
            Way(
                demand.id,
                "interface",
                f"{part.id} wired at every pin it needs" + by.says,
                uses=by.uses,
                parts=(("X", part), *by.parts),
                small_A=sum(small) if small else None,
                relies=tuple(relies),
                links=every,
                minutes=minutes_of(every, 1 + len(by.parts), 0),
            )
        )


def _joined(part: Part, pin: str, circuit: Circuit) -> Link:
    why = f"{part.id} needs {circuit.function} at {pin}"
    return Link(f"vehicle.{circuit.id}", f"@X.{pin}", PIN_A, "car", why)


def _unanswered(demand: Demand, part: Part, pin: str, circuit: Circuit) -> str:
    """Why a pin cannot hang on a circuit that the key, or the car's own control, feeds."""
    if demand.by_car:
        return (
            f"{part.id}.{pin} needs {circuit.function}, which the car gives only once it has "
            "found a key, and no output of the unit gives it"
        )
    return (
        f"{part.id}.{pin} would be enabled whenever the key gives {circuit.function}, and no "
        "output of the unit gives it in its stead"
    )


def _outputs(bench: Bench, words: list[str]) -> list[Output] | None:
    """The outputs a signal pin may hang on; None where the pin is not for a signal."""
    named = [w for w in words if w in SIGNALS]
    leads = {o.lead for o in bench.outputs}
    if named:
        return [o for o in bench.outputs if o.does in named]
    by_id = [w for w in words if w in leads]
    return [o for o in bench.outputs if o.lead in by_id] if by_id else None


def _circuits(bench: Bench, words: list[str], taken: set[str]) -> list[Circuit]:
    """The circuits a pin may meet, the better first: named by id, live in run and start, sure."""
    functions = {w for w in words if w in FUNCTIONS}
    named = [
        c
        for c in bench.job.vehicle.circuits
        if (c.id in words or c.function in functions)
        and c.id not in taken
        and bench.reachable(c)
        and not c.leave_dead
        and c.function not in ("srs", "high_voltage")
    ]
    return sorted(
        named,
        key=lambda c: (
            c.id not in words,
            not {"run", "start"} <= set(c.live or ()) if c.key_fed else False,
            c.known is None or c.known.how in ("told", "guessed"),
        ),
    )
