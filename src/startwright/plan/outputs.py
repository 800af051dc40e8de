"""What the unit's outputs can do: each lead set each way, and what is driven at the same time.

An `Output` is one lead with its function and its level chosen. A `moment` is a set of functions
that the unit can drive at once: a step of its sequence, together with the pulse of a command.
"""

from __future__ import annotations

from dataclasses import dataclass

from startwright.car.circuits import DEFAULT_LOAD_A
from startwright.car.fitted import switch_of
from startwright.records.unit import Lead, Unit
from startwright.records.vehicle import Circuit
from startwright.records.words import SIGNALS

UNSTATED_LIMIT_A = {"relay": 10.0, "transistor": 0.5}
"""Limit of an output whose record states none, A (package default, no source)."""

LASTING_S = 15.0
"""A step longer than this loads fuses and wires for good (common practice, no source)."""

FEEDING = frozenset(
    {"ignition", "accessory", "starter", "running_signal", "ignition_signal", "starter_signal"}
)
"""Functions of outputs that may stand in for the key."""
CRANKING = frozenset({"starter", "starter_signal", "start_button"})
"""Functions that make the engine turn."""


@dataclass(frozen=True)
class Output:
    """One output lead with its function and level chosen, and the settings that choose them."""

    lead: str
    does: str
    level: str
    limit_A: float
    feed: str
    transistor: bool
    suppressed: bool
    settings: tuple[tuple[str, str], ...] = ()

    @property
    def signal(self) -> bool:
        """Whether it is a low-current output for relays and interfaces."""
        return self.does in SIGNALS


def outputs_of(unit: Unit) -> tuple[Output, ...]:
    """Every output lead of the unit, set in every way its settings allow."""
    out: list[Output] = []
    for lead in unit.leads:
        if lead.way != "out":
            continue
        for does, chosen in _functions(unit, lead):
            for level, at in _levels(unit, lead):
                settings = dict((*chosen, *at))
                if any(settings[k] != v for k, v in (*chosen, *at)):
                    continue
                out.append(
                    Output(
                        lead=lead.id,
                        does=does,
                        level=level,
                        limit_A=limit_of(lead, level),
                        feed=lead.fed_by or unit.logic_from,
                        transistor=switch_of(lead) == "transistor",
                        suppressed=lead.suppressed,
                        settings=tuple(sorted(settings.items())),
                    )
                )
    return tuple(out)


def _functions(unit: Unit, lead: Lead) -> list[tuple[str, tuple[tuple[str, str], ...]]]:
    if lead.chosen_by is None:
        return [(lead.does[0], ())]
    setting = unit.setting(lead.chosen_by)
    assert setting is not None
    return [(d, ((lead.chosen_by, d),)) for d in lead.does if setting.allows(d)]


def _levels(unit: Unit, lead: Lead) -> list[tuple[str, tuple[tuple[str, str], ...]]]:
    if lead.active_by is None:
        return [(lead.active or "battery", ())]
    setting = unit.setting(lead.active_by)
    assert setting is not None
    named = [v for v in ("battery", "ground") if setting.allows(v)]
    if not named:
        return [(lead.active or "battery", ())]
    return [(v, ((lead.active_by, v),)) for v in named]


def limit_of(lead: Lead, level: str) -> float:
    """The lead's current limit at a level, A."""
    limit = lead.limit_A
    if isinstance(limit, dict):
        found = {str(k): v for k, v in limit.items()}.get(level)
        return found if found is not None else UNSTATED_LIMIT_A["transistor"]
    return limit if limit is not None else UNSTATED_LIMIT_A[switch_of(lead)]


def load_A(circuit: Circuit) -> float:
    """What flows through the wire when the circuit is active, A, at 14.4 V.

    A key-fed circuit that states no load counts with the model's default; an operated one with
    none.
    """
    if circuit.load_A is not None:
        return circuit.load_A
    if circuit.style == "reversing":
        return 5.0
    return DEFAULT_LOAD_A.get(circuit.function, 1.0) if circuit.key_fed else 0.0


def pulse_sets(unit: Unit) -> tuple[frozenset[str], ...]:
    """The functions driven together by each pulse of each command."""
    sets: list[frozenset[str]] = []
    for name in type(unit.commands).model_fields:
        for pulse in getattr(unit.commands, name):
            if frozenset(pulse.drives) not in sets:
                sets.append(frozenset(pulse.drives))
    return tuple(sets)


def moments(unit: Unit) -> tuple[frozenset[str], ...]:
    """The largest sets of functions that can be driven at once: a step with a pulse.

    A set that lies in another is left out, for loads only add.
    """
    steps = [frozenset(s.drives) for s in unit.sequence] or [frozenset()]
    if unit.ending is not None:
        steps.append(frozenset(unit.ending.drives))
    pulses = [frozenset[str](), *pulse_sets(unit)]
    armed = frozenset({"armed_signal"})
    every = {a | b | armed for a in steps for b in pulses}
    return tuple(
        sorted((m for m in every if not any(m < n for n in every)), key=lambda m: sorted(m))
    )


def lasting(unit: Unit) -> tuple[frozenset[str], ...]:
    """The largest sets of functions that steps drive for longer than a start takes."""
    steps = [
        frozenset(s.drives) | {"armed_signal"}
        for s in unit.sequence
        if max(s.for_s or 0.0, s.at_most_s or 0.0) > LASTING_S
    ]
    every = {m for m in steps if not any(m < n for n in steps)}
    return tuple(sorted(every, key=lambda m: sorted(m)))


def why_not_for_key(unit: Unit, does: str, circuit: Circuit) -> str | None:
    """Why an output's function cannot stand in for the key on this circuit; None where it can.

    The circuit has to stand in each step as it does in the key position that the step is `like`;
    one that `may_hold_in_crank` may be fed in a step that is like `start`.
    """
    if does not in FEEDING:
        return f"{does} is not there to feed a circuit of the key"
    if any(does in pulse for pulse in pulse_sets(unit)):
        return f"{does} is also worked by a command"
    live = frozenset(circuit.live or ())
    for step in unit.sequence:
        driven, wanted = does in step.drives, step.like in live
        if driven and not wanted:
            if circuit.may_hold_in_crank and step.like == "start" and "run" in live:
                continue
            return f"{does} is fed in step {step.step}, where {circuit.id} is dead under the key"
        if wanted and not driven:
            return f"{does} is not fed in step {step.step}, where {circuit.id} is live"
    return None


def continuous(unit: Unit, does: str) -> bool:
    """Whether a step drives the function for longer than a pulse."""
    return any(
        does in s.drives and max(s.for_s or 0.0, s.at_most_s or 0.0) > LASTING_S
        for s in unit.sequence
    )


def why_not_to_enable(unit: Unit, does: str) -> str | None:
    """Why an output's function cannot stand in for a key while the unit starts; None where it can.

    It is driven in every step that cranks, and by no command: the car is not to take it for a key
    at any other time (49 CFR 571.114 S4).
    """
    if any(does in pulse for pulse in pulse_sets(unit)):
        return f"{does} is also worked by a command, and would stand in for a key at any time"
    if unit.ending is not None and does in unit.ending.drives:
        return f"{does} is also driven when a start is ended"
    for step in unit.sequence:
        if CRANKING & set(step.drives) and does not in step.drives:
            return f"{does} is not driven in step {step.step}, which cranks"
    return None
