"""From emissions and behaviours to the probability of each function and level of one wire."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from startwright.identify.behaviours import Behaviour
from startwright.identify.blocks import F64, Ints
from startwright.identify.features import BLINK, HUM, NOISY, PULSE, QUIET, TRAFFIC, Features
from startwright.identify.lamps import spinning_down
from startwright.identify.likelihood import KINDS, Emissions, K, fit
from startwright.identify.patterns import DEAD
from startwright.identify.segments import UNKNOWN, Table

Mask = npt.NDArray[np.bool_]

SHARPNESS = 0.9
"""The log likelihood is scaled by this: stretches of one recording are not independent."""

NEAR_MISS_PRIOR = 0.03
NEAR_MISS_RATE = 0.12
"""A wire that follows a function in all but some stretches is taken for something else."""

SOMETHING_ELSE = 0.10
DATA, DATA_ASLEEP, DATA_AVERAGED = 0.055, 0.020, 0.015
TACH, PULSED_WITH_ENGINE, PULSED = 0.045, 0.005, 0.010
LADDER = 0.012
SRS = 0.008
IMMOBILIZER = 0.004


@dataclass(frozen=True)
class Scored:
    """One hypothesis with its posterior probability."""

    name: str
    function: str | None
    active: str | None
    probability: float
    behaviour: Behaviour | None = None
    on: str = ""
    rest: str = ""


@dataclass(frozen=True)
class Hypotheses:
    """Behaviours spread over the kinds of source they may have, as arrays for all of a table.

    ``state`` is (P, S), ``on`` and ``rest`` (P,) index `KINDS`, ``log_prior`` (P,).
    """

    behaviours: tuple[Behaviour, ...]
    owner: Ints
    state: F64
    on: Ints
    rest: Ints
    log_prior: F64


def spread(behaviours: Sequence[Behaviour], table: Table) -> Hypotheses:
    """All pairs of kinds for every behaviour, with its pattern on this table."""
    owner, states, on, rest, prior = [], [], [], [], []
    for i, behaviour in enumerate(behaviours):
        state = behaviour.pattern(table)
        log_factor = float(np.log(behaviour.factor(table))) if behaviour.factor else 0.0
        for a, share_a in _kinds(behaviour.on):
            for r, share_r in _kinds(behaviour.rest):
                if a == r:
                    continue
                owner.append(i)
                states.append(state)
                on.append(K[a])
                rest.append(K[r])
                prior.append(np.log(behaviour.prior * share_a * share_r) + log_factor)
    return Hypotheses(
        tuple(behaviours),
        np.asarray(owner),
        np.asarray(states),
        np.asarray(on),
        np.asarray(rest),
        np.asarray(prior),
    )


def _kinds(shares: Mapping[str, float]) -> list[tuple[str, float]]:
    """Kinds with shares; `mid1` stands for any of the wire's own levels."""
    found: list[tuple[str, float]] = []
    for name, share in shares.items():
        if name == "mid1":
            found += [("mid1", share), ("mid2", share), ("mid3", share)]
        else:
            found.append((name, share))
    return found


