"""Everything that was worked out of a recording, for the report and for the page."""

from __future__ import annotations

from dataclasses import dataclass

from startwright.identify.blocks import F64, Blocks
from startwright.identify.cranking import Crank
from startwright.identify.features import Features
from startwright.identify.posterior import Scored
from startwright.identify.segments import Table
from startwright.identify.timeline import Noted
from startwright.records.recordings import Recording


@dataclass(frozen=True)
class Examined:
    """A recording with its segments, features and weighed hypotheses.

    ``scored`` holds the hypotheses per wire, most probable first.
    """

    recording: Recording
    blocks: Blocks
    rail_V: F64
    noted: tuple[Noted, ...]
    cranks: tuple[Crank, ...]
    table: Table
    features: Features
    scored: tuple[tuple[Scored, ...], ...]
