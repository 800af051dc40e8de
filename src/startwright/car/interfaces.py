"""Immobilizer interfaces: what each pin must meet, where it is connected, when it is enabled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from startwright.car.circuits import BATTERY, GROUND, is_feed, terminals_of
from startwright.car.control_unit import ControlUnit
from startwright.car.faults import Fault, opens
from startwright.car.fitted import node_of
from startwright.car.terminals import Joined
from startwright.records.job import WholeJob
from startwright.records.stock import Part
from startwright.records.vehicle import Vehicle
from startwright.records.wiring import Wiring
from startwright.records.words import FUNCTIONS, SIGNALS


@dataclass(frozen=True)
class Pin:
    """One needed pin: its terminal, and what must be found there.

    `kind` is ``battery`` or ``ground`` (a level), ``signal`` (the level at which the unit's lead
    drives, `level`), ``line`` (joined to a circuit of the vehicle) or ``any`` (connected at all).
    """

    terminal: str
    kind: str
    level: str = ""
    connected: bool = False
    """Whether any run goes there."""
    right: bool = False
    """Whether it is joined to what it needs; a signal pin to anything that gives it a level."""


@dataclass(frozen=True)
class Fit:
    """An interface in the wiring."""

    part: str
    serves: frozenset[str]
    pins: tuple[Pin, ...]
    made_for: bool = True
    """Whether the cars that its record lists are this one, or none are listed."""

    @property
    def for_the_key(self) -> bool:
        """Whether it stands in for a key, rather than for a signal such as the tach alone."""
        return not self.serves or not self.serves <= set(FUNCTIONS) - {"immobilizer"}

    @property
    def complete(self) -> bool:
        """Whether it is made for this car and every pin is connected to what it needs."""
        return self.made_for and all(p.connected and p.right for p in self.pins)

    @property
    def enabling(self) -> tuple[Pin, ...]:
        """The pins whose level enables it: its signals, else its supply."""
        return tuple(p for p in self.pins if p.kind == "signal")


def fits_model(part: Part, vehicle: Vehicle) -> bool:
    """Whether an interface is made for this vehicle, by the names its record lists."""
    listed = [part.model_fit] if isinstance(part.model_fit, str) else list(part.model_fit)
    if not listed:
        return True
    names = {
        vehicle.id,
        vehicle.make or "",
        vehicle.model or "",
        f"{vehicle.make} {vehicle.model}",
        "any",
        "all",
    }
    return any(n.strip().lower() in {x.lower() for x in names if x} for n in listed)


def meaning_of(part: Part, pin: str) -> str:
    """What a pin of an interface is for, as its record says; '' where it says nothing."""
    said = part.needs.get(pin, "") if isinstance(part.needs, dict) else ""
    if not said:
        said = part.pin_meanings.get(pin, "")
    if not said and pin in {"battery", "ground", *SIGNALS, *FUNCTIONS}:
        said = pin
    return said


def may_meet_data(part: Part, pin: str, circuit: str, function: str) -> bool:
    """Whether a pin is declared for a data line (or for this circuit)."""
    if part.kind != "interface" or pin not in part.pin_names:
        return False
    said = meaning_of(part, pin).replace("vehicle.", "")
    words = set(said.replace(",", " ").split())
    return not said or bool(words & {"data", "immobilizer", function, circuit})


def fits_of(
    job: WholeJob,
    wiring: Wiring,
    parts: Mapping[str, Part],
    joined: Joined,
    unit: ControlUnit,
    fault: Fault | None = None,
) -> tuple[Fit, ...]:
    """Every interface in the wiring with its needed pins; `wiring` without the runs that are open.

    A fault opens fuses, switches and contacts.
    """
    touched = {end for run in wiring.runs for end in run.ends}
    switched = _switched(job, wiring, parts, unit, fault)
    led = _led(wiring, parts, fault)
    out = []
    for name, part in parts.items():
        if part.kind != "interface":
            continue
        pins = []
        for pin, said in part.needed_pins.items():
            pins.append(
                _pin(
                    job,
                    f"{name}.{pin}",
                    said or meaning_of(part, pin),
                    joined,
                    switched,
                    led,
                    unit,
                    touched,
                )
            )
        serves = {part.serves} if isinstance(part.serves, str) else set(part.serves)
        out.append(Fit(name, frozenset(serves), tuple(pins), fits_model(part, job.vehicle)))
    return tuple(out)


def _pin(
    job: WholeJob,
    terminal: str,
    said: str,
    joined: Joined,
    switched: Joined,
    led: Joined,
    unit: ControlUnit,
    touched: set[str],
) -> Pin:
    words = said.replace("vehicle.", "").replace("unit.", "").replace(",", " ").split()
    connected = terminal in touched
    for word in words:
        if word in SIGNALS:
            level = _signal_level(unit, word, words, terminal, led)
            return Pin(terminal, "signal", level, connected, connected)
    for lead in unit.out_leads:
        if lead.id in words:
            return Pin(terminal, "signal", unit.level(lead), connected, connected)
    for word in words:
        if word in ("battery", "ground"):
            rail = BATTERY if word == "battery" else GROUND
            right = joined.together(terminal, rail) or switched.together(terminal, rail)
            return Pin(terminal, word, word, connected, right)
    functions = {w for w in words if w in FUNCTIONS}
    named = [c for c in job.vehicle.circuits if c.id in words or c.function in functions]
    if named:
        on_it = any(
            joined.together(terminal, t)
            for c in named
            for t in (f"vehicle.{c.id}", f"vehicle.{c.id}.source", f"vehicle.{c.id}.load")
        )
        if all(c.key_fed for c in named):
            by_unit = _on_lead(unit, joined, terminal, {c.function for c in named})
            return Pin(terminal, "signal", named[0].active_level, connected, on_it or by_unit)
        return Pin(terminal, "line", "", connected, on_it)
    return Pin(terminal, "any", "", connected, connected)


def _switched(
    job: WholeJob,
    wiring: Wiring,
    parts: Mapping[str, Part],
    unit: ControlUnit,
    fault: Fault | None,
) -> Joined:
    """What is joined through contacts of what is fitted too: a supply that a relay switches.

    Whether it is there in a state its level says; a coil, a lamp or a pull-up is no supply.
    """
    links = [(node_of(r.from_), node_of(r.to)) for r in wiring.runs]
    for c in job.vehicle.circuits:
        source, _ = terminals_of(c, c.id in wiring.cuts)
        if is_feed(c) or c.function == "ground":
            links.append((source, BATTERY if is_feed(c) else GROUND))
    for name, part in parts.items():
        if part.kind == "relay":
            shut = {"87"} if opens(fault, name) else set()
            links += [
                (f"{name}.30", f"{name}.{pin}")
                for pin in ("87", "87a")
                if pin not in shut and not opens(fault, f"{name}.{pin}")
            ]
        elif opens(fault, name):
            continue
        elif part.kind in ("fuse", "switch"):
            links.append((f"{name}.a", f"{name}.b"))
        elif part.kind == "diode":
            links.append((f"{name}.anode", f"{name}.cathode"))
    grounds = [d.id for d in unit.record.leads if d.way == "ground" and d.id in unit.wired]
    for lead in unit.out_leads:
        if unit.level(lead) == "battery":
            links.append((f"unit.{lead.id}", f"unit.{lead.fed_by or unit.record.logic_from}"))
        else:
            links += [(f"unit.{lead.id}", f"unit.{g}") for g in grounds]
    return Joined(links)


def any_tach(
    job: WholeJob, joined: Joined, parts: Mapping[str, Part], fits: tuple[Fit, ...]
) -> bool:
    """Whether any tach lead of the unit is where the tach can be heard."""
    leads = [d for d in job.unit.leads if d.senses == "tach"]
    return any(on_tach(job, joined, parts, fits, f"unit.{d.id}") for d in leads)


def on_tach(
    job: WholeJob,
    joined: Joined,
    parts: Mapping[str, Part],
    fits: tuple[Fit, ...],
    terminal: str,
) -> bool:
    """Whether a terminal is joined to a tach wire, or to an interface's pin that gives the tach.

    An interface gives it where every pin that it needs can meet what it needs.
    """
    if joined.together(terminal, BATTERY) or joined.together(terminal, GROUND):
        return False
    return _on_tach_wire(job, joined, terminal) or bool(_givers(joined, parts, fits, terminal))


def tach_from(
    job: WholeJob, joined: Joined, parts: Mapping[str, Part], fits: tuple[Fit, ...]
) -> tuple[str, ...]:
    """The interfaces that give the unit its tach; none where a wire of the car gives it."""
    at = [f"unit.{d.id}" for d in job.unit.leads if d.senses == "tach"]
    at = [t for t in at if on_tach(job, joined, parts, fits, t)]
    if any(_on_tach_wire(job, joined, t) for t in at):
        return ()
    return tuple(dict.fromkeys(n for t in at for n in _givers(joined, parts, fits, t)))


def _on_tach_wire(job: WholeJob, joined: Joined, terminal: str) -> bool:
    return any(
        c.function == "tach"
        and c.reach == "wire"
        and any(joined.together(terminal, terminals_of(c, cut)[0]) for cut in (False, True))
        for c in job.vehicle.circuits
    )


def _givers(
    joined: Joined, parts: Mapping[str, Part], fits: tuple[Fit, ...], terminal: str
) -> list[str]:
    """The interfaces joined to a terminal by a pin that gives the tach."""
    return [
        fit.part
        for fit in fits
        if fit.complete
        and any(
            "tach" in meaning_of(parts[fit.part], pin).split()
            and pin not in parts[fit.part].needed_pins
            and joined.together(terminal, f"{fit.part}.{pin}")
            for pin in parts[fit.part].pin_names
        )
    ]


def _on_lead(unit: ControlUnit, joined: Joined, terminal: str, functions: set[str]) -> bool:
    """Whether a terminal is joined to an output of the unit that does one of these."""
    return any(
        unit.does(lead) in functions and joined.together(terminal, f"unit.{lead.id}")
        for lead in unit.out_leads
    )


def _led(wiring: Wiring, parts: Mapping[str, Part], fault: Fault | None) -> Joined:
    """What a signal is led through: runs, fuses and diodes."""
    links = [(node_of(r.from_), node_of(r.to)) for r in wiring.runs]
    ends = {"fuse": ("a", "b"), "diode": ("anode", "cathode")}
    for name, part in parts.items():
        if part.kind in ends and not opens(fault, name):
            one, other = ends[part.kind]
            links.append((f"{name}.{one}", f"{name}.{other}"))
    return Joined(links)


def _signal_level(
    unit: ControlUnit, signal: str, words: list[str], terminal: str, led: Joined
) -> str:
    """The level of a signal: as said, else of the lead joined here, a connected one, any."""
    for word in ("ground", "battery"):
        if word in words:
            return word
    leads = [lead for lead in unit.out_leads if unit.does(lead) == signal]
    here = [lead for lead in leads if led.together(terminal, f"unit.{lead.id}")]
    connected = [lead for lead in leads if lead.id in unit.wired]
    for lead in (*here, *connected, *leads):
        return unit.level(lead)
    return "ground"
