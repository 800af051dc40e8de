"""The elements of each circuit of the vehicle: contacts, loads, pull-ups, switches, motors.

Source of the shapes: common practice, no source (key and hand switches, bulbs, relay coils,
ground-sensed switches, reversing lock motors resting at ground, resistance-coded lock switches).
"""

from __future__ import annotations

from dataclasses import dataclass

from startwright.car.start_control import MODE, MODES, OWN, in_modes
from startwright.car.surroundings import LOAD_AT_V, key_in, operated_by, works_both_sides
from startwright.network.elements import Builder
from startwright.records.vehicle import Circuit, Vehicle
from startwright.records.words import KEY_POSITIONS

BATTERY = "rail.battery"
GROUND = "rail.ground"
SENSE_OHM = 1000.0
"""A resting level without a stated load is held by this resistance (assumed, no source)."""
DEFAULT_LOAD_A = {"ignition": 5.0, "accessory": 5.0, "starter": 10.0, "key_sense": 0.05}
"""Load of a key-fed circuit whose record states none (assumed, no source)."""
LADDER_PULL_OHM = 1000.0
"""Pull-up of a body computer on a resistance-coded switch line (assumed, no source)."""
LADDER_SHARE = 0.15
"""A step of a coded switch is recognised within this share of its resistance (assumed)."""


@dataclass(frozen=True)
class Act:
    """One thing a circuit does, and the node voltages (as shares of the rail) that mean it."""

    circuit: str
    function: str
    low: float
    high: float


def is_feed(circuit: Circuit) -> bool:
    """Whether a battery circuit stands at battery whatever the key does."""
    return circuit.function == "battery" and (
        circuit.live is None or set(circuit.live) == set(KEY_POSITIONS)
    )


def terminals_of(circuit: Circuit, cut: bool) -> tuple[str, str]:
    """Names of the source side and the load side of a circuit; the same unless it is cut."""
    name = f"vehicle.{circuit.id}"
    return (f"{name}.source", f"{name}.load") if cut else (name, name)


def acts_of(circuit: Circuit) -> list[Act]:
    """What a circuit does and between which shares of the rail voltage it does it."""
    if circuit.style == "ladder" and circuit.steps_ohm is not None:
        out = []
        for function in (circuit.function, *circuit.also):
            ohm = getattr(circuit.steps_ohm, function, None)
            if ohm is not None:
                low = ohm * (1 - LADDER_SHARE)
                high = ohm * (1 + LADDER_SHARE)
                out.append(
                    Act(
                        circuit.id,
                        function,
                        low / (low + LADDER_PULL_OHM),
                        high / (high + LADDER_PULL_OHM),
                    )
                )
        return out
    level = circuit.active_level
    if level == "battery":
        return [Act(circuit.id, circuit.function, 0.6, 9.9)]
    if level == "ground":
        return [Act(circuit.id, circuit.function, -9.9, 0.4)]
    opposite = circuit.rest or "ground"
    if opposite == "battery":
        return [Act(circuit.id, circuit.function, -9.9, 0.6)]
    return [Act(circuit.id, circuit.function, 0.4, 9.9)]


def load_ohm(circuit: Circuit) -> float | None:
    """Resistance of the circuit's load, ohm; None where nothing loads it."""
    if circuit.load_A:
        return LOAD_AT_V / circuit.load_A
    if circuit.load_A is None and circuit.key_fed:
        return LOAD_AT_V / DEFAULT_LOAD_A.get(circuit.function, 1.0)
    if circuit.load_A is None and circuit.rest in ("battery", "ground"):
        return SENSE_OHM
    return None


def park_neutral_closed(vehicle: Vehicle) -> tuple[bool, ...]:
    """For each gear whether the car's own starter interlock lets the start signal through."""
    return (True, True, False)


def add_circuit(
    b: Builder, vehicle: Vehicle, circuit: Circuit, cut: bool, imitated: bool = False
) -> None:
    """Add one circuit's elements between the rails and its terminals.

    With `imitated` the car's start control may go to another mode than the driver's own.
    """
    source, load = terminals_of(circuit, cut)
    name = f"vehicle.{circuit.id}"
    b.node(source)
    b.node(load)
    if is_feed(circuit) or circuit.function == "ground":
        near, far = (BATTERY, GROUND) if is_feed(circuit) else (GROUND, BATTERY)
        kind = "feed" if is_feed(circuit) else "ground"
        b.resistor(f"{name}#{kind}", near, source, 1e-3)
        if cut:
            b.resistor(f"{name}#load", load, far, load_ohm(circuit) or SENSE_OHM)
        return
    if circuit.key_fed:
        _key_fed(b, vehicle, circuit, source, load, imitated)
    elif circuit.style == "ladder" and circuit.steps_ohm is not None:
        _ladder(b, circuit, source, load)
    elif circuit.style == "reversing":
        _changeover(b, circuit, source, BATTERY)
    elif circuit.style == "vacuum":
        _changeover(b, circuit, source, BATTERY if circuit.active == "battery" else GROUND)
        b.resistor(f"{name}#load", load, GROUND, load_ohm(circuit) or SENSE_OHM)
    elif circuit.active is not None:
        _operated(b, circuit, source, load)


