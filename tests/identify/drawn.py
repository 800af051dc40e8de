"""Small recordings drawn by hand, for tests of one thing at a time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from startwright.records.recordings import Recording, TimedAction

CYCLE = [
    (1.0, "key insert"), (2.5, "key accessory"), (4.0, "key run"), (6.0, "brake press"),
    (7.5, "brake release"), (9.0, "key start"), (10.2, "engine starts"), (10.3, "key run"),
    (13.0, "hood open"), (14.5, "hood close"), (16.0, "lock press"), (16.6, "lock release"),
    (18.0, "unlock press"), (18.6, "unlock release"), (20.0, "key off"), (22.0, "key remove"),
]  # fmt: skip
END_s = 24.0
BRAKE_KEY_OFF = [(22.6, "brake press"), (23.4, "brake release")]
"""One press after the key is out, for `actions(also=…)`."""

Action = tuple[float, str]


def actions(
    late_s: float = 0.0, without: tuple[str, ...] = (), also: Sequence[Action] = ()
) -> list[TimedAction]:
    return [TimedAction(t + late_s, a) for t, a in (*CYCLE, *also) if a not in without]


class Drawn:
    """Columns drawn over one key cycle, with sag and charging on the rail."""

    def __init__(self, rate: float = 1000.0, seed: int = 0) -> None:
        self.rng = np.random.default_rng(seed)
        self.t = np.arange(0, END_s, 1 / rate)
        t = self.t
        self.rail = np.where((t > 9.02) & (t < 10.25), 9.8 + 0.5 * np.sin(40 * t), 12.5)
        self.rail = np.where(
            (t > 10.25) & (t < 20.2), 14.2 - 1.7 * np.exp(-(t - 10.25) / 0.2), self.rail
        )
        self.columns: dict[str, np.ndarray] = {}

    def during(self, *spans: tuple[float, float]) -> np.ndarray:
        value = np.zeros(len(self.t), dtype=bool)
        for a, b in spans:
            value |= (self.t >= a) & (self.t < b)
        return value

    def fed(self, name: str, *spans: tuple[float, float]) -> Drawn:
        self.columns[name] = np.where(self.during(*spans), self.rail, 0.0)
        return self

    def grounded(self, name: str, *spans: tuple[float, float], up: float | None = None) -> Drawn:
        self.columns[name] = np.where(self.during(*spans), 0.1, self.rail if up is None else up)
        return self

    def level(self, name: str, volts: np.ndarray) -> Drawn:
        self.columns[name] = volts
        return self

    def key_wires(self) -> Drawn:
        self.fed("bat", (0, 99)).fed("acc", (2.5, 9.0), (10.3, 20.0))
        self.fed("ign", (4.0, 20.0)).fed("ign2", (4.0, 9.0), (10.3, 20.0))
        return self.fed("st", (9.02, 10.25))

    def recording(self, noise_V: float = 0.02) -> Recording:
        table = np.stack(list(self.columns.values()), axis=1)
        table = table + self.rng.normal(0, noise_V, table.shape)
        return Recording(self.t, table.astype(np.float32), tuple(self.columns))
