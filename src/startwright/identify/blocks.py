"""A recording in small even blocks: what every later step works on, a hundredth of its size.

Block statistics are taken in one pass over slices of the recording, so that a recording of a
hundred megabytes needs no second copy of itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from startwright.records.recordings import Recording

F32 = npt.NDArray[np.float32]
F64 = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

BLOCK_s = 0.02
MOST_BLOCKS = 60_000
_SLICE_samples = 200_000


@dataclass(frozen=True)
class Blocks:
    """Per block and wire: middle, lowest, highest value and spread.

    Arrays are of shape (B, W), volts; ``time_s`` (B,) is the middle of each block.
    """

    time_s: F64
    median: F32
    low: F32
    high: F32
    std: F32
    samples: int
    """Samples in a block."""
    noise_V: F32
    """Per wire, shape (W,): the spread of its quietest tenth of blocks."""

    @property
    def step_s(self) -> float:
        """Seconds from block to block."""
        return float(np.median(np.diff(self.time_s))) if len(self.time_s) > 1 else BLOCK_s


def even(recording: Recording) -> Recording:
    """The recording on an even time grid; itself where it already is on one.

    Loggers that write a row only when something changes are held from row to row.
    """
    steps = np.diff(recording.time_s)
    usual = float(np.median(steps))
    if float(steps.max()) < 3.0 * usual:
        return recording
    step = max(usual, recording.duration_s / 2_000_000)
    grid = np.arange(recording.time_s[0], recording.time_s[-1] + step / 2, step)
    at = np.clip(np.searchsorted(recording.time_s, grid, side="right") - 1, 0, None)
    return Recording(grid, recording.volts[at], recording.names, recording.logic, recording.notes)


def block_up(recording: Recording) -> Blocks:
    """Block statistics of an even recording."""
    volts, time_s = recording.volts, recording.time_s
    n, wires = volts.shape
    per = max(1, round(BLOCK_s * recording.rate_hz), -(-n // MOST_BLOCKS))
    count = max(1, n // per)
    per = min(per, n)
    shape = (count, wires)
    median, low, high, std = (np.empty(shape, dtype=np.float32) for _ in range(4))
    stride = max(1, _SLICE_samples // per)
    for start in range(0, count, stride):
        stop = min(count, start + stride)
        part = volts[start * per : stop * per].reshape(stop - start, per, wires)
        # lower of the two middle values: never a level that was not measured
        median[start:stop] = np.partition(part, (per - 1) // 2, axis=1)[:, (per - 1) // 2]
        low[start:stop] = part.min(axis=1)
        high[start:stop] = part.max(axis=1)
        std[start:stop] = part.std(axis=1)
    centre = time_s[(per - 1) // 2 : count * per : per][:count]
    if per >= 4:
        noise = np.quantile(std, 0.1, axis=0)
    else:
        noise = np.median(np.abs(np.diff(median, axis=0)), axis=0) if count > 1 else std[0]
    noise = np.clip(noise, 0.005, 0.3).astype(np.float32)
    return Blocks(centre.astype(np.float64), median, low, high, std, per, noise)


REST_V = 12.4
"""Rail taken where nothing in the recording stands at battery voltage."""


def rail(blocks: Blocks) -> F64:
    """Battery voltage over time, shape (B,), from the wires themselves.

    In each block the highest middle value among the wires that could be a feed (between 6 and
    16.5 V, not pulsing within the block). A short median keeps single blocks out. Where no wire
    stands that high the value is held from the nearest block that has one.
    """
    median = blocks.median.astype(np.float64)
    calm = (blocks.high - blocks.low) < 2.5
    usable = calm & (median > 6.0) & (median < 16.5)
    steadiness = usable.mean(axis=0)
    # a wire that is high most of the time is the better witness; a rare one only fills gaps
    best = np.where(usable, median, np.nan)
    steady = steadiness > 0.6
    level = np.full(len(median), np.nan)
    for group in (steady, ~steady):
        if group.any():
            with np.errstate(all="ignore"):
                candidate = np.where(
                    usable[:, group].any(axis=1),
                    np.nanmax(np.where(usable[:, group], best[:, group], -np.inf), axis=1),
                    np.nan,
                )
            level = np.where(np.isnan(level), candidate, level)
    known = ~np.isnan(level)
    if not known.any():
        return np.full(len(median), REST_V)
    index = np.arange(len(level))
    filled = np.interp(index, index[known], level[known])
    return running_median(filled, 3)


def running_median(values: F64, half: int) -> F64:
    """Median over ``2 * half + 1`` neighbours, ends held."""
    if len(values) < 2 * half + 1:
        return values.copy()
    padded = np.pad(values, half, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    return np.median(windows, axis=-1)
