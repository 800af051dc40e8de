"""The junction of a diode: its current, its slope, and the limit on each step of Newton's method.

The junction carries i = saturation_A * (exp(v / (emission * thermal_V)) - 1) + LEAK_S * v. The
second term is the small conductance that SPICE calls GMIN: without it the voltage of a node between
two blocking diodes is lost in the last digit.

Sources: W. Shockley, Bell System Technical Journal 28 (1949), 435-489, for the law; L. W. Nagel,
SPICE2: A Computer Program to Simulate Semiconductor Circuits, memorandum ERL-M520, University of
California, Berkeley (1975), for the limiting of junction steps and for GMIN.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from startwright.network.elements import Diode

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

THERMAL_V = 0.025852
"""Thermal voltage kT/q at 27 C."""

LEAK_S = 1e-12
"""Conductance across every junction (SPICE's GMIN)."""

STEP_V = 2e-7
"""Newton's method is over when no junction moves by more; the square of it, over 2 nVt, is left."""


@dataclass(frozen=True)
class Junctions:
    """The junctions of several diodes as columns (diodes, 1), to meet volts of (diodes, S).

    `slope_V` is emission * thermal_V, `critical_V` the voltage above which steps are limited.
    """

    saturation_A: Floats
    slope_V: Floats
    critical_V: Floats
    series_ohm: Floats

    @staticmethod
    def of(diodes: Sequence[Diode]) -> Junctions:
        """The columns for these diodes."""
        saturation = np.array([[d.saturation_A] for d in diodes], dtype=float).reshape(-1, 1)
        slope = np.array([[d.emission * THERMAL_V] for d in diodes], dtype=float).reshape(-1, 1)
        series = np.array([[d.series_ohm] for d in diodes], dtype=float).reshape(-1, 1)
        critical = slope * np.log(slope / (np.sqrt(2.0) * saturation))
        return Junctions(saturation, slope, critical, series)

    def current(self, v: Floats, leak_S: float = LEAK_S) -> tuple[Floats, Floats]:
        """Current in A and its slope in S at junction voltages `v` (diodes, S)."""
        e = self.saturation_A * np.exp(np.minimum(v / self.slope_V, 300.0))
        return e - self.saturation_A + leak_S * v, e / self.slope_V + leak_S

    def companion(self, v: Floats, leak_S: float = LEAK_S) -> tuple[Floats, Floats]:
        """Conductance and source seen at the terminals, series resistance included.

        At the terminals the diode is, near junction voltage `v`, i = g * v_terminal + source.
        """
        i, g = self.current(v, leak_S)
        share = 1.0 / (1.0 + g * self.series_ohm)
        return g * share, (i - g * v) * share

    def limited(self, new: Floats, old: Floats) -> Floats:
        """The step from `old` to `new`, cut back where the exponential would overshoot."""
        scaled = (new - old) / self.slope_V
        high = (new > self.critical_V) & (np.abs(scaled) > 2.0)
        from_forward = np.where(
            scaled > -1.0,
            old + self.slope_V * np.log1p(np.maximum(scaled, -0.999999)),
            self.critical_V,
        )
        from_reverse = self.slope_V * np.log(np.maximum(new / self.slope_V, 1e-300))
        return np.where(high, np.where(old > 0.0, from_forward, from_reverse), new)

    def settled(self, new: Floats, old: Floats, linear_A: Floats) -> Bools:
        """Whether Newton's method is over: the volts stand still and the law gives the same amps.

        Parameters
        ----------
        new, old, linear_A : (diodes, S)

        Returns
        -------
        (S,) of bool
        """
        exact, _ = self.current(new)
        still = np.abs(new - old) <= STEP_V + 1e-9 * np.abs(new)
        same = np.abs(exact - linear_A) <= 1e-12 + 1e-8 * np.abs(exact)
        return np.asarray((still & same).all(axis=0))
