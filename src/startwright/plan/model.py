"""The model of a choice: which ways may stand together, each constraint under a name.

The names let a choice that cannot be made be told in words (`nogo`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from startwright.plan.demand import Demand
from startwright.plan.joins import share_lead
from startwright.plan.outputs import lasting, moments
from startwright.plan.supply import lead_limit
from startwright.plan.way import FUSE_SHARE, Way
from startwright.records.job import WholeJob

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MILLI = 1000


@dataclass(frozen=True)
class Problem:
    """What is to be chosen from: the needs, the ways, the shelf."""

    job: WholeJob
    demands: tuple[Demand, ...]
    ways: tuple[Way, ...]
    counts: dict[str, int]

    def of(self, demand: str) -> list[int]:
        """The ways of a need, by number."""
        return [i for i, w in enumerate(self.ways) if w.demand == demand]


@dataclass
class Rows:
    """The constraints, each under the name of what it says, so that cores can be told in words."""

    model: cp_model.CpModel
    guarded: bool
    guards: dict[tuple[str, str], Any] = field(default_factory=dict)

    def add(self, name: tuple[str, str], constraint: Any) -> None:
        """Add a linear constraint under a name."""
        row = self.model.add(constraint)
        if self.guarded:
            row.only_enforce_if(self.guard(name))

    def guard(self, name: tuple[str, str]) -> Any:
        """The literal that stands for a named constraint."""
        if name not in self.guards:
            self.guards[name] = self.model.new_bool_var(f"{name[0]}:{name[1]}")
        return self.guards[name]


@dataclass
class Built:
    """The model with its variables."""

    problem: Problem
    model: cp_model.CpModel
    rows: Rows
    x: list[Any]
    settings: dict[tuple[str, str], Any]
    unmet: dict[str, Any]
    unsure: dict[str, Any]
    extra: dict[str, Any]


def build(problem: Problem, *, guarded: bool = False, extra: bool = False) -> Built:
    """Write the model of a problem.

    Parameters
    ----------
    problem : Problem
        What is to be chosen from.
    guarded : bool
        Every constraint hangs on a literal of its name (for cores).
    extra : bool
        The shelf may be exceeded, by the variables `Built.extra` (for what to add).
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    rows = Rows(model, guarded)
    x = [model.new_bool_var(f"w{i}") for i in range(len(problem.ways))]
    built = Built(problem, model, rows, x, {}, {}, {}, {})
    _needs(built)
    _settings(built)
    _leads(built)
    _supply(built)
    _shelf(built, extra)
    _unsure(built)
    return built


def total(built: Built, indices: Iterable[int]) -> Any:
    """How many of these ways are taken."""
    return sum(built.x[i] for i in indices)


def _needs(built: Built) -> None:
    p, model = built.problem, built.model
    for d in p.demands:
        own = p.of(d.id)
        if d.kind == "seen":
            seen = [i for i, w in enumerate(p.ways) if sees_ignition(w)]
            built.rows.add(("need", d.id), total(built, seen) >= 1)
            continue
        if d.kind == "tach":
            own = [i for i, w in enumerate(p.ways) if w.by_tach]
        elif own:
            model.add(total(built, own) <= 1)
        if d.must:
            built.rows.add(("need", d.id), total(built, own) >= 1)
        else:
            unmet = model.new_bool_var(f"unmet {d.id}")
            model.add(total(built, own) + unmet >= 1)
            built.unmet[d.id] = unmet
    for i, w in enumerate(p.ways):
        if w.with_part is not None:
            need, article = w.with_part
            there = [j for j in p.of(need) if any(a.id == article for _, a in p.ways[j].parts)]
            model.add(built.x[i] <= total(built, there))
    small = p.of("small-feed")
    if small:
        model.add(total(built, small) <= 1)


def sees_ignition(way: Way) -> bool:
    """Whether a way lets the unit see that the key has the ignition on, cranking too."""
    return (
        way.shape == "direct"
        and way.circuit is not None
        and way.circuit.function == "ignition"
        and {"run", "start"} <= set(way.circuit.live or ())
        and any(u.output.does == "ignition" for u in way.uses)
    )


