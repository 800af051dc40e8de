"""Seconds and states of `prove` on each example, beside a plain Python search of the same wiring.

Run with ``make bench`` or ``python bench/states.py``. Ratios hold better than seconds.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from prove.naive import Naive

import startwright.example
from startwright.car.build import wire_up
from startwright.plan import NoPlan, plan
from startwright.prove import prove
from startwright.prove.explore import explore
from startwright.prove.model import Model
from startwright.records.read import read_job, read_wiring


def main() -> None:
    shop = startwright.example.path()
    print(f"{'job':28} {'states':>8} {'plan s':>8} {'prove s':>8} {'search s':>9} {'again s':>8}")
    for file in sorted((shop / "jobs").glob("*.yaml")):
        job = read_job(file)
        began = time.perf_counter()
        planned = plan(job)
        planning = time.perf_counter() - began
        if isinstance(planned, NoPlan):
            print(f"{job.id:28} {'refused':>8} {planning:8.3f}")
            continue
        report = prove(job, planned.wiring)
        model = Model(wire_up(job, planned.wiring))
        first = _timed(model)
        again = _timed(model)
        print(
            f"{job.id:28} {report.states:8d} {planning:8.3f} {report.seconds:8.3f} "
            f"{first:9.3f} {again:8.3f}"
        )
    print("\nagainst the naive explorer (plain Python, the same reaction), one run:")
    for name in ("nothing-wrong", "crossed-locks"):
        folder = shop / "bestiary"
        job = read_job(folder / f"{name}.job.yaml")
        car = wire_up(job, read_wiring(folder / f"{name}.wiring.yaml"))
        began = time.perf_counter()
        theirs = len(Naive(car).reachable())
        slow = time.perf_counter() - began
        model = Model(car)
        fast = min(_timed(model) for _ in range(3))
        print(
            f"{name:28} naive {theirs} states {slow:.2f} s, ours {fast:.4f} s: {slow / fast:.0f}×"
        )


def _timed(model: Model) -> float:
    began = time.perf_counter()
    explore(model)
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
