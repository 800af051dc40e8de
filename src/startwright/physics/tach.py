"""Pulses of the engine-speed wire."""

from __future__ import annotations

from startwright.records.vehicle import Engine


def pulses_per_rev(engine: Engine, at: str = "coil") -> float:
    """Give the pulses a crankshaft turn makes on an ignition wire of a four-stroke engine.

    Parameters
    ----------
    engine : Engine
        Cylinders (1 to 16) and ignition.
    at : str
        ``coil`` for the wire of one coil (or the distributor's one), ``injector`` for one injector.

    Returns
    -------
    float
        cylinders / 2 with a distributor, 1 on a waste-spark coil, 0.5 on a coil of its own or on
        a sequential injector.

    Raises
    ------
    ValueError
        For compression ignition at the coil (there is none: the ratio must be learnt), or another
        place.

    Source: four-stroke geometry, one ignition per cylinder in two turns (arithmetic).

    >>> pulses_per_rev(Engine(cylinders=8, ignition="distributor"))
    4.0
    """
    if at == "injector":
        return 0.5
    if at != "coil":
        raise ValueError(f"a tach signal is taken at a coil or an injector, not {at!r}")
    if engine.ignition == "compression":
        raise ValueError(
            "a compression-ignition engine has no coil to count; learn the pulses at the wire "
            "found (alternator or engine module)"
        )
    if engine.ignition == "distributor":
        return engine.cylinders / 2
    return 1.0 if engine.ignition == "waste_spark" else 0.5


def frequency_hz(rpm: float, engine: Engine, pulses_per_rev: float | None = None) -> float:
    """Give the pulse rate of the tach wire at an engine speed.

    Parameters
    ----------
    rpm : float
        0 to 12 000 per minute.
    engine : Engine
        Cylinders and ignition, used where nothing was learnt.
    pulses_per_rev : float, optional
        The learnt (or recorded) ratio; it rules over the computed one, for an engine module may
        make any number.

    Returns
    -------
    float
        Pulses per second.

    Raises
    ------
    ValueError
        Outside the range, for a ratio that is not above 0, or where nothing was learnt and there
        is no coil.

    Source: f = rpm x pulses per turn / 60; four-stroke geometry. That modules make a fixed number
    whatever the cylinders: service-manual tachometer description.

    >>> frequency_hz(900, Engine(cylinders=4), pulses_per_rev=2)
    30.0
    """
    if not 0 <= rpm <= 12_000:
        raise ValueError(f"an engine turns 0 to 12 000 times a minute, not {rpm:g}")
    if pulses_per_rev is not None and pulses_per_rev <= 0:
        raise ValueError(f"a ratio lies above 0, not {pulses_per_rev:g}")
    ratio = pulses_per_rev if pulses_per_rev is not None else _computed(engine)
    return rpm * ratio / 60.0


def rpm_from_hz(frequency_hz: float, engine: Engine, pulses_per_rev: float | None = None) -> float:
    """Give the engine speed that a pulse rate on the tach wire means.

    Arguments and errors as `frequency_hz`; returns turns per minute.

    Source: as `frequency_hz`.

    >>> rpm_from_hz(40, Engine(cylinders=8, ignition="distributor"))
    600.0
    """
    if frequency_hz < 0:
        raise ValueError(f"a frequency is not negative: {frequency_hz:g}")
    if pulses_per_rev is not None and pulses_per_rev <= 0:
        raise ValueError(f"a ratio lies above 0, not {pulses_per_rev:g}")
    ratio = pulses_per_rev if pulses_per_rev is not None else _computed(engine)
    return frequency_hz * 60.0 / ratio


_computed = pulses_per_rev
