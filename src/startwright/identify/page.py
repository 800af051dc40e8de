"""Data for drawing a recording: envelopes that keep every spike, at a size a page can draw."""

from __future__ import annotations

from typing import Any

import numpy as np

from startwright.identify.examined import Examined
from startwright.records.recordings import Recording

DRAWN = 500_000
"""Points that a page draws in a blink (all wires together)."""


def envelope(
    recording: Recording, *, points: int = DRAWN, start_s: float | None = None,
    end_s: float | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Lowest and highest value of each wire in even slices of time.

    Parameters
    ----------
    recording : Recording
        What was recorded.
    points : int
        Points in all, both ends of each slice counted, over all wires.
    start_s, end_s : float, optional
        The part to be drawn.

    Returns
    -------
    dict
        ``time_s`` (two entries a slice), ``names``, and ``volts``: a list a wire, lowest and
        highest in turn. Where there are fewer samples than points the samples themselves.
    """
    first, last = 0, len(recording.time_s)
    if start_s is not None:
        first = int(np.searchsorted(recording.time_s, start_s))
    if end_s is not None:
        last = int(np.searchsorted(recording.time_s, end_s, side="right"))
    time_s = recording.time_s[first:last]
    volts = recording.volts[first:last]
    wires = volts.shape[1]
    slices = max(1, points // (2 * wires))
    if len(time_s) <= 2 * slices:
        return {
            "time_s": time_s.tolist(),
            "names": list(recording.names),
            "volts": [volts[:, i].astype(float).round(3).tolist() for i in range(wires)],
        }
    bounds = np.linspace(0, len(time_s), slices, endpoint=False).astype(np.int64)
    low = np.minimum.reduceat(volts, bounds, axis=0)
    high = np.maximum.reduceat(volts, bounds, axis=0)
    ends = np.append(bounds[1:], len(time_s))
    times = np.empty(2 * len(bounds))
    times[0::2] = time_s[bounds]
    times[1::2] = time_s[(bounds + ends) // 2]
    drawn = []
    for i in range(wires):
        pair = np.empty(2 * len(bounds))
        pair[0::2], pair[1::2] = low[:, i], high[:, i]
        drawn.append(pair.round(3).tolist())
    return {"time_s": times.tolist(), "names": list(recording.names), "volts": drawn}


def stretches(examined: Examined) -> list[dict[str, Any]]:
    """The stretches of the recording with the state of the car in each, in words."""
    table = examined.table
    return [
        {
            "start_s": round(float(table.start_s[row]), 3),
            "end_s": round(float(table.end_s[row]), 3),
            "says": table.says(row),
        }
        for row in range(len(table))
    ]
