"""What on the shelf would catch a fault: each article is put where it belongs, and tried.

A second switch beside one that is no longer heard; a relay in series with an output that sticks, on
another signal of the unit; a second diode or contact in series; a fuse that blows on a short. An
article is named only where the wiring with it breaks no rule that held before, and the same fault
does less harm in it. Where a fitted fuse clears a short, no other is tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from startwright.car.build import Car, wire_up
from startwright.car.circuits import BATTERY, GROUND, is_feed
from startwright.car.faults import Fault
from startwright.car.fitted import is_wire, node_of
from startwright.car.terminals import Joined
from startwright.physics.fuse import CONTINUOUS_SHARE
from startwright.physics.wire import ampacity_A
from startwright.prove.faults import fault_named
from startwright.prove.judge import RANK, Judge
from startwright.prove.tables import TooLarge
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.reports import FaultResult
from startwright.records.stock import Part
from startwright.records.wiring import Fitted, Run, Wiring

MOST_TRIED = 100
"""So many wirings are tried, those of the worst faults first."""
SPARE = "spare"
"""The name of the part that is tried."""
WORKED_BY = {
    "starter": ("starter_signal",),
    "ignition": ("ignition_signal", "running_signal"),
    "accessory": ("running_signal", "ignition_signal"),
}
"""The signals that go with what an output works."""


@dataclass(frozen=True)
class Remedy:
    """An article, the wiring with it, and what becomes of it when the fault strikes."""

    article: str
    wiring: Wiring
    blows: bool = False
    more: tuple[Part, ...] = ()
    """Articles that no shelf has: a fuse that is rated at what it may carry for good."""

    def built(self, job: WholeJob) -> Car:
        """The car with it; raises `RecordError` where it cannot be wired so."""
        stock = job.stock.model_copy(update={"parts": [*job.stock.parts, *self.more]})
        return wire_up(job.model_copy(update={"stock": stock}), self.wiring)


class Catcher:
    """Tries what is on the shelf against the faults of one wiring.

    Parameters
    ----------
    judge : Judge
        Of the wiring as it is.
    most : int
        So many wirings are tried, each proven first.
    """

    def __init__(self, judge: Judge, most: int = MOST_TRIED) -> None:
        self.judge = judge
        self.most = most
        self._tried: dict[str, Judge | None] = {}

    def results(
        self, faults: list[FaultResult], progress: Callable[[int], bool] = lambda done: True
    ) -> list[FaultResult] | None:
        """The results with what would catch each hazard and damage; None where it was stopped."""
        out = []
        for k, result in enumerate(faults):
            if not progress(k):
                return None
            caught = self.by(result) if RANK[result.worst] < RANK["works"] else []
            out.append(result.model_copy(update={"caught_by": caught}))
        return out

    def by(self, result: FaultResult) -> list[str]:
        """What was seen to catch it: fitted fuses by name, else the first article of each kind."""
        car = self.judge.healthy.car
        fault = fault_named(car, result.fault)
        if fault is None or "not finished" in result.breaks:
            return []
        fuses = clearing(car, fault, result)
        fitted = [f for f in fuses if self._helps(self.judge, fault, [f], result)]
        if fitted:
            return fitted
        kinds = {p.id: p.kind for p in car.job.stock.parts}
        out: list[str] = []
        for remedy in remedies(car, fault, result):
            if kinds[remedy.article] in {kinds[a] for a in out}:
                continue
            other = self._judge(remedy)
            if other is None:
                continue
            same = fault_named(other.healthy.car, result.fault)
            if same is None:
                continue
            ways = [[SPARE], *([SPARE, f] for f in fuses)] if remedy.blows else [[]]
            if any(self._helps(other, same, blown, result) for blown in ways):
                out.append(remedy.article)
        return out

    def _helps(self, judge: Judge, fault: Fault, blown: list[str], result: FaultResult) -> bool:
        """Whether a fault does less harm than a result says; with fuses blown, the short gone too.

        What the key feeds as well stays shorted whatever blows on the unit's side.
        """
        more: Fault | None = None
        for name in blown:
            more = Fault(name, "open", also=more)
        other = judge.result(replace(fault, also=more))
        gone = not blown or "no-short" not in other.breaks
        return gone and RANK[other.worst] > RANK[result.worst]

    def _judge(self, remedy: Remedy) -> Judge | None:
        """The judge of a wiring with a spare part; None where it breaks more than before."""
        key = remedy.wiring.model_dump_json()
        if key not in self._tried:
            if len(self._tried) >= self.most:
                return None
            self._tried[key] = self._sound(remedy)
        return self._tried[key]

    def _sound(self, remedy: Remedy) -> Judge | None:
        try:
            model, searched = self.judge.beside(remedy.built(self.judge.healthy.car.job))
        except (RecordError, TooLarge):
            return None
        judge = Judge(model, searched)
        return judge if judge.before <= self.judge.before else None


def remedies(car: Car, fault: Fault, result: FaultResult) -> Iterator[Remedy]:
    """What could be put where for a fault, in the order of the shelf, the least fuse first."""
    shelf = [p for p in car.job.stock.parts if p.count > 0 or _uncounted(car)]
    shelf.sort(key=lambda p: p.rating_A or 0.0)
    run = next((r for r in car.wiring.runs if r.id == fault.thing), None)
    for part in shelf:
        if part.kind == "switch":
            yield from _second_switch(car, fault, part)
        elif part.kind == "relay" and fault.mode == "stuck closed":
            yield from _second_contact(car, fault, part)
        elif part.kind == "diode" and fault.mode == "stuck closed":
            yield from _second_diode(car, fault, part)
        elif part.kind == "fuse" and run is not None and "no-short" in result.breaks:
            yield from _fuse(car, run, part)


def clearing(car: Car, fault: Fault, result: FaultResult) -> list[str]:
    """The fitted fuses that may clear a short of a run: on its way, and such as it outlasts."""
    run = next((r for r in car.wiring.runs if r.id == fault.thing), None)
    if run is None or "no-short" not in result.breaks:
        return []
    return [
        name
        for name, part in car.parts.items()
        if part.kind == "fuse" and _saves(part, run) and _on_the_way(car, name, run)
    ]


def _on_the_way(car: Car, fuse: str, run: Run) -> bool:
    """Whether a fuse lies between a run and a rail on some way without a load."""
    net, own = car.network, f"{fuse}.fuse"
    ways = [(r.a, r.b) for r in net.resistors if r.name != own and is_wire(r)]
    ways += [(c.a, c.b) for c in net.contacts] + [(d.anode, d.cathode) for d in net.diodes]
    without = Joined((net.names[a], net.names[b]) for a, b in ways)
    at = net.names[car.number[node_of(run.from_)]]
    ends = next((net.names[r.a], net.names[r.b]) for r in net.resistors if r.name == own)
    return any(
        without.together(at, near) and without.together(far, rail)
        for near, far in (ends, ends[::-1])
        for rail in (BATTERY, GROUND)
    )


def _saves(fuse: Part, run: Run) -> bool:
    """Whether a fuse is no larger than what a run carries, as far as its size is known."""
    if run.size_mm2 is None or fuse.rating_A is None:
        return False
    return fuse.rating_A <= ampacity_A(run.size_mm2)


def _uncounted(car: Car) -> bool:
    """Whether the shelf does not say how many of anything there are."""
    return all(p.count == 0 for p in car.job.stock.parts)


def _with(car: Car, part: Part, runs: list[Run], moved: dict[str, Run] | None = None) -> Wiring:
    """The wiring with a spare part, runs to it, and runs that now end at it."""
    wiring = car.wiring
    changed = [(moved or {}).get(r.id, r) for r in wiring.runs]
    parts = [*wiring.parts, Fitted(id=SPARE, of=part.id)]
    return wiring.model_copy(update={"parts": parts, "runs": [*changed, *runs]})


def _run(name: str, one: str, other: str, like: Run | None = None) -> Run:
    size = like.size_mm2 if like is not None else None
    return Run.model_validate({"id": name, "from": one, "to": other, "size_mm2": size})


def _feed(car: Car) -> str | None:
    """A terminal that stands at battery whatever the key does."""
    return next((f"vehicle.{c.id}" for c in car.job.vehicle.circuits if is_feed(c)), None)


def _second_switch(car: Car, fault: Fault, part: Part) -> Iterator[Remedy]:
    """A switch of one's own beside what an input no longer hears."""
    if part.contact_at_rest != "open":
        return
    run = next((r for r in car.wiring.runs if r.id == fault.thing), None)
    ends = set(run.ends if run is not None else (f"{fault.thing}.a", f"{fault.thing}.b"))
    for name, fitted in car.parts.items():
        pins = {f"{name}.{pin}" for pin in fitted.pin_names}
        if fitted.kind == "switch" and pins & ends:
            ends |= pins
    for inp in car.inputs:
        lead = f"unit.{inp.lead}"
        heard = lead in ends or any(car.joined.together(node_of(e), lead) for e in ends)
        far = "ground.body" if inp.active == "ground" else _feed(car)
        if inp.senses == part.operated_by and inp.how == "level" and heard and far is not None:
            runs = [_run("spare_1", lead, f"{SPARE}.a"), _run("spare_2", f"{SPARE}.b", far)]
            yield Remedy(part.id, _with(car, part, runs))


