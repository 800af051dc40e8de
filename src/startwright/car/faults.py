"""Single faults: open, short to ground, short to battery, stuck open, stuck closed (IEC 60812).

A fault changes elements of the network and nothing else: the unit goes on as it was built to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from startwright.car.circuits import BATTERY, GROUND
from startwright.car.fitted import CONTACT_OHM, node_of
from startwright.network.elements import Builder
from startwright.records.stock import Part
from startwright.records.wiring import Wiring

SHORT_OHM = 1e-3


@dataclass(frozen=True)
class Fault:
    """One single fault: what fails, and how.

    `thing` is a run's id, a part's name or pin, ``unit.<lead>`` or ``vehicle.<circuit>``. Where a
    second one is there at the same time it is named by `also`.
    """

    thing: str
    mode: str
    also: Fault | None = None

    def __str__(self) -> str:
        return f"{self.thing} {self.mode}"

    @property
    def each(self) -> tuple[Fault, ...]:
        """This fault and the one beside it."""
        return (self,) if self.also is None else (self, *self.also.each)


def faults_of(wiring: Wiring, parts: Mapping[str, Part], outs: list[str]) -> list[Fault]:
    """Every single fault of what is fitted, in the order of the wiring.

    Parameters
    ----------
    outs : list of str
        The unit's connected outputs.
    """
    out: list[Fault] = []
    for run in wiring.runs:
        out.append(Fault(run.id, "open"))
        for rail in ("ground", "battery"):
            out.append(Fault(run.id, f"short to {rail}"))
    for name, part in parts.items():
        if part.kind == "relay":
            out.append(Fault(name, "open"))
            for pin in ("87", "87a"):
                if any(f"{name}.{pin}" in r.ends for r in wiring.runs):
                    out.append(Fault(f"{name}.{pin}", "stuck open"))
                    out.append(Fault(f"{name}.{pin}", "stuck closed"))
        elif part.kind == "switch":
            out += [Fault(name, "stuck open"), Fault(name, "stuck closed")]
        elif part.kind in ("diode", "resistor"):
            out += [Fault(name, "open"), Fault(name, "stuck closed")]
        elif part.kind == "fuse":
            out.append(Fault(name, "open"))
    for lead in outs:
        out += [Fault(f"unit.{lead}", "stuck open"), Fault(f"unit.{lead}", "stuck closed")]
    return out


def break_elements(b: Builder, fault: Fault, wiring: Wiring, parts: Mapping[str, Part]) -> None:
    """Change the elements of a network as the fault has it."""
    for one in fault.each:
        _break(b, one, wiring, parts)


def _break(b: Builder, fault: Fault, wiring: Wiring, parts: Mapping[str, Part]) -> None:
    thing, mode = fault.thing, fault.mode
    run = next((r for r in wiring.runs if r.id == thing), None)
    if run is not None:
        if mode == "open":
            b.resistors = [r for r in b.resistors if r.name != f"run.{thing}"]
        else:
            rail = BATTERY if mode.endswith("battery") else GROUND
            end = node_of(run.from_) if node_of(run.from_) not in (BATTERY, GROUND) else run.to
            b.resistor("fault", end, rail, SHORT_OHM)
        return
    names = _elements_of(thing, parts)
    if mode == "stuck closed":
        b.contacts = [c for c in b.contacts if c.name != _other_throw(thing, parts)]
    for contact in [c for c in b.contacts if c.name in names]:
        b.contacts.remove(contact)
        if mode == "stuck closed":
            b.join_by(f"{contact.name}.fault", contact.a, contact.b, CONTACT_OHM)
    for diode in [d for d in b.diodes if d.name in names]:
        b.diodes.remove(diode)
        if mode == "stuck closed":
            b.join_by(f"{diode.name}.fault", diode.anode, diode.cathode, SHORT_OHM)
    for resistor in [r for r in b.resistors if r.name in names]:
        b.resistors.remove(resistor)
        if mode == "stuck closed":
            b.join_by(f"{resistor.name}.fault", resistor.a, resistor.b, SHORT_OHM)


def _other_throw(thing: str, parts: Mapping[str, Part]) -> str:
    """The contact that a relay's blade no longer reaches where it sticks at another; '' for none.

    One blade makes one contact at a time (break before make).
    """
    owner, _, pin = thing.rpartition(".")
    if owner in parts and parts[owner].kind == "relay":
        return {"87": f"{owner}.87a", "87a": f"{owner}.87"}.get(pin, "")
    return ""


def _elements_of(thing: str, parts: Mapping[str, Part]) -> set[str]:
    if thing.startswith("unit."):
        return {f"out.{thing.removeprefix('unit.')}"}
    part = parts.get(thing)
    if part is None:
        return {thing, f"{thing}#switch"}
    return {
        "relay": {f"coil.{thing}"},
        "switch": {f"{thing}.switch"},
        "diode": {f"{thing}.diode"},
        "resistor": {f"{thing}.resistor"},
        "fuse": {f"{thing}.fuse"},
    }.get(part.kind, set())


def opens(fault: Fault | None, thing: str) -> bool:
    """Whether a run or fuse no longer joins its ends, or a coil is open."""
    return fault is not None and any(
        f.thing == thing and f.mode in ("open", "stuck open") for f in fault.each
    )
