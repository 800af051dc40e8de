"""Spoilt wirings and units that a clause of the world was once too kind to."""

from __future__ import annotations

from prove.base import Case
from prove.sabotage import breaks


@breaks("no-crank-into-running")
def pause_ends_while_the_engine_coasts() -> Case:
    """Started by key in the pause, the engine stalls; half a second later the next try cranks."""
    c = Case()
    on = ["ignition", "accessory"]
    c.unit["sequence"] = [
        {"step": "settle", "drives": on, "like": "run", "for_s": 2},
        {"step": "prime", "drives": on, "like": "run", "for_s": 0.4},
        {
            "step": "crank",
            "drives": ["ignition", "starter"],
            "like": "start",
            "until": "engine_running",
            "at_most_s": 4,
            "on_timeout": "retry",
        },
        {"step": "run", "drives": on, "like": "run", "at_most_s": 1200},
    ]
    return c