def weigh(
    hypotheses: Hypotheses,
    table: Table,
    features: Features,
    wire: int,
    emission: Emissions,
    hints: Mapping[str, float],
) -> list[Scored]:
    """Posterior over all hypotheses for one wire, most probable first."""
    weight = table.weight * np.where(features.unsteady[:, wire], 0.5, 1.0)
    on, rest = emission.log[hypotheses.on], emission.log[hypotheses.rest]
    either = np.logaddexp(
        np.logaddexp(on, rest) + np.log(0.45), emission.log[K["open"]][None, :] + np.log(0.1)
    )
    state = hypotheses.state
    dead = np.maximum(emission.log[K["ground"]], emission.log[K["open"]])
    expected = np.where(state == 1, on, np.where(state == 0, rest, either))
    expected = np.where(state == DEAD, dead[None, :], expected)
    rest_used = (state == 0).any(axis=1)
    used_cost = emission.cost[hypotheses.on] + np.where(
        rest_used, emission.cost[hypotheses.rest], 0.0
    )
    factor = np.array([hints.get(b.function or "", 1.0) for b in hypotheses.behaviours])
    factor *= np.array([_falling(b, float(features.fall_s[wire])) for b in hypotheses.behaviours])
    prior = hypotheses.log_prior + np.log(factor)[hypotheses.owner]
    # cut off it hangs at ground by its load, or floats: one of the two throughout
    used_cost = used_cost + np.where((state == DEAD).any(axis=1), np.log(0.5), 0.0)
    score = prior + SHARPNESS * (expected @ weight + used_cost)
    mixture = _mixture(emission)
    near = np.logaddexp(
        np.log(1 - NEAR_MISS_RATE) + expected, np.log(NEAR_MISS_RATE) + mixture[None, :]
    )
    near_score = prior + np.log(NEAR_MISS_PRIOR) + SHARPNESS * (near @ weight + used_cost)
    special = _specials(table, features, wire, emission, weight, hints)

    groups: list[tuple[str, str | None, str | None, float, Behaviour | None, str, str]] = []
    for i, behaviour in enumerate(hypotheses.behaviours):
        members = np.flatnonzero(hypotheses.owner == i)
        best = members[int(score[members].argmax())]
        groups.append(
            (
                behaviour.name,
                behaviour.function,
                behaviour.active,
                float(np.logaddexp.reduce(score[members])),
                behaviour,
                KINDS[hypotheses.on[best]],
                KINDS[hypotheses.rest[best]],
            )
        )
    groups.append(
        ("something near", None, None, float(np.logaddexp.reduce(near_score)), None, "", "")
    )
    groups += [(n, f, a, s, None, "", "") for n, f, a, s in special]
    scores = np.array([g[3] for g in groups])
    scores -= scores.max()
    probability = np.exp(scores)
    probability /= probability.sum()
    found = [
        Scored(g[0], g[1], g[2], float(p), g[4], g[5], g[6])
        for g, p in zip(groups, probability, strict=True)
    ]
    return sorted(found, key=lambda s: -s.probability)


def _falling(behaviour: Behaviour, fall_s: float) -> float:
    """How well the time of a fall suits a contact that opens, or a motor that coasts down."""
    if np.isnan(fall_s):
        return 0.5 if behaviour.coasts else 1.0
    if behaviour.coasts:
        return 1.0 if fall_s > 0.2 else 0.02
    return 1.0 if fall_s < 0.25 else 0.02


def _mixture(emission: Emissions) -> F64:
    rows = emission.log[[K["battery"], K["ground"], K["five"], K["open"], K["low"], K["pwm"]]]
    return np.asarray(
        np.logaddexp(np.logaddexp.reduce(rows, axis=0) + np.log(0.14), emission.anything)
    )


