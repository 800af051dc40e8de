"""The choice: which ways together, proven best in a strict order, the same every time.

Hard: every must met once; lead, feed, ground, battery and fuse totals; no lead that joins what must
not be joined; each setting at one value; no more parts than the shelf holds. Then, in strict order:
fewest shoulds unmet, fewest circuits relied on that are only told or guessed, fewest added parts,
cost, minutes; and a fixed order of the ways where all of that is equal.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from startwright.plan.answer import Score
from startwright.plan.model import Built, Problem, build, total
from startwright.plan.way import SETTING_MINUTES, Way

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

SEED = 7
MOST_EFFORT = 6.0
"""Effort after which a choice ends with the best found, counted in work done and not in seconds,
so that the answer is the same on every machine. Ordinary cars and units take a hundredth of one."""
MANY = 1000
"""Ways above which any choice that holds is looked for first, to begin from."""
WEIGHT_ROOM = 2**50
"""Largest packed weight that is solved in one go; above it the order is solved in two."""


class Unfinished(RuntimeError):
    """The choice ended before it found anything or knew that there is nothing."""


@dataclass(frozen=True)
class Choice:
    """The ways chosen, the settings they stand on, and the score."""

    ways: tuple[Way, ...]
    settings: dict[str, str]
    unmet: tuple[str, ...]
    score: Score
    proven: bool = True
    """Whether it is proven to be the best; a very large choice may end as the best found."""


def _ranks(problem: Problem) -> list[int]:
    """A fixed order among the ways of each need, to choose by where all else is equal.

    Ways that hang on no setting come first, then in the order of the records.
    """
    seen: dict[str, int] = defaultdict(int)
    out = [0] * len(problem.ways)
    for i in sorted(range(len(out)), key=lambda i: (len(problem.ways[i].all_settings), i)):
        demand = problem.ways[i].demand
        out[i] = seen[demand]
        seen[demand] += 1
    return out


def _spread(built: Built) -> tuple[Any, int] | None:
    """The most supplies that hang on one battery wire: fewer is better where all else is equal."""
    p, model = built.problem, built.model
    on: dict[str, list[int]] = defaultdict(list)
    for i, w in enumerate(p.ways):
        if w.battery is not None:
            on[w.battery].append(i)
    if len(on) < 2:
        return None
    demands = len({w.demand for w in p.ways if w.battery is not None})
    most = model.new_int_var(0, demands, "most supplies on one battery wire")
    for indices in on.values():
        model.add(total(built, indices) <= most)
    return most, demands


def _changed(built: Built) -> list[Any]:
    """The settings that are taken from their default: each costs the fitter a minute."""
    unit = built.problem.job.unit
    out = []
    for (name, value), y in built.settings.items():
        setting = unit.setting(name)
        if setting is not None and str(setting.default) != value:
            out.append(y)
    return out


def terms_of(built: Built) -> list[tuple[Any, int]]:
    """The parts of the score in strict order, each with the largest value it can take."""
    p = built.problem
    largest: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    rank = _ranks(p)
    numbers = {
        "parts": [len(w.parts) for w in p.ways],
        "cents": [w.cents for w in p.ways],
        "minutes": [round(w.minutes) for w in p.ways],
        "rank": rank,
    }
    for name, values in numbers.items():
        for w, v in zip(p.ways, values, strict=True):
            largest[name][w.demand] = max(largest[name][w.demand], v)
    out: list[tuple[Any, int]] = [
        (sum(built.unmet.values()), len(built.unmet)),
        (sum(built.unsure.values()), len(built.unsure)),
    ]
    for name in ("parts", "cents", "minutes", "rank"):
        amount: Any = sum(v * built.x[i] for i, v in enumerate(numbers[name]) if v)
        room = sum(largest[name].values())
        if name == "minutes":
            changed = _changed(built)
            amount, room = amount + round(SETTING_MINUTES) * sum(changed), room + len(changed)
        if name == "rank":
            spread = _spread(built)
            if spread is not None:
                out.append(spread)
        out.append((amount, room))
    return out


def solver() -> cp_model.CpSolver:
    """A solver that gives the same answer every time: one worker, a fixed seed."""
    from ortools.sat.python import cp_model

    s = cp_model.CpSolver()
    s.parameters.num_workers = 1
    s.parameters.random_seed = SEED
    s.parameters.linearization_level = 2
    s.parameters.max_deterministic_time = MOST_EFFORT
    return s


def choose(problem: Problem, forbidden: Sequence[Sequence[str]] = ()) -> Choice | None:
    """The best choice, proven; None where there is none.

    Parameters
    ----------
    problem : Problem
        What is to be chosen from.
    forbidden : sequence of sequence of str
        Choices already told, each as the kin of its ways: at least one of them must differ.

    Returns
    -------
    Choice or None
    """
    from ortools.sat.python import cp_model

    built = build(problem)
    for kin in forbidden:
        _forbid(built, kin)
    terms = terms_of(built)
    proven = True
    groups = [terms] if _room(terms) <= WEIGHT_ROOM else [terms[:3], terms[3:]]
    s = solver()
    if len(problem.ways) > MANY:
        status = s.solve(built.model)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            for variable in built.x:
                built.model.add_hint(variable, s.boolean_value(variable))
    for group in groups:
        weight = pack(group)
        built.model.minimize(weight)
        status = s.solve(built.model)
        if status == cp_model.INFEASIBLE:
            return None
        if status == cp_model.UNKNOWN:
            raise Unfinished(f"the choice among {len(problem.ways)} ways did not finish")
        proven = proven and status == cp_model.OPTIMAL
        if group is not groups[-1]:
            built.model.add(weight == round(s.objective_value))
    return _read(built, s, proven)


def _room(terms: list[tuple[Any, int]]) -> int:
    room = 1
    for _, largest in terms:
        room *= largest + 1
    return room


def pack(terms: list[tuple[Any, int]]) -> Any:
    """One weight in which every term outweighs all that follow."""
    weight: Any = 0
    for term, largest in terms:
        weight = weight * (largest + 1) + term
    return weight


def _forbid(built: Built, kin: Sequence[str]) -> None:
    groups: dict[str, list[Any]] = defaultdict(list)
    for i, w in enumerate(built.problem.ways):
        groups[w.kin].append(built.x[i])
    told = set(kin)
    same = [sum(groups[k]) for k in kin if k in groups]
    others = [v for k, xs in groups.items() if k not in told for v in xs]
    # an equal set of kin is told already: one of it must go or another must come
    built.model.add(sum(same) - sum(others) <= len(same) - 1)


def _read(built: Built, s: cp_model.CpSolver, proven: bool) -> Choice:
    p = built.problem
    ways = tuple(w for i, w in enumerate(p.ways) if s.boolean_value(built.x[i]))
    settings = {k: v for w in ways for k, v in w.all_settings}
    unmet = tuple(d for d, v in built.unmet.items() if s.boolean_value(v))
    unsure = {c for w in ways for c in w.relies if c in built.unsure}
    score = Score(
        unmet=len(unmet),
        unsure=len(unsure),
        parts=sum(len(w.parts) for w in ways),
        cost=round(sum(w.cents for w in ways) / 100, 2),
        minutes=sum(round(w.minutes) for w in ways)
        + round(SETTING_MINUTES) * sum(s.boolean_value(y) for y in _changed(built)),
    )
    return Choice(ways, dict(sorted(settings.items())), unmet, score, proven)
