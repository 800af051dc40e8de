"""Starter batteries: charge, internal resistance, cranking in the cold, key-off drain."""

from __future__ import annotations

from startwright.records.vehicle import Engine
from startwright.reference.batteries import along, column, practice

CCA_V = 7.2
"""Voltage at the end of the cold-cranking test, 1.2 V a cell (SAE J537, -18 °C, 30 s)."""
CCA_C = -18.0
RANGE_C = (-40.0, 60.0)
WEAK_LOAD_SHARE = 0.5


def _range(battery_C: float, charge: float = 1.0) -> None:
    low, high = RANGE_C
    if not low <= battery_C <= high:
        raise ValueError(f"batteries are reckoned from {low:g} to {high:g} °C, not {battery_C:g}")
    if not 0 <= charge <= 1:
        raise ValueError(f"a charge lies between 0 and 1, not {charge:g}")


def correction_V(battery_C: float) -> float:
    """Give what to add to a rested battery's voltmeter reading before reading its charge.

    Parameters
    ----------
    battery_C : float
        -40 to 60 °C; outside -17.8 to 48.9 °C the line is carried on.

    Returns
    -------
    float
        Volts.

    Raises
    ------
    ValueError
        Outside the range.

    Source: voltmeter temperature compensation table, 0.024 V for 10 °F.

    >>> round(correction_V(-17.8), 3)
    -0.192
    """
    _range(battery_C)
    return along(column("battery_correction", "battery_C", "add_V"), battery_C, carry_on=True)


def open_circuit_V(charge: float, battery_C: float = 26.7) -> float:
    """Give the voltage a rested flooded battery shows at a charge.

    Parameters
    ----------
    charge : float
        0 to 1.
    battery_C : float
        -40 to 60 °C.

    Returns
    -------
    float
        Volts.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: state-of-charge table of flooded lead-acid batteries at 26.7 °C, and the voltmeter
    compensation beside it.

    >>> open_circuit_V(0.75)
    12.45
    """
    _range(battery_C, charge)
    return along(column("battery_charge", "charge", "open_circuit_V"), charge) - correction_V(
        battery_C
    )


def charge_from_V(volts_V: float, battery_C: float = 26.7) -> float:
    """Read the charge of a rested battery from its voltage.

    Parameters
    ----------
    volts_V : float
        6 to 15 V, rested for hours, nothing drawing.
    battery_C : float
        -40 to 60 °C.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: as `open_circuit_V`.

    >>> round(charge_from_V(12.24), 2)
    0.5
    """
    if not 6 <= volts_V <= 15:
        raise ValueError(f"a rested 12 V battery shows 6 to 15 V, not {volts_V:g} V")
    corrected = volts_V + correction_V(battery_C)
    return along(column("battery_charge", "open_circuit_V", "charge"), corrected)


def freezing_C(charge: float) -> float:
    """Give the temperature at which a battery of a charge freezes.

    Raises `ValueError` outside 0 to 1; returns °C.

    Source: state-of-charge table of flooded lead-acid batteries.

    >>> freezing_C(0.5)
    -36.7
    """
    _range(0.0, charge)
    return along(column("battery_charge", "charge", "freezing_C"), charge)


def power_share(battery_C: float) -> float:
    """Give the share of its warm cranking power that a battery has left.

    Parameters
    ----------
    battery_C : float
        -40 to 60 °C; above 26.7 °C it is 1, below -17.8 °C the line is carried on.

    Returns
    -------
    float
        0.08 to 1.

    Raises
    ------
    ValueError
        Outside the range.

    Source: battery trade table (80 °F 100 %, 32 °F 65 %, 0 °F 40 %).

    >>> round(power_share(0), 2)
    0.65
    """
    _range(battery_C)
    table = column("battery_cold", "battery_C", "power_share")
    return min(1.0, max(0.08, along(table, battery_C, carry_on=True)))


def need_share(battery_C: float) -> float:
    """Give how much more current an engine takes to crank than at 27 °C.

    Range and errors as `power_share`; returns 1 and more.

    Source: battery trade table (80 °F 100 %, 32 °F 155 %, 0 °F 210 %).

    >>> round(need_share(0), 2)
    1.55
    """
    _range(battery_C)
    return max(1.0, along(column("battery_cold", "battery_C", "need_share"), battery_C, True))


