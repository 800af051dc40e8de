"""From a job to what is chosen from: the needs, every way to meet each, the shelf."""

from __future__ import annotations

from collections.abc import Iterable

from startwright.plan.answer import Mend
from startwright.plan.borrow import borrow_ways
from startwright.plan.cut import cut_ways
from startwright.plan.demand import Demand, Needs
from startwright.plan.engine import engine_ways
from startwright.plan.imitate import foot_ways
from startwright.plan.keyed import key_ways
from startwright.plan.model import Problem
from startwright.plan.pins import interface_ways
from startwright.plan.senses import sense_ways
from startwright.plan.supply import feed_ways, ground_ways, small_ways
from startwright.plan.way import Found, Way, bench_of
from startwright.plan.ways import armed_ways, output_ways
from startwright.records.job import WholeJob
from startwright.records.stock import Part


def problem_of(
    job: WholeJob, needs: Needs, mend: Mend, extra: tuple[Part, ...] = ()
) -> tuple[Problem, Found]:
    """Every way of meeting every need, and why other ways will not do.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit, stock.
    needs : Needs
        What is to be met.
    mend : Mend
        Ways that are forbidden, and least fuses.
    extra : tuple of Part
        Parts that are wished for and not on the shelf.

    Returns
    -------
    Problem, Found
    """
    bench = bench_of(job, mend, extra)
    found = Found()
    for d in needs.demands:
        if d.kind in ("fed", "worked"):
            output_ways(bench, d, found)
            if d.kind == "fed":
                borrow_ways(bench, d, found)
        elif d.kind == "sensed":
            sense_ways(bench, d, found)
        elif d.kind == "engine":
            engine_ways(bench, d, found)
        elif d.kind == "interface":
            interface_ways(bench, d, found)
            if d.sense == "resistor_key":
                key_ways(bench, d, found)
        elif d.kind == "foot":
            foot_ways(bench, d, found)
        elif d.kind == "cut":
            cut_ways(bench, d, found)
        elif d.kind == "armed":
            armed_ways(bench, d, found)
        elif d.kind == "ground":
            ground_ways(d, found)
        elif d.kind == "feed":
            feed_ways(bench, d, found)
    for lead in job.unit.leads:
        if lead.way == "feed" and lead.id != job.unit.logic_from:
            feed_ways(bench, feed_demand(lead.id), found)
    small_ways(bench, found)
    forbidden = set(mend.forbid)
    ways = _worth(w for w in found.ways if w.key not in forbidden and w.kin not in forbidden)
    counts = {part.id: part.count for part in job.stock.parts}
    return Problem(job, needs.demands, ways, counts), found


def _worth(ways: Iterable[Way]) -> tuple[Way, ...]:
    """Leave out diodes that isolate a circuit from nothing: on a lead that serves one need."""
    kept = list(ways)
    wanted: dict[str, set[str]] = {}
    for w in kept:
        for use in w.uses:
            wanted.setdefault(use.output.lead, set()).add(w.demand)
    return tuple(w for w in kept if w.shape != "diode" or len(wanted[w.uses[0].output.lead]) > 1)


def feed_demand(lead: str) -> Demand:
    """The need for a feed lead beside the logic's: only where an output in use is fed by it."""
    return Demand(
        f"feed-{lead}",
        "feed",
        f"battery feed for {lead}",
        "outputs in use are fed by this lead",
        must=False,
        lead=lead,
    )
