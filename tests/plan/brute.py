"""Every combination of ways, one after another: what the solver must agree with on small cases.

Written from the words of the rules, without the solver's model: it checks a finished choice as a
whole, by adding up what hangs on what.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import combinations, product

from startwright.plan.joins import share_lead
from startwright.plan.model import Problem
from startwright.plan.outputs import lasting, moments
from startwright.plan.supply import lead_limit
from startwright.plan.way import Way


def choices(problem: Problem) -> Iterator[tuple[Way, ...]]:
    """Every selection of at most one way a need that holds."""
    by_need: dict[str, list[Way | None]] = {}
    for w in problem.ways:
        by_need.setdefault(w.demand, [None]).append(w)
    must = {d.id for d in problem.demands if d.must and d.kind not in ("seen", "tach")}
    options = [
        [w for w in ways if w is not None or need not in must] for need, ways in by_need.items()
    ]
    if any(need not in by_need for need in must):
        return
    for picked in product(*options):
        ways = tuple(w for w in picked if w is not None)
        if holds(problem, ways):
            yield ways


def score(problem: Problem, ways: tuple[Way, ...]) -> tuple[float, ...]:
    """The strict order of the choice, computed from the finished selection."""
    met = {w.demand for w in ways} | ({"tach"} if any(w.by_tach for w in ways) else set())
    shoulds = [d.id for d in problem.demands if not d.must]
    known = {c.id: c.known.how if c.known else "" for c in problem.job.vehicle.circuits}
    relied = {c for w in ways for c in w.relies if known[c] in ("told", "guessed")}
    unit = problem.job.unit
    chosen = {k: v for w in ways for k, v in w.all_settings}
    moved = sum(
        1 for k, v in chosen.items() if (s := unit.setting(k)) is not None and str(s.default) != v
    )
    return (
        sum(1 for s in shoulds if s not in met),
        len(relied),
        sum(len(w.parts) for w in ways),
        round(sum(p.price for w in ways for _, p in w.parts), 2),
        sum(round(w.minutes) for w in ways) + moved,
    )


def holds(problem: Problem, ways: tuple[Way, ...]) -> bool:
    """Whether a selection keeps every rule."""
    unit = problem.job.unit
    names = {w.demand for w in ways}
    parts = Counter(p.id for w in ways for _, p in w.parts)
    if any(n > problem.counts.get(p, 0) for p, n in parts.items()):
        return False
    settings: dict[str, str] = {}
    for w in ways:
        for k, v in w.all_settings:
            if settings.setdefault(k, v) != v:
                return False
    if any(d.kind == "seen" for d in problem.demands) and not any(
        w.shape == "direct" and w.circuit is not None and w.circuit.function == "ignition"
        and {"run", "start"} <= set(w.circuit.live or ())
        and w.uses and w.uses[0].output.does == "ignition"
        for w in ways
    ):  # fmt: skip
        return False
    if any(w.small_A is not None for w in ways) and "small-feed" not in names:
        return False
    small = [w for w in ways if w.demand == "small-feed"]
    for s in small:
        if sum(w.small_A or 0 for w in ways) > 0.75 * (s.parts[0][1].rating_A or 0):
            return False
    hung = defaultdict(list)
    for w in ways:
        for u in w.uses:
            hung[u.output.lead].append((w, u))
    for listed in hung.values():
        if sum(u.amps for _, u in listed) > listed[0][1].output.limit_A:
            return False
        for (wa, a), (wb, b) in combinations(listed, 2):
            if wa is not wb and not share_lead(a.shape, wa.circuit, b.shape, wb.circuit):
                return False
    straight = {
        (u.output.lead, w.circuit.id)
        for w in ways
        for u in w.uses
        if w.shape == "direct" and w.circuit is not None
    }
    for w in ways:
        if any(not straight & {(lead, c) for c in group} for lead, group in w.beside):
            return False
    return _supplied(problem, ways, names) and unit is not None


def _supplied(problem: Problem, ways: tuple[Way, ...], names: set[str]) -> bool:
    unit = problem.job.unit
    feeds = {lead.id: lead for lead in unit.leads if lead.way == "feed"}
    drawn = [
        (u.output.feed, u.output.does, u.amps)
        for w in ways
        for u in w.uses
        if u.output.level == "battery"
    ]
    if any(f"feed-{feed}" not in names for feed, _, _ in drawn):
        return False
    for moment in moments(unit):
        on = {f: sum(a for g, does, a in drawn if g == f and does in moment) for f in feeds}
        for f, lead in feeds.items():
            if on[f] > min(lead_limit(lead.limit_A), lead.fuse_A or 1e9) + 1e-9:
                return False
        for b in problem.job.vehicle.of("battery"):
            through = sum(
                on[w.demand.removeprefix("feed-")]
                for w in ways
                if w.battery == b.id and w.demand.removeprefix("feed-") in feeds
            )
            own = sum(
                w.battery_A
                for w in ways
                if w.battery == b.id and any(u.output.does in moment for u in w.uses)
            )
            if b.fuse_A is not None and through + own > b.fuse_A + 1e-9:
                return False
    for moment in lasting(unit):
        for f, lead in feeds.items():
            amps = sum(a for g, does, a in drawn if g == f and does in moment)
            if lead.fuse_A is not None and amps > 0.75 * lead.fuse_A + 1e-9:
                return False
    return True
