"""The choice: which ways together, proven best in a strict order, the same every time.

Hard: every must met once; lead, feed, ground, battery and fuse totals; no lead that joins what must
not be joined; each setting at one value; no more parts than the shelf holds. Then, in strict order:
fewest shoulds unmet, fewest circuits relied on that are only told or guessed, fewest added parts,
cost, minutes; and a fixed order of the ways where all of that is equal.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from startwright.plan.answer import Score
from startwright.plan.demand import Demand
from startwright.plan.joins import share_lead
from startwright.plan.outputs import moments
from startwright.plan.supply import lead_limit
from startwright.plan.way import FUSE_SHARE, SETTING_MINUTES, Way
from startwright.records.job import WholeJob

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MILLI = 1000
SEED = 7
WEIGHT_ROOM = 2**50
"""Largest packed weight that is solved in one go; above it the order is solved in two."""


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


@dataclass(frozen=True)
class Choice:
    """The ways chosen, the settings they stand on, and the score."""

    ways: tuple[Way, ...]
    settings: dict[str, str]
    unmet: tuple[str, ...]
    score: Score


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


def _sum(built: Built, indices: Iterable[int]) -> Any:
    return sum(built.x[i] for i in indices)


def _needs(built: Built) -> None:
    p, model = built.problem, built.model
    for d in p.demands:
        own = p.of(d.id)
        if d.kind == "seen":
            seen = [i for i, w in enumerate(p.ways) if sees_ignition(w)]
            built.rows.add(("need", d.id), _sum(built, seen) >= 1)
            continue
        if d.kind == "tach":
            own = [i for i, w in enumerate(p.ways) if w.by_tach]
        elif own:
            model.add(_sum(built, own) <= 1)
        if d.must:
            built.rows.add(("need", d.id), _sum(built, own) >= 1)
        else:
            unmet = model.new_bool_var(f"unmet {d.id}")
            model.add(_sum(built, own) + unmet >= 1)
            built.unmet[d.id] = unmet
    small = p.of("small-feed")
    if small:
        model.add(_sum(built, small) <= 1)


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
        for lead, circuit in w.beside:
            built.rows.add(("share", lead), built.x[i] <= _sum(built, straight[lead, circuit]))
    for lead, groups in hung.items():
        keys = sorted(groups)
        for k, (da, sa, ca) in enumerate(keys):
            for db, sb, cb in keys[k + 1 :]:
                if da == db:
                    continue
                if not share_lead(sa, circuits.get(ca), sb, circuits.get(cb)):
                    both = [*groups[da, sa, ca], *groups[db, sb, cb]]
                    built.rows.add(("share", lead), _sum(built, both) <= 1)


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
            model.add(_sum(built, own) <= 1)
        for i, _, _ in using:
            built.rows.add(("feed", feed.id), built.x[i] <= _sum(built, own))
        limit = min(lead_limit(feed.limit_A), feed.fuse_A or 1e6)
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
                if rating is not None and top > rating * MILLI:
                    most = round(rating * MILLI)
                    built.rows.add(
                        ("feed", feed.id), load <= most + max(0, top - most) * (1 - built.x[j])
                    )
            for b in sorted({p.ways[j].battery or "" for j in own}):
                here = _sum(built, [j for j in own if p.ways[j].battery == b])
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
        built.rows.add(("small", "feed"), built.x[i] <= _sum(built, own))
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
        used = _sum(built, indices)
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
        model.add(_sum(built, indices) <= most)
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


def _terms(built: Built) -> list[tuple[Any, int]]:
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
        total: Any = sum(v * built.x[i] for i, v in enumerate(numbers[name]) if v)
        room = sum(largest[name].values())
        if name == "minutes":
            changed = _changed(built)
            total, room = total + round(SETTING_MINUTES) * sum(changed), room + len(changed)
        if name == "rank":
            spread = _spread(built)
            if spread is not None:
                out.append(spread)
        out.append((total, room))
    return out


def solver() -> cp_model.CpSolver:
    """A solver that gives the same answer every time: one worker, a fixed seed."""
    from ortools.sat.python import cp_model

    s = cp_model.CpSolver()
    s.parameters.num_workers = 1
    s.parameters.random_seed = SEED
    s.parameters.linearization_level = 2
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
    terms = _terms(built)
    groups = [terms] if _room(terms) <= WEIGHT_ROOM else [terms[:3], terms[3:]]
    s = solver()
    for group in groups:
        weight = _pack(group)
        built.model.minimize(weight)
        status = s.solve(built.model)
        if status == cp_model.INFEASIBLE:
            return None
        if status != cp_model.OPTIMAL:
            raise RuntimeError(f"the choice was not finished: {s.status_name(status)}")
        if group is not groups[-1]:
            built.model.add(weight == round(s.objective_value))
    return _read(built, s)


def _room(terms: list[tuple[Any, int]]) -> int:
    room = 1
    for _, largest in terms:
        room *= largest + 1
    return room


def _pack(terms: list[tuple[Any, int]]) -> Any:
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


def _read(built: Built, s: cp_model.CpSolver) -> Choice:
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
    return Choice(ways, dict(sorted(settings.items())), unmet, score)
