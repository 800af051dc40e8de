"""Numbers of the unit that a setting holds and that safety bounds."""

from __future__ import annotations

from startwright.plan.outputs import CRANKING
from startwright.plan.press import ONE_TRY, one_try
from startwright.records.unit import NumberRange, Unit

RUN_MOST_S = 1800.0
"""Longest remote run (common practice, no source)."""
CRANK_MOST_S = 15.0
"""Longest try (common practice, no source)."""
TRIES_MOST = 5


def bounded_settings(unit: Unit, imitated: bool = False) -> list[tuple[str, float | str, str]]:
    """Settings whose default lies beyond what is safe, with the nearest value that does not.

    Parameters
    ----------
    unit : Unit
        Its settings that `sets` a number of the sequence.
    imitated : bool
        Whether the unit presses the start button: then it tries once.

    Returns
    -------
    list of (setting, value, reason)
    """
    out: list[tuple[str, float | str, str]] = []
    once = one_try(unit) if imitated else None
    for setting in unit.settings:
        if setting is once:
            if float(setting.default) != ONE_TRY:
                value = ONE_TRY if isinstance(setting.values, NumberRange) else str(ONE_TRY)
                out.append((setting.id, value, "a second press would meet what the first began"))
            continue
        if setting.sets is None or not isinstance(setting.values, NumberRange):
            continue
        most = _most(unit, setting.sets)
        default = setting.default
        if most is None or isinstance(default, str) or default <= most:
            continue
        r = setting.values
        steps = int((most - r.min) / r.step + 1e-9)
        nearest = r.min + max(steps, 0) * r.step
        out.append((setting.id, nearest, f"at most {most:g} (common practice, no source)"))
    return out


def _most(unit: Unit, sets: str) -> float | None:
    if sets == "tries":
        return float(TRIES_MOST)
    step, _, key = sets.partition(".")
    if key not in ("at_most_s", "for_s"):
        return None
    for s in unit.sequence:
        if s.step == step:
            return CRANK_MOST_S if CRANKING & set(s.drives) else RUN_MOST_S
    return None
