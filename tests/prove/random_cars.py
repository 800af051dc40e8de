"""Cars, units and wirings by chance: planned, then spoilt up to three times; seeded."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from plan.cars import (
    _random_car,
    _random_unit,
    commands,
    full_stock,
    hand,
    job,
    ohm,
    sense,
    wide_job,
)

from startwright.plan import NoPlan, plan
from startwright.records.job import WholeJob
from startwright.records.wiring import Wiring

Data = dict[str, Any]
BYPASS = {
    "id": "bypass",
    "kind": "interface",
    "serves": ["transponder"],
    "needs": {"power": "battery", "earth": "ground", "wake": "running_signal", "bus": "data"},
    "pins": ["power", "earth", "wake", "bus"],
    "count": 2,
    "price": 30,
}


SERVICE = {
    "id": "service-switch",
    "kind": "switch",
    "operated_by": "service",
    "contact_at_rest": "open",
    "count": 1,
    "price": 3,
}


LADDER: list[Data] = [
    {
        "id": "lock_line",
        "function": "lock",
        "also": ["unlock"],
        "style": "ladder",
        "steps_ohm": {"rest": 4700, "lock": 330, "unlock": 1000},
        "place": "kick panel",
    }
]
REVERSING: list[Data] = [
    {
        "id": f,
        "function": f,
        "style": "reversing",
        "rest": "ground",
        "active": "battery",
        "load_A": 8.0,
        "place": "kick panel",
    }
    for f in ("lock", "unlock")
]


@dataclass(frozen=True)
class Chance:
    """A job, a wiring, and what was done to it."""

    seed: int
    job: WholeJob
    wiring: Wiring
    spoilt: tuple[str, ...]


def chance(seed: int) -> Chance:
    """A car with a plan (the first that has one from this seed on), spoilt `seed % 4` times."""
    return _chance(seed, _job, str(seed))


def wide_chance(seed: int) -> Chance:
    """The same from the rarer cars: buttons, pumps, keys that are measured, charge lamps too."""
    rare = RARE[seed % len(RARE)]

    def make(r: random.Random) -> WholeJob:
        return _wide_job(r, rare)

    return _chance(seed, make, f"wide {seed}")


def kinds(one: Chance) -> set[str]:
    """What is special about a car, its unit and the wiring, in words."""
    car, unit, wiring = one.job.vehicle, one.job.unit, one.wiring
    of = {p.id: p.kind for p in one.job.stock.parts}
    fitted = {of[p.of] for p in wiring.parts}
    joined = {end for r in wiring.runs for end in (r.from_, r.to)}
    senses = {d.senses for d in unit.leads if d.way == "in" and f"unit.{d.id}" in joined}
    styles = {c.style for c in car.circuits if any(e.startswith(f"vehicle.{c.id}") for e in joined)}
    out = {f"{s} locks" for s in styles if s is not None}
    out |= {f"a {k}" for k in fitted}
    out |= {f"senses {s}" for s in senses if s in ("service", "charge_lamp", "wait_to_start")}
    if car.start == "push_button":
        imitated = unit.ending is not None
        out.add("push button, imitated" if imitated else "push button, fed or left running")
    if car.engine.idle_stop:
        out.add("idle-stop")
    if car.immobilizer.kind != "none":
        out.add(f"immobilizer {car.immobilizer.kind}")
    for function in ("ignition", "starter", "brake"):
        if len(car.of(function)) > 1:
            out.add(f"several {function} circuits")
    if wiring.cuts:
        out.add("reversing with cuts" if "reversing locks" in out else "cuts")
    return out | ({"spoilt"} if one.spoilt else {"as planned"})


def _chance(seed: int, make: Callable[[random.Random], WholeJob], name: str) -> Chance:
    for turn in range(50):
        r = random.Random(f"{name}/{turn}")
        made = make(r)
        answer = plan(made)
        if not isinstance(answer, NoPlan):
            break
    else:
        raise AssertionError(f"no plan from seed {seed} on")
    wiring = answer.wiring.model_dump(by_alias=True, exclude_none=True)
    spoilt = []
    while len(spoilt) < seed % 4:
        what = r.choice(list(SPOIL))
        changed = SPOIL[what](r, made, wiring)
        if changed is not None:
            wiring, done = changed
            spoilt.append(f"{what} {done}")
    return Chance(seed, made, Wiring.model_validate(wiring), tuple(spoilt))


# ---- the car and the unit -----------------------------------------------------------------------


def _job(r: random.Random) -> WholeJob:
    car, box, shelf = _random_car(r), _random_unit(r), full_stock()
    circuits = {c["id"]: c for c in car["circuits"]}
    if r.random() < 0.3:
        car["immobilizer"] = {"kind": "transponder"}
        car["circuits"].append({"id": "bus", "function": "data", "place": "column"})
        shelf["parts"].append(BYPASS)
    _more(r, car, box)
    may = ["light_flash", "lock_unlock"]
    if "trunk" in circuits and any(d["id"] == "trunk" for d in box["leads"]):
        may.append("trunk_release")
    if any(d["id"] == "armed" for d in box["leads"]):
        may += ["starter_cut", "armed_output"]
    wants = ("remote_start", *(w for w in may if r.random() < 0.35))
    return job(car, box, shelf, wants)


RARE = ("nothing", "idle-stop", "wait lamp", "service", "charge lamp", "ladder", "reversing")
"""What the rarer cars have in turn, beside what comes by chance."""


def _wide_job(r: random.Random, rare: str) -> WholeJob:
    plain = wide_job(r.randrange(1 << 30))
    car, box, shelf = (
        record.model_dump(by_alias=True, exclude_none=True, exclude_unset=True, mode="json")
        for record in (plain.vehicle, plain.unit, plain.stock)
    )
    wants = list(plain.wants)
    tries = box.get("tries", 1) if "ending" in box else None
    if r.random() < 0.5:
        _more(r, car, box)
    if rare == "idle-stop":
        car["engine"] = {"idle_stop": True}
    if rare == "wait lamp":
        car["engine"] = {"ignition": "compression", "fuel": "diesel"}
        _put(car["circuits"], hand("glow", "wait_to_start", "ground", 0.1))
        _put(box["leads"], sense("glow_in", "wait_to_start"))
    if rare == "service":
        _put(box["leads"], sense("svc_in", "service"))
        _put(shelf["parts"], SERVICE)
    if rare == "charge lamp":
        box["engine_signal"] = {"by": "engine_sense", "choices": ["charge_lamp"]}
        box["leads"] = [d for d in box["leads"] if d.get("senses") != "tach"]
        _put(box["leads"], sense("charge_in", "charge_lamp", r.choice(["battery", "ground"])))
        _put(car["circuits"], hand("charge", "charge_lamp", r.choice(["battery", "ground"]), 0.2))
    if rare in ("ladder", "reversing"):
        gone = ("lock", "unlock", "lock_line")
        kept = [c for c in car["circuits"] if c["id"] not in gone]
        car["circuits"] = [*kept, *(LADDER if rare == "ladder" else REVERSING)]
        wants += ["lock_unlock"] * ("lock_unlock" not in wants)
        for value in (330, 1000):
            _put(shelf["parts"], ohm(value))
        box.setdefault("commands", commands())
    if tries is not None:
        box["tries"] = tries
    return job(car, box, shelf, tuple(wants))


def _put(listed: list[Data], new: Data) -> None:
    """Take the place of what has the same id, or come last."""
    listed[:] = [*(x for x in listed if x["id"] != new["id"]), new]


def _more(r: random.Random, car: Data, box: Data) -> None:
    """Idle-stop or wait lamp, service, a guard more, tries, commands, input thresholds."""
    if r.random() < 0.2:
        car["engine"] = {"idle_stop": True}
    elif r.random() < 0.25:
        car["engine"] = {"ignition": "compression", "fuel": "diesel"}
        car["circuits"].append(hand("glow", "wait_to_start", "ground", 0.1))
        box["leads"].append(sense("glow_in", "wait_to_start"))
    if r.random() < 0.15:
        box["leads"].append(sense("svc_in", "service"))
    if r.random() < 0.2:
        box["guards"] = [
            {"input": "hood", "reads": "inactive"},
            {"input": "brake", "reads": "inactive"},
            {"input": "park_neutral", "reads": "active"},
            {"input": "door", "reads": "inactive"},
        ]
        car["circuits"].append(hand("door", "door", "ground", 0.1))
        box["leads"].append(sense("door_in", "door"))
    box["tries"] = r.choice([1, 2, 3])
    box["commands"] = {
        "lock": [{"drives": ["lock"], "pulse_s": 0.8}],
        "unlock": [{"drives": ["unlock"], "pulse_s": 0.8}],
        "unlock_again": [{"drives": ["unlock"], "pulse_s": 0.8}],
        "trunk": [{"drives": ["trunk_release"], "pulse_s": 0.8}],
    }
    for lead in box["leads"]:
        if lead["way"] == "in" and lead.get("senses") != "tach" and r.random() < 0.3:
            on, off = (8.0, 2.0) if lead["active"] == "battery" else (2.0, 8.0)
            lead |= {"on_V": on, "off_V": off, "pull_ohm": r.choice([1000, 10_000, 47_000])}


# ---- spoiling -----------------------------------------------------------------------------------

Spoil = Callable[[random.Random, WholeJob, Data], tuple[Data, str] | None]


def _terminals(made: WholeJob, wiring: Data) -> list[str]:
    kinds = {p.id: p for p in made.stock.parts}
    out = [f"unit.{lead.id}" for lead in made.unit.leads]
    for c in made.vehicle.circuits:
        sides = (".source", ".load") if c.id in wiring.get("cuts", []) else ("",)
        out += [f"vehicle.{c.id}{side}" for side in sides]
    for part in wiring.get("parts", []):
        out += [f"{part['id']}.{pin}" for pin in kinds[part["of"]].pin_names]
    return [*out, "ground.body"]


def _without(wiring: Data, *ids: str) -> Data:
    return {**wiring, "runs": [r for r in wiring["runs"] if r["id"] not in ids]}


def _moved(r: random.Random, made: WholeJob, wiring: Data) -> tuple[Data, str] | None:
    run = r.choice(wiring["runs"])
    end = r.choice(["from", "to"])
    to = r.choice(_terminals(made, wiring))
    if to in (run["from"], run["to"]):
        return None
    runs = [{**x, end: to} if x is run else x for x in wiring["runs"]]
    return {**wiring, "runs": runs}, f"{run['id']} {run[end]} to {to}"


def _dropped(r: random.Random, made: WholeJob, wiring: Data) -> tuple[Data, str] | None:
    run = r.choice(wiring["runs"])
    return _without(wiring, run["id"]), f"{run['id']} {run['from']}–{run['to']}"


def _joined(r: random.Random, made: WholeJob, wiring: Data) -> tuple[Data, str] | None:
    one, other = r.sample(_terminals(made, wiring), 2)
    new = {"id": f"x{len(wiring['runs'])}", "from": one, "to": other, "size_mm2": 1.0}
    return {**wiring, "runs": [*wiring["runs"], new]}, f"{one}–{other}"


def _swapped(wiring: Data, one: str, other: str) -> Data:
    names = {one: other, other: one}
    runs = [
        {**x, "from": names.get(x["from"], x["from"]), "to": names.get(x["to"], x["to"])}
        for x in wiring["runs"]
    ]
    return {**wiring, "runs": runs}


def _of_kind(made: WholeJob, wiring: Data, *kinds: str) -> list[str]:
    of = {p.id: p.kind for p in made.stock.parts}
    return [p["id"] for p in wiring.get("parts", []) if of[p["of"]] in kinds]


def _turned(r: random.Random, made: WholeJob, wiring: Data) -> tuple[Data, str] | None:
    diodes = _of_kind(made, wiring, "diode")
    if not diodes:
        return None
    name = r.choice(diodes)
    return _swapped(wiring, f"{name}.anode", f"{name}.cathode"), name


def _pins(r: random.Random, made: WholeJob, wiring: Data) -> tuple[Data, str] | None:
    relays = _of_kind(made, wiring, "relay")
    if not relays:
        return None
    name = r.choice(relays)
    one, other = r.sample(["30", "85", "86", "87", "87a"], 2)
    return _swapped(wiring, f"{name}.{one}", f"{name}.{other}"), f"{name} {one} {other}"


def _removed(r: random.Random, made: WholeJob, wiring: Data) -> tuple[Data, str] | None:
    parts = [p["id"] for p in wiring.get("parts", [])]
    if not parts:
        return None
    name = r.choice(parts)
    gone = [
        x["id"]
        for x in wiring["runs"]
        if any(x[e].partition(".")[0] == name for e in ("from", "to"))
    ]
    kept = {**wiring, "parts": [p for p in wiring["parts"] if p["id"] != name]}
    return _without(kept, *gone), name


def _reset(r: random.Random, made: WholeJob, wiring: Data) -> tuple[Data, str] | None:
    settings = [s for s in made.unit.settings if not hasattr(s.values, "min")]
    if not settings:
        return None
    one = r.choice(settings)
    value = r.choice(sorted(one.values))
    return {
        **wiring,
        "settings": {**wiring.get("settings", {}), one.id: value},
    }, f"{one.id}={value}"


SPOIL: dict[str, Spoil] = {
    "run moved:": _moved,
    "run dropped:": _dropped,
    "joined:": _joined,
    "diode turned:": _turned,
    "pins swapped:": _pins,
    "part removed:": _removed,
    "setting:": _reset,
}
