"""Which wire is it: from a recording of one key cycle, or from meter readings."""

from startwright.identify.identify import Examined, examine, identify
from startwright.identify.report import (
    IdentifyReport,
    NextCheck,
    Rival,
    TachReport,
    TimedState,
    WireVerdict,
)

__all__ = [
    "Examined",
    "IdentifyReport",
    "NextCheck",
    "Rival",
    "TachReport",
    "TimedState",
    "WireVerdict",
    "examine",
    "identify",
]
