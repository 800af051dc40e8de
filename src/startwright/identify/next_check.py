"""What to measure next: the action and wire with the most expected information per minute."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from startwright.identify.actions import parse
from startwright.identify.behaviours import Behaviour
from startwright.identify.checks import CHECKS, PROBE_s, TEST_LOAD_s
from startwright.identify.patterns import DEAD
from startwright.identify.places import NEVER, hints, never_touched
from startwright.identify.posterior import Scored
from startwright.identify.report import NextCheck, WireVerdict
from startwright.identify.segments import Table
from startwright.identify.situations import situate
from startwright.records.recordings import WirePlace

SYMBOLS = ("battery voltage", "0 V", "5 V", "in between", "nothing (drifts)", "moving")
"""What a digital meter can show, as far as the model tells it apart."""

_SHOWS = {"battery": 0, "pulled": 0, "ground": 1, "low": 3, "five": 2, "open": 4, "strobe": 5,
          "pwm": 5, "flash": 5, "mid1": 3, "mid2": 3, "mid3": 3,
          "lit": 3}  # fmt: skip

SURPRISE = 0.06
"""Share of readings that show what no model expects."""

MOST_CHECKS = 12
ENOUGH = 0.97
"""A wire this certain needs no more checks."""


def next_checks(
    scored: Mapping[str, Sequence[Scored]],
    verdicts: Sequence[WireVerdict],
    places: Mapping[str, WirePlace] | None = None,
    *,
    done: Mapping[str, Collection[frozenset[str]]] | None = None,
    only: Collection[str] | None = None,
) -> list[NextCheck]:
    """Checks in the order of expected information per minute.

    Parameters
    ----------
    scored : mapping
        Hypotheses of each wire with their probabilities.
    verdicts : sequence of WireVerdict
        What is said of each wire so far; those to be left alone get no check.
    places : mapping, optional
        Where each wire is.
    done : mapping, optional
        For each wire the actions under which it was already measured with a digital meter.
    only : collection of str, optional
        Functions that are needed; wires that are surely none of them are passed over.

    Returns
    -------
    list of NextCheck
        Most information per minute first; ``gain_bits`` is the mutual information between the
        function of the wire and what the meter will show.
    """
    actions = list(CHECKS)
    table = situate(actions)
    states = {id(b): b.pattern(table) for b in _all(scored)}
    found: list[tuple[float, NextCheck]] = []
    for verdict in verdicts:
        name = verdict.wire
        if name not in scored or verdict.leave_alone:
            continue
        if never_touched((places or {}).get(name)) is not None:
            continue
        if verdict.function is not None and verdict.probability >= ENOUGH:
            continue
        hypotheses = [s for s in scored[name] if s.probability > 1e-3]
        if only is not None and not any(s.function in only for s in hypotheses):
            continue
        seen = {actions - {"key off"} for actions in (done or {}).get(name, ())}
        best = [
            _check(name, list(actions[row]), hypotheses, states, row)
            for row in range(len(actions))
            if frozenset(actions[row]) not in seen
        ]
        load = _under_load(name, hypotheses, (places or {}).get(name))
        if load is not None:
            best.append(load)
        best = [c for c in best if c.gain_bits > 0.01]
        found += [(c.gain_bits / c.seconds * 60.0, c) for c in best]
    found.sort(key=lambda pair: -pair[0])
    kept: list[NextCheck] = []
    per_wire: dict[str, int] = {}
    for _, check in found:
        if per_wire.get(check.wire, 0) < 3:
            per_wire[check.wire] = per_wire.get(check.wire, 0) + 1
            kept.append(check)
        if len(kept) == MOST_CHECKS:
            break
    return kept


def observed(table: Table) -> set[frozenset[str]]:
    """The checks whose situation a recording already shows."""
    found: set[frozenset[str]] = set()
    for actions in CHECKS:
        rows = np.ones(len(table), dtype=bool)
        if not actions:
            rows &= ~np.any([v == 1 for v in table.hands.values()], axis=0)
        if not any(parse(action)[0] in ("key", "engine") for action in actions):
            rows &= table.key_in("out", "off") == 1
        for action in actions:
            what, to = parse(action)
            if what == "key":
                rows &= table.key_in(to) == 1
                if to == "start":
                    rows &= table.crank == 1
            elif what == "engine":
                rows &= table.engine == 1
            else:
                rows &= table.hand("drive" if what == "shift" else what) == 1
        if rows.any():
            found.add(frozenset(actions))
    return found


def _all(scored: Mapping[str, Sequence[Scored]]) -> list[Behaviour]:
    return [s.behaviour for wires in scored.values() for s in wires if s.behaviour is not None]


def _shown(hypothesis: Scored, state: float | None, engine: bool) -> list[float]:
    """Chance of each symbol under one hypothesis."""
    chance = np.full(len(SYMBOLS), SURPRISE / len(SYMBOLS))
    if hypothesis.behaviour is not None and state is not None:
        on = _SHOWS.get(hypothesis.on, 3)
        rest = _SHOWS.get(hypothesis.rest, 3)
        share = max(float(state), 0.0)
        if state == DEAD:
            rest = _SHOWS["ground"]
        chance[on] += (1 - SURPRISE) * share
        chance[rest] += (1 - SURPRISE) * (1 - share)
    elif hypothesis.function == "tach":
        chance[5 if engine else 0] += (1 - SURPRISE) * (0.9 if engine else 0.5)
        chance[1] += (1 - SURPRISE) * (0.1 if engine else 0.5)
    elif hypothesis.function == "data":
        chance += (1 - SURPRISE) * np.array([0.15, 0.1, 0.1, 0.25, 0.05, 0.35])
    else:
        chance += (1 - SURPRISE) / len(SYMBOLS)
    return [float(c) for c in chance / chance.sum()]


def _group(hypothesis: Scored) -> str:
    if hypothesis.function is None:
        return "something else"
    return hypothesis.function.replace("_", " ")


def _information(groups: Mapping[str, tuple[float, list[float]]]) -> float:
    """Mutual information in bits between the group and the symbol."""
    total = sum(p for p, _ in groups.values())
    if total <= 0:
        return 0.0
    mixed = np.zeros(len(next(iter(groups.values()))[1]))
    inner = 0.0
    for p, chance in groups.values():
        q = np.asarray(chance)
        mixed += p / total * q
        inner -= p / total * float((q * np.log2(np.maximum(q, 1e-12))).sum())
    return max(0.0, -float((mixed * np.log2(np.maximum(mixed, 1e-12))).sum()) - inner)


def _grouped(
    hypotheses: Sequence[Scored], shown: Sequence[list[float]]
) -> dict[str, tuple[float, list[float]]]:
    groups: dict[str, tuple[float, list[float]]] = {}
    for hypothesis, chance in zip(hypotheses, shown, strict=True):
        name = _group(hypothesis)
        p, old = groups.get(name, (0.0, [0.0] * len(chance)))
        q = hypothesis.probability
        groups[name] = (
            p + q,
            [(p * a + q * b) / (p + q) for a, b in zip(old, chance, strict=True)],
        )
    return groups


def _check(
    name: str,
    do: list[str],
    hypotheses: Sequence[Scored],
    states: Mapping[int, np.ndarray[tuple[int], np.dtype[np.float64]]],
    row: int,
) -> NextCheck:
    engine = "engine starts" in do
    shown = [
        _shown(h, float(states[id(h.behaviour)][row]) if h.behaviour is not None else None, engine)
        for h in hypotheses
    ]
    groups = _grouped(hypotheses, shown)
    gain = _information(groups)
    candidates = _candidates(groups, SYMBOLS)
    return NextCheck(
        do=do if any(parse(a)[0] in ("key", "engine") for a in do) else ["key off", *do],
        wire=name,
        expected="; ".join(f"{who}: {what}" for who, what in candidates.items()),
        gain_bits=round(gain, 4),
        seconds=PROBE_s + CHECKS[tuple(do)],
        candidates=candidates,
        caution=_caution(do),
    )


def _candidates(
    groups: Mapping[str, tuple[float, list[float]]], symbols: Sequence[str]
) -> dict[str, str]:
    likely = sorted(groups.items(), key=lambda item: -item[1][0])[:4]
    return {
        who: " or ".join(symbols[i] for i in np.argsort(chance)[::-1][:2] if chance[int(i)] > 0.3)
        or "anything"
        for who, (p, chance) in likely
        if p > 0.01
    }


def _caution(do: Sequence[str]) -> str | None:
    if "key start" in do or "engine starts" in do:
        return "the engine will turn: in park or neutral, brake held, hands and leads clear"
    if "key run" in do and any(a.startswith("shift drive") for a in do):
        return "engine not running, brake held, wheels chocked"
    return None


def _under_load(
    name: str, hypotheses: Sequence[Scored], place: WirePlace | None
) -> NextCheck | None:
    """A test lamp tells a feed from an unloaded pull-up; never where it could do harm."""
    danger = sum(h.probability for h in hypotheses if h.function in (*NEVER, "immobilizer"))
    if danger > 0.05 and hints(place).get("battery", 1.0) <= 1.0:
        return None
    symbols = ("lights", "stays dark")
    lit = [h for h in hypotheses if h.behaviour is not None and h.function in ("battery",)]
    if not lit:
        return None
    shown = []
    for h in hypotheses:
        p = 0.97 if h.function == "battery" else 0.03 if h.rest == "pulled" else 0.5
        shown.append([p, 1 - p])
    groups = _grouped(hypotheses, shown)
    candidates = _candidates(groups, symbols)
    return NextCheck(
        do=["key off"],
        wire=name,
        expected="; ".join(f"{who}: {what}" for who, what in candidates.items()),
        gain_bits=round(_information(groups), 4),
        seconds=TEST_LOAD_s,
        candidates=candidates,
        meter="test load",
        caution="21 W lamp to ground, only on a wire that is no airbag and no data line",
    )