def _specials(
    table: Table,
    features: Features,
    wire: int,
    emission: Emissions,
    weight: F64,
    hints: Mapping[str, float],
) -> list[tuple[str, str | None, str | None, float]]:
    """Hypotheses that are not a pattern of two levels."""

    def prior(share: float, function: str | None) -> float:
        return float(np.log(share * hints.get(function or "", 1.0)))

    tach = clocked = _tach(table, features, wire, emission)
    moved = wander(table, features, wire)
    if moved is not None:
        tach += -4.0 if moved < 0.006 else -1.5 if moved < 0.012 else 0.0
        clocked += -4.0 if moved > 0.03 else -1.5 if moved > 0.015 else 0.0
    averaged = _averaged(table, features, wire)
    data, ways, asleep = _data(table, features, wire, emission)
    result: list[tuple[str, str | None, str | None, float]] = [
        ("tach", "tach", "ground", prior(TACH, "tach") + SHARPNESS * tach),
        ("pulses with the engine", None, None,
         prior(PULSED_WITH_ENGINE, None) + SHARPNESS * clocked),
        ("pulses", None, None,
         prior(PULSED, None) + SHARPNESS * float(_pulsed(features, wire) @ weight)),
        ("data", "data", None, prior(DATA, "data") + SHARPNESS * ways),
        ("data, asleep", "data", None, prior(DATA_ASLEEP, "data") + SHARPNESS * asleep),
        ("data, too quick to be seen", "data", None,
         prior(DATA_AVERAGED, "data") + SHARPNESS * averaged),
        ("immobilizer line", "immobilizer", None,
         prior(IMMOBILIZER, "immobilizer")
         + SHARPNESS * _bursts(table, data, emission)),
        ("airbag line", "srs", None,
         prior(SRS, "srs") + SHARPNESS * float(_squib(table, features, wire) @ weight)),
        ("something else", None, None,
         prior(SOMETHING_ELSE, None) + SHARPNESS * _free(emission, weight)),
    ]  # fmt: skip
    ladder = _ladder(table, emission, weight)
    if ladder is not None:
        result.append(
            ("lock and unlock on one coded wire", "lock", "ground",
             prior(LADDER, "lock") + SHARPNESS * ladder)
        )  # fmt: skip
    return result


def _table(activity: Ints, chances: Mapping[int, float]) -> F64:
    """Log chance of each stretch's movement; what is left over is shared by the others."""
    rest = max(1e-3, 1.0 - sum(chances.values())) / max(1, 6 - len(chances))
    lookup = np.array([chances.get(k, rest) for k in range(6)])
    return np.asarray(np.log(lookup)[activity])


def _constant(table: Table, emission: Emissions, rows: Mask) -> float:
    """One steady source in all of these stretches, whichever it is."""
    kinds = [K["battery"], K["ground"], K["five"], K["open"], K["low"]]
    log = emission.log[kinds] @ (table.weight * rows)
    return float(np.logaddexp.reduce(log + np.log(0.2)))


def _tach(table: Table, features: Features, wire: int, emission: Emissions) -> float:
    """Pulses while the engine runs, at a rate an engine can have; steady with the key off."""
    act = features.activity[:, wire]
    rate = features.pulse_hz[:, wire]
    running = _table(act, {PULSE: 0.90, TRAFFIC: 0.05, NOISY: 0.01, BLINK: 0.01})
    implausible = (act == PULSE) & ((rate > 900.0) | (rate < 4.0))
    running = running - np.where(implausible, 2.0, 0.0)
    turning = _table(act, {PULSE: 0.35, BLINK: 0.25, QUIET: 0.22, TRAFFIC: 0.15})
    sure = (table.engine == 1) & (table.crank == 0) & (table.key_in("run") == 1)
    total = float((running * sure + turning * (table.crank > 0)) @ table.weight)
    still = (table.engine == 0) & (table.crank == 0) & ~spinning_down(table)
    live = table.key_in("run", "start") == 1
    total += _constant(table, emission, still & live)
    total += _constant(table, emission, still & (table.key_in("run", "start") == 0))
    return total if sure.any() else -np.inf


def wander(table: Table, features: Features, wire: int) -> float | None:
    """How far the pulse rate moves with the engine, as a share; None where too little is seen.

    An engine's speed falls after the start, hunts at idle and is lower while cranking; a clock's
    does not move.
    """
    pulsing = features.activity[:, wire] == PULSE
    seconds = table.core_end_s - table.core_start_s
    rows = (table.engine == 1) & (table.crank == 0) & pulsing & (seconds > 0.4)
    rates = features.pulse_hz[rows, wire]
    cranking = (table.crank == 1) & pulsing & (seconds > 0.4)
    if len(rates) and cranking.any():
        turned = float(np.median(features.pulse_hz[cranking, wire]))
        if 0.08 < turned / max(float(np.median(rates)), 1e-6) < 1.0:
            rates = np.append(rates, turned)
    if len(rates) < 2 or float(seconds[rows].sum()) < 2.0:
        return None
    return float(np.ptp(rates) / max(float(np.median(rates)), 1e-6))