def _settings(built: Built) -> None:
    p, model = built.problem, built.model
    wanted: dict[tuple[str, str], list[int]] = defaultdict(list)
    for i, w in enumerate(p.ways):
        for at in w.all_settings:
            wanted[at].append(i)
    by_setting: dict[str, list[Any]] = defaultdict(list)
    for (name, value), indices in sorted(wanted.items()):
        y = model.new_bool_var(f"{name}={value}")
        built.settings[name, value] = y
        by_setting[name].append(y)
        for i in indices:
            built.rows.model.add_implication(built.x[i], y)
    for name, ys in by_setting.items():
        built.rows.add(("setting", name), sum(ys) <= 1)


def _leads(built: Built) -> None:
    """Current of each output, and what may hang on it together."""
    p = built.problem
    hung: dict[str, dict[tuple[str, str, str], list[int]]] = defaultdict(lambda: defaultdict(list))
    amps: dict[str, list[tuple[int, float, float]]] = defaultdict(list)
    circuits = {w.circuit.id: w.circuit for w in p.ways if w.circuit is not None}
    for i, w in enumerate(p.ways):
        for use in w.uses:
            circuit = w.circuit.id if w.circuit is not None else ""
            hung[use.output.lead][w.demand, use.shape, circuit].append(i)
            amps[use.output.lead].append((i, use.amps, use.output.limit_A))
    for lead, listed in amps.items():
        for limit in sorted({lim for _, _, lim in listed}):
            at = [(i, a) for i, a, lim in listed if lim == limit]
            if sum(a for _, a in at) > limit:
                built.rows.add(("lead", lead), _milli(built, at) <= round(limit * MILLI))
    straight: dict[tuple[str, str], list[int]] = defaultdict(list)
    for i, w in enumerate(p.ways):
        if w.shape == "direct" and w.circuit is not None:
            for use in w.uses:
                straight[use.output.lead, w.circuit.id].append(i)
    for i, w in enumerate(p.ways):
        for lead, group in w.beside:
            there = [k for c in group for k in straight[lead, c]]
            built.rows.add(("share", lead), built.x[i] <= total(built, there))
    for lead, groups in hung.items():
        keys = sorted(groups)
        for k, (da, sa, ca) in enumerate(keys):
            for db, sb, cb in keys[k + 1 :]:
                if da == db:
                    continue
                if not share_lead(sa, circuits.get(ca), sb, circuits.get(cb)):
                    both = [*groups[da, sa, ca], *groups[db, sb, cb]]
                    built.rows.add(("share", lead), total(built, both) <= 1)


def _milli(built: Built, terms: Sequence[tuple[int, float]]) -> Any:
    return sum(round(a * MILLI) * built.x[i] for i, a in terms)


