"""From the ways chosen to a complete wiring, with the reason for every run, part and setting."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from startwright.car.fitted import switch_of
from startwright.car.key_resistor import key_line
from startwright.plan.answer import Mend, Planned
from startwright.plan.choose import Choice
from startwright.plan.demand import Demand, Needs
from startwright.plan.limits import bounded_settings
from startwright.plan.measure import check_of
from startwright.plan.model import sees_ignition
from startwright.plan.places import (
    BENCH_M,
    FUSE_M,
    LOOP_M,
    UNKNOWN_M,
    switch_place,
    unit_place,
    way_m,
)
from startwright.plan.way import GROUND, SMALL, Link, Way
from startwright.plan.wires import choose_wire
from startwright.plan.words import cautions
from startwright.records.job import WholeJob
from startwright.records.unit import Lead, NumberRange, Unit
from startwright.records.vehicle import Circuit
from startwright.records.wiring import Check, Fitted, Need, Reason, Run, Wiring
from startwright.records.words import Joint

LETTER = {"relay": "K", "fuse": "F", "diode": "D", "resistor": "R", "switch": "S",
          "interface": "X"}  # fmt: skip
"""Letters of parts in a wiring (IEC 81346-2 classes where they fit, ours elsewhere)."""


@dataclass
class _Sheet:
    job: WholeJob
    choice: Choice
    mend: Mend
    unit_at: str | None
    ground: str
    parts: list[Fitted] = field(default_factory=list)
    names: dict[tuple[str, str], str] = field(default_factory=dict)
    letters: dict[str, str] = field(default_factory=dict)
    links: list[tuple[Way, Link]] = field(default_factory=list)
    cuts: list[str] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    places: dict[str, str | None] = field(default_factory=dict)


def write_plan(job: WholeJob, needs: Needs, choice: Choice, mend: Mend) -> Planned:
    """Write down a choice as a plan.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit and stock.
    needs : Needs
        What was asked, for the reasons.
    choice : Choice
        The ways chosen.
    mend : Mend
        Least sizes of runs.

    Returns
    -------
    Planned
    """
    touched = [
        _circuit_of(end)
        for w in choice.ways
        for link in w.links
        for end in (link.a, link.b)
        if end.startswith("vehicle.")
    ]
    at = unit_place(job, touched)
    sheet = _Sheet(job, choice, mend, at, _ground_name(job, at))
    _name_parts(sheet)
    _collect(sheet)
    runs, by_way = _runs(sheet)
    settings = _settings(sheet)
    for circuit, why in needs.left:
        source = re.search(r"49 CFR [\d.]+", why)
        sheet.reasons.append(
            Reason(
                of=f"vehicle.{circuit}",
                says=f"left alone: it {why}",
                source=source.group(0) if source else None,
            )
        )
    wiring = Wiring(
        format="startwright/wiring/1",
        parts=sheet.parts,
        settings=settings,
        cuts=sheet.cuts,
        runs=runs,
    )
    return Planned(
        format="startwright/plan/1",
        job=job.id,
        wiring=wiring,
        needs=_needs(needs.demands, choice, by_way),
        reasons=sheet.reasons,
        cost=choice.score.cost,
        minutes=choice.score.minutes,
        checks=_checks(job, runs),
        warnings=[*needs.warnings, *cautions(job, choice)],
        score=choice.score,
        made_of=_made_of(sheet, by_way),
        feeds={
            sheet.names[w.demand, role]: w.circuit.id
            for w in choice.ways
            for role, part in w.parts
            if part.kind == "fuse" and w.circuit is not None
        },
    )


def _made_of(sheet: _Sheet, by_way: dict[str, list[str]]) -> dict[str, str]:
    """For each run and part the key of the way it belongs to."""
    out: dict[str, str] = {}
    for way in sheet.choice.ways:
        for run in by_way.get(way.demand, []):
            out[run] = way.key
        for role, _ in way.parts:
            out[sheet.names[way.demand, role]] = way.key
    return out


def _circuit_of(end: str) -> str:
    return end.split(".")[1]


def _ground_name(job: WholeJob, at: str | None) -> str:
    grounds = job.vehicle.of("ground")
    if grounds:
        return f"ground.{grounds[0].id}"
    slug = re.sub(r"[^a-z0-9]+", "_", (at or "body").lower()).strip("_")
    return f"ground.{slug}"


def _name_parts(sheet: _Sheet) -> None:
    used: dict[str, int] = {}
    for way in sheet.choice.ways:
        for role, part in way.parts:
            letter = LETTER[part.kind]
            used[letter] = used.get(letter, 0) + 1
            name = f"{letter}{used[letter]}"
            sheet.names[way.demand, role] = name
            sheet.letters[name] = letter
            place = sheet.unit_at
            if part.kind == "switch":
                place = switch_place(sheet.job, str(part.operated_by), sheet.unit_at)
            elif part.kind == "fuse" and way.battery is not None:
                place = sheet.job.vehicle.circuit(way.battery).place
            elif way.cuts and way.circuit is not None and part.kind in ("relay", "resistor"):
                place = way.circuit.place
            sheet.places[name] = place
            sheet.parts.append(Fitted(id=name, of=part.id, place=place))
            sheet.reasons.append(Reason(of=name, says=_part_why(way, role, part.kind)))


def _part_why(way: Way, role: str, kind: str) -> str:
    circuit = way.circuit.id if way.circuit else ""
    if kind == "fuse":
        if way.demand == "small-feed":
            return "the small feed's fuse: it guards the supply of coils and sensed levels"
        return f"guards the feed of {circuit or way.demand}; loaded to 75 % at most where it lasts"
    if way.shape == "foot" and kind == "relay":
        if role == "K":
            return f"shows the car's control a foot on {circuit} while the unit presses"
        return "hides the pedal from the car's control while the ending press is given"
    if kind == "diode":
        return f"lets its lead work {circuit}, and keeps {circuit} from feeding the lead's others"
    if kind == "switch":
        return f"{way.says}: the car's own signal is missing, unsure or not to be read"
    if kind == "relay" and way.inputs:
        return f"{way.says}: the levels differ"
    return way.says


def _collect(sheet: _Sheet) -> None:
    small = next((w for w in sheet.choice.ways if w.demand == "small-feed"), None)
    small_end = f"{sheet.names['small-feed', 'F']}.b" if small else ""
    for way in sheet.choice.ways:
        for c in way.cuts:
            if c not in sheet.cuts:
                sheet.cuts.append(c)
    for way in sheet.choice.ways:
        for link in way.links:
            a, b = (_end(sheet, way, end, small_end) for end in (link.a, link.b))
            a, b = _near_ground(sheet, a, b), _near_ground(sheet, b, a)
            sheet.links.append((way, replace(link, a=a, b=b)))


def _near_ground(sheet: _Sheet, end: str, other: str) -> str:
    """The ground point of a run's end: a part away from the unit is grounded where it sits."""
    place = sheet.places.get(other.split(".")[0])
    if end != sheet.ground or place in (None, sheet.unit_at):
        return end
    return "ground." + re.sub(r"[^a-z0-9]+", "_", str(place).lower()).strip("_")


