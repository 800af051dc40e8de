"""From records to one electrical model: the wired car, and the factory car beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

from startwright.car.circuits import (
    BATTERY,
    GROUND,
    Act,
    add_circuit,
    add_motors,
    is_feed,
    terminals_of,
)
from startwright.car.control_unit import ControlUnit
from startwright.car.faults import Fault, break_elements, opens
from startwright.car.fitted import (
    CONTACT_OHM,
    add_lead,
    add_part,
    add_run,
    is_wire,
    node_of,
    thresholds,
)
from startwright.car.interfaces import Fit, any_tach, fits_of, on_tach, tach_from
from startwright.car.key_resistor import add_key_resistor, all_acts
from startwright.car.start_control import by_button
from startwright.car.surroundings import RAILS
from startwright.car.terminals import Joined, check_terminals, parts_of
from startwright.network.elements import Builder, Network
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.stock import Part
from startwright.records.vehicle import Circuit
from startwright.records.wiring import Wiring

Fits = tuple[Fit, ...]
LEAST_LOGIC_MA = 10.0
"""The unit's own draw where its record says less: a sneak path through a pull-down is no ground.

In the proof's network alone; `size` counts what the record states.
"""


@dataclass(frozen=True)
class Coil:
    """A relay coil: between which nodes, where it pulls in and lets go, V."""

    part: str
    a: int
    b: int
    pull_in_V: float
    drop_out_V: float


@dataclass(frozen=True)
class Input:
    """An input of the unit: its node and thresholds; how it is connected."""

    lead: str
    senses: str
    node: int
    active: str
    on_V: float
    off_V: float
    how: str
    """``level``, ``tach`` (on a tach circuit) or ``nothing`` (not connected: reads inactive)."""
    pulled: bool = True
    """Whether it pulls its wire to a level of its own; else it reads what it last read there."""


@dataclass(frozen=True)
class Motor:
    """The load that turns the engine (`starter`) and the nodes across which it must be fed."""

    circuit: str
    hot: int
    cold: int


@dataclass(frozen=True)
class Car:
    """The wired car as a network, with what its nodes and elements mean.

    `network` and `factory` share the names of the control variables: surroundings (`key`, `gear`,
    `hood`, …), `out.<lead>` and `coil.<part>`. Node numbers are found by terminal name in `number`
    and `factory_number`. Nodes joined to a rail for good by runs and fuses are held at that rail
    (`held_at`), so that what hangs on them falls apart into islands.
    """

    job: WholeJob
    wiring: Wiring
    unit: ControlUnit
    parts: Mapping[str, Part]
    elements: Builder
    """What `network` is built of, by name, with nothing held yet."""
    network: Network
    number: Mapping[str, int]
    factory: Network
    factory_number: Mapping[str, int]
    held_at: Mapping[int, str]
    factory_held_at: Mapping[int, str]
    coils: tuple[Coil, ...]
    inputs: tuple[Input, ...]
    motors: tuple[Motor, ...]
    acts: tuple[Act, ...]
    interfaces: tuple[Fit, ...]
    joined: Joined
    alive: bool | None
    """Whether the unit has its logic feed and ground for good; None where that depends."""
    imitates: bool = False
    """Whether the unit presses the start button; `car.mode` is then a control variable."""
    tach_lost: bool = False
    """Whether a fault has cut the tach lead off; the unit still listens to it."""
    tach_from: tuple[str, ...] = ()
    """The interfaces that give the tach, where no wire of the car does."""

    def load_node(self, circuit: Circuit) -> int:
        """The node at which a circuit's load stands (the load side of a cut)."""
        return self.number[terminals_of(circuit, circuit.id in self.wiring.cuts)[1]]

    def source_node(self, circuit: Circuit) -> int:
        """The node at which a circuit is fed by the car (the source side of a cut)."""
        return self.number[terminals_of(circuit, circuit.id in self.wiring.cuts)[0]]