def _pulsed(features: Features, wire: int) -> F64:
    act = features.activity[:, wire]
    chance = _table(act, {PULSE: 0.55, BLINK: 0.15, QUIET: 0.2, TRAFFIC: 0.05})
    return np.asarray(chance + np.log(0.5))


def _data(
    table: Table, features: Features, wire: int, emission: Emissions
) -> tuple[F64, float, float]:
    """Traffic while awake; asleep or between frames at one of the resting levels.

    Resting levels: 2.5 V (ISO 11898-2 recessive), 0 and 5 V (ISO 11898-3 recessive), near the
    supply (ISO 17987-4), or anything.
    """
    act = features.activity[:, wire]
    v = features.level_V[:, wire]
    u = features.share[:, wire]
    resting = np.maximum.reduce(
        [fit(v, 2.5, 0.3), 0.5 * fit(v, 5.0, 0.2), 0.4 * fit(v, 0.05, 0.15),
         0.6 * fit(u, 0.96, 0.04), np.full(len(v), 0.1)]
    )  # fmt: skip
    level = np.where((act == TRAFFIC) | (act == PULSE), 0.0, np.log(resting))
    awake = table.key_in("accessory", "run", "start")
    moving = _table(act, {TRAFFIC: 0.80, PULSE: 0.03, NOISY: 0.05, QUIET: 0.10, HUM: 0.005})
    dozing = _table(act, {TRAFFIC: 0.40, PULSE: 0.02, NOISY: 0.04, QUIET: 0.52, HUM: 0.005})
    data = np.where(awake == 1, moving, dozing) + level
    # or it wakes at some position of the key, and rests at one level before and after
    waking = [float(data @ table.weight)]
    for positions in (("off", "accessory", "run", "start"), ("accessory", "run", "start"),
                      ("run", "start")):  # fmt: skip
        live = table.key_in(*positions)
        busy = float(((moving + level) * (live == 1) + data * (live == UNKNOWN)) @ table.weight)
        waking.append(busy + _constant(table, emission, live == 0))
    ways = float(np.logaddexp.reduce(np.asarray(waking)) - np.log(len(waking)))
    quiet = _table(act, {QUIET: 0.92, NOISY: 0.05, HUM: 0.01})
    mid = float((np.log(0.999 * fit(v, 2.5, 0.3) + 1e-3) + quiet) @ table.weight)
    sleeping = np.log(0.3) + mid
    for kind, share in (("five", 0.1), ("ground", 0.25), ("pulled", 0.35)):
        total = float(emission.log[K[kind]] @ table.weight)
        sleeping = float(np.logaddexp(sleeping, np.log(share) + total))
    return data, ways, sleeping


def _averaged(table: Table, features: Features, wire: int) -> float:
    """A bus that the scope averages: a volt or two off nothing while awake, for no reason.

    ISO 11898-2 lines average 2.4 to 2.6 V, those of ISO 11898-3 and single-wire buses some share
    of their swing.
    """
    v = features.level_V[:, wire]
    act = features.activity[:, wire]
    calm = _table(act, {QUIET: 0.70, NOISY: 0.20, TRAFFIC: 0.05, HUM: 0.01})
    middle = np.where((v > 1.2) & (v < 4.3), 1.0, 0.02)
    asleep = np.maximum(middle, fit(v, 0.03, 0.15))
    awake = table.key_in("run", "start") == 1
    return float((calm + np.log(np.where(awake, middle, asleep))) @ table.weight)


def _bursts(table: Table, data: F64, emission: Emissions) -> float:
    """Traffic for a moment after the key is turned to run, one steady level otherwise."""
    live = table.key_in("run", "start")
    fresh = live.copy()
    fresh[1:] = np.where(live[:-1] == 1, 0.0, live[1:])
    burst = float((data * (fresh > 0)) @ table.weight)
    return burst + _constant(table, emission, fresh == 0)


