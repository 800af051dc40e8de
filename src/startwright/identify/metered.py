"""Meter values of one wire, weighed with what is told of it, and what to check next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from startwright.identify.behaviours import Behaviour, behaviours
from startwright.identify.features import HUM, QUIET, Features
from startwright.identify.likelihood import Emissions, K, emissions
from startwright.identify.next_check import next_checks
from startwright.identify.places import hints
from startwright.identify.posterior import Scored, spread, weigh
from startwright.identify.report import NextCheck
from startwright.identify.segments import Table
from startwright.identify.situations import expected_rail_V, situate
from startwright.identify.verdict import decide
from startwright.records.readings import Reading
from startwright.records.recordings import WirePlace

LAMP_LIT_V = 4.0
"""A probe lamp that shows at all stands for more than this across it (common practice)."""


@dataclass(frozen=True)
class Weighed:
    """The values of one wire, and every hypothesis with its probability.

    Attributes
    ----------
    table : Table
        A row a value: what the car was in.
    features : Features
        Of those values; of one of 0 V that counts for nothing where there is none yet.
    scored : tuple of Scored
    """

    table: Table
    features: Features
    scored: tuple[Scored, ...]


def weigh_values(
    own: Sequence[Reading],
    told: Mapping[str, float],
    *,
    diesel: bool | None = None,
    where: str = "readings",
) -> Weighed:
    """Weigh every hypothesis for one wire by the values read at it.

    Parameters
    ----------
    own : sequence of Reading
        The values of this wire, in the order they were taken; none leaves every level as likely
        as every other.
    told : mapping
        How much likelier each function is by what is written of the wire
        (`startwright.identify.places.hints`).
    diesel : bool, optional
        Whether the engine is one with glow plugs.
    where : str
        Where the values stand, for an error.

    Raises
    ------
    RecordError
        An action that is none.
    """
    table = situate([r.during for r in own] or [[]], where)
    features = features_of(own or [Reading(wire="none", volts_V=0.0)], table)
    emission = emissions(features, 0, table.sure, table.weight)
    if own:
        emission = with_lamp(own, emission)
    else:
        emission = replace(
            emission, log=np.zeros_like(emission.log), anything=np.zeros_like(emission.anything)
        )
    hypotheses = spread(by_meter(diesel), table)
    return Weighed(table, features, tuple(weigh(hypotheses, table, features, 0, emission, told)))


def checks_for(
    place: WirePlace,
    own: Sequence[Reading],
    likelier: Mapping[str, float],
    *,
    diesel: bool | None = None,
) -> list[NextCheck]:
    """Give the checks that tell most of one wire, most information per minute first.

    Parameters
    ----------
    place : WirePlace
        The wire, and what is known of where it is.
    own : sequence of Reading
        The values read at it so far; may be empty.
    likelier : mapping
        How much likelier the record makes a function, on top of the place.
    diesel : bool, optional
        Whether the engine is one with glow plugs.
    """
    told = dict(hints(place))
    for function, factor in likelier.items():
        told[function] = told.get(function, 1.0) * factor
    weighed = weigh_values(own, told, diesel=diesel)
    verdict = decide(place.wire, weighed.scored, weighed.table, weighed.features, 0, place)
    return next_checks(
        {place.wire: weighed.scored},
        [verdict.model_copy(update={"function": None, "leave_alone": False})],
        {place.wire: place},
        done={place.wire: [frozenset(r.during) for r in own]},
    )


def by_meter(diesel: bool | None) -> list[Behaviour]:
    """The behaviours as a meter meets them: a pump primes for two seconds, a probe takes eight."""
    return [
        replace(b, prior=0.25 * b.prior) if b.name.startswith("pump or heater relay") else b
        for b in behaviours(diesel)
    ]


def features_of(own: Sequence[Reading], table: Table) -> Features:
    """Give the features of one wire's values, a row a value, as a recording's stretches have them.

    The car's battery is what the wire itself shows at its highest, if that can be a battery.
    """
    n = len(own)
    volts = np.array([r.volts_V for r in own], dtype=np.float64)[:, None]
    rail = expected_rail_V(table)
    for row in range(n):
        if 0.85 * rail[row] < volts[row, 0] < 1.15 * rail[row]:
            rail[row] = max(volts[row, 0], 0.96 * rail[row])
    activity = np.array([[HUM if r.meter.hum else QUIET] for r in own], dtype=np.int64)
    return Features(
        level_V=volts,
        share=volts / rail[:, None],
        rail_V=rail,
        activity=activity,
        low_V=volts,
        high_V=volts,
        pulse_hz=np.zeros((n, 1)),
        slope_V=np.zeros((n, 1)),
        unsteady=np.zeros((n, 1), dtype=bool),
        noise_V=np.array([0.05]),
        fall_s=np.array([np.nan]),
    )


def with_lamp(own: Sequence[Reading], emission: Emissions) -> Emissions:
    """Put in what a probe lamp showed: it pulls every pull-up down; only a true feed lights it."""
    log = emission.log.copy()
    for row, reading in enumerate(own):
        if reading.meter.kind != "lamp":
            continue
        lit = reading.volts_V > LAMP_LIT_V
        for name, k in K.items():
            lights = name in ("battery", "pwm", "flash")
            log[k, row] = np.log(0.98 if lights == lit else 0.02)
    return Emissions(log, emission.anything, emission.levels_V, emission.cost)
