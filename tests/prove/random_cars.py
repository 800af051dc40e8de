"""Cars, units and wirings by chance: planned, then spoilt up to three times; seeded."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from plan.cars import _random_car, _random_unit, full_stock, hand, job, sense

from startwright.plan import NoPlan, plan
from startwright.records.job import WholeJob
from startwright.records.wiring import Wiring

BYPASS = {
    "id": "bypass",
    "kind": "interface",
    "serves": ["transponder"],
    "needs": {"power": "battery", "earth": "ground", "wake": "running_signal", "bus": "data"},
    "pins": ["power", "earth", "wake", "bus"],
    "count": 2,
    "price": 30,
}


@dataclass(frozen=True)
class Chance:
    """A job, a wiring, and what was done to it."""

    seed: int
    job: WholeJob
    wiring: Wiring
    spoilt: tuple[str, ...]


def chance(seed: int) -> Chance:
    """A car with a plan (the first that has one from this seed on), spoilt `seed % 4` times."""
    for turn in range(50):
        r = random.Random(f"{seed}/{turn}")
        made = _job(r)
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
    may = ["light_flash", "lock_unlock"]
    if "trunk" in circuits and any(d["id"] == "trunk" for d in box["leads"]):
        may.append("trunk_release")
    if any(d["id"] == "armed" for d in box["leads"]):
        may += ["starter_cut", "armed_output"]
    wants = ("remote_start", *(w for w in may if r.random() < 0.35))
    return job(car, box, shelf, wants)


# ---- spoiling -----------------------------------------------------------------------------------

Data = dict[str, Any]
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