def charge_resistance_factor(charge: float) -> float:
    """Give how much the internal resistance grows as charge is lost.

    Raises `ValueError` outside 0 to 1.

    Source: common practice, no source: 1 / (0.4 + 0.6 charge), 1.4 times at half charge.

    >>> charge_resistance_factor(1.0)
    1.0
    """
    _range(0.0, charge)
    return 1.0 / (0.4 + 0.6 * charge)


def internal_ohm(
    cca_A: float, battery_C: float = CCA_C, charge: float = 1.0, weak: bool = False
) -> float:
    """Give the internal resistance of a battery from its cold-cranking rating.

    Parameters
    ----------
    cca_A : float
        Cold-cranking rating by SAE J537, 50 to 2000 A.
    battery_C : float
        -40 to 60 °C.
    charge : float
        0 to 1.
    weak : bool
        True for the weakest battery that still passes the load test, not one that makes its rating.

    Returns
    -------
    float
        Ohms. A battery that makes its rating: (12.65 V - 7.2 V) / CCA at -18 °C, and with
        temperature by the trade's table of cranking power.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: SAE J537 cold-cranking test (-18 °C, 30 s, 7.2 V); battery trade table; BCI load test
    (half the rating for 15 s) for the weak one.

    >>> round(1000 * internal_ohm(545), 1)
    10.0
    """
    if not 50 <= cca_A <= 2000:
        raise ValueError(f"cold-cranking ratings lie between 50 and 2000 A, not {cca_A:g}")
    _range(battery_C, charge)
    full = open_circuit_V(1.0)
    if weak:
        ohm = (full - load_test_least_V(battery_C)) / (WEAK_LOAD_SHARE * cca_A)
        if battery_C < CCA_C:
            ohm *= power_share(CCA_C) / power_share(battery_C)
    else:
        ohm = (full - CCA_V) / cca_A * power_share(CCA_C) / power_share(battery_C)
    return ohm * charge_resistance_factor(charge)


def load_test_A(cca_A: float) -> float:
    """Give the current of the load test: half the rating, rounded down to ten amperes.

    Raises `ValueError` for a rating not above 0.

    Source: BCI load test, service-manual battery table.

    >>> load_test_A(750)
    370.0
    """
    if cca_A <= 0:
        raise ValueError("a rating is above zero")
    return float(int(cca_A / 20) * 10)


def load_test_least_V(battery_C: float) -> float:
    """Give the voltage a good battery keeps after 15 s at half its cold-cranking rating.

    Parameters
    ----------
    battery_C : float
        -40 to 60 °C; below -18 °C and above 20 °C the end rows stand.

    Returns
    -------
    float
        Volts.

    Raises
    ------
    ValueError
        Outside the range.

    Source: BCI load-test table as printed in service manuals (-1 and 10 °C from memory).

    >>> load_test_least_V(-7)
    8.9
    """
    _range(battery_C)
    return along(column("battery_load_test", "battery_C", "least_V"), battery_C)


def cranking_A(engine: Engine, battery_C: float) -> float:
    """Estimate the current a starter draws while it turns the engine.

    Parameters
    ----------
    engine : Engine
        Cylinders and ignition (compression ignition takes 1.8 times).
    battery_C : float
        -40 to 60 °C, engine as cold as the battery.

    Returns
    -------
    float
        Amperes: (50 + 25 a cylinder) when warm, times the need in the cold.

    Raises
    ------
    ValueError
        Outside the range.

    Source: common practice, no source, for the warm current; battery trade table for the cold.

    >>> cranking_A(Engine(cylinders=4), 27)
    150.0
    """
    warm = practice("crank_A_base") + practice("crank_A_per_cylinder") * engine.cylinders
    if engine.ignition == "compression":
        warm *= practice("crank_compression_factor")
    return warm * need_share(battery_C)


def cranking_V(
    cca_A: float,
    engine: Engine,
    battery_C: float,
    charge: float = 1.0,
    weak: bool = False,
) -> float:
    """Give the voltage at the battery's posts while the starter turns the engine.

    Parameters
    ----------
    cca_A, battery_C, charge, weak
        As `internal_ohm`.
    engine : Engine
        As `cranking_A`.

    Returns
    -------
    float
        Volts, not below 0. The rested voltage is taken without the cold's gain.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: Ohm's law with `internal_ohm` and `cranking_A`.

    >>> round(cranking_V(540, Engine(cylinders=4), -18), 1)
    9.5
    """
    rested = min(open_circuit_V(charge), open_circuit_V(charge, battery_C))
    drop = internal_ohm(cca_A, battery_C, charge, weak) * cranking_A(engine, battery_C)
    return max(0.0, rested - drop)


