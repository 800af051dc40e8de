"""Which wire is it: from a recording of one key cycle, or from meter readings.

Each room is loaded when one of its names is asked for: what is said about places and cautions needs
no numpy, and a page that shows it should not wait for it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from startwright.identify.apply import (
        Applied,
        Conflict,
        Skipped,
        apply_found,
        apply_with_reasons,
    )
    from startwright.identify.examined import Examined
    from startwright.identify.immobilizer import (
        QUESTIONS,
        ImmobilizerVerdict,
        Look,
        weigh_immobilizer,
    )
    from startwright.identify.kept_off import KEEP_OFF, keep_off, keeper
    from startwright.identify.metered import checks_for
    from startwright.identify.next_check import next_checks
    from startwright.identify.page import envelope, stretches
    from startwright.identify.places import before_probing
    from startwright.identify.readings import identify_readings
    from startwright.identify.recorded import examine, identify
    from startwright.identify.report import (
        IdentifyReport,
        NextCheck,
        Rival,
        TachReport,
        TimedState,
        WireVerdict,
    )
    from startwright.identify.tach import engine_speed_rpm, frequency_hz, judge, pulses_per_rev

__all__ = [
    "KEEP_OFF",
    "QUESTIONS",
    "Applied",
    "Conflict",
    "Examined",
    "IdentifyReport",
    "ImmobilizerVerdict",
    "Look",
    "NextCheck",
    "Rival",
    "Skipped",
    "TachReport",
    "TimedState",
    "WireVerdict",
    "apply_found",
    "apply_with_reasons",
    "before_probing",
    "checks_for",
    "engine_speed_rpm",
    "envelope",
    "examine",
    "frequency_hz",
    "identify",
    "identify_readings",
    "judge",
    "keep_off",
    "keeper",
    "next_checks",
    "pulses_per_rev",
    "stretches",
    "weigh_immobilizer",
]

_LATE = {
    "apply": ("Applied", "Conflict", "Skipped", "apply_found", "apply_with_reasons"),
    "examined": ("Examined",),
    "immobilizer": ("ImmobilizerVerdict", "Look", "QUESTIONS", "weigh_immobilizer"),
    "kept_off": ("KEEP_OFF", "keep_off", "keeper"),
    "metered": ("checks_for",),
    "next_check": ("next_checks",),
    "page": ("envelope", "stretches"),
    "places": ("before_probing",),
    "readings": ("identify_readings",),
    "recorded": ("examine", "identify"),
    "report": ("IdentifyReport", "NextCheck", "Rival", "TachReport", "TimedState", "WireVerdict"),
    "tach": ("engine_speed_rpm", "frequency_hz", "judge", "pulses_per_rev"),
}
"""The rooms, and what each gives to others."""
_ROOM = {name: room for room, names in _LATE.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _ROOM:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_ROOM[name]}"), name)
