"""Pulses counted one by one: when, how evenly, how many missing, how many that only ring."""

from __future__ import annotations

import numpy as np

from startwright.identify.blocks import F32, F64


def swing(x: F64) -> tuple[float, float]:
    """Usual low and high of a pulsing line; narrow pulses are looked for farther out."""
    low, high = (float(v) for v in np.quantile(x, (0.03, 0.97)))
    if float(x.max() - x.min()) > 3 * max(high - low, 0.5):
        low, high = (float(v) for v in np.quantile(x, (0.005, 0.995)))
    return low, high


def pulses(volts: F32 | F64, rate_hz: float, least_V: float = 0.4) -> tuple[F64, float, float]:
    """Times of the pulses, share of missing ones, share of ringing.

    A pulse is a passage through the middle between the usual low and high, with a quarter of the
    swing as hysteresis. Ringing is a second passage within a fifth of the usual period, counted
    and merged; a gap of a whole number of periods counts its missing pulses.

    Returns
    -------
    tuple
        Seconds from the first sample, shape (n,); missing and ringing as shares of all pulses.
    """
    x = np.asarray(volts, dtype=np.float64)
    low, high = swing(x)
    if high - low < least_V:
        return np.zeros(0), 0.0, 0.0
    side = np.where(
        x > low + 0.65 * (high - low), 1, np.where(x < low + 0.35 * (high - low), -1, 0)
    )
    index = np.flatnonzero(side)
    change = np.flatnonzero((side[index][1:] == 1) & (side[index][:-1] == -1))
    times = index[change + 1] / rate_hz
    if len(times) < 4:
        return times, 0.0, 0.0
    gaps = np.diff(times)
    usual = float(np.median(gaps))
    near = gaps < 0.2 * usual
    if near.mean() > 0.34:
        # more ringing than pulses: the usual gap is that of the ringing
        usual = float(np.quantile(gaps, 0.9))
        near = gaps < 0.2 * usual
    ringing = float(near.sum()) / max(len(times) - near.sum(), 1)
    kept = times[np.concatenate([[True], ~near])]
    gaps = np.diff(kept)
    if len(gaps) < 3:
        return kept, 0.0, ringing
    usual = float(np.median(gaps))
    lost = np.clip(np.round(gaps / usual) - 1, 0, 8)
    lost = np.where((gaps / usual) % 1.0 < 0.2, lost, np.where((gaps / usual) % 1.0 > 0.8, lost, 0))
    return kept, float(lost.sum()) / (len(kept) + float(lost.sum())), ringing


def rate(
    volts: F32 | F64, rate_hz: float, least_V: float
) -> tuple[float, float, float, float] | None:
    """Usual pulse rate, spread of the gaps, missing, ringing; None where there are too few."""
    times, missing, ringing = pulses(volts, rate_hz, least_V)
    if len(times) < 4:
        return None
    gaps = np.diff(times)
    usual = float(np.median(gaps))
    # the gap is known to a sample: the mean of the plain gaps is finer
    plain = gaps[np.abs(gaps - usual) < 0.35 * usual]
    if len(plain) == 0:
        return None
    spread = float(np.std(plain) / plain.mean())
    return 1.0 / float(plain.mean()), spread, missing, ringing


EVEN = 0.12
"""Usual change from one gap to the next, as a share, up to which pulses are called even."""


def even_rate_hz(volts: F32 | F64, rate_hz: float, least_V: float) -> float | None:
    """Mean rate of pulses that follow each other evenly, also where it rises or falls on the way.

    None for fewer than six, for gaps of fewer than six samples (chance makes those even too), and
    where neighbouring gaps differ by more than `EVEN`.
    """
    times, _, _ = pulses(volts, rate_hz, least_V)
    if len(times) < 6:
        return None
    gaps = np.diff(times)
    usual = float(np.median(gaps))
    if usual * rate_hz < 6.0 or float(np.median(np.abs(np.diff(gaps)))) > EVEN * usual:
        return None
    if float((np.abs(gaps - usual) < 0.6 * usual).mean()) < 0.7:
        return None
    whole = np.maximum(np.round(gaps / usual), 1.0)
    return float(whole.sum() / (times[-1] - times[0]))
