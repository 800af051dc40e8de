"""The single changes of a wiring that might end a breach, in the order in which they are tried."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from startwright.car.build import Car
from startwright.prove.rests import CONCERNS, Concern
from startwright.records.lines import Lines
from startwright.records.reports import RuleResult
from startwright.records.stock import Part
from startwright.records.unit import Lead, NumberRange
from startwright.records.wiring import Fitted, Run, Wiring


@dataclass(frozen=True)
class Change:
    """A wiring with one thing changed."""

    do: str
    where: str
    wiring: Wiring


def tiers(car: Car, rule: RuleResult, lines: Lines) -> Iterator[Iterator[Change]]:
    """What is missing or mistaken first, then what is wrong on the way, then what is too much."""
    concern = CONCERNS.get(rule.rule, Concern())
    yield chain(
        *(_joined(car, sense, lines) for sense in concern.senses),
        *(_switched(car, sense, lines) for sense in concern.senses),
        _set(car, rule, concern, lines),
        _fed(car, concern, lines),
        _rejoined(car, lines),
        _exchanged(car, lines),
    )
    near = [r for r in car.wiring.runs if r.id in rule.runs]
    yield chain(
        _moved(car, rule, lines),
        _turned(car, lines),
        _swapped(car, rule, lines),
        _taken(car, near, lines),
    )
    yield _taken(car, [r for r in car.wiring.runs if r not in near], lines)


def _joined(car: Car, sense: str, lines: Lines) -> Iterator[Change]:
    """An input that senses it, joined to a circuit that tells it."""
    wiring = car.wiring
    circuits = [c.id for c in car.job.vehicle.circuits if c.function == sense]
    for lead in car.job.unit.leads:
        if lead.way != "in" or lead.senses != sense:
            continue
        end = f"unit.{lead.id}"
        at = [r for r in wiring.runs if end in r.ends]
        for circuit in circuits:
            to = f"vehicle.{circuit}"
            if any(to in r.ends for r in at):
                continue
            do = f"join lead {lead.id} to circuit {circuit}"
            if not at:
                new = Run.model_validate({"id": _free(wiring), "from": to, "to": end})
                where = f"{lines.lead(car.job, lead.id)}; {lines.circuit(car.job, circuit)}"
                yield Change(do, where, _with_runs(wiring, [*wiring.runs, new]))
            elif len(at) == 1:
                moved = Run.model_validate({"id": at[0].id, "from": to, "to": end})
                runs = [moved if r is at[0] else r for r in wiring.runs]
                where = lines.run(wiring, at[0].id)
                yield Change(f"{do} instead (run {at[0].id})", where, _with_runs(wiring, runs))


def _switched(car: Car, sense: str, lines: Lines) -> Iterator[Change]:
    """An input that nothing is joined to, on a switch of one's own that is worked by the same.

    One that is fitted already, else one from the shelf, to ground or battery as the input wants it.
    """
    wiring = car.wiring
    joined = {e for r in wiring.runs for e in r.ends}
    leads = [
        d
        for d in car.job.unit.leads
        if d.way == "in" and d.senses == sense and f"unit.{d.id}" not in joined
    ]
    fitted = [n for n, p in car.parts.items() if p.kind == "switch" and p.operated_by == sense]
    shelf = [p for p in car.job.stock.parts if p.kind == "switch" and p.operated_by == sense]
    for lead in leads:
        where = lines.lead(car.job, lead.id)
        for name in fitted:
            for pin in car.parts[name].pin_names:
                ends = {"from": f"{name}.{pin}", "to": f"unit.{lead.id}"}
                new = Run.model_validate({"id": _free(wiring), **ends})
                made = _with_runs(wiring, [*wiring.runs, new])
                at = f"{where}; {lines.part(wiring, name)}"
                yield Change(f"join lead {lead.id} to {name}, pin {pin}", at, made)
        for part in shelf if not fitted else ():
            yield _from_shelf(car, lead, part, lines)


def _from_shelf(car: Car, lead: Lead, part: Part, lines: Lines) -> Change:
    wiring = car.wiring
    name = next(n for n in (f"S{k}" for k in range(1, 400)) if n not in car.parts)
    feed = next((c.id for c in car.job.vehicle.circuits if c.function == "battery"), None)
    level = "ground" if (lead.active or "ground") == "ground" or feed is None else "battery"
    rail = "ground.body" if level == "ground" else f"vehicle.{feed}"
    first = _free(wiring)
    runs = [
        Run.model_validate({"id": first, "from": f"{name}.a", "to": f"unit.{lead.id}"}),
        Run.model_validate({"id": f"{first}b", "from": f"{name}.b", "to": rail}),
    ]
    made = wiring.model_copy(
        update={
            "parts": [*wiring.parts, Fitted(id=name, of=part.id)],
            "runs": [*wiring.runs, *runs],
        }
    )
    do = f"fit {part.id} from the shelf between lead {lead.id} and {level}"
    where = f"{lines.lead(car.job, lead.id)}; {lines.article(car.job, part.id)}"
    return Change(do, where, made)


def _set(car: Car, rule: RuleResult, concern: Concern, lines: Lines) -> Iterator[Change]:
    """Another value of a setting that has to do with it."""
    unit, wiring = car.job.unit, car.wiring
    chosen = unit.chosen(wiring.settings)
    ends = {e for r in wiring.runs if r.id in rule.runs for e in r.ends}
    ids = [
        s
        for lead in unit.leads
        if f"unit.{lead.id}" in ends
        for s in (lead.chosen_by, lead.active_by)
        if s is not None
    ]
    if unit.engine_signal is not None and "tach" in concern.senses:
        ids.append(unit.engine_signal.by)
    if concern.ends:
        ids += [s.id for s in unit.settings if s.sets]
    for id in dict.fromkeys(ids):
        setting = unit.setting(id)
        if setting is None:
            continue
        values: list[str | float]
        if isinstance(setting.values, NumberRange):
            values = [setting.values.min]
        else:
            values = list(setting.values)
        for value in values:
            if value != chosen.get(id):
                made = wiring.model_copy(update={"settings": {**wiring.settings, id: value}})
                where = lines.setting(car.job, wiring, id)
                shown = value if isinstance(value, str) else f"{value:g}"
                yield Change(f"set {id} to {shown}", where, made)


def _fed(car: Car, concern: Concern, lines: Lines) -> Iterator[Change]:
    """A lead that nothing is joined to: its feed, its ground, or an output to what it works."""
    joined = {e for r in car.wiring.runs for e in r.ends}
    touched = {e.split(".")[1] for e in joined if e.startswith("vehicle.")}
    for lead in car.job.unit.leads:
        if f"unit.{lead.id}" in joined or lead.way == "in":
            continue
        if lead.way == "ground":
            yield _new(car, lead.id, "ground.body", "bare metal of the body", "", lines)
            continue
        does = "battery" if lead.way == "feed" else car.unit.does(lead)
        for circuit in car.job.vehicle.circuits:
            wanted = lead.way == "feed" or circuit.function in concern.feeds
            fresh = lead.way == "feed" or circuit.id not in touched
            if circuit.function == does and wanted and fresh:
                to, where = f"vehicle.{circuit.id}", lines.circuit(car.job, circuit.id)
                yield _new(car, lead.id, to, f"circuit {circuit.id}", where, lines)


def _new(car: Car, lead: str, to: str, words: str, where: str, lines: Lines) -> Change:
    new = Run.model_validate({"id": _free(car.wiring), "from": to, "to": f"unit.{lead}"})
    at = "; ".join(w for w in (lines.lead(car.job, lead), where) if w)
    return Change(
        f"join lead {lead} to {words}", at, _with_runs(car.wiring, [*car.wiring.runs, new])
    )


def _rejoined(car: Car, lines: Lines) -> Iterator[Change]:
    """A circuit that was cut, its two sides joined again; or never cut."""
    wiring = car.wiring
    for n, circuit in enumerate(wiring.cuts):
        ends = {"from": f"vehicle.{circuit}.source", "to": f"vehicle.{circuit}.load"}
        new = Run.model_validate({"id": _free(wiring), **ends})
        where = lines.where("wiring", "cuts", n)
        do = f"join the two sides of {circuit} again"
        yield Change(do, where, _with_runs(wiring, [*wiring.runs, new]))
        if not any(end in run.ends for run in wiring.runs for end in ends.values()):
            whole = wiring.model_copy(update={"cuts": [c for c in wiring.cuts if c != circuit]})
            yield Change(f"leave {circuit} uncut", where, whole)


def _turned(car: Car, lines: Lines) -> Iterator[Change]:
    """A diode turned round."""
    for name, part in car.parts.items():
        if part.kind != "diode":
            continue
        other = {f"{name}.anode": f"{name}.cathode", f"{name}.cathode": f"{name}.anode"}
        runs = [_ends(r, *(other.get(e, e) for e in r.ends)) for r in car.wiring.runs]
        where = lines.part(car.wiring, name)
        yield Change(f"turn diode {name} round", where, _with_runs(car.wiring, runs))


def _swapped(car: Car, rule: RuleResult, lines: Lines) -> Iterator[Change]:
    """Another article of the same kind from the shelf for a part on the way."""
    ends = {e.partition(".")[0] for r in car.wiring.runs if r.id in rule.runs for e in r.ends}
    for fitted in car.wiring.parts:
        if fitted.id not in ends or car.parts[fitted.id].kind not in ("relay", "diode", "switch"):
            continue
        for other in car.job.stock.parts:
            if other.kind == car.parts[fitted.id].kind and other.id != fitted.of:
                parts = [
                    p.model_copy(update={"of": other.id}) if p is fitted else p
                    for p in car.wiring.parts
                ]
                made = car.wiring.model_copy(update={"parts": parts})
                where = f"{lines.part(car.wiring, fitted.id)}; {lines.article(car.job, other.id)}"
                yield Change(f"take {other.id} for {fitted.id}", where, made)


def _taken(car: Car, some: list[Run], lines: Lines) -> Iterator[Change]:
    """A run taken away."""
    for run in some:
        runs = [r for r in car.wiring.runs if r is not run]
        where = lines.run(car.wiring, run.id)
        yield Change(f"leave run {run.id} out", where, _with_runs(car.wiring, runs))


def _outs(car: Car) -> Iterator[tuple[Run, str, str]]:
    """The runs straight from an output to a circuit: what the lead works, and the circuit."""
    for run in car.wiring.runs:
        lead = next((e[5:] for e in run.ends if e.startswith("unit.")), None)
        circuit = next((e[8:] for e in run.ends if e.startswith("vehicle.")), None)
        if lead is None or circuit is None or "." in circuit:
            continue
        record = car.job.unit.lead(lead)
        if record.way == "out" and (does := car.unit.does(record)):
            yield run, does, circuit


def _exchanged(car: Car, lines: Lines) -> Iterator[Change]:
    """Two runs that were mistaken for each other: each lead works what the other one's wire is."""
    function = {c.id: c.function for c in car.job.vehicle.circuits}
    mixed = [(r, does, c) for r, does, c in _outs(car) if function[c] != does]
    for k, (one, does, circuit) in enumerate(mixed):
        for two, its, other in mixed[k + 1 :]:
            if function[other] != does or function[circuit] != its:
                continue
            ends = {one.id: (circuit, other), two.id: (other, circuit)}
            runs = [
                _ends(r, *(_renamed(e, *ends[r.id]) for e in r.ends)) if r.id in ends else r
                for r in car.wiring.runs
            ]
            where = f"{lines.run(car.wiring, one.id)}; {lines.run(car.wiring, two.id)}"
            do = f"exchange what runs {one.id} and {two.id} go to"
            yield Change(do, where, _with_runs(car.wiring, runs))


