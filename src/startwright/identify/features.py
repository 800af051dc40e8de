"""What each wire did in each stretch: its level, and how it moved about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from startwright.identify.blocks import F32, F64, Blocks, Bools, Ints
from startwright.identify.pulses import even_rate_hz
from startwright.identify.segments import Table
from startwright.records.recordings import Recording

QUIET, HUM, PULSE, BLINK, NOISY, TRAFFIC = range(6)
"""How a wire moves: steady; mains hum; regular pulses; slow regular flashing; small irregular
noise; irregular changes between levels, as a data line."""

ACTIVITY = ("quiet", "hum", "pulses", "flashing", "noise", "traffic")

MOST_SAMPLES = 8192
MAINS_hz = (50.0, 60.0)


@dataclass(frozen=True)
class Motion:
    """How a stretch of one wire moves."""

    activity: int
    low_V: float
    high_V: float
    rate_hz: float
    """Rate of the strongest regular part; 0 where there is none."""
    tonal: float
    """Share of the movement that is regular, 0 to 1."""
    strays: float
    """Share of samples far from both of the usual levels or from the one level."""


@dataclass(frozen=True)
class Features:
    """Arrays of shape (S, W)."""

    level_V: F64
    share: F64
    """Level over the rail at the same time."""
    rail_V: F64
    """Shape (S,)."""
    activity: Ints
    low_V: F64
    high_V: F64
    pulse_hz: F64
    slope_V: F64
    """Change of level from the first to the last quarter of the stretch."""
    unsteady: Bools
    """Stretches in which a level change that belongs to no event lies."""
    noise_V: F64
    """Shape (W,)."""
    fall_s: F64
    """Shape (W,): usual time from battery voltage to a seventh of it; NaN where it never falls.
    A contact opens at once, a motor coasts down."""


def _slice(time_s: F64, a: float, b: float) -> slice:
    i, j = (int(x) for x in np.searchsorted(time_s, (a, b)))
    if j <= i:
        i = min(i, len(time_s) - 1)
        j = i + 1
    return slice(i, j)


def measure(recording: Recording, blocks: Blocks, rail_V: F64, table: Table) -> Features:
    """Level and movement of every wire in every stretch."""
    rows, wires = len(table), recording.volts.shape[1]
    level = np.zeros((rows, wires))
    rail_row = np.zeros(rows)
    slope = np.zeros((rows, wires))
    low, high, pulse = np.zeros((rows, wires)), np.zeros((rows, wires)), np.zeros((rows, wires))
    activity = np.zeros((rows, wires), dtype=np.int64)
    unsteady = np.zeros((rows, wires), dtype=bool)
    noise = blocks.noise_V.astype(np.float64)
    rate_hz = recording.rate_hz
    for row in range(rows):
        part = _slice(blocks.time_s, float(table.core_start_s[row]), float(table.core_end_s[row]))
        middles = blocks.median[part].astype(np.float64)
        rail_row[row] = np.median(rail_V[part])
        level[row] = np.median(middles, axis=0)
        quarter = max(1, len(middles) // 4)
        slope[row] = np.median(middles[-quarter:], axis=0) - np.median(middles[:quarter], axis=0)
        if table.moment[row]:
            before = _slice(
                blocks.time_s,
                float(table.core_start_s[row]) - 0.8,
                float(table.core_start_s[row]) - 0.02,
            )
            base = np.median(blocks.median[before], axis=0)
            level[row] = _farthest(middles, base, noise)
        low[row] = np.quantile(blocks.low[part], 0.1, axis=0)
        high[row] = np.quantile(blocks.high[part], 0.9, axis=0)
        span = blocks.high[part].max(axis=0) - blocks.low[part].min(axis=0)
        lively = span > np.maximum(0.4, 8.0 * noise)
        raw = _slice(recording.time_s, float(table.core_start_s[row]), float(table.core_end_s[row]))
        for wire in np.flatnonzero(lively):
            motion = classify(recording.volts[raw, wire], rate_hz, float(noise[wire]))
            if table.moment[row] and motion.activity in (QUIET, BLINK, PULSE):
                # the press itself is the movement
                continue
            activity[row, wire] = motion.activity
            pulse[row, wire] = motion.rate_hz
            low[row, wire], high[row, wire] = motion.low_V, motion.high_V
            unsteady[row, wire] = motion.activity == QUIET and abs(slope[row, wire]) > 1.5
    return Features(
        level_V=level,
        share=level / np.maximum(rail_row, 5.0)[:, None],
        rail_V=rail_row,
        activity=activity,
        low_V=low,
        high_V=high,
        pulse_hz=pulse,
        slope_V=slope,
        unsteady=unsteady,
        noise_V=noise,
        fall_s=_falls(blocks, rail_V),
    )


def _falls(blocks: Blocks, rail_V: F64) -> F64:
    """Usual time of a fall from 75 % to 15 % of the rail, per wire."""
    share = blocks.median / np.maximum(rail_V, 5.0)[:, None]
    usual = np.full(share.shape[1], np.nan)
    step = blocks.step_s
    ahead = max(2, round(8.0 / step))
    for wire in range(share.shape[1]):
        high = share[:, wire] > 0.75
        ends = np.flatnonzero(high[:-1] & ~high[1:])
        if not 0 < len(ends) <= 40:
            continue
        times = []
        for i in ends:
            part = share[i + 1 : i + 1 + ahead, wire]
            low, back = np.flatnonzero(part < 0.15), np.flatnonzero(part > 0.75)
            if len(low) and (not len(back) or back[0] > low[0]):
                times.append((low[0] + 1) * step)
        if times:
            usual[wire] = float(np.median(times))
    return usual


def _farthest(middles: F64, base: F32, noise: F64) -> F64:
    """Level at the farthest that each wire goes from `base` for two blocks or more."""
    if len(middles) < 3:
        return np.asarray(np.median(middles, axis=0))
    pairs = np.stack([middles[:-1], middles[1:]])
    off = pairs - base
    same = np.sign(off[0]) == np.sign(off[1])
    nearer = np.where(np.abs(off[0]) < np.abs(off[1]), pairs[0], pairs[1])
    distance = np.where(same, np.abs(nearer - base), 0.0)
    at = distance.argmax(axis=0)
    columns = np.arange(middles.shape[1])
    farthest = distance[at, columns]
    # the level there: middle of all blocks that go at least 80 % as far, to the same side
    result = np.median(middles, axis=0)
    for wire in np.flatnonzero(farthest > np.maximum(0.5, 6.0 * noise)):
        sign = np.sign(nearer[at[wire], wire] - base[wire])
        far = (middles[:, wire] - base[wire]) * sign > 0.8 * farthest[wire]
        result[wire] = np.median(middles[far, wire])
    return np.asarray(result)


def classify(volts: F32, rate_hz: float, noise_V: float) -> Motion:
    """How a piece of one wire moves, from its samples.

    Regular movement shows as lines in the spectrum at any sample rate, below the signal's own
    rate too (it is folded, and stays a line); traffic does not. Two numbers measure it: the share
    of the four strongest lines, and the highest peak of the autocorrelation away from zero.
    """
    x = volts.astype(np.float64)
    if len(x) > MOST_SAMPLES:
        at = (len(x) - MOST_SAMPLES) // 2
        x = x[at : at + MOST_SAMPLES]
    n = len(x)
    low, high = (float(v) for v in np.quantile(x, (0.02, 0.98)))
    middle = float(np.median(x))
    if n < 16:
        return Motion(QUIET, low, high, 0.0, 0.0, 0.0)
    centred = x - np.polyval(np.polyfit(np.arange(n), x, 1), np.arange(n))
    std = float(centred.std())
    far = max(1.0, 8.0 * noise_V)
    strays = float((np.abs(x - middle) > far).mean())
    if std < max(0.1, 3.0 * noise_V) and strays * n < 3:
        return Motion(QUIET, low, high, 0.0, 0.0, strays)
    tonal, line_hz = _regular(centred, rate_hz)
    even_hz = even_rate_hz(x, rate_hz, max(0.4, 8.0 * noise_V))
    if even_hz is not None:
        tonal, line_hz = max(tonal, 0.9), even_hz
    seconds = n / rate_hz
    extreme_low, extreme_high = float(x.min()), float(x.max())
    span = extreme_high - extreme_low
    two_level = float(((x - extreme_low < 0.15 * span) | (extreme_high - x < 0.15 * span)).mean())
    crossings = _crossings(x, extreme_low + 0.3 * span, extreme_low + 0.7 * span)
    if span > max(1.0, 8.0 * noise_V) and crossings <= 3:
        # a change or two of level, or a stray spike: no movement of its own
        return Motion(QUIET, low, high, 0.0, tonal, strays)
    if span > 1.0 and 0 < crossings / seconds <= 8.0 and two_level > 0.7:
        # a control unit tests a lamp for a thousandth of a second: no flashing
        kind = BLINK if strays > 0.04 and (tonal > 0.35 or crossings >= 4) else QUIET
        return Motion(kind, extreme_low, extreme_high, crossings / 2 / seconds, tonal, strays)
    if min(low, float(np.quantile(x, 0.003))) > 6.0:
        # a feed with ripple, sag or ignition noise on it never comes near ground
        return Motion(QUIET, low, high, 0.0, tonal, strays)
    if tonal > 0.55:
        near_mains = any(abs(line_hz - m * k) < 4.0 for m in MAINS_hz for k in (1, 2))
        sine = float((centred**4).mean()) / std**4 < 2.3  # 1.5 for a sine, far more for pulses
        if near_mains and two_level < 0.72 and sine:
            return Motion(HUM, low, high, line_hz, tonal, strays)
        if span < max(0.5, 8.0 * noise_V) or std * np.sqrt(tonal) < 0.12:
            return Motion(HUM if near_mains else NOISY, low, high, line_hz, tonal, strays)
        return Motion(PULSE, extreme_low, extreme_high, line_hz, tonal, strays)
    if strays < 0.004 and std < max(0.3, 3.0 * noise_V):
        return Motion(QUIET, low, high, 0.0, tonal, strays)
    if span < 1.2 and strays < 0.004:
        return Motion(NOISY, low, high, 0.0, tonal, strays)
    if strays * n < 4:
        return Motion(QUIET, low, high, 0.0, tonal, strays)
    return Motion(TRAFFIC, extreme_low, extreme_high, 0.0, tonal, strays)


def _crossings(x: F64, lower: float, upper: float) -> int:
    """Changes between below `lower` and above `upper`, with everything between ignored."""
    side = np.where(x > upper, 1, np.where(x < lower, -1, 0))
    side = side[side != 0]
    return int(np.count_nonzero(np.diff(side)))


def _regular(centred: F64, rate_hz: float) -> tuple[float, float]:
    """How regular a movement is (0 to 1) and the rate of its strongest line."""
    n = len(centred)
    spectrum = np.abs(np.fft.rfft(centred * np.hanning(n))) ** 2
    total = float(spectrum[1:].sum())
    if total <= 0:
        return 0.0, 0.0
    left = spectrum.copy()
    left[0] = 0.0
    share = 0.0
    first = 0
    for k in range(4):
        at = int(left.argmax())
        if k == 0:
            first = at
        a, b = max(0, at - 2), at + 3
        share += float(left[a:b].sum())
        left[a:b] = 0.0
    # what white noise would give in as many lines, taken off
    lines = 20.0
    chance = min(0.9, lines / max(len(spectrum), 1) * 2.0)
    lined = max(0.0, (share / total - chance) / (1.0 - chance))
    padded = np.fft.rfft(centred, 2 * n)
    auto = np.fft.irfft(np.abs(padded) ** 2)[:n]
    auto = auto / max(auto[0], 1e-12)
    auto *= n / np.maximum(n - np.arange(n), 1)
    below = np.flatnonzero(auto < 0.2)
    peak = 0.0
    if len(below) and below[0] < n // 2:
        window = auto[below[0] : max(n // 2, below[0] + 1)]
        peak = float(window.max())
        # chance peaks of noise fall with the square root of the length
        peak = max(0.0, peak - 3.0 / np.sqrt(n))
    return max(lined, peak), _between_bins(spectrum, first) * rate_hz / n


def _between_bins(spectrum: F64, at: int) -> float:
    """Place of a spectral line between its bins, by a parabola through the logarithms."""
    if not 1 <= at < len(spectrum) - 1:
        return float(at)
    a, b, c = (float(np.log(spectrum[k] + 1e-30)) for k in (at - 1, at, at + 1))
    bend = a - 2 * b + c
    return at + 0.5 * (a - c) / bend if bend < 0 else float(at)
