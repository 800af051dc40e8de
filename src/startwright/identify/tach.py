"""Tach: rate, pulses a revolution, where cranking ends and running begins, or that it is none.

f = rpm / 60 * pulses a revolution; for a distributor or common coil of a four-stroke engine that
is rpm * cylinders / 120 (four-stroke geometry: one ignition per cylinder in two revolutions).
Module-made lines often give two pulses a revolution whatever the engine, so the number is learned
against the engine speed of the diagnostic connector (SAE J1979 PID 0C), never computed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from startwright.identify.examined import Examined
from startwright.identify.features import PULSE, TRAFFIC
from startwright.identify.posterior import Mask, wander
from startwright.identify.pulses import rate, swing
from startwright.identify.report import TachReport

USUAL_PER_REV = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0)
WINDOW_s = 0.5


def engine_speed_rpm(a: int, b: int) -> float:
    """Engine speed from the two data bytes of PID 0C: (256 A + B) / 4 (SAE J1979).

    >>> engine_speed_rpm(0x1A, 0xF8)
    1726.0
    """
    if not (0 <= a <= 255 and 0 <= b <= 255):
        raise ValueError("two bytes from 0 to 255")
    return (256 * a + b) / 4


def frequency_hz(rpm: float, pulses_per_rev: float) -> float:
    """Pulses a second at an engine speed.

    >>> frequency_hz(900, 2)
    30.0
    """
    return rpm / 60.0 * pulses_per_rev


def pulses_per_rev(cylinders: int, ignition: str) -> float | None:
    """Pulses a revolution by four-stroke geometry: what to expect, not what to trust.

    Distributor or common coil: half the cylinders. Waste spark, one coil wire: one. Coil per
    plug, one coil wire: a half. None for compression ignition.
    """
    return {
        "distributor": cylinders / 2, "waste_spark": 1.0, "coil_per_plug": 0.5,
    }.get(ignition)  # fmt: skip


def judge(
    examined: Examined, wire: str, rpm: Sequence[tuple[float, float]] | None = None
) -> TachReport:
    """What a line gives as a tach.

    Parameters
    ----------
    examined : Examined
        The recording, worked out.
    wire : str
        Its name there.
    rpm : sequence of (time_s, rpm), optional
        Engine speed from the diagnostic connector, for the pulses a revolution.

    Raises
    ------
    KeyError
        No such wire.
    """
    if wire not in examined.recording.names:
        raise KeyError(wire)
    column = examined.recording.names.index(wire)
    recording, table = examined.recording, examined.table
    sample_hz = recording.rate_hz

    awake = (table.engine == 1) & (table.crank == 0) & (table.key_in("run") == 1)
    swings = []
    for row in np.flatnonzero(awake):
        i, j = np.searchsorted(recording.time_s, (table.core_start_s[row], table.core_end_s[row]))
        if j - i > 20:
            low, high = swing(recording.volts[i:j, column].astype(np.float64))
            swings.append(high - low)
    least_V = max(0.4, 0.4 * float(np.median(swings))) if swings else 0.4

    def gathered(
        rows: Mask, window_s: float = WINDOW_s
    ) -> list[tuple[float, float, float, float, float]]:
        found = []
        for row in np.flatnonzero(rows):
            a, b = float(table.core_start_s[row]), float(table.core_end_s[row])
            steps = max(1, int((b - a) / window_s))
            for k in range(steps):
                start, stop = a + (b - a) * k / steps, a + (b - a) * (k + 1) / steps
                i, j = np.searchsorted(recording.time_s, (start, stop))
                got = rate(recording.volts[i:j, column], sample_hz, least_V)
                if got is not None:
                    found.append(((start + stop) / 2, *got))
        return found

    running = gathered(awake)
    cranking = gathered(table.crank == 1, 3.0)
    moves = examined.features.activity[:, column]
    still = gathered((table.engine == 0) & (table.crank == 0) & (moves == PULSE))
    if not running:
        return TachReport(wire=wire, is_tach=False, why="no regular pulses while the engine runs")
    run_hz = float(np.median([r[1] for r in running]))
    uneven = float(np.median([r[2] for r in running]))
    missing = float(np.median([r[3] for r in running]))
    ringing = float(np.median([r[4] for r in running]))
    crank_hz = float(np.median([r[1] for r in cranking])) if cranking else None
    slack = 1.5 * run_hz / sample_hz
    if run_hz > sample_hz / 2.5:
        return TachReport(
            wire=wire, is_tach=False, running_hz=round(run_hz, 2),
            why="sampled too slowly to count its pulses: record it faster",
        )  # fmt: skip
    if len(still) > len(running) / 2:
        return TachReport(
            wire=wire, is_tach=False, running_hz=round(run_hz, 2),
            why="it pulses while the engine stands: no tach",
        )  # fmt: skip
    traffic = float(np.mean(moves[awake] == TRAFFIC)) if awake.any() else 0.0
    if uneven > 0.25 + slack or traffic > 0.5:
        return TachReport(
            wire=wire, is_tach=False, running_hz=round(run_hz, 2),
            why="its pulses are as uneven as a data line's: no tach",
        )  # fmt: skip
    if not 4.0 <= run_hz <= 900.0:
        return TachReport(
            wire=wire, is_tach=False, running_hz=round(run_hz, 2),
            why="no engine idles at that rate: no tach",
        )  # fmt: skip
    moved = wander(table, examined.features, column)
    rates = np.asarray([r[1] for r in running])
    # half-second windows of an engine differ by more than that, after a start above all
    even = len(rates) >= 6 and float(np.ptp(rates)) < 0.006 * run_hz
    steady = even or (moved is not None and moved < 0.012)
    same = crank_hz is not None and crank_hz > 0.8 * run_hz
    moving = max(moved or 0.0, float(np.ptp(rates)) / run_hz if len(rates) >= 6 else 0.0) > 0.03
    if steady or (same and not moving):
        return TachReport(
            wire=wire, is_tach=False, running_hz=round(run_hz, 2),
            why="its rate does not move with the engine's: no tach",
        )  # fmt: skip
    per_rev = None
    if rpm:
        times, speeds = np.asarray([t for t, _ in rpm]), np.asarray([s for _, s in rpm])
        ratios = []
        for r in running:
            if times[0] - 1 <= r[0] <= times[-1] + 1:
                speed = float(np.interp(r[0], times, speeds))
                if speed > 300:
                    ratios.append(r[1] * 60.0 / speed)
        if ratios:
            ratio = float(np.median(ratios))
            if float(np.median(np.abs(np.asarray(ratios) - ratio))) > 0.1 * ratio:
                return TachReport(
                    wire=wire, is_tach=False, running_hz=round(run_hz, 2),
                    why="it does not follow the engine speed given: no tach",
                )  # fmt: skip
            nearest = min(USUAL_PER_REV, key=lambda n: abs(n - ratio))
            per_rev = nearest if abs(nearest - ratio) < 0.06 * nearest else round(ratio, 3)
    threshold = margin = None
    if crank_hz is not None and crank_hz < run_hz:
        threshold = float(np.sqrt(crank_hz * run_hz))
        margin = float(threshold / crank_hz)
    return TachReport(
        wire=wire,
        is_tach=True,
        why=f"even pulses while the engine runs, {run_hz:.1f} a second"
        + (f", {crank_hz:.1f} while cranking" if crank_hz is not None else ""),
        cranking_hz=round(crank_hz, 2) if crank_hz is not None else None,
        running_hz=round(run_hz, 2),
        pulses_per_rev=per_rev,
        threshold_hz=round(threshold, 2) if threshold is not None else None,
        margin=round(margin, 2) if margin is not None else None,
        missing=round(missing, 3),
        ringing=round(ringing, 3),
    )