def wire_up(job: WholeJob, wiring: Wiring, *, hold: bool = True) -> Car:
    """Build the electrical model of a wiring in its vehicle, and of the factory car.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit and stock.
    wiring : Wiring
        Exactly what is built.
    hold : bool
        True holds everything that hangs on a rail through runs and fuses alone at that rail
        (the proof's corner voltages); False leaves those runs as resistances (volts and amps).

    Returns
    -------
    Car

    Raises
    ------
    RecordError
        For a terminal, part, cut or setting that does not exist.
    """
    _check_vacuum(job)
    check_terminals(job, wiring)
    parts = parts_of(job, wiring)
    joined = Joined(_links(job, wiring, parts))
    wired = frozenset(
        end.removeprefix("unit.") for r in wiring.runs for end in r.ends if end.startswith("unit.")
    )
    signal = _signal(job, wiring, joined, parts, wired)
    unit = ControlUnit(job.unit, wiring.settings, signal, wired)
    ground_lead = _ground_lead(job, wired)
    imitates = _imitates(job, unit)
    b = _factory_elements(job, frozenset(wiring.cuts), imitates)
    for lead in job.unit.leads:
        level = unit.level(lead)
        add_lead(b, lead, level, lead.fed_by or job.unit.logic_from, ground_lead)
    if hold and ground_lead is not None:
        logic_ohm = RAILS["rest"] / max(job.unit.key_off_mA, LEAST_LOGIC_MA) * 1000
        b.resistor("unit.logic", f"unit.{job.unit.logic_from}", f"unit.{ground_lead}", logic_ohm)
    for one, other in pairwise(_grounds(job)):
        b.resistor(f"{other}#inside", one, other, CONTACT_OHM)
    for name, part in parts.items():
        add_part(b, name, part)
    for run in wiring.runs:
        add_run(b, run)
    fb = _factory_elements(job, frozenset())
    fheld = _factory_held(job) if hold else {BATTERY: "battery", GROUND: "ground"}
    for name in fheld:
        fb.hold(name)
    factory, factory_number = fb.build()
    network, number, held_at, alive = _built(b, job, joined, wired, hold=hold)
    fits = fits_of(job, wiring, parts, joined, unit)
    return Car(
        job=job,
        wiring=wiring,
        unit=unit,
        parts=parts,
        elements=b,
        network=network,
        number=number,
        factory=factory,
        factory_number=factory_number,
        held_at=held_at,
        factory_held_at={factory_number[n]: rail for n, rail in fheld.items()},
        coils=_coils(parts, number),
        inputs=_inputs(job, parts, joined, fits, wired, number),
        motors=_motors(job, wiring, number),
        acts=all_acts(job.vehicle),
        interfaces=fits,
        joined=joined,
        alive=alive,
        imitates=imitates,
        tach_lost=signal == "tach" and not any_tach(job, joined, parts, fits),
        tach_from=tach_from(job, joined, parts, fits),
    )


def with_fault(car: Car, fault: Fault) -> Car:
    """The same car with a single fault; the unit goes on as if it were not there.

    Parameters
    ----------
    car : Car
        With held rails (`wire_up` with `hold`), without a fault.
    fault : Fault
    """
    b = car.elements.copy()
    break_elements(b, fault, car.wiring, car.parts)
    still = Joined(_links(car.job, car.wiring, car.parts, fault))
    network, number, held_at, alive = _built(b, car.job, still, car.unit.wired, hold=True)
    left = [r for r in car.wiring.runs if not opens(fault, r.id)]
    whole = car.wiring.model_copy(update={"runs": left})
    heard = [f"unit.{d.id}" for d in car.job.unit.leads if d.senses == "tach"]
    found = fits_of(car.job, whole, car.parts, still, car.unit, fault)
    fits = tuple(_deaf(fit, car, still, fault) for fit in found)
    return replace(
        car,
        network=network,
        number=number,
        held_at=held_at,
        coils=tuple(_open(c) if opens(fault, c.part) else c for c in car.coils),
        alive=alive,
        tach_lost=car.unit.signal == "tach"
        and (not any_tach(car.job, still, car.parts, fits) or _shorted(car, still, fault, heard)),
        tach_from=tach_from(car.job, still, car.parts, fits),
        interfaces=fits,
    )


def _deaf(fit: Fit, car: Car, joined: Joined, fault: Fault) -> Fit:
    """An interface whose line is shorted hears nothing on it."""
    pins = tuple(
        replace(p, right=p.right and not _shorted(car, joined, fault, [p.terminal]))
        if p.kind == "line"
        else p
        for p in fit.pins
    )
    return replace(fit, pins=pins)