def _end(sheet: _Sheet, way: Way, end: str, small: str) -> str:
    if end == GROUND:
        return sheet.ground
    if end == SMALL:
        return small
    if end.startswith("@"):
        role, _, pin = end[1:].partition(".")
        need, slash, other = role.partition("/")
        return f"{sheet.names[(need, other) if slash else (way.demand, role)]}.{pin}"
    if end.startswith("vehicle.") and end.count(".") == 1 and _circuit_of(end) in sheet.cuts:
        return f"{end}.load"
    return end


def _fuse_A(sheet: _Sheet, way: Way, guard: str) -> float | None:
    """Rating of the fuse before a run."""
    roles = dict(way.parts)
    if guard == "F" and "F" in roles:
        return roles["F"].rating_A
    if guard == "small":
        small = next((w for w in sheet.choice.ways if w.demand == "small-feed"), None)
        return dict(small.parts)["F"].rating_A if small else None
    if guard.startswith("feed:"):
        lead = guard.removeprefix("feed:")
        feed = next((w for w in sheet.choice.ways if w.demand == f"feed-{lead}"), None)
        if feed is not None and feed.parts:
            return feed.parts[0][1].rating_A
        return sheet.job.unit.lead(lead).fuse_A
    return None


def _strongest_A(sheet: _Sheet, way: Way, link: Link) -> float | None:
    """The largest fuse through which hard current can reach a run: ours, or the car's own."""
    found = [_fuse_A(sheet, way, link.guard) or 0.0]
    for end in (link.a, link.b):
        if end.startswith("vehicle."):
            circuit = sheet.job.vehicle.circuit(_circuit_of(end))
            if circuit.active_level == "battery":
                found.append(circuit.fuse_A or 0.0)
    return max(found) or None


