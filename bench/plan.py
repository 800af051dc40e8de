"""The choice beside its peers, in one run: ratios, not times.

    python bench/plan.py

Every example, a crowded made-up car, and small cases on which every selection can be tried. The
peers: the same model with the solver's own settings, one objective after another instead of one
packed weight, and plain search through every selection.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

sys.path.remove(str(Path(__file__).resolve().parent))  # where `plan` would be this file
sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from plan.brute import choices, score
from plan.cars import full_stock, hand, job, key_fed, power, unit, vehicle

from startwright.plan import Mend, plan
from startwright.plan.choose import choose, pack, solver, terms_of
from startwright.plan.model import Problem, build
from startwright.plan.needs import needs_of
from startwright.plan.nogo import core_of
from startwright.plan.problem import problem_of
from startwright.records import WholeJob
from startwright.records.read import read_job


def best(work: Callable[[], object], times: int = 5) -> float:
    """Least seconds of several runs, after one that is not counted."""
    work()
    least = np.inf
    for _ in range(times):
        start = time.perf_counter()
        work()
        least = min(least, time.perf_counter() - start)
    return float(least)


def problem(j: WholeJob) -> Problem:
    return problem_of(j, needs_of(j), Mend())[0]


def default_settings(p: Problem) -> None:
    """One worker and a fixed seed, all else as the solver comes."""
    from ortools.sat.python import cp_model

    built = build(p)
    built.model.minimize(pack(terms_of(built)))
    s = cp_model.CpSolver()
    s.parameters.num_workers = 1
    s.parameters.random_seed = 7
    s.solve(built.model)


def one_after_another(p: Problem) -> None:
    """Each part of the order minimised, then held."""
    built = build(p)
    for term, largest in terms_of(built):
        if not largest:
            continue
        built.model.minimize(term)
        s = solver()
        s.solve(built.model)
        built.model.add(term == round(s.objective_value))


def by_hand(p: Problem) -> Any:
    """Every selection, the best kept."""
    return min((score(p, w) for w in choices(p)), default=None)


def crowded() -> WholeJob:
    """Seven key-fed circuits, sides, two setting outputs, few relays."""
    car = vehicle(
        key_fed("ign_2", "ignition", ["run"], load_A=9.0),
        key_fed("ign_3", "ignition", ["run", "start"], load_A=6.0),
        key_fed("acc_2", "accessory", ["accessory", "run"], load_A=5.0),
        key_fed("starter_2", "starter", ["start"], load_A=3.0, interlock="downstream"),
        hand("left", "parking_light", "battery", 1.5, side="left"),
        hand("right", "parking_light", "battery", 1.5, side="right"),
        hand("horn", "horn", "battery", 4.0),
        drop=("lamps", "hood"),
    )
    box = unit(
        power("flex_a", "ignition", "accessory", "starter", feed="feed_2", limit_A=20),
        power("flex_b", "ignition", "accessory", "starter", feed="feed_1", limit_A=15),
    )
    wants = ("remote_start", "lock_unlock", "light_flash", "horn_chirp", "panic")
    return job(car, box, full_stock(relay=3), wants)


def tiny() -> list[Problem]:
    """Cases of a few thousand selections."""
    out = []
    for loads in ((9.0, 8.0), (18.0, 8.0), (9.0, 18.0)):
        car = vehicle(
            key_fed("ign_1", "ignition", ["run", "start"], load_A=loads[0]),
            key_fed("acc_1", "accessory", ["accessory", "run"], load_A=loads[1]),
            drop=("lamps", "horn", "lock", "unlock", "batt_2"),
        )
        p = problem(job(car))
        size = 1
        for d in {w.demand for w in p.ways}:
            size *= 1 + len(p.of(d))
        if size < 300_000:
            out.append(p)
    return out


def main() -> None:
    folder = Path(str(files("startwright.example"))) / "jobs"
    jobs = {
        name: read_job(folder / f"{name}.yaml")
        for name in ("plain", "two-starters", "two-starters-small-unit", "transponder")
    }
    jobs["crowded"] = crowded()
    print(
        f"{'job':26} {'ways':>5} {'plan':>9} {'choice':>9}   default settings, one by one: × choice"
    )
    for name, j in jobs.items():
        p = problem(j)
        whole = best(lambda j=j: plan(j))
        ours = best(lambda p=p: choose(p))
        other = best(lambda p=p: default_settings(p))
        serial = best(lambda p=p: one_after_another(p))
        print(
            f"{name:26} {len(p.ways):5} {1000 * whole:6.1f} ms {1000 * ours:6.1f} ms   "
            f"{other / ours:4.1f} ×   {serial / ours:4.1f} ×"
        )
    print()
    for p in tiny():
        ours = best(lambda p=p: choose(p))
        plain = best(lambda p=p: by_hand(p), times=1)
        found = choose(p)
        assert found is not None
        assert by_hand(p) == found.score.order
        print(
            f"every selection of {len(p.ways)} ways: {1000 * plain:.0f} ms, "
            f"{plain / ours:.0f} × the choice's {1000 * ours:.1f} ms; both find {found.score.order}"
        )
    j = job(vehicle(hand("lamps", "parking_light", "ground", 0.2),
                    hand("horn", "horn", "battery", 4.0)), shelf=full_stock(relay=1),
            wants=("remote_start", "light_flash", "horn_chirp"))  # fmt: skip
    p = problem(j)
    core = best(lambda: core_of(p))
    print(
        f"\nan irreducible core of {len(core_of(p))} among {len(p.ways)} ways: {1000 * core:.1f} ms"
    )


if __name__ == "__main__":
    main()
