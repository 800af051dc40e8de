"""What wakes an interface, and only while the unit starts and runs the engine.

A pin for a signal hangs on an output that does it, at its level or through an inverting relay. An
interface without such a pin would stand in for the key for as long as it has its supply: so its
supply is switched by a signal of the unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from startwright.plan.demand import Demand
from startwright.plan.outputs import Output, why_not_to_enable
from startwright.plan.relays import coil_links, coils
from startwright.plan.way import GROUND, SMALL, Bench, Found, Link, Use
from startwright.records.stock import Part

PIN_A = 0.05
"""What a signal pin of an interface draws, A (assumed, no source)."""
WAKES = ("running_signal", "ignition_signal")
"""Signals that may switch an interface's supply."""
MOST_EACH = 4
"""Outputs looked at for one pin."""


@dataclass(frozen=True)
class Pin:
    """A pin that a signal enables: which outputs do it, at which level (None where any will do)."""

    name: str
    outputs: tuple[Output, ...]
    level: str | None = None


@dataclass(frozen=True)
class Enabled:
    """One manner of enabling an interface."""

    uses: tuple[Use, ...] = ()
    links: tuple[Link, ...] = ()
    parts: tuple[tuple[str, Part], ...] = ()
    small_A: float | None = None

    @property
    def says(self) -> str:
        """By which leads, in words."""
        named = " and ".join(u.output.lead for u in self.uses)
        return f", enabled by {named}" if named else ""


def fit_to_enable(
    bench: Bench, demand: Demand, what: str, outputs: Sequence[Output], found: Found
) -> tuple[Output, ...]:
    """The outputs that are on in every step that cranks and never beside the steps."""
    if demand.kind != "interface":
        return tuple(outputs)
    whys = {o.does: why_not_to_enable(bench.job.unit, o.does) for o in outputs}
    for why in dict.fromkeys(whys.values()):
        if why is not None:
            found.reject(demand.id, f"{what}: {why}")
    return tuple(o for o in outputs if whys[o.does] is None)


def by_signals(
    bench: Bench, demand: Demand, part: Part, pins: Sequence[Pin], found: Found
) -> Iterator[Enabled]:
    """Each pin on an output; through an inverting relay where the levels differ."""
    for chosen in product(*(p.outputs[:MOST_EACH] for p in pins)):
        if not _together(chosen):
            continue
        turned = [
            (k, o) for k, (p, o) in enumerate(zip(pins, chosen, strict=True))
            if p.level is not None and o.level != p.level
        ]  # fmt: skip
        choices: list[tuple[Part, float] | None] = [None]
        if turned:
            choices = list(coils(bench, demand, turned[0][1], found))
        for choice in choices:
            uses: list[Use] = []
            links: list[Link] = []
            parts: list[tuple[str, Part]] = []
            small_A: float | None = None
            for k, (pin, o) in enumerate(zip(pins, chosen, strict=True)):
                end = f"@X.{pin.name}"
                why = f"{o.lead} enables {part.id} only while the unit starts and runs the engine"
                guard = f"feed:{o.feed}" if o.level == "battery" else "small"
                if choice is None or (k, o) not in turned:
                    uses.append(Use(o, PIN_A, "pin"))
                    links.append(Link(f"unit.{o.lead}", end, PIN_A, guard, why))
                    continue
                relay, coil_A = choice
                role = f"K{k}"
                rail = SMALL if pin.level == "battery" else GROUND
                uses.append(Use(o, coil_A, "cut"))
                parts.append((role, relay))
                links += [
                    *coil_links(o, SMALL, coil_A, "small", role),
                    Link(rail, f"@{role}.30", PIN_A, "small", f"the level that {end[1:]} wants"),
                    Link(f"@{role}.87", end, PIN_A, "small", why),
                ]
                drawn = coil_A if o.level == "ground" else 0.0
                if drawn or rail == SMALL:
                    small_A = (small_A or 0.0) + drawn + (PIN_A if rail == SMALL else 0.0)
            yield Enabled(tuple(uses), tuple(links), tuple(parts), small_A)


def _together(chosen: Sequence[Output]) -> bool:
    """Whether outputs can be set so at once, each lead for one pin."""
    return len({o.lead for o in chosen}) == len(chosen) and not any(
        dict(a.settings).get(k, v) != v for a in chosen for b in chosen for k, v in b.settings
    )


def by_supply(
    bench: Bench, demand: Demand, part: Part, pins: Sequence[str], draw_A: float, found: Found
) -> Iterator[Enabled]:
    """The supply of an interface that no signal enables, switched by a signal of the unit."""
    amps = draw_A * len(pins)
    why = (
        f"{part.id} stands in for the key for as long as it has its supply, so it has it only "
        "while the unit starts and runs the engine"
    )
    outputs = [o for o in bench.outputs if o.does in WAKES]
    fit = fit_to_enable(bench, demand, f"supply of {part.id}", outputs, found)
    if not outputs:
        found.reject(
            demand.id, f"nothing enables {part.id} but its supply, and the unit has no signal"
        )
    for o in fit:
        if o.level == "battery" and amps <= o.limit_A:
            yield Enabled(
                (Use(o, amps, "pin"),),
                tuple(
                    Link(f"unit.{o.lead}", f"@X.{pin}", draw_A, f"feed:{o.feed}", why)
                    for pin in pins
                ),
            )
        for relay, coil_A in coils(bench, demand, o, found):
            if (relay.contact_A or 0.0) < amps:
                continue
            yield Enabled(
                (Use(o, coil_A, "cut"),),
                (
                    *coil_links(o, SMALL, coil_A, "small"),
                    Link(SMALL, "@K.30", amps, "small", "fused feed of the contact"),
                    *(Link("@K.87", f"@X.{pin}", draw_A, "small", why) for pin in pins),
                ),
                (("K", relay),),
                amps + (coil_A if o.level == "ground" else 0.0),
            )
