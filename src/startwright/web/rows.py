"""The rows of wires, in the order in which the hand gets to them, and the slips of the runs."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from itertools import pairwise

from startwright.records import Circuit, Plan, Run, WholeJob, Wiring
from startwright.sheets import colour as insulation
from startwright.sheets.tree import place_tree, unit_place
from startwright.web.say import (
    function_words,
    known_words,
    rest_and_active,
    size_words,
)

LINKS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "relay": (
        ("30", "87", "closes when worked"),
        ("30", "87a", "closed at rest"),
        ("85", "86", "its coil"),
    ),
    "diode": (("anode", "cathode", "one way"),),
    "resistor": (("a", "b", ""),),
    "fuse": (("a", "b", ""),),
    "switch": (("a", "b", ""),),
}


@dataclass
class Row:
    """One wire of the car that is joined, as the fitter meets it."""

    circuit: Circuit
    title: str
    rest: str
    active: str
    when: str
    known: str
    sure: bool
    colour: str
    runs: list[str]
    through: list[str]
    ends: list[str]
    worked_by: list[str] = field(default_factory=list)
    why: list[str] = field(default_factory=list)
    cut: bool = False


@dataclass
class Stop:
    """A place and plug where the hand is, with its rows."""

    place: str
    plug: str
    rows: list[Row]
    cautions: list[str] = field(default_factory=list)


@dataclass
class Slip:
    """What lights up when a run is touched."""

    run: Run
    ends: tuple[str, str]
    size: str
    colour: str
    joints: str
    why: list[str]
    load: list[tuple[str, str]] = field(default_factory=list)


def _graph(
    wiring: Wiring, kinds: dict[str, str], pins: dict[str, tuple[str, ...]]
) -> dict[str, list[tuple[str, str]]]:
    near: dict[str, list[tuple[str, str]]] = {}

    def join(a: str, b: str, says: str) -> None:
        near.setdefault(a, []).append((b, says))
        near.setdefault(b, []).append((a, says))

    for run in wiring.runs:
        join(run.from_, run.to, "")
    for part in wiring.parts:
        kind = kinds.get(part.of, "")
        for a, b, says in LINKS.get(kind, ()):
            label = f"{kind} {part.id}" + (f" {a} to {b}" if kind == "relay" else "")
            join(f"{part.id}.{a}", f"{part.id}.{b}", f"{label}, {says}" if says else label)
        if kind == "interface":
            for a, b in pairwise(pins.get(part.of, ())):
                join(f"{part.id}.{a}", f"{part.id}.{b}", f"interface {part.id}")
    return near


def _far_ends(start: str, near: dict[str, list[tuple[str, str]]]) -> tuple[list[str], list[str]]:
    """What a wire reaches, and through what: the nearest unit leads, else what else it meets."""
    seen = {start}
    queue: deque[tuple[str, list[str]]] = deque([(start, [])])
    leads: list[tuple[str, list[str]]] = []
    others: list[tuple[str, list[str]]] = []
    while queue:
        at, through = queue.popleft()
        for to, says in near.get(at, []):
            if to in seen:
                continue
            seen.add(to)
            way = [*through, says] if says else through
            if to.startswith("unit."):
                leads.append((to, way))
            elif to.startswith(("vehicle.", "ground.")):
                others.append((to, way))
            else:
                queue.append((to, way))
    found = leads or others
    if not found:
        return [], []
    fewest = min(len(way) for _, way in found)
    direct = [(to, way) for to, way in found if len(way) == fewest]
    through = list(dict.fromkeys(s for _, way in direct for s in way))
    return [to for to, _ in direct], through


def _worked_by(relay: str, near: dict[str, list[tuple[str, str]]]) -> list[str]:
    """The leads and circuits at either end of a relay's coil."""
    found: list[str] = []
    for pin in ("85", "86"):
        start = f"{relay}.{pin}"
        apart = {
            at: [w for w in ways if not w[1].endswith("its coil")] for at, ways in near.items()
        }
        found += [t for t in _far_ends(start, apart)[0] if not t.startswith("ground.")]
    leads = [t for t in found if t.startswith("unit.")]
    return list(dict.fromkeys(leads or found))


def hand_order(job: WholeJob, wiring: Wiring, places: list[str]) -> list[str]:
    """Places along the way the harness lies, from the unit outwards, nearest branch first."""
    tree = place_tree(job.vehicle, unit_place(job, wiring), places)
    order: list[str] = []
    todo = [tree.root]
    while todo:
        at = todo.pop(0)
        order.append(at)
        todo = [*tree.children.get(at, []), *todo]
    return order


def _reasons(plan: Plan, *names: str) -> list[str]:
    return list(dict.fromkeys(r.says for r in plan.reasons if r.of in names))


def said_once(why: list[str]) -> list[str]:
    """Reasons without those that another begins with."""
    whole = list(dict.fromkeys(why))
    return [w for w in whole if not any(o != w and o.startswith(w) for o in whole)]


