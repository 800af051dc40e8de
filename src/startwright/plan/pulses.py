"""How long and how often a command works a circuit, and the settings that make it long enough."""

from __future__ import annotations

from math import ceil

from startwright.plan.outputs import continuous
from startwright.records.unit import NumberRange, Setting, Unit
from startwright.records.vehicle import Circuit, Vehicle

COMMANDS = {
    "lock": ("lock",),
    "unlock": ("unlock", "unlock_again"),
    "driver_unlock": ("unlock",),
    "trunk_release": ("trunk",),
}
"""The commands by which a circuit of a function is worked to its full effect, in this order."""
SHORT = 0.999
"""A pulse that is shorter than this share of what a circuit takes is too short."""


def pulse_settings(
    unit: Unit, vehicle: Vehicle, does: str, circuit: Circuit
) -> tuple[tuple[tuple[str, str], ...], str | None]:
    """The settings by which commands work a circuit long and often enough, or why none do.

    Parameters
    ----------
    unit : Unit
    vehicle : Vehicle
        Every circuit that is worked by the same function has its say on the length.
    does : str
        The function of the output.
    circuit : Circuit

    Returns
    -------
    settings : tuple of (name, value)
        Those that must be taken from their default.
    why : str or None
        Why the pulses will not do.
    """
    listed = [
        (command, pulse.pulse_s)
        for command in COMMANDS.get(does, tuple(type(unit.commands).model_fields))
        for pulse in getattr(unit.commands, command)
        if does in pulse.drives
    ]
    if not listed or continuous(unit, does):
        return (), None
    need_s = circuit.pulse_s or 0.0
    needed = circuit.presses if does in ("lock", "unlock") else 1
    lengths = {c: _set_s(unit, c) for c, _ in listed}
    if _enough(listed, lengths, need_s) >= needed:
        return (), None
    want_s = max(c.pulse_s or 0.0 for c in vehicle.circuits if c.function == does or does in c.also)
    chosen: dict[str, str] = {}
    for command in lengths:
        setting = _setting(unit, command)
        if setting is None or (lengths[command] or 0.0) >= want_s * SHORT:
            continue
        value = least_from(setting, want_s)
        if value is not None:
            chosen[setting.id] = value
            lengths[command] = float(value)
    if _enough(listed, lengths, need_s) >= needed:
        return tuple(sorted(chosen.items())), None
    longest = max(lengths[c] or s for c, s in listed)
    if longest < need_s * SHORT:
        return (), (
            f"its pulse of {longest:g} s is shorter than the {need_s:g} s that {circuit.id} takes"
        )
    return (), (
        f"its commands give {_enough(listed, lengths, need_s)} pulse long enough, and {circuit.id} "
        f"takes {needed}"
    )


def _enough(
    listed: list[tuple[str, float]], lengths: dict[str, float | None], need_s: float
) -> int:
    """How many of the pulses are long enough; a setting's length is that of each in its command."""
    return sum((lengths[c] or s) >= need_s * SHORT for c, s in listed)


def _setting(unit: Unit, command: str) -> Setting | None:
    return next((s for s in unit.settings if s.sets == f"commands.{command}.pulse_s"), None)


def _set_s(unit: Unit, command: str) -> float | None:
    """The length that a setting's default gives a command's pulses; None where none sets it."""
    setting = _setting(unit, command)
    return None if setting is None else float(setting.default)


def least_from(setting: Setting, want_s: float) -> str | None:
    """The least value of a setting from a length on, as it is written; None where there is none."""
    if isinstance(setting.values, NumberRange):
        r = setting.values
        steps = max(0, ceil((want_s * SHORT - r.min) / r.step - 1e-9))
        value = r.min + steps * r.step
        return f"{value:.6g}" if want_s * SHORT <= value <= r.max + 1e-9 else None
    fit = [v for v in setting.values if float(v) >= want_s * SHORT]
    return min(fit, key=float) if fit else None


__all__ = ["COMMANDS", "least_from", "pulse_settings"]