def _second_contact(car: Car, fault: Fault, part: Part) -> Iterator[Remedy]:
    """A relay's contact in series with one that sticks."""
    owner, _, pin = fault.thing.partition(".")
    stuck = f"{owner}.{pin}"
    beyond = [r for r in car.wiring.runs if stuck in r.ends]
    if owner in car.parts and pin == "87":
        coils = [(f"{SPARE}.{p}", f"{owner}.{p}") for p in ("86", "85")]
        yield _in_series(car, part, stuck, beyond, coils)
    if owner != "unit":
        return
    feed = _feed(car)
    does = next(car.unit.does(d) for d in car.unit.out_leads if d.id == pin)
    for lead in car.unit.out_leads:
        if feed is not None and car.unit.does(lead) in WORKED_BY.get(does or "", ()):
            rail = feed if car.unit.level(lead) == "ground" else "ground.body"
            coils = [(f"{SPARE}.86", rail), (f"{SPARE}.85", f"unit.{lead.id}")]
            yield _in_series(car, part, stuck, beyond, coils)


def _in_series(
    car: Car, part: Part, stuck: str, beyond: list[Run], coils: list[tuple[str, str]]
) -> Remedy:
    moved = {r.id: _moved(r, stuck, f"{SPARE}.87") for r in beyond}
    runs = [_run("spare_0", stuck, f"{SPARE}.30", beyond[0] if beyond else None)]
    runs += [_run(f"spare_{k}", a, b) for k, (a, b) in enumerate(coils, start=1)]
    return Remedy(part.id, _with(car, part, runs, moved))