def capacity_share(battery_C: float) -> float:
    """Give the share of its rated capacity a battery gives at a temperature.

    Range -40 to 60 °C, `ValueError` outside; 1 from 25 °C up, 1 % less for each degree below.

    Source: battery handbook rule, from memory (0.6-1 %/K; the cautious end).

    >>> round(capacity_share(-18), 2)
    0.57
    """
    _range(battery_C)
    return 1.0 - practice("capacity_per_K_below_25") * max(0.0, 25.0 - battery_C)


def peukert_h(capacity_Ah: float, rated_h: float, current_A: float, k: float) -> float:
    """Give the time a constant current empties a battery.

    Parameters
    ----------
    capacity_Ah, rated_h, current_A : float
        Above 0; the capacity is that at the rated time (20 h for starter batteries).
    k : float
        Exponent, 1 to 2.

    Returns
    -------
    float
        Hours.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: Peukert's law, t = T (C / (I T))^k; 120 Ah at 20 h, k 1.4, 120 A: 0.30 h.

    >>> round(peukert_h(120, 20, 120, 1.4), 2)
    0.3
    """
    if min(capacity_Ah, rated_h, current_A) <= 0 or not 1 <= k <= 2:
        raise ValueError("capacity, time and current are above zero, the exponent between 1 and 2")
    return float(rated_h * (capacity_Ah / (current_A * rated_h)) ** k)


def days_to_half(
    capacity_Ah: float, key_off_mA: float, charge: float = 1.0, battery_C: float = 25.0
) -> float:
    """Give how many days a parked car takes to bring its battery down to half charge.

    Parameters
    ----------
    capacity_Ah : float
        Rated capacity, above 0.
    key_off_mA : float
        Everything drawn while parked, above 0.
    charge : float
        At the start, 0 to 1; at half or below the answer is 0.
    battery_C : float
        -40 to 60 °C.

    Returns
    -------
    float
        Days; self-discharge left out.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: charge over current; capacity in the cold by `capacity_share`.

    >>> days_to_half(60, 50)
    25.0
    """
    if capacity_Ah <= 0 or key_off_mA <= 0:
        raise ValueError("capacity and key-off current are above zero")
    _range(battery_C, charge)
    ampere_hours = max(0.0, charge - 0.5) * capacity_Ah * capacity_share(battery_C)
    return ampere_hours / (key_off_mA / 1000) / 24


def minutes_to_earn_back(cost_Ah: float, surplus_A: float | None = None) -> float:
    """Give the minutes of running that put a charge back.

    Parameters
    ----------
    cost_Ah : float
        0 and more.
    surplus_A : float, optional
        What the alternator has left for the battery, above 0; 10 A at idle where not known.

    Returns
    -------
    float
        Minutes, with 85 % of the charge kept.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: common practice, no source, for the surplus; charge efficiency of lead-acid from memory.

    >>> round(minutes_to_earn_back(0.85), 1)
    6.0
    """
    surplus = practice("idle_surplus_A") if surplus_A is None else surplus_A
    if cost_Ah < 0 or surplus <= 0:
        raise ValueError("a charge is not negative, the surplus is above zero")
    return 60 * cost_Ah / practice("coulomb_efficiency") / surplus


def current_from_fuse_mA(drop_mV: float, rating_A: float) -> float:
    """Give the current through a fuse from the millivolts across it (key-off search).

    Parameters
    ----------
    drop_mV : float
        0 and more.
    rating_A : float
        Of the blade fuse, 1 to 100 A.

    Returns
    -------
    float
        Milliamperes, by the cold resistance.

    Raises
    ------
    ValueError
        Outside the ranges.

    Source: blade-fuse cold resistances from data sheets; vocational-school exercise (2.4 mV across
    10 A: 312 mA).

    >>> round(current_from_fuse_mA(2.4, 10))
    312
    """
    from startwright.reference.fuses import cold_ohm

    if drop_mV < 0:
        raise ValueError("a drop is not negative")
    return drop_mV / cold_ohm(rating_A)
