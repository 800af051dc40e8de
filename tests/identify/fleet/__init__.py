"""A fleet of cars to listen to: recordings made from a network, not from the model under test.

Every wire is a node between resistances and contacts (switches, pull-ups of a body computer,
loads, the meter's own input resistance); the project's network solver gives its voltage in every
pattern of contacts, on a battery rail with internal resistance, starter, and alternator.
Then come bounce, hum into whatever impedance the node has, noise, a scope's gain error, clipping
and steps. All spreads are far wider than the model under test assumes. Everything is invented.
"""

from __future__ import annotations

from identify.fleet.cars import CATALOGUE, Car, Maker, car, digitised
from identify.fleet.cycle import PAIRED, POSITIONS, Array, Script, power, script
from identify.fleet.lookalikes import data, srs
from identify.fleet.node import Node, bounced, delayed, pull_up, pulse_train, shaft_pulses

__all__ = [
    "CATALOGUE", "PAIRED", "POSITIONS", "Array", "Car", "Maker", "Node", "Script",
    "bounced", "car", "data", "delayed", "digitised", "power", "pull_up", "pulse_train", "script",
    "shaft_pulses", "srs",
]  # fmt: skip