def _is_signal(sheet: _Sheet, link: Link, lead: Lead | None) -> bool:
    """Whether a run is not likely to carry an overload (IEC 60364-4-43, clause 433.3.1 b)."""
    if link.amps >= 1.0:
        return False
    if lead is not None and (lead.way == "in" or switch_of(lead) == "transistor"):
        return lead.way in ("in", "out")
    kinds = {p.id: sheet.letters[p.id] for p in sheet.parts}
    for end in (link.a, link.b):
        owner, _, pin = end.partition(".")
        letter = kinds.get(owner)
        if letter in ("X", "S") or (letter == "K" and pin in ("85", "86")):
            return True
    return False


def _rank(sheet: _Sheet, link: Link) -> tuple[int, str]:
    """The order of the hand: the bench, ground, then the car place by place, battery last."""
    ends = (link.a, link.b)
    cars = [e for e in ends if e.startswith("vehicle.")]
    if not cars:
        return (1, "") if any(e.startswith("ground.") for e in ends) else (0, "")
    circuit = sheet.job.vehicle.circuit(_circuit_of(cars[0]))
    if circuit.function == "battery":
        return (4, circuit.place or "")
    last = circuit.function == "starter"
    return (3 if last else 2, circuit.place or "")


def _length_m(sheet: _Sheet, a: str, b: str) -> float:
    ends = (a, b)
    cars = [e for e in ends if e.startswith("vehicle.")]
    if cars:
        circuit = sheet.job.vehicle.circuit(_circuit_of(cars[0]))
        other = b if ends[0] == cars[0] else a
        owner = other.split(".")[0]
        if owner in sheet.places and sheet.places[owner] == circuit.place:
            return FUSE_M
        place = sheet.places.get(owner, sheet.unit_at)
        return round(way_m(sheet.job.vehicle, circuit.place, place) + LOOP_M, 2)
    pa, pb = (sheet.places.get(e.split(".")[0], sheet.unit_at) for e in ends)
    if any(e.startswith("ground.") for e in ends):
        away = next(p for e, p in zip(ends, (pa, pb), strict=True) if not e.startswith("ground."))
        return BENCH_M if away != sheet.unit_at else 0.5
    if pa == pb or pa is None or pb is None:
        return BENCH_M
    far = way_m(sheet.job.vehicle, pa, pb)
    return round((far if far < UNKNOWN_M else UNKNOWN_M) + LOOP_M, 2)


def _joint(end: str) -> Joint:
    owner = end.split(".")[0]
    if owner == "vehicle":
        return "solder"
    if owner == "ground" or owner[0] in "KFS":
        return "terminal"
    return "plug" if owner[0] == "X" else "solder" if owner[0] in "DR" else "crimp"


