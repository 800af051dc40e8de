"""The elements of what is fitted: the unit's leads, the parts, the runs.

Coils, contacts and pins by DIN 72552 numbers (30, 85, 86, 87, 87a).
"""

from __future__ import annotations

from startwright.car.circuits import GROUND
from startwright.car.surroundings import switch_closed
from startwright.network.elements import Builder, Resistor
from startwright.physics.wire import ampacity_A, resistance_ohm
from startwright.records.errors import RecordError
from startwright.records.stock import Part
from startwright.records.unit import Lead, default_active
from startwright.records.wiring import Run

CONTACT_OHM = 0.005
TRANSISTOR_OHM = 0.1
FUSE_OHM = 0.004
DEFAULT_SIZE_MM2 = 1.0
DEFAULT_LENGTH_M = 1.0
LINK_OHM = 0.5
"""A resistance below this that is no load of the car counts as wire."""
LOADS = ("#load", "#motor")
"""How the names of resistances end that are loads of the car, however small."""


def node_of(terminal: str) -> str:
    """The network node of a terminal: every ground point is ground."""
    return GROUND if terminal.startswith("ground.") else terminal


def is_wire(resistor: Resistor) -> bool:
    """Whether a resistance joins its ends without a load: a run, a fuse, a link inside.

    A run is wire however long and thin it is, a load none however strong.
    """
    if resistor.name.startswith("run."):
        return True
    return resistor.ohm < LINK_OHM and not resistor.name.endswith(LOADS)


def switch_of(lead: Lead) -> str:
    """Relay for outputs of 10 A and more, else transistor, unless the record says."""
    if lead.switch is not None:
        return lead.switch
    limit = lead.limit_A
    amps = max(limit.values()) if isinstance(limit, dict) else limit
    return "relay" if amps is not None and amps >= 10 else "transistor"


def thresholds(lead: Lead) -> tuple[str, str, float, float]:
    """Active level, pull, on and off voltages of an input, defaults filled in.

    Default thresholds of an input without stated ones: 6.0 V and 3.0 V (package default).
    """
    active = lead.active or default_active(lead.senses)
    pull = lead.pull or ("down" if active == "battery" else "up")
    if active == "battery":
        on = lead.on_V if lead.on_V is not None else 6.0
        off = lead.off_V if lead.off_V is not None else min(3.0, on)
    else:
        on = lead.on_V if lead.on_V is not None else 3.0
        off = lead.off_V if lead.off_V is not None else max(6.0, on)
    return active, pull, on, off


def add_lead(b: Builder, lead: Lead, level: str, feed: str, ground: str | None) -> None:
    """Add one lead of the unit: an output contact or an input's pull resistor."""
    node = f"unit.{lead.id}"
    b.node(node)
    if lead.way == "out":
        to = f"unit.{feed}" if level == "battery" else (f"unit.{ground}" if ground else None)
        if to is not None:
            ohm = CONTACT_OHM if switch_of(lead) == "relay" else TRANSISTOR_OHM
            b.contact(f"out.{lead.id}", to, node, f"out.{lead.id}", (False, True), ohm)
    elif lead.way == "in" and lead.senses != "tach":
        _, pull, _, _ = thresholds(lead)
        if pull == "up":
            b.resistor(f"pull.{lead.id}", f"unit.{feed}", node, lead.pull_ohm)
        elif pull == "down" and ground:
            b.resistor(f"pull.{lead.id}", node, f"unit.{ground}", lead.pull_ohm)


def add_part(b: Builder, name: str, part: Part) -> None:
    """Add one part between its pins."""
    for pin in part.pin_names:
        b.node(f"{name}.{pin}")
    if part.kind == "relay":
        assert part.coil_ohm is not None
        b.resistor(f"coil.{name}", f"{name}.86", f"{name}.85", part.coil_ohm)
        control = f"coil.{name}"
        b.contact(f"{name}.87", f"{name}.30", f"{name}.87", control, (False, True), CONTACT_OHM)
        b.contact(f"{name}.87a", f"{name}.30", f"{name}.87a", control, (True, False), CONTACT_OHM)
    elif part.kind == "diode":
        b.diode(f"{name}.diode", f"{name}.anode", f"{name}.cathode")
    elif part.kind == "resistor":
        assert part.ohm is not None
        b.resistor(f"{name}.resistor", f"{name}.a", f"{name}.b", max(part.ohm, 1e-3))
    elif part.kind == "fuse":
        b.resistor(f"{name}.fuse", f"{name}.a", f"{name}.b", FUSE_OHM)
    elif part.kind == "switch":
        assert part.operated_by is not None
        assert part.contact_at_rest is not None
        control, closed = switch_closed(part.operated_by, part.contact_at_rest)
        b.contact(f"{name}.switch", f"{name}.a", f"{name}.b", control, closed, 0.05)


def run_ohm(run: Run) -> float:
    """Resistance of a run at 20 C with its own size and length, or the stated defaults.

    Raises
    ------
    RecordError
        For a size that no table of wire knows.
    """
    try:
        ampacity_A(run.size_mm2 or DEFAULT_SIZE_MM2)
        return resistance_ohm(run.size_mm2 or DEFAULT_SIZE_MM2, run.length_m or DEFAULT_LENGTH_M)
    except ValueError as error:
        raise RecordError(
            f"a wire of {run.size_mm2:g} mm²", f"run {run.id}: size_mm2", "0.1 to 107 mm²"
        ) from error


def add_run(b: Builder, run: Run) -> None:
    """Add one run as the resistance of its wire."""
    b.resistor(f"run.{run.id}", node_of(run.from_), node_of(run.to), run_ohm(run))
