"""What a rule's answer rests on in the records: guards, inputs, steps, runs, parts, circuits."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, replace

from startwright.car.build import Car
from startwright.car.routes import guilty_runs
from startwright.records.lines import Lines, Point
from startwright.records.reports import RuleResult

STARTED = ("ignition", "starter")


@dataclass(frozen=True)
class Concern:
    """What a rule is about: what the unit must sense, which functions it feeds or works."""

    senses: tuple[str, ...] = ()
    feeds: tuple[str, ...] = ()
    reads_back: tuple[str, ...] = ()
    """What it reads at its own outputs: whether the ignition is on, before a start."""
    ends: bool = False
    """Whether the unit's own numbers count: tries, and how long each step lasts."""


CONCERNS: dict[str, Concern] = {
    "crank-only-when-safe": Concern(("hood", "park_neutral"), ("starter",)),
    "no-crank-into-running": Concern(("tach",), ("starter",), ("ignition",)),
    "brake-ends": Concern(("brake",), STARTED),
    "hood-ends": Concern(("hood",), STARTED),
    "leaving-park-ends": Concern(("park_neutral",), STARTED),
    "start-ends": Concern((), STARTED, ends=True),
    "key-has-last-word": Concern(("brake",), STARTED, ("ignition",)),
    "locks-on-command": Concern((), ("lock", "unlock", "driver_unlock")),
    "start-through-interlock": Concern(("park_neutral",), ("starter",)),
    "can-start": Concern(("hood", "brake", "park_neutral", "tach"), STARTED),
    "runs": Concern(("hood", "brake", "park_neutral", "tach"), STARTED, ends=True),
    "can-stop": Concern(("hood", "brake", "park_neutral", "tach"), STARTED),
    "locks": Concern((), ("lock",)),
    "unlocks-driver": Concern((), ("driver_unlock", "unlock")),
    "unlocks-all": Concern((), ("unlock",)),
    "opens-trunk": Concern((), ("trunk_release",)),
    "flashes": Concern((), ("parking_light",)),
    "sounds": Concern((), ("horn",)),
    "panics": Concern((), ("horn", "parking_light")),
    "heats-seat": Concern((), ("seat_heater",)),
    "defogs": Concern((), ("rear_defogger",)),
    "cuts-starter": Concern((), ("starter",)),
    "as-under-the-key": Concern((), ("ignition", "accessory", "starter")),
}
"""Of each rule that is about some circuits and not about all."""


def about_starting(slug: str) -> bool:
    """Whether a rule is about what the unit feeds when it starts the engine."""
    return bool(set(STARTED) & set(CONCERNS.get(slug, Concern()).feeds))


def rests_on(car: Car, result: RuleResult, lines: Lines) -> list[Point]:
    """What the rule asks of the unit: guards, inputs that are joined or not, steps, numbers."""
    concern = CONCERNS.get(result.rule, Concern())
    out: list[Point] = []
    for sense in concern.senses:
        out += _sensed(car, sense, lines)
    if result.rule in CONCERNS:
        out += _steps(car, concern, lines)
    if result.holds is False and result.kind == "works":
        out += _forgotten(car, concern, lines)
    if result.rule == "immobilizer-only-while-starting":
        for fit in car.interfaces:
            out.append(_part(car, fit.part, lines))
    if result.rule == "hands-off":
        out += [
            Point(f"circuit {c.id}", f"{c.function}, never touched", lines.circuit(car.job, c.id))
            for c in car.job.vehicle.circuits
            if c.function in ("srs", "high_voltage", "data")
        ]
    return list(dict.fromkeys(out))


def _forgotten(car: Car, concern: Concern, lines: Lines) -> list[Point]:
    """Circuits that ought to be fed or worked and that no run touches; leads that feed the unit."""
    joined = {e for r in car.wiring.runs for e in r.ends}
    touched = {e.split(".")[1] for e in joined if e.startswith("vehicle.")}
    out = []
    for circuit in car.job.vehicle.circuits:
        if circuit.function in concern.feeds and circuit.id not in touched:
            says = f"{circuit.function.replace('_', ' ')}; no run joins it"
            where = lines.circuit(car.job, circuit.id)
            out.append(Point(f"circuit {circuit.id}", says, where, missing=True))
    leads = car.job.unit.leads
    for way, words in (("feed", "battery"), ("ground", "ground")):
        if not any(f"unit.{d.id}" in joined for d in leads if d.way == way):
            for lead in (d for d in leads if d.way == way):
                says = f"no run joins it to {words}: the unit is dead"
                where = lines.lead(car.job, lead.id)
                out.append(Point(f"lead {lead.id}", says, where, missing=True))
    return out


def on_the_way(car: Car, result: RuleResult, lines: Lines) -> list[Point]:
    """The runs on the way from the unit to what the rule is about, and what they join.

    Of a breach the runs that it named; else those to the circuits that the rule is about.
    """
    runs = list(result.runs)
    if not runs and result.holds is not False:
        for circuit in car.job.vehicle.circuits:
            if circuit.function in CONCERNS.get(result.rule, Concern()).feeds:
                runs += guilty_runs(car, circuit.id)[0]
    return along(car, dict.fromkeys(runs), lines)


