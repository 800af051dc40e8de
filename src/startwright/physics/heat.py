"""Steady-state temperature of an insulated wire in still air: heat made against heat lost."""

from __future__ import annotations

from functools import lru_cache
from math import log, pi, sqrt

from startwright.physics.wire import ZERO_RESISTANCE_C, ohm_per_m, outside_mm
from startwright.reference.ampacities import bundle_factor

STEFAN_BOLTZMANN = 5.670374e-8
GRAVITY = 9.80665
EMISSIVITY = 0.85
"""Plastics range from 0.85 to 0.95; the lower end runs hotter."""
TOP_C = 400.0


def air(film_K: float) -> tuple[float, float, float]:
    """Give conductivity, kinematic viscosity and Prandtl number of air at sea level.

    Parameters
    ----------
    film_K : float
        Film temperature, 200 to 700 K.

    Returns
    -------
    tuple of float
        W/(m K), m²/s, 1.

    Raises
    ------
    ValueError
        Outside the range.

    Source: U.S. Standard Atmosphere 1976, equations 51 and 53, with the ideal gas at 101 325 Pa and
    cp = 1007 J/(kg K).

    >>> k, nu, pr = air(367)
    >>> round(k, 4), round(nu * 1e6, 1), round(pr, 2)
    (0.0313, 22.3, 0.69)
    """
    if not 200 <= film_K <= 700:
        raise ValueError(f"air properties hold from 200 to 700 K, not {film_K:.0f} K")
    viscosity = 1.458e-6 * film_K**1.5 / (film_K + 110.4)
    conductivity = 2.64638e-3 * film_K**1.5 / (film_K + 245.4 * 10 ** (-12 / film_K))
    density = 101325 / (287.05 * film_K)
    return conductivity, viscosity / density, viscosity * 1007 / conductivity


def convection_W_m2K(diameter_m: float, surface_C: float, ambient_C: float) -> float:
    """Give the heat-transfer coefficient of a horizontal cylinder in still air.

    Parameters
    ----------
    diameter_m : float
        0.0005 to 1 m.
    surface_C, ambient_C : float
        The surface at least as warm as the air.

    Returns
    -------
    float
        W/(m² K).

    Raises
    ------
    ValueError
        Outside Rayleigh numbers of 1e-5 to 1e12, or where the surface is the colder.

    Source: Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049, as equation 9.34 of
    Incropera and DeWitt; worked there as example 9.4 (0.1 m steam pipe, 165 °C in 23 °C, 7.3-7.8
    W/(m² K) by property table).

    >>> round(convection_W_m2K(0.1, 165, 23), 1)
    7.3
    """
    if surface_C < ambient_C:
        raise ValueError("the surface is at least as warm as the air")
    difference = max(surface_C - ambient_C, 1e-6)
    film = (surface_C + ambient_C) / 2 + 273.15
    k, nu, pr = air(film)
    rayleigh = GRAVITY / film * difference * diameter_m**3 / nu**2 * pr
    if rayleigh > 1e12 or not 0.0005 <= diameter_m <= 1:
        raise ValueError("the correlation holds for diameters of 0.5 mm to 1 m below Ra 1e12")
    root: float = 0.60 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / pr) ** (9 / 16)) ** (8 / 27)
    return root * root * k / diameter_m


def loss_W_m(diameter_m: float, surface_C: float, ambient_C: float) -> float:
    """Give the heat a metre of cylinder gives off by convection and radiation.

    Returns watts per metre; arguments and errors as `convection_W_m2K`.

    Source: Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, example 9.4 (766 W/m).

    >>> abs(loss_W_m(0.1, 165, 23) / 766 - 1) < 0.02
    True
    """
    hot, cold = surface_C + 273.15, ambient_C + 273.15
    convected = convection_W_m2K(diameter_m, surface_C, ambient_C) * (hot - cold)
    radiated = EMISSIVITY * STEFAN_BOLTZMANN * (hot**4 - cold**4)
    return pi * diameter_m * (convected + radiated)