def _runs(sheet: _Sheet) -> tuple[list[Run], dict[str, list[str]]]:
    order = sorted(range(len(sheet.links)), key=lambda k: (*_rank(sheet, sheet.links[k][1]), k))
    runs: list[Run] = []
    by_way: dict[str, list[str]] = {}
    for k in order:
        way, link = sheet.links[k]
        id = f"r{len(runs) + 1}"
        length_m = _length_m(sheet, link.a, link.b)
        lead = next(
            (sheet.job.unit.lead(e.split(".")[1]) for e in (link.a, link.b)
             if e.startswith("unit.")), None,
        )  # fmt: skip
        least = sheet.mend.size_mm2.get(ends_key(link.a, link.b), 0.0)
        if lead is not None and lead.size_mm2 is not None:
            least = max(least, lead.size_mm2)
        fuse_A = None if _is_signal(sheet, link, lead) else _strongest_A(sheet, way, link)
        purpose = (
            "ground"
            if "ground." in link.a + link.b
            else ("battery" if way.battery or link.amps >= 5 else "signal")
        )
        wire = choose_wire(sheet.job.stock, link.amps, fuse_A, length_m, least, purpose, lead)
        runs.append(
            Run.model_validate(
                {"id": id, "from": link.a, "to": link.b, "size_mm2": wire.size_mm2,
                 "colour": wire.colour, "length_m": length_m,
                 "joints": [_joint(link.a), _joint(link.b)], "why": link.why}
            )
        )  # fmt: skip
        by_way.setdefault(way.demand, []).append(id)
        sheet.reasons.append(Reason(of=id, says=f"{link.why}; {wire.why}"))
    return runs, by_way


def ends_key(a: str, b: str) -> str:
    """The two ends of a run as one word, the same whichever way it is written."""
    return " – ".join(sorted((a, b)))


def _value(unit: Unit, name: str, value: str) -> str | float:
    """A setting's value as its record has it: a number where the values are a range."""
    setting = unit.setting(name)
    ranged = setting is not None and isinstance(setting.values, NumberRange)
    return float(value) if ranged else value


def _settings(sheet: _Sheet) -> dict[str, str | float]:
    out: dict[str, str | float] = {}
    for way in sheet.choice.ways:
        for name, value in way.all_settings:
            if name not in out:
                out[name] = _value(sheet.job.unit, name, value)
                sheet.reasons.append(
                    Reason(of=f"setting.{name}", says=f"{value}, because {way.says}")
                )
    imitated = any(w.shape == "foot" for w in sheet.choice.ways)
    for name, number, why in bounded_settings(sheet.job.unit, imitated):
        out[name] = number
        said = number if isinstance(number, str) else f"{number:g}"
        sheet.reasons.append(Reason(of=f"setting.{name}", says=f"{said}: {why}"))
    return dict(sorted(out.items()))


def _needs(demands: tuple[Demand, ...], choice: Choice, by_way: dict[str, list[str]]) -> list[Need]:
    out = []
    for d in demands:
        way = next((w for w in choice.ways if w.demand == d.id), None)
        by = by_way.get(d.id, [])
        met = way is not None
        if d.kind == "seen":
            seeing = [w for w in choice.ways if sees_ignition(w)]
            met, by = bool(seeing), [r for w in seeing for r in by_way.get(w.demand, [])]
        elif d.kind == "tach":
            met, by = d.id not in choice.unmet, by_way.get("engine-signal", [])
        out.append(d.as_need(met, by if met else []))
    for way in choice.ways:
        if way.demand.startswith("feed-") and not any(d.id == way.demand for d in demands):
            out.append(
                Need(
                    id=way.demand,
                    need=f"battery feed for {way.demand.removeprefix('feed-')}",
                    because="outputs in use are fed by this lead",
                    by=by_way.get(way.demand, []),
                )
            )
        elif way.demand == "small-feed":
            out.append(
                Need(
                    id=way.demand,
                    need="a small fused feed",
                    because="coils or sensed levels want a supply of their own, fused",
                    by=by_way.get(way.demand, []),
                )
            )
    return out


def _key_ohm(job: WholeJob, circuit: Circuit) -> float | None:
    """What is measured on this circuit with the key in the lock; None on all but the key's line."""
    return job.vehicle.immobilizer.key_ohm if circuit is key_line(job.vehicle) else None


def _checks(job: WholeJob, runs: list[Run]) -> list[Check]:
    out: list[Check] = []
    done: set[str] = set()
    for run in runs:
        for end in run.ends:
            if not end.startswith("vehicle."):
                continue
            circuit = job.vehicle.circuit(_circuit_of(end))
            if circuit.id not in done:
                done.add(circuit.id)
                out += check_of(circuit, len(out) + 1, run.id, _key_ohm(job, circuit))
    return out