def along(car: Car, runs: Iterable[str], lines: Lines) -> list[Point]:
    """Runs, and the leads, settings, parts and circuits at their ends, each once, in order."""
    by_id = {r.id: r for r in car.wiring.runs}
    out: dict[str, Point] = {}
    for id in runs:
        run = by_id.get(id)
        if run is None:
            continue
        size = f", {run.size_mm2:g} mm²" if run.size_mm2 else ""
        out[f"run {id}"] = Point(
            f"run {id}", f"{run.from_} → {run.to}{size}", lines.run(car.wiring, id)
        )
        for end in run.ends:
            for point in _end(car, end, lines):
                out.setdefault(point.what, point)
    return list(out.values())


def _end(car: Car, end: str, lines: Lines) -> list[Point]:
    owner, _, rest = end.partition(".")
    if owner == "unit":
        return _lead(car, rest, lines)
    if owner == "vehicle":
        circuit = car.job.vehicle.circuit(rest.partition(".")[0])
        said = circuit.function.replace("_", " ")
        if circuit.live:
            said += f", live in {' and '.join(circuit.live)}"
        elif circuit.rest or circuit.active:
            at_rest = circuit.rest or "open"
            rests = "rests open" if at_rest == "open" else f"rests at {at_rest}"
            said += f", {rests}, at {circuit.active_level} when active"
        if circuit.interlock:
            said += f", interlock {circuit.interlock}"
        if circuit.id in car.wiring.cuts:
            said += ", cut in two"
        known = f"; {circuit.known.how}" if circuit.known is not None else ""
        return [Point(f"circuit {circuit.id}", said + known, lines.circuit(car.job, circuit.id))]
    if owner in car.parts:
        return [_part(car, owner, lines), _article(car, owner, lines)]
    return []


def _lead(car: Car, id: str, lines: Lines) -> list[Point]:
    lead = car.job.unit.lead(id)
    if lead.way == "in":
        said = f"senses {(lead.senses or '').replace('_', ' ')}"
    elif lead.way == "out":
        does = car.unit.does(lead)
        said = f"works {does.replace('_', ' ')} at {car.unit.level(lead)}" if does else "set to off"
    else:
        said = lead.way
    out = [Point(f"lead {id}", said, lines.lead(car.job, id))]
    for setting in (lead.chosen_by, lead.active_by):
        if setting is not None:
            value = car.job.unit.chosen(car.wiring.settings).get(setting)
            given = "" if setting in car.wiring.settings else " (its default)"
            where = lines.setting(car.job, car.wiring, setting)
            out.append(Point(f"setting {setting}", f"{value}{given}", where))
    return out


def _part(car: Car, id: str, lines: Lines) -> Point:
    fitted = next(p for p in car.wiring.parts if p.id == id)
    return Point(f"part {id}", f"{car.parts[id].kind} {fitted.of}", lines.part(car.wiring, id))


def _article(car: Car, id: str, lines: Lines) -> Point:
    part = car.parts[id]
    rated = {
        "relay": f"coil {part.coil_ohm or 0:g} Ω, pulls in at {part.pull_in_V or 0:g} V, lets go "
        f"at {part.drop_out_V or 0:g} V, contact {part.contact_A or 0:g} A"
        + ("" if part.suppressed else ", no suppressor"),
        "fuse": f"{part.rating_A or 0:g} A",
        "diode": f"{part.forward_A or 0:g} A",
        "resistor": f"{part.ohm or 0:g} Ω",
        "switch": f"worked by {part.operated_by}, at rest {part.contact_at_rest}",
    }.get(part.kind, part.kind)
    return Point(f"article {part.id}", rated, lines.article(car.job, part.id))


def _sensed(car: Car, sense: str, lines: Lines) -> list[Point]:
    unit = car.job.unit
    out: list[Point] = []
    words = sense.replace("_", " ")
    if sense == "tach":
        said = {
            "timed": "nothing tells the unit that the engine runs: it goes by time",
            "charge_lamp": "the unit knows by the charge lamp that the engine runs",
        }.get(car.unit.signal, f"the unit knows by {car.unit.signal} that the engine runs")
        setting = unit.engine_signal.by if unit.engine_signal is not None else ""
        where = lines.setting(car.job, car.wiring, setting) if setting else lines.where("unit")
        out.append(Point("engine signal", said, where, missing=car.unit.signal == "timed"))
    else:
        guards = [g for g in unit.guards if g.input == sense]
        for guard in guards:
            says = f"{words} must read {guard.reads}, before a start and while it lasts"
            out.append(Point(f"guard {sense}", says, lines.guard(car.job, sense)))
        if not guards:
            says = f"the unit has no guard on {words}"
            out.append(Point(f"guard {sense}", says, lines.guard(car.job, sense), missing=True))
    leads = [d for d in unit.leads if d.way == "in" and d.senses == sense]
    if not leads:
        says = f"the unit has no input that senses {words}"
        out.append(Point(f"input {sense}", says, lines.where("unit", "leads"), missing=True))
    for lead in leads:
        runs, reached = _reached(car, f"unit.{lead.id}")
        if not runs:
            says = f"senses {words}; no run joins it, so it always reads inactive"
            out.append(Point(f"lead {lead.id}", says, lines.lead(car.job, lead.id), missing=True))
            continue
        functions = [car.job.vehicle.circuit(c).function for c in reached]
        points = along(car, runs, lines)
        if sense not in functions and not _switched(car, runs, sense):
            meets = ", ".join(reached) or "no circuit of the car"
            says = f"{points[0].says}: the lead senses {words}, and it meets {meets}"
            points[0] = replace(points[0], says=says, missing=True)
        out += points
    return out


