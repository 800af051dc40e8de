"""Single faults, appearing at any time: what each breaks at worst, and whether anyone would notice.

The failure modes are those of IEC 60812; how a fault is judged stands in `judge`.
"""

from __future__ import annotations

from collections.abc import Callable

from startwright.car.build import Car
from startwright.car.faults import Fault, faults_of
from startwright.prove.judge import RANK, Judge
from startwright.prove.model import Model
from startwright.prove.search import Searched
from startwright.records.reports import FaultResult


def single_faults(
    healthy: Model,
    searched: Searched,
    progress: Callable[[int], bool] = lambda done: True,
    *,
    judge: Judge | None = None,
) -> list[FaultResult] | None:
    """Every single fault of a wiring, the worst first; None where it was stopped before the end.

    Parameters
    ----------
    healthy : Model
    searched : Searched
        The finished search without faults.
    progress : callable
        Called before each fault with the number looked at so far; False stops.
    judge : Judge, optional
        Of this wiring, where there is one.
    """
    judge = judge or Judge(healthy, searched)
    out: list[FaultResult] = []
    for result in judge.results(all_faults(healthy.car), progress):
        if result is None:
            return None
        out.append(result)
    return sorted(out, key=lambda r: (RANK[r.worst], r.noticed))


def all_faults(car: Car) -> list[Fault]:
    """Every single fault of what is fitted."""
    outs = [d.id for d in car.unit.out_leads if d.id in car.unit.wired]
    return faults_of(car.wiring, car.parts, outs)


def fault_named(car: Car, text: str) -> Fault | None:
    """The fault of a scenario's action (``r7 open``), where the wiring has it."""
    return next((f for f in all_faults(car) if str(f) == text), None)
