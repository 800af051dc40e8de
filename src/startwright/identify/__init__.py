"""Which wire is it: from a recording of one key cycle, or from meter readings."""

from startwright.identify.apply import Applied, Conflict, Skipped, apply_found, apply_with_reasons
from startwright.identify.examined import Examined
from startwright.identify.identify import examine, identify
from startwright.identify.immobilizer import (
    QUESTIONS,
    ImmobilizerVerdict,
    Look,
    weigh_immobilizer,
)
from startwright.identify.keep_off import KEEP_OFF, keep_off, keeper
from startwright.identify.next_check import next_checks
from startwright.identify.page import envelope, stretches
from startwright.identify.readings import before_probing, identify_readings
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