def _squib(table: Table, features: Features, wire: int) -> F64:
    """A firing circuit or sensor of the airbags: near ground, a volt or three once awake."""
    v = features.level_V[:, wire]
    act = features.activity[:, wire]
    quiet = _table(act, {QUIET: 0.75, NOISY: 0.08, PULSE: 0.06, TRAFFIC: 0.06})
    asleep = np.maximum(fit(v, 0.03, 0.15), 0.1)
    awake = np.maximum(0.4 * fit(v, 0.05, 0.2), np.where((v > 0.3) & (v < 4.3), 0.9, 0.03))
    on = table.key_in("run", "start")
    level = np.where(on == 1, awake, np.where(on == 0, asleep, 0.5 * asleep + 0.5 * awake))
    return np.asarray(quiet + np.log(level))


def _free(emission: Emissions, weight: F64) -> float:
    """Something that changes its level now and then for no reason known here."""
    kinds = [K["battery"], K["ground"], K["five"], K["open"], K["pwm"], K["flash"]]
    start = np.log(np.array([0.13, 0.20, 0.08, 0.10, 0.03, 0.02, 0.44]))
    log = np.vstack([emission.log[kinds], emission.anything[None, :]])
    n = len(start)
    stay, leave = np.log(0.90), np.log(0.10 / (n - 1))
    move = np.full((n, n), leave)
    np.fill_diagonal(move, stay)
    forward = start + weight[0] * log[:, 0]
    for s in range(1, log.shape[1]):
        forward = np.logaddexp.reduce(forward[:, None] + move, axis=0) + weight[s] * log[:, s]
    return float(np.logaddexp.reduce(forward))


def _ladder(table: Table, emission: Emissions, weight: F64) -> float | None:
    """One wire whose level tells lock from unlock; None where neither was pressed."""
    lock, unlock = table.hand("lock"), table.hand("unlock")
    if not (lock == 1).any() or not (unlock == 1).any():
        return None
    levels = ("mid1", "mid2", "mid3", "ground")
    best = -np.inf
    rests: Sequence[tuple[str, float]] = (
        ("five", 0.4), ("pulled", 0.25), ("mid1", 0.12), ("mid2", 0.12), ("mid3", 0.11),
    )  # fmt: skip
    at_rest = (lock == 0) & (unlock == 0)
    for rest, share in rests:
        for a in levels:
            for b in levels:
                if len({a, b, rest}) < 3 or _same(emission, (a, b, rest)):
                    continue
                log = np.where(
                    lock == 1,
                    emission.log[K[a]],
                    np.where(unlock == 1, emission.log[K[b]], emission.log[K[rest]]),
                )
                log = np.where(at_rest | (lock == 1) | (unlock == 1), log, emission.anything)
                cost = sum(float(emission.cost[K[k]]) for k in (a, b, rest))
                total = float(log @ weight) + 0.5 * cost + np.log(share / 4.0)
                best = float(np.logaddexp(best, total))
    return best


def _same(emission: Emissions, kinds: Sequence[str]) -> bool:
    """Whether two of the kinds are one level of this wire."""
    fixed = {"ground": 0.0, "five": 5.0, "pulled": 12.5}
    own = {f"mid{k + 1}": v for k, v in enumerate(emission.levels_V)}
    levels = sorted({**fixed, **own}.get(kind, -1.0) for kind in kinds)
    return bool(np.min(np.diff(levels)) < 0.35)


def by_function(scored: Sequence[Scored]) -> list[tuple[str | None, str | None, float]]:
    """Probabilities summed over all behaviours of a function at a level."""
    sums: dict[tuple[str | None, str | None], float] = {}
    for s in scored:
        key = (s.function, s.active if s.function is not None else None)
        sums[key] = sums.get(key, 0.0) + s.probability
    return sorted(((f, a, p) for (f, a), p in sums.items()), key=lambda x: -x[2])