def _shorted(car: Car, joined: Joined, fault: Fault, terminals: list[str]) -> bool:
    """Whether a run that hangs together with a terminal is shorted: nothing is heard there."""
    shorted = {f.thing for f in fault.each if f.mode.startswith("short")}
    return any(
        joined.together(node_of(run.from_), terminal)
        for run in car.wiring.runs
        if run.id in shorted
        for terminal in terminals
    )


def _built(
    elements: Builder, job: WholeJob, joined: Joined, wired: frozenset[str], *, hold: bool
) -> tuple[Network, Mapping[str, int], dict[int, str], bool | None]:
    """The network, its numbers and held nodes; whether the unit lives for good."""
    b = elements.copy()
    ground_lead = _ground_lead(job, wired)
    logic, ground = f"unit.{job.unit.logic_from}", f"unit.{ground_lead}"
    alive = _alive(joined, logic, ground, ground_lead, wired, job.unit.logic_from)
    if alive is None and not _may_reach_ground(b, ground):
        alive = False
    if hold and alive is False:
        b.contacts = [c for c in b.contacts if not c.control.startswith("out.")]
    held = _held(joined, b) if hold else {BATTERY: "battery", GROUND: "ground"}
    for name in held:
        b.hold(name)
    network, number = b.build()
    return network, number, {number[n]: rail for n, rail in held.items()}, alive


def _check_vacuum(job: WholeJob) -> None:
    """Refuse a vacuum lock whose levels are not on record."""
    vehicle = job.vehicle
    for circuit in vehicle.circuits:
        if circuit.style == "vacuum" and {circuit.rest, circuit.active} != {"battery", "ground"}:
            raise RecordError(
                "a vacuum circuit that does not say at which level the pump locks and unlocks",
                f"vehicle {vehicle.id}: circuit {circuit.id}",
                "`rest` and `active`, one of them battery and the other ground",
            )


def _imitates(job: WholeJob, unit: ControlUnit) -> bool:
    """Whether the unit presses the start button of a push-button car."""
    return (
        by_button(job.vehicle)
        and bool(job.vehicle.of("start_button"))
        and any(unit.does(d) == "start_button" and d.id in unit.wired for d in unit.out_leads)
    )


def _factory_elements(job: WholeJob, cuts: frozenset[str], imitated: bool = False) -> Builder:
    b = Builder()
    b.hold(BATTERY)
    b.hold(GROUND)
    for circuit in job.vehicle.circuits:
        add_circuit(b, job.vehicle, circuit, circuit.id in cuts, imitated)
    add_motors(b, job.vehicle, cuts)
    add_key_resistor(b, job.vehicle, cuts)
    return b


def _links(
    job: WholeJob, wiring: Wiring, parts: Mapping[str, Part], fault: Fault | None = None
) -> list[tuple[str, str]]:
    links = [(node_of(r.from_), node_of(r.to)) for r in wiring.runs if not opens(fault, r.id)]
    links += [
        (f"{n}.a", f"{n}.b") for n, p in parts.items() if p.kind == "fuse" and not opens(fault, n)
    ]
    links += list(pairwise(_grounds(job)))
    for c in job.vehicle.circuits:
        source, _ = terminals_of(c, c.id in wiring.cuts)
        if is_feed(c):
            links.append((BATTERY, source))
        elif c.function == "ground":
            links.append((GROUND, source))
    return links


def joined_with(car: Car, fault: Fault) -> Joined:
    """What runs and fuses join for good once a fault has opened some."""
    return Joined(_links(car.job, car.wiring, car.parts, fault))


def _held(joined: Joined, b: Builder) -> dict[str, str]:
    held = {name: "ground" for name in joined.members(GROUND) if b.has(name)}
    if not joined.together(BATTERY, GROUND):
        held |= {name: "battery" for name in joined.members(BATTERY) if b.has(name)}
    return {**held, BATTERY: "battery", GROUND: "ground"}


def _factory_held(job: WholeJob) -> dict[str, str]:
    held = {BATTERY: "battery", GROUND: "ground"}
    for c in job.vehicle.circuits:
        if is_feed(c):
            held[f"vehicle.{c.id}"] = "battery"
        elif c.function == "ground":
            held[f"vehicle.{c.id}"] = "ground"
    return held


def _grounds(job: WholeJob) -> list[str]:
    """The unit's ground leads, which hang together inside it."""
    return [f"unit.{lead.id}" for lead in job.unit.leads if lead.way == "ground"]


