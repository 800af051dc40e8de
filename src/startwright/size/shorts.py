"""Battery and ground joined without a load: in which states, and by which runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from math import inf

import numpy as np
from numpy.typing import NDArray

from startwright.car.fitted import is_wire
from startwright.network import paths
from startwright.network.elements import Network
from startwright.network.solve import solve

MAIN_SHARE = 0.5
"""A run that carries less than this share of the busiest one is a side way, and not named."""
Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


@lru_cache(maxsize=64)
def links(network: Network) -> Network:
    """Give the network without its loads: runs, fuses, contacts and diodes alone.

    Source: none, a copy.
    """
    return replace(network, resistors=tuple(r for r in network.resistors if is_wire(r)))


def joined(network: Network, closed: Bools, held_V: Floats) -> Bools:
    """Say in which states battery and ground are joined without a load.

    However long and thin the wire is: what makes a short is that nothing else stands in the way.

    Parameters
    ----------
    network : Network
    closed : (S, contacts) of bool
    held_V : (S, held) or (held,) of float
        Volts of the held nodes.

    Returns
    -------
    (S,) of bool

    Source: none, `startwright.network.paths.shorted` without a limit on the links alone.
    """
    held = np.broadcast_to(held_V, (len(closed), len(network.held)))
    return paths.shorted(links(network), closed, held, inf)


def joined_by(
    network: Network, closed: Bools, held_V: Floats, runs: Sequence[str]
) -> list[tuple[str, ...]]:
    """Name for each of S shorted states the runs that the short goes through.

    Without the loads only the short itself draws current.

    Source: none, `startwright.network.solve` on the links alone.
    """
    alone = links(network)
    answer = solve(alone, closed, held_V)
    at = {r.name: k for k, r in enumerate(alone.resistors)}
    amps = np.abs(np.nan_to_num(answer.resistor_A[:, [at[f"run.{run}"] for run in runs]]))
    least = MAIN_SHARE * amps.max(axis=1, initial=0.0, keepdims=True)
    return [
        tuple(run for run, on in zip(runs, row, strict=True) if on)
        for row in (amps >= np.maximum(least, 1e-9))
    ]