def _renamed(end: str, old: str, new: str) -> str:
    return f"vehicle.{new}" if end == f"vehicle.{old}" else end


def _moved(car: Car, rule: RuleResult, lines: Lines) -> Iterator[Change]:
    """A run to another lead that works the same and that nothing is joined to."""
    joined = {e for r in car.wiring.runs for e in r.ends}
    for run, does, circuit in _outs(car):
        if rule.runs and run.id not in rule.runs:
            continue
        for lead in car.job.unit.leads:
            end = f"unit.{lead.id}"
            if lead.way != "out" or end in joined or car.unit.does(lead) != does:
                continue
            runs = [_ends(r, end, f"vehicle.{circuit}") if r is run else r for r in car.wiring.runs]
            where = f"{lines.run(car.wiring, run.id)}; {lines.lead(car.job, lead.id)}"
            do = f"take lead {lead.id} for run {run.id}"
            yield Change(do, where, _with_runs(car.wiring, runs))


def _ends(run: Run, one: str, other: str) -> Run:
    return run.model_copy(update={"from_": one, "to": other})


def _with_runs(wiring: Wiring, runs: list[Run]) -> Wiring:
    return wiring.model_copy(update={"runs": runs})


def _free(wiring: Wiring) -> str:
    taken = {r.id for r in wiring.runs}
    return next(f"new{n}" for n in range(1, len(taken) + 2) if f"new{n}" not in taken)
