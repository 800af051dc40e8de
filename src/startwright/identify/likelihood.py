"""How likely a level and a movement are for each kind of source: the emission model.

Every number here stands, with where it comes from, in ``docs/identify.md``. Levels have heavy
tails (Student's t with three degrees of freedom) and every kind has an outlier term.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from startwright.identify.blocks import F64, Ints
from startwright.identify.features import Features

KINDS = (
    "battery", "ground", "low", "five", "open", "pulled", "strobe", "pwm", "flash",
    "mid1", "mid2", "mid3", "lit",
)  # fmt: skip
"""Sources of a level: tied to the rail; tied to ground; a diode drop or two above ground; a 5 V
pull-up; nothing; a pull-up to the rail; a pull-up that is switched on for a moment now and then;
a pulsed output; a flashing lamp; the wire's own in-between levels; a regulator that draws its
lamp's current."""

K = {name: i for i, name in enumerate(KINDS)}

_ACTIVITY = np.array(
    [  # quiet  hum   pulses flash noise traffic
        [0.958, 0.004, 0.003, 0.002, 0.030, 0.003],  # battery
        [0.950, 0.010, 0.008, 0.003, 0.026, 0.003],  # ground
        [0.920, 0.015, 0.020, 0.005, 0.033, 0.007],  # low
        [0.945, 0.010, 0.010, 0.003, 0.028, 0.004],  # five
        [0.400, 0.450, 0.020, 0.005, 0.100, 0.025],  # open
        [0.945, 0.010, 0.010, 0.003, 0.028, 0.004],  # pulled
        [0.030, 0.020, 0.790, 0.030, 0.030, 0.100],  # strobe
        [0.080, 0.010, 0.830, 0.030, 0.010, 0.040],  # pwm
        [0.120, 0.010, 0.040, 0.800, 0.010, 0.020],  # flash
        [0.920, 0.015, 0.020, 0.005, 0.033, 0.007],  # mid
        [0.920, 0.015, 0.020, 0.005, 0.033, 0.007],
        [0.920, 0.015, 0.020, 0.005, 0.033, 0.007],
        [0.920, 0.015, 0.020, 0.005, 0.033, 0.007],  # lit
    ]
)
_ANY_ACTIVITY = np.array([0.60, 0.08, 0.10, 0.06, 0.08, 0.08])

OUTLIER = 4e-4
OUTLIER_LOOSE = 6e-3
"""Share of stretches that are as no hypothesis expects; the second where limits are not sure."""

LEARNED_LEVEL = 0.05
"""Chance that an in-between level lies just where this wire's does: paid once a level."""


def fit(x: F64, centre: F64 | float, scale: F64 | float) -> F64:
    """Student's t with three degrees of freedom over its own peak: 1 at the centre.

    A level that stays where it is tells no more the tenth time than the first, so what is weighed
    is how well a level fits, not how narrow its density is.
    """
    z = (x - centre) / scale
    return np.asarray(1.0 / (1.0 + z * z / 3.0) ** 2)


@dataclass(frozen=True)
class Emissions:
    """Log fit of each stretch under each kind, shape (K, S), for one wire."""

    log: F64
    anything: F64
    """Log fit of no particular kind, shape (S,)."""
    levels_V: tuple[float, ...]
    """The wire's own in-between levels, `mid1` … ."""
    cost: F64
    """Log cost of using each kind at all, shape (K,): a level that had to be learned costs."""


def emissions(features: Features, wire: int, sure: npt.NDArray[np.bool_], weight: F64) -> Emissions:
    """How well every stretch of one wire fits every kind of source."""
    v = features.level_V[:, wire]
    u = features.share[:, wire]
    act = features.activity[:, wire]
    noise = float(features.noise_V[wire])
    blur = np.hypot(noise, 0.02)

    def s(scale: float) -> float:
        return float(np.hypot(scale, blur))

    def best(*fits: F64) -> F64:
        return np.asarray(np.maximum.reduce(fits))

    steady = {
        "battery": best(fit(u, 0.985, s(0.3) / 12.5), 0.5 * fit(u, 0.92, s(0.6) / 12.5)),
        "ground": best(fit(v, 0.02, s(0.12)), 0.6 * fit(v, 0.35, s(0.3)) ** 2),
        "low": np.where((v > 0.25) & (v < 2.1), 1.0, 1e-3),
        "lit": np.where((v > 0.7) & (v < 3.2), 1.0, 1e-3),
        "pulled": best(fit(u, 0.985, s(0.3) / 12.5), 0.7 * fit(u, 0.92, s(0.6) / 12.5)),
        "five": best(fit(v, 5.0, s(0.15)), 0.3 * fit(v, 4.4, s(0.3)), 0.2 * fit(v, 3.3, s(0.15))),
        "open": best(fit(v, 0.0, s(0.6)), np.where(u < 0.88, 0.25, 0.05)),
    }
    levels = _own_levels(v, u, act, weight, s(0.15))
    wide = np.where((features.high_V[:, wire] - features.low_V[:, wire]) > 2.0, 1.0, 0.05)
    fits = np.empty((len(KINDS), len(v)))
    for name, i in K.items():
        if name in steady:
            fits[i] = steady[name]
        elif name in ("strobe", "pwm", "flash"):
            fits[i] = wide
        else:
            number = int(name[3:]) - 1
            known = number < len(levels)
            fits[i] = fit(v, levels[number], s(0.15)) if known else np.full(len(v), 1e-6)
    moving = (act == 2) | (act == 3) | (act == 5)
    fits[:6, moving] = np.minimum(fits[:6, moving], 0.5)
    epsilon = np.where(sure, OUTLIER, OUTLIER_LOOSE)
    log = np.log((1 - epsilon) * fits * _ACTIVITY[:, act] + epsilon * _ANY_ACTIVITY[act])
    anything = np.log(0.2 * _ANY_ACTIVITY[act])
    cost = np.zeros(len(KINDS))
    for number in range(3):
        known = number < len(levels)
        cost[K[f"mid{number + 1}"]] = np.log(LEARNED_LEVEL) if known else -50.0
    return Emissions(log, anything, tuple(levels), cost)


def _own_levels(v: F64, u: F64, act: Ints, weight: F64, width: float) -> list[float]:
    """Up to three levels at which the wire rests and that are neither rail, ground nor 5 V."""
    left = (act != 5) & (u < 0.9) & (np.abs(v) > 0.25)
    levels: list[float] = []
    while left.any() and len(levels) < 3:
        index = np.flatnonzero(left)
        support = np.array(
            [weight[index][np.abs(v[index] - v[i]) < 2.0 * width].sum() for i in index]
        )
        centre = float(v[index[int(support.argmax())]])
        members = left & (np.abs(v - centre) < 2.5 * width)
        levels.append(float(np.average(v[members], weights=weight[members] + 1e-9)))
        left &= ~members
    return levels