def _second_diode(car: Car, fault: Fault, part: Part) -> Iterator[Remedy]:
    """A diode in series with one that no longer blocks."""
    if fault.thing in car.parts and car.parts[fault.thing].kind == "diode":
        at = f"{fault.thing}.anode"
        before = [r for r in car.wiring.runs if at in r.ends]
        moved = {r.id: _moved(r, at, f"{SPARE}.anode") for r in before}
        yield Remedy(part.id, _with(car, part, [_run("spare_0", f"{SPARE}.cathode", at)], moved))


def _fuse(car: Car, run: Run, part: Part) -> Iterator[Remedy]:
    """A fuse at the fed end of a run, no larger than its wire and the unit's contact carry.

    No fuse is quick enough for a transistor (common practice, no source). An output that is joined
    to a circuit of the car has the car's own switch behind its wire: no fuse at the unit's end
    leaves it dead.
    """
    assert part.rating_A is not None
    if not _saves(part, run):
        return
    fed = [e for e in run.ends if car.joined.together(node_of(e), BATTERY)]
    outs = {
        f"unit.{d.id}"
        for d in car.unit.out_leads
        if not car.unit.is_transistor(d) and part.rating_A <= (car.unit.limit_A(d) or 0.0)
    }
    if not fed and not any(n.startswith("vehicle.") for n in car.joined.members(run.from_)):
        fed = [e for e in run.ends if e in outs]
    fed = fed[:1]
    for end in fed:
        other = next(e for e in run.ends if e != end)
        data = run.model_dump(by_alias=True) | {"from": f"{SPARE}.b", "to": other}
        moved = {run.id: Run.model_validate(data)}
        runs = [_run("spare_0", end, f"{SPARE}.a", run)]
        rated = part.rating_A * CONTINUOUS_SHARE
        held = part.model_copy(update={"id": f"{SPARE}-{part.id}", "rating_A": rated})
        yield Remedy(part.id, _with(car, held, runs, moved), blows=True, more=(held,))


def _moved(run: Run, old: str, new: str) -> Run:
    data = run.model_dump(by_alias=True)
    return Run.model_validate(data | {k: new for k in ("from", "to") if data[k] == old})