def stops(job: WholeJob, plan: Plan) -> list[Stop]:
    """The joined wires, grouped by where the hand is, in the order of the way."""
    wiring = plan.wiring
    kinds: dict[str, str] = {p.id: p.kind for p in job.stock.parts}
    near = _graph(wiring, kinds, {p.id: p.pin_names for p in job.stock.parts})
    touched: dict[str, list[Run]] = {}
    for run in wiring.runs:
        for end in run.ends:
            if end.startswith("vehicle."):
                touched.setdefault(end.split(".")[1], []).append(run)
    found: dict[tuple[str, str], list[Row]] = {}
    for circuit in job.vehicle.circuits:
        if circuit.id not in touched:
            continue
        runs = touched[circuit.id]
        starts = list(
            dict.fromkeys(
                e for r in runs for e in r.ends if e.split(".")[:2] == ["vehicle", circuit.id]
            )
        )
        ends: list[str] = []
        through: list[str] = []
        for start in starts:
            to, parts = _far_ends(start, near)
            ends += [t for t in to if t not in ends]
            through += [p for p in parts if p not in through]
        relays = [w.split()[1] for w in through if w.startswith("relay ")]
        worked = [t for relay in dict.fromkeys(relays) for t in _worked_by(relay, near)]
        rest, active, when = rest_and_active(circuit)
        known, sure = known_words(circuit)
        why = [r.why for r in runs if r.why]
        why += _reasons(plan, f"vehicle.{circuit.id}", circuit.id, *(r.id for r in runs))
        row = Row(
            circuit=circuit,
            title=function_words(circuit.function, circuit.number),
            rest=rest,
            active=active,
            when=when,
            known=known,
            sure=sure,
            colour=insulation.words(circuit.colour),
            runs=[r.id for r in runs],
            through=through,
            ends=ends,
            worked_by=[t for t in worked if t not in ends],
            why=said_once(why),
            cut=circuit.id in wiring.cuts,
        )
        found.setdefault((circuit.place or "", circuit.plug or ""), []).append(row)
    way = hand_order(job, wiring, [place for place, _ in found])
    order = {place: n for n, place in enumerate(way)}
    keys = sorted(found, key=lambda k: (order.get(k[0], len(order)), k[1]))
    result: list[Stop] = []
    for place, plug in keys:
        rows = sorted(found[(place, plug)], key=lambda r: _pin_key(r.circuit.pin))
        result.append(
            Stop(
                place or "place not recorded",
                plug or "plug not recorded",
                rows,
                cautions(job, place, rows, first=all(s.place != place for s in result)),
            )
        )
    return result


def cautions(job: WholeJob, place: str, rows: list[Row], *, first: bool) -> list[str]:
    """What can hurt where the hand is about to go; the place's own only at its first plug."""
    here = {c.function for c in job.vehicle.circuits if (c.place or "") == place}
    said = []
    if first and "srs" in here:
        said.append("Yellow plugs here are airbags: never probe them, never join them.")
    if first and "high_voltage" in here:
        said.append("Orange cable here is high voltage: leave it alone.")
    if first and "data" in here:
        said.append("Data wires lie here: a test lamp on one of them can harm a module.")
    if any(r.circuit.function == "battery" for r in rows):
        said.append("Battery voltage at all times: take the battery's ground off before joining.")
    if any(r.circuit.function == "starter" for r in rows):
        said.append("Fed while probing, this wire cranks the engine: gear in park, hands clear.")
    if first and "column" in place:
        said.append("The column moves: keep the loom clear of what turns and tilts.")
    return said


def _pin_key(pin: str | None) -> tuple[int, int, str]:
    if pin is None:
        return (2, 0, "")
    digits = "".join(c for c in pin if c.isdigit())
    return (0, int(digits[:9]), pin) if digits else (1, 0, pin)


def terminal_words(job: WholeJob, wiring: Wiring, terminal: str) -> str:
    """A terminal as a person says it: ``unit.feed_1`` is the unit's feed_1."""
    kind, _, rest = terminal.partition(".")
    if kind == "unit":
        return f"unit, lead {rest}"
    if kind == "ground":
        return f"ground, {rest.replace('_', ' ')}"
    if kind == "vehicle":
        id, _, side = rest.partition(".")
        try:
            circuit = job.vehicle.circuit(id)
        except KeyError:
            return f"car, {rest}"
        words = function_words(circuit.function, circuit.number)
        side_words = {"source": ", side of the key", "load": ", side of the load"}.get(side, "")
        return f"car, {words}{side_words}"
    of = next((p.of for p in wiring.parts if p.id == kind), "")
    part = next((p for p in job.stock.parts if p.id == of), None)
    return f"{part.kind if part else 'part'} {kind}, pin {rest}"


def slips(
    job: WholeJob, plan: Plan, loads: dict[str, list[tuple[str, str]]] | None = None
) -> list[Slip]:
    """One slip a run: where from and to, how thick, how joined, what it carries, why."""
    result = []
    for run in plan.wiring.runs:
        why = [run.why] if run.why else []
        why += _reasons(plan, run.id)
        result.append(
            Slip(
                run=run,
                ends=(
                    terminal_words(job, plan.wiring, run.from_),
                    terminal_words(job, plan.wiring, run.to),
                ),
                size=size_words(run.size_mm2),
                colour=insulation.words(run.colour),
                joints=", ".join(j.replace("_", "-") for j in run.joints) or "joints not chosen",
                why=said_once(why),
                load=(loads or {}).get(run.id, []),
            )
        )
    return result
