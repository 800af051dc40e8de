"""What stands beside a recording: what was done when, and where each wire is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class TimedAction:
    """Something done at the car: when it was noted, and the two words for it."""

    time_s: float
    action: str


@dataclass(frozen=True)
class WirePlace:
    """Where a wire is and how it looks."""

    wire: str
    place: str | None = None
    plug: str | None = None
    pin: str | None = None
    colour: str | None = None

    @property
    def words(self) -> str:
        """Everything written about it, in lower case."""
        parts = (self.place, self.plug, self.pin)
        return " ".join(p for p in parts if p).lower()