def _ground_lead(job: WholeJob, wired: frozenset[str]) -> str | None:
    grounds = [lead.id for lead in job.unit.leads if lead.way == "ground"]
    return next((g for g in grounds if g in wired), grounds[0] if grounds else None)


def _signal(
    job: WholeJob,
    wiring: Wiring,
    joined: Joined,
    parts: Mapping[str, Part],
    wired: frozenset[str],
) -> str:
    """How the unit knows that the engine runs (`world.md`, The unit).

    A tach lead connected to anything is what it goes by, even where it then hears nothing.
    """
    if any(d.senses == "tach" and d.id in wired for d in job.unit.leads):
        return "tach"
    if job.unit.engine_signal is None:
        return "timed"
    chosen = str(job.unit.chosen(dict(wiring.settings))[job.unit.engine_signal.by])
    if chosen == "charge_lamp" and not any(
        d.senses == "charge_lamp" and d.id in wired for d in job.unit.leads
    ):
        return "timed"
    return chosen if chosen in ("volts", "charge_lamp") else "timed"


def _alive(
    joined: Joined,
    logic: str,
    ground: str,
    ground_lead: str | None,
    wired: frozenset[str],
    logic_lead: str,
) -> bool | None:
    if ground_lead is None or ground_lead not in wired or logic_lead not in wired:
        return False
    if not joined.together(ground, GROUND):
        return None if _hangs_on_contact(joined, ground) else False
    if joined.together(logic, BATTERY):
        return not joined.together(BATTERY, GROUND)
    return None


def _may_reach_ground(b: Builder, terminal: str) -> bool:
    """Whether wires and closed contacts can lead to ground, the unit's own left open."""
    links = [(r.a, r.b) for r in b.resistors if is_wire(r)]
    links += [(c.a, c.b) for c in b.contacts if not c.control.startswith("out.")]
    found, todo = {b.node(terminal)}, [b.node(terminal)]
    while todo:
        at = todo.pop()
        new = {y if x == at else x for x, y in links if at in (x, y)} - found - {b.node(BATTERY)}
        found |= new
        todo += new
    return b.node(GROUND) in found


def _hangs_on_contact(joined: Joined, ground: str) -> bool:
    """Whether the unit's ground lead is joined to anything but the unit: a switch, a contact."""
    return any(not name.startswith("unit.") for name in joined.members(ground))


def _coils(parts: Mapping[str, Part], number: Mapping[str, int]) -> tuple[Coil, ...]:
    """Every relay's coil."""
    out = []
    for name, part in parts.items():
        if part.kind == "relay":
            assert part.pull_in_V is not None
            assert part.drop_out_V is not None
            ends = number[f"{name}.86"], number[f"{name}.85"]
            out.append(Coil(name, *ends, part.pull_in_V, part.drop_out_V))
    return tuple(out)


def _open(coil: Coil) -> Coil:
    """A coil that is open pulls in at no voltage."""
    return replace(coil, pull_in_V=inf, drop_out_V=inf)


def _inputs(
    job: WholeJob,
    parts: Mapping[str, Part],
    joined: Joined,
    fits: Fits,
    wired: frozenset[str],
    number: Mapping[str, int],
) -> tuple[Input, ...]:
    out = []
    for lead in job.unit.leads:
        if lead.way != "in":
            continue
        assert lead.senses is not None
        active, pull, on, off = thresholds(lead)
        how = "level" if lead.id in wired else "nothing"
        if lead.senses == "tach":
            heard = on_tach(job, joined, parts, fits, f"unit.{lead.id}")
            how = "tach" if heard else "nothing"
        node, pulled = number[f"unit.{lead.id}"], pull != "none"
        out.append(Input(lead.id, lead.senses, node, active, on, off, how, pulled))
    return tuple(out)


def _motors(job: WholeJob, wiring: Wiring, number: Mapping[str, int]) -> tuple[Motor, ...]:
    out = []
    for c in job.vehicle.of("starter"):
        at = f"vehicle.{c.id}#motor"
        if at not in number:
            at = terminals_of(c, c.id in wiring.cuts)[1]
        far = GROUND if c.active_level == "battery" else BATTERY
        hot, cold = (at, far) if c.active_level == "battery" else (far, at)
        out.append(Motor(c.id, number[hot], number[cold]))
    return tuple(out)