def listens(car: Car, slug: str) -> tuple[tuple[str, bool, tuple[str, ...]], ...]:
    """How the leads by which a rule listens are joined: lead, whether at all, to which circuits.

    Those are its inputs, and outputs at which the unit reads whether the ignition is on.

    While this stays the same, a wiring that breaks the rule breaks it for the same reason: not
    because an input that was joined no longer is.
    """
    concern = CONCERNS.get(slug, Concern())
    senses = {*concern.senses, *({"charge_lamp"} if "tach" in concern.senses else ())}
    out = []
    for lead in car.job.unit.leads:
        sensed = lead.way == "in" and lead.senses in senses
        if sensed or (lead.way == "out" and car.unit.does(lead) in concern.reads_back):
            runs, circuits = _reached(car, f"unit.{lead.id}")
            out.append((lead.id, bool(runs), tuple(sorted(set(circuits)))))
    return tuple(out)


def _reached(car: Car, terminal: str) -> tuple[list[str], list[str]]:
    """The runs that hang on a terminal, through parts, and the circuits they come to."""
    links: dict[str, list[tuple[str, str]]] = {}
    for run in car.wiring.runs:
        a, b = run.ends
        links.setdefault(a, []).append((b, run.id))
        links.setdefault(b, []).append((a, run.id))
    seen, todo = {terminal}, deque([terminal])
    runs: list[str] = []
    circuits: list[str] = []
    while todo:
        at = todo.popleft()
        owner, _, rest = at.partition(".")
        if owner == "vehicle":
            circuits.append(rest.partition(".")[0])
            continue
        if owner in ("unit", "ground") and at != terminal:
            continue
        onward = links.get(at, [])
        runs += [id for _, id in onward if id not in runs]
        nearby = [to for to, _ in onward]
        if owner in car.parts:
            nearby += [f"{owner}.{pin}" for pin in car.parts[owner].pin_names]
        todo += [to for to in dict.fromkeys(nearby) if to not in seen]
        seen.update(nearby)
    return runs, circuits


def _switched(car: Car, runs: list[str], sense: str) -> bool:
    """Whether a switch of one's own, worked by what is sensed, hangs on these runs."""
    ends = {e.partition(".")[0] for r in car.wiring.runs if r.id in runs for e in r.ends}
    return any(p in car.parts and car.parts[p].operated_by == sense for p in ends)


def _steps(car: Car, concern: Concern, lines: Lines) -> list[Point]:
    out: list[Point] = []
    signals: dict[str, str] = {"starter": "starter_signal", "ignition": "ignition_signal"}
    feeds = {*concern.feeds, *(signals[f] for f in concern.feeds if f in signals)}
    for step in car.unit.steps:
        drives = [d for d in step.drives if d in feeds]
        if drives:
            lasts = _lasts(step.for_s, step.until, step.at_most_s)
            says = f"drives {', '.join(d.replace('_', ' ') for d in drives)}{lasts}"
            out.append(Point(f"step {step.step}", says, lines.step(car.job, step.step)))
    if concern.ends:
        where = lines.where("unit", "tries")
        if "tries" not in car.job.unit.model_fields_set:
            where = f"{lines.file('unit')}: no `tries`, so the package's default"
        out.append(Point("tries", f"{car.unit.tries}", where))
        for setting in car.job.unit.settings:
            if setting.sets:
                value = car.job.unit.chosen(car.wiring.settings).get(setting.id)
                out.append(
                    Point(
                        f"setting {setting.id}",
                        f"{value}, which sets {setting.sets}",
                        lines.setting(car.job, car.wiring, setting.id),
                    )
                )
    return out


def _lasts(for_s: float | None, until: str | None, at_most_s: float | None) -> str:
    if for_s is not None:
        return f" for {for_s:g} s"
    if until is not None:
        most = f", at most {at_most_s:g} s" if at_most_s is not None else ""
        return f" until {until.replace('_', ' ')}{most}"
    return f" for at most {at_most_s:g} s" if at_most_s is not None else ""


__all__ = ["CONCERNS", "Concern", "about_starting", "along", "listens", "on_the_way", "rests_on"]
