"""Numbers of the unit that a setting holds and that safety bounds."""

from __future__ import annotations

from startwright.records.unit import NumberRange, Unit

RUN_MOST_S = 1800.0
"""Longest remote run (common practice, no source)."""
CRANK_MOST_S = 15.0
"""Longest try (common practice, no source)."""
TRIES_MOST = 5


def bounded_settings(unit: Unit) -> list[tuple[str, float, str]]:
    """Settings whose default lies beyond what is safe, with the nearest value that does not.

    Parameters
    ----------
    unit : Unit
        Its settings that `sets` a number of the sequence.

    Returns
    -------
    list of (setting, value, reason)
    """
    out = []
    for setting in unit.settings:
        if setting.sets is None or not isinstance(setting.values, NumberRange):
            continue
        most = _most(unit, setting.sets)
        default = setting.default
        if most is None or isinstance(default, str) or default <= most:
            continue
        r = setting.values
        steps = int((most - r.min) / r.step + 1e-9)
        value = r.min + max(steps, 0) * r.step
        out.append((setting.id, value, f"at most {most:g} (common practice, no source)"))
    return out


def _most(unit: Unit, sets: str) -> float | None:
    if sets == "tries":
        return float(TRIES_MOST)
    step, _, key = sets.partition(".")
    if key not in ("at_most_s", "for_s"):
        return None
    for s in unit.sequence:
        if s.step == step:
            return CRANK_MOST_S if "starter" in s.drives else RUN_MOST_S
    return None
