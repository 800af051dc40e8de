"""What a recording is: times, volts, one name a wire."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from startwright.records.errors import RecordError

Seconds = npt.NDArray[np.float64]
Volts = npt.NDArray[np.float32]

MOST_WIRES = 256
"""A recording of more columns than this is refused."""


@dataclass(frozen=True)
class Recording:
    """Voltages over time.

    Parameters
    ----------
    time_s : ndarray, shape (N,)
        Seconds, strictly rising.
    volts : ndarray, shape (N, W), float32
        Volts against the car's ground, one column a wire.
    names : tuple of str
        The wires, in the order of the columns.
    logic : tuple of str
        Those of them that hold two levels only (a logic probe's 0 and 1, given as 0 V and 12 V).
    notes : tuple of str
        What the reader had to assume, in words.
    """

    time_s: Seconds
    volts: Volts
    names: tuple[str, ...]
    logic: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def rate_hz(self) -> float:
        """Samples per second, by the median step."""
        if len(self.time_s) < 2:
            return 1.0
        return float(1.0 / np.median(np.diff(self.time_s[:100_001])))

    @property
    def duration_s(self) -> float:
        """From the first sample to the last."""
        return float(self.time_s[-1] - self.time_s[0])


def checked(
    where: str,
    time_s: Seconds,
    volts: Volts,
    names: list[str],
    *,
    logic: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
) -> Recording:
    """Build a recording, refusing what no later step could use.

    Raises
    ------
    RecordError
        No samples, no wires, a name twice, a time that does not rise, a value that is no number.
    """
    if volts.ndim != 2 or volts.shape[1] == 0:
        raise RecordError("no wire in it", where, "a time column and at least one column of volts")
    if volts.shape[1] > MOST_WIRES:
        raise RecordError(f"{volts.shape[1]} wires", where, f"at most {MOST_WIRES}")
    if len(time_s) < 2:
        raise RecordError(f"{len(time_s)} samples", where, "at least two samples")
    for name in names:
        if names.count(name) > 1:
            raise RecordError(f"two wires are called {name!r}", where, "every wire named once")
    if not np.isfinite(time_s).all():
        raise RecordError("a time that is no number", where, "seconds in every row")
    falling = np.flatnonzero(np.diff(time_s) <= 0)
    if len(falling):
        i = int(falling[0])
        raise RecordError(
            f"time does not rise after sample {i + 1} ({time_s[i]:g} s, then {time_s[i + 1]:g} s)",
            where,
            "times that rise from row to row",
        )
    if not np.isfinite(volts).all():
        row, column = (int(x[0]) for x in np.nonzero(~np.isfinite(volts)))
        raise RecordError(
            f"sample {row + 1} of {names[column]!r} is no number", where, "volts in every row"
        )
    if np.abs(volts).max() > 2000:
        worst = int(np.abs(volts).max(axis=0).argmax())
        raise RecordError(
            f"{float(np.abs(volts[:, worst]).max()):g} V on {names[worst]!r}",
            where,
            "volts of a 12 V car (millivolts are said in the column head or a units row)",
        )
    return Recording(time_s, volts, tuple(names), logic, notes)