def _supply(built: Built) -> None:
    """Feeds, ground lead, battery wires and the small feed, at every moment."""
    p, model, unit = built.problem, built.model, built.problem.job.unit
    every = moments(unit)
    batteries = {c.id: c for c in p.job.vehicle.of("battery")}
    carried: dict[str, list[list[Any]]] = {b: [[] for _ in every] for b in batteries}
    for feed in (lead for lead in unit.leads if lead.way == "feed"):
        own = p.of(f"feed-{feed.id}")
        using = [
            (i, use.amps, use.output.does)
            for i, w in enumerate(p.ways)
            for use in w.uses
            if use.output.feed == feed.id and use.output.level == "battery"
        ]
        if own:
            model.add(total(built, own) <= 1)
        for i, _, _ in using:
            built.rows.add(("feed", feed.id), built.x[i] <= total(built, own))
        if own and feed.id != unit.logic_from:
            model.add(total(built, own) <= total(built, {i for i, _, _ in using}))
        limit = min(lead_limit(feed.limit_A), feed.fuse_A or 1e6)
        if feed.fuse_A is not None:
            for moment in lasting(unit):
                load = [(i, a) for i, a, does in using if does in moment]
                most = round(feed.fuse_A * FUSE_SHARE * MILLI)
                if round(sum(a for _, a in load) * MILLI) > most:
                    built.rows.add(("feed", feed.id), _milli(built, load) <= most)
        for k, moment in enumerate(every):
            now = [(i, a) for i, a, does in using if does in moment]
            if not now:
                continue
            top = round(sum(a for _, a in now) * MILLI)
            load = _milli(built, now)
            if top > round(limit * MILLI):
                built.rows.add(("feed", feed.id), load <= round(limit * MILLI))
            for j in own:
                rating = next((f.rating_A for _, f in p.ways[j].parts), None)
                if rating is not None and top > rating * FUSE_SHARE * MILLI:
                    most = round(rating * FUSE_SHARE * MILLI)
                    built.rows.add(
                        ("feed", feed.id), load <= most + max(0, top - most) * (1 - built.x[j])
                    )
            for b in sorted({p.ways[j].battery or "" for j in own}):
                here = total(built, [j for j in own if p.ways[j].battery == b])
                through = model.new_int_var(0, max(top, 0), f"{feed.id} from {b} at {k}")
                model.add(through >= load - top * (1 - here))
                carried[b][k].append(through)
    for b, circuit in batteries.items():
        if circuit.fuse_A is None:
            continue
        most = round(circuit.fuse_A * MILLI)
        for k, moment in enumerate(every):
            own_relays = [
                (i, w.battery_A)
                for i, w in enumerate(p.ways)
                if w.battery == b and w.battery_A and any(u.output.does in moment for u in w.uses)
            ]
            terms = [*carried[b][k]]
            if own_relays:
                terms.append(_milli(built, own_relays))
            if terms:
                built.rows.add(("battery", b), sum(terms) <= most)
    _grounds(built, every)
    _small(built)


def _grounds(built: Built, every: tuple[frozenset[str], ...]) -> None:
    unit, p = built.problem.job.unit, built.problem
    limits = [lead.limit_A for lead in unit.leads if lead.way == "ground"]
    if not limits or any(not isinstance(m, int | float) for m in limits):
        return
    limit = sum(float(m) for m in limits if isinstance(m, int | float))
    for moment in every:
        now = [
            (i, u.amps)
            for i, w in enumerate(p.ways)
            for u in w.uses
            if u.output.level == "ground" and u.output.does in moment
        ]
        if sum(a for _, a in now) > limit:
            built.rows.add(("ground", "unit"), _milli(built, now) <= round(limit * MILLI))


def _small(built: Built) -> None:
    p = built.problem
    own = p.of("small-feed")
    needing = [(i, w.small_A) for i, w in enumerate(p.ways) if w.small_A is not None]
    for i, _ in needing:
        built.rows.add(("small", "feed"), built.x[i] <= total(built, own))
    if own:
        built.model.add(total(built, own) <= total(built, {i for i, _ in needing}))
    if needing:
        room = sum(
            round((f.rating_A or 0.0) * FUSE_SHARE * MILLI) * built.x[j]
            for j in own
            for _, f in p.ways[j].parts
        )
        built.rows.add(
            ("small", "feed"), _milli(built, [(i, a or 0.0) for i, a in needing]) <= room
        )


def _shelf(built: Built, extra: bool) -> None:
    p, model = built.problem, built.model
    takes: dict[str, list[int]] = defaultdict(list)
    for i, w in enumerate(p.ways):
        for _, part in w.parts:
            takes[part.id].append(i)
    for name, indices in sorted(takes.items()):
        count = p.counts.get(name, 0)
        used = total(built, indices)
        if extra:
            more = model.new_int_var(0, 40, f"more {name}")
            built.extra[name] = more
            model.add(used <= count + more)
        else:
            built.rows.add(("stock", name), used <= count)


def _unsure(built: Built) -> None:
    p, model = built.problem, built.model
    unsure = {
        c.id
        for c in p.job.vehicle.circuits
        if c.known is not None and c.known.how in ("told", "guessed")
    }
    for i, w in enumerate(p.ways):
        for c in w.relies:
            if c in unsure:
                if c not in built.unsure:
                    built.unsure[c] = model.new_bool_var(f"relies on {c}")
                model.add_implication(built.x[i], built.unsure[c])
