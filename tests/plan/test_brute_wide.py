"""The choice among the rarer ways against every combination of them, one after another."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from typing import Any

import pytest
from plan.brute import choices, holds, score
from plan.cars import (
    PRESSES,
    RELAY,
    button_car,
    button_unit,
    commands,
    fuse,
    hand,
    interface,
    job,
    key_lines,
    ohm,
    power,
    pump,
    small,
    stock,
    unit,
    vehicle,
)

from startwright.plan import Mend, NoPlan, plan
from startwright.plan.choose import choose
from startwright.plan.model import Problem
from startwright.plan.needs import needs_of
from startwright.plan.press import hows
from startwright.plan.problem import problem_of
from startwright.records import WholeJob

MOST = 60_000
KEPT = ("batt_1", "ign_1", "starter_1", "tach", "park", "hood", "brake", "brake_2", "button",
        "key_1", "key_2", "lock", "unlock")  # fmt: skip
DEAR = {**RELAY, "id": "dear", "price": 9.0}
DIODE = {"id": "diode", "kind": "diode", "forward_A": 1, "reverse_V": 400, "price": 0.6,
         "count": 1}  # fmt: skip


def _shelf(r: random.Random) -> dict[str, Any]:
    parts = [
        {**RELAY, "count": r.choice([1, 2, 3, 6])},
        fuse(r.choice([5, 10])),
        *r.sample([DIODE, DEAR, fuse(1)], r.choice([1, 2, 3])),
        *(ohm(v) for v in r.sample([390, 750, 1100, 1200], 2)),
    ]
    if r.random() < 0.4:
        parts.append(interface("resistor_key"))
    return stock(*parts)


def _small(seed: int) -> WholeJob:
    """A job small enough to try every selection of, with a new way or two in it."""
    r = random.Random(seed)
    car, box, wants = vehicle(), unit(), ["remote_start"]
    if r.random() < 0.6:
        car = button_car(*([hand("brake_2", "brake", "ground", 0.1)] if r.random() < 0.3 else []))
        signal = "ignition_signal"
        steps = [{**s, "drives": [*s["drives"], *([signal] if "brake" in s["drives"] else [])]}
                 for s in PRESSES]  # fmt: skip
        ending = {"drives": ["start_button", signal], "pulse_s": 0.5}
        more = [small("hide", signal, suppressed=True)] if r.random() < 0.5 else []
        if r.random() < 0.4:
            more.append(power("foot", "brake", limit_A=8))
        box = button_unit(*more, sequence=steps, ending=ending)
    else:
        wants = ["lock_unlock"]
        car = vehicle(
            pump("lock", *r.sample(["ground", "battery"], 2), pulse_s=3.0),
            pump("unlock", "ground", "battery", pulse_s=r.choice([0.5, 3.0])),
        )
        box = unit(small("lock", "lock", suppressed=r.random() < 0.5),
                   commands=commands(r.choice([0.8, 3.5]), 3.5))  # fmt: skip
        box["settings"].append({"id": "lock_time", "default": 0.8, "sets": "commands.lock.pulse_s",
                                "values": {"min": 0.8, "max": 4, "step": 0.4}})  # fmt: skip
    if wants == ["remote_start"] and r.random() < 0.5:
        car["immobilizer"] = {"kind": "resistor_key", "key_ohm": 1130}
        car["circuits"] += key_lines(r.choice([1, 2]))
    car["circuits"] = [c for c in car["circuits"] if c["id"] in KEPT]
    box["leads"] = [d for d in box["leads"] if d["id"] not in ("feed_2", "lamps", "horn", "acc")]
    return job(car, box, _shelf(r), tuple(wants))


def _size(problem: Problem) -> int:
    size = 1
    for n in Counter(w.demand for w in problem.ways).values():
        size *= 1 + n
    return size


def _problems(seed: int) -> list[Problem]:
    j = _small(seed)
    every = [problem_of(j, n, Mend())[0] for how in hows(j) if not (n := needs_of(j, how)).refusals]
    return [p for p in every if _size(p) <= MOST]


def test_brute_force_agrees_on_the_rarer_ways():
    shapes: Counter[str] = Counter()
    none = 0
    for seed in range(60):
        for problem in _problems(seed):
            best = min((score(problem, w) for w in choices(problem)), default=None)
            answer = choose(problem)
            assert (answer is None) == (best is None), seed
            if answer is None:
                none += 1
                continue
            assert holds(problem, answer.ways), seed
            assert answer.score.order == pytest.approx(best), seed
            shapes.update(w.shape for w in answer.ways)
    assert shapes["foot"] >= 5
    assert shapes["key"] >= 2
    assert shapes["cut"] >= 4
    assert none >= 3


def _both(r: random.Random) -> WholeJob:
    """A push-button car and a unit that can feed it and can press."""
    more = {0: [], 1: [], 2: ["ignition", "starter"], 3: ["ignition"]}
    steps = [{**s, "drives": [*s["drives"], *more[k]]} for k, s in enumerate(PRESSES)]
    box = button_unit(sequence=steps)
    box["leads"] = [d for d in box["leads"] if d["id"] not in ("feed_2", "lamps", "horn")]
    box["leads"] += [
        power("ign", "ignition", limit_A=r.choice([1, 25])),
        power("start", "starter", limit_A=r.choice([1, 25])),
    ]
    car = button_car()
    car["circuits"] = [c for c in car["circuits"] if c["id"] in KEPT]
    shelf = stock(
        {**RELAY, "count": r.choice([0, 1, 2, 3])}, fuse(15), DIODE,
        *([DEAR] if r.random() < 0.5 else []),
    )  # fmt: skip
    return job(car, box, shelf)


def test_brute_force_agrees_on_which_of_the_two_ways_past_the_button():
    taken: Counter[str] = Counter()
    for seed in range(24):
        j = _both(random.Random(seed))
        assert hows(j) == ("fed", "imitated")
        best: dict[str, tuple[float, ...]] = {}
        for how in hows(j):
            problem, _ = problem_of(j, needs_of(j, how), Mend())
            assert _size(problem) <= 50 * MOST
            found = min((score(problem, w) for w in choices(problem)), default=None)
            if found is not None:
                best[how] = found
        answer = plan(j)
        if isinstance(answer, NoPlan):
            assert not best
            taken["none"] += 1
            continue
        assert answer.score.order == pytest.approx(min(best.values()))
        pressed = any("vehicle.button" in run.ends for run in answer.wiring.runs)
        taken["imitated" if pressed else "fed"] += 1
    assert all(taken[w] for w in ("none", "fed", "imitated")), taken


def test_a_choice_that_breaks_a_rule_does_not_hold():
    """What the brute force goes by can fail: two things hung straight on the pressing lead."""
    j = job(button_car(), button_unit())
    problem, _ = problem_of(j, needs_of(j, "imitated"), Mend())
    answer = choose(problem)
    assert answer is not None
    diode = next(w for w in answer.ways if w.demand == "press-button")
    assert diode.shape == "diode"
    straight = next(w for w in problem.ways if w.demand == "press-button" and w.shape == "direct")
    swapped = tuple(straight if w is diode else w for w in answer.ways)
    assert holds(problem, answer.ways)
    assert not holds(problem, swapped)
    for gone in itertools.islice((w for w in answer.ways if w.demand == "small-feed"), 1):
        assert not holds(problem, tuple(w for w in answer.ways if w is not gone))