def _insulation_K_m_W(size_mm2: float, insulation_C: float) -> float:
    """Thermal resistance of the wall: 5.0 K m/W for PVC, 3.5 for XLPE (IEC 60287-2-1 Table 1)."""
    copper = 1.14 * sqrt(4 * size_mm2 / pi)
    resistivity = 5.0 if insulation_C <= 105 else 3.5
    return resistivity / (2 * pi) * log(max(outside_mm(size_mm2) / copper, 1.05))


@lru_cache(maxsize=8192)
def steady_temperature_C(
    current_A: float,
    size_mm2: float,
    ambient_C: float = 30.0,
    insulation_C: float = 105.0,
    bundled: int = 1,
) -> float:
    """Give the steady temperature of a wire's copper.

    I²R at the copper's own temperature = convection + radiation at the surface; a bundle counts as
    a current larger by its published derating.

    Parameters
    ----------
    current_A : float
        0 A and more.
    size_mm2 : float
        0.1 to 120 mm².
    ambient_C : float
        -40 to 150 °C.
    insulation_C : float
        PVC up to 105 °C, cross-linked above, for the heat resistance of the wall.
    bundled : int
        At least 1.

    Returns
    -------
    float
        °C.

    Raises
    ------
    ValueError
        Outside the ranges, or where no balance is found below 400 °C.

    Source: Churchill and Chu (1975); Stefan-Boltzmann; wall by IEC 60287-2-1 clause 4.1.2.1;
    bundles by 33 CFR 183.425 Table 5 note 2. Agrees with the ampacity table: at a table current
    the balance gives no more than the insulation rating.

    >>> steady_temperature_C(20.0, 0.823) < 105
    True
    """
    if current_A < 0:
        raise ValueError(f"a current is not negative here: {current_A:g} A")
    if not -40 <= ambient_C <= 150:
        raise ValueError(f"the air lies between -40 and 150 °C, not {ambient_C:g} °C")
    if current_A == 0:
        return float(ambient_C)
    per_m = ohm_per_m(size_mm2) / (20.0 - ZERO_RESISTANCE_C)
    squared = (current_A / bundle_factor(bundled)) ** 2
    wall = _insulation_K_m_W(size_mm2, insulation_C)
    diameter = outside_mm(size_mm2) / 1000

    def excess(surface: float) -> float:
        lost = loss_W_m(diameter, surface, ambient_C)
        copper = surface + lost * wall
        return lost - squared * per_m * (copper - ZERO_RESISTANCE_C)

    low, high = float(ambient_C), TOP_C
    if excess(high) <= 0:
        raise ValueError(
            f"{current_A:g} A through {size_mm2:g} mm² heats it above {TOP_C:g} °C: it burns"
        )
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (low, middle) if excess(middle) > 0 else (middle, high)
    surface = (low + high) / 2
    copper = surface + loss_W_m(diameter, surface, ambient_C) * wall
    if copper > TOP_C:
        raise ValueError(
            f"{current_A:g} A through {size_mm2:g} mm² heats it above {TOP_C:g} °C: it burns"
        )
    return copper


def balance_ampacity_A(
    size_mm2: float, insulation_C: float = 105.0, ambient_C: float = 30.0, bundled: int = 1
) -> float:
    """Give the current at which the heat balance reaches the insulation's rating.

    Parameters and errors as `steady_temperature_C`; returns amperes.

    Source: as `steady_temperature_C`; an outside check of the ampacity tables, which rule.

    >>> balance_ampacity_A(0.823, 105) > 20
    True
    """
    low, high = 0.0, 10_000.0
    for _ in range(40):
        middle = (low + high) / 2
        try:
            hot = steady_temperature_C(middle, size_mm2, ambient_C, insulation_C, bundled)
        except ValueError:
            hot = TOP_C
        low, high = (middle, high) if hot < insulation_C else (low, middle)
    return low