def _key_fed(
    b: Builder, vehicle: Vehicle, circuit: Circuit, source: str, load: str, imitated: bool
) -> None:
    name = f"vehicle.{circuit.id}"
    assert circuit.live is not None
    hot, cold = (BATTERY, GROUND) if circuit.active_level == "battery" else (GROUND, BATTERY)
    let_through = park_neutral_closed(vehicle)
    fed = source
    if circuit.function == "starter" and circuit.interlock == "upstream":
        fed = f"{name}#lock"
        b.contact(f"{name}#interlock", fed, source, "gear", let_through)
    top = hot
    if imitated:
        top = f"{name}#own"
        b.contact(f"{name}#own", hot, top, MODE, [m == OWN for m in range(len(MODES))])
        b.contact(f"{name}#mode", hot, fed, MODE, in_modes(circuit.live))
    b.contact(f"{name}#key", top, fed, "key", key_in(circuit.live))
    ohm = load_ohm(circuit)
    if ohm is None:
        return
    at = load
    if circuit.function == "starter" and circuit.interlock == "downstream":
        at = f"{name}#motor"
        b.contact(f"{name}#interlock", load, at, "gear", let_through)
    b.resistor(f"{name}#load", at, cold, ohm)


def _changeover(b: Builder, circuit: Circuit, source: str, hot: str) -> None:
    """A switch that holds the wire at one rail or at the other: motors, and vacuum pumps."""
    name = f"vehicle.{circuit.id}"
    cold = GROUND if hot == BATTERY else BATTERY
    control, closed = operated_by(circuit)
    b.contact(f"{name}#switch", hot, source, control, closed)
    b.contact(f"{name}#rest", cold, source, control, [not c for c in closed])


def _operated(b: Builder, circuit: Circuit, source: str, load: str) -> None:
    name = f"vehicle.{circuit.id}"
    control, closed = operated_by(circuit)
    both = works_both_sides(circuit)
    ohm = load_ohm(circuit)
    if circuit.active in ("battery", "ground"):
        hot, cold = (BATTERY, GROUND) if circuit.active == "battery" else (GROUND, BATTERY)
        b.contact(f"{name}#switch", hot, source, control, closed)
        if both:
            b.contact(f"{name}#{both}", hot, source, both, closed)
        if ohm is not None:
            b.resistor(f"{name}#load", load, cold, ohm)
    else:
        top = rest = BATTERY if circuit.rest == "battery" else GROUND
        if both:
            top = f"{name}#{both}"
            b.contact(top, rest, top, both, [not c for c in closed])
        b.contact(f"{name}#switch", top, source, control, [not c for c in closed])


def _ladder(b: Builder, circuit: Circuit, source: str, load: str) -> None:
    name = f"vehicle.{circuit.id}"
    steps = circuit.steps_ohm
    assert steps is not None
    b.resistor(f"{name}#pull", BATTERY, load, LADDER_PULL_OHM)
    if steps.rest:
        b.resistor(f"{name}#rest", source, GROUND, steps.rest)
    for function in (circuit.function, *circuit.also):
        ohm = getattr(steps, function, None)
        if ohm is None:
            continue
        beside = ohm if not steps.rest else 1 / max(1 / max(ohm, 1e-3) - 1 / steps.rest, 1e-9)
        b.contact(f"{name}#{function}", source, f"{name}#{function}.step", function, (False, True))
        b.resistor(f"{name}#{function}.ohm", f"{name}#{function}.step", GROUND, max(beside, 1e-3))


def add_motors(b: Builder, vehicle: Vehicle, cuts: frozenset[str]) -> None:
    """Add the lock motors that hang between two reversing circuits, or to ground where alone."""
    moving = [c for c in vehicle.circuits if c.style == "reversing"]
    locks = [c for c in moving if c.function == "lock"]
    others = [c for c in moving if c.function != "lock"]
    pairs = [(locks[min(k, len(locks) - 1)], c) for k, c in enumerate(others)] if locks else []
    alone = [c for c in moving if not any(c in pair for pair in pairs)]
    for mate, circuit in pairs:
        amps = circuit.load_A or mate.load_A or 5.0
        b.resistor(
            f"vehicle.{circuit.id}#motor",
            terminals_of(circuit, circuit.id in cuts)[1],
            terminals_of(mate, mate.id in cuts)[1],
            LOAD_AT_V / amps,
        )
    for circuit in alone:
        _, load = terminals_of(circuit, circuit.id in cuts)
        b.resistor(f"vehicle.{circuit.id}#motor", load, GROUND, LOAD_AT_V / (circuit.load_A or 5.0))
