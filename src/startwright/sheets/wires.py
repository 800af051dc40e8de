"""The car's wires in the order in which the hand gets to them: what each does, and what to do."""

from __future__ import annotations

from collections import deque
from typing import Any

from startwright.records import Check, Circuit, Plan, SizeReport
from startwright.sheets.cautions import Caution, at_place, engine_turns
from startwright.sheets.colour import insulation, words
from startwright.sheets.doing import do_line
from startwright.sheets.ends import UNIT, Web
from startwright.sheets.labels import RELAY_PINS, amount, circuit_name, said, size_words
from startwright.sheets.naming import in_words

INSIDE: dict[str, tuple[tuple[str, str], ...]] = {
    "relay": (("30", "87"), ("30", "87a"), ("85", "86")),
    "diode": (("anode", "cathode"),),
    "resistor": (("a", "b"),),
    "fuse": (("a", "b"),),
    "switch": (("a", "b"),),
}
"""Between which pins a part hands on what it gets."""

WHEN = {
    "brake": "with the pedal pressed",
    "clutch": "with the pedal pressed",
    "hood": "with the hood open",
    "door": "with a door open",
    "driver_door": "with the driver's door open",
    "trunk": "with the trunk open",
    "park_neutral": "in park or neutral",
    "parking_brake": "with the parking brake set",
    "parking_light": "with the lights on",
    "horn": "while the horn sounds",
    "lock": "while locking",
    "unlock": "while unlocking",
    "driver_unlock": "while unlocking",
    "trunk_release": "while the trunk is released",
    "charge_lamp": "while charging",
    "start_button": "with the button pressed",
    "wait_to_start": "while it waits",
}


def volts(level: str, pulled: str = "") -> str:
    """A level as a meter shows it at rest; `pulled` says where a load pulls an open wire."""
    if level == "battery":
        return "12.6 V"
    if level == "ground":
        return "0 V"
    return f"open, pulled to {volts(pulled)} by its load" if pulled else "open: the meter drifts"


def behaviour(circuit: Circuit, idle_rpm: float) -> tuple[str, str]:
    """How a wire rests and what it becomes, in volts, and when."""
    active = circuit.active_level
    if circuit.live is not None:
        off = "ground" if active == "battery" else "battery"
        dead = [p for p in ("out", "off", "accessory", "run", "start") if p not in circuit.live]
        if not dead:
            return volts(active), "the same at every key position"
        return (
            f"{volts(off)} with the key {', '.join(dead)}",
            f"{volts(active)} with the key in {', '.join(circuit.live)}",
        )
    if circuit.function == "tach":
        if circuit.pulses_per_rev is None:
            return "no pulses", "pulses that quicken with the engine"
        hertz = circuit.pulses_per_rev * idle_rpm / 60
        return "no pulses", f"about {hertz:.0f} pulses a second at idle ({idle_rpm:g} rpm)"
    if circuit.style == "ladder" and circuit.steps_ohm is not None:
        steps = circuit.steps_ohm.model_dump(exclude_none=True)
        rest = steps.pop("rest")
        return (
            f"{rest:g} Ω to ground, plug apart",
            ", ".join(f"{ohm:g} Ω {said(name)}" for name, ohm in steps.items()),
        )
    if circuit.active is None:
        return volts(
            circuit.rest
        ) if circuit.rest else "not on record", "do not load it to find out"
    pulled = "ground" if active == "battery" else "battery"
    level = circuit.rest or "open"
    when = "in park" if circuit.tells == "park" else WHEN.get(circuit.function, "when worked")
    if circuit.style == "pulse" and circuit.pulse_s:
        when += f" (a pulse of {circuit.pulse_s:g} s)"
    return volts(level, pulled if circuit.load_A else ""), f"{volts(circuit.active)} {when}"


def known(circuit: Circuit) -> tuple[str, bool]:
    """How a wire is known, and whether that is by a meter."""
    if circuit.known is None:
        return "not known: measure before you join", False
    how = circuit.known
    when = [str(how.date)] if how.date else []
    by = [f"by {how.by}"] if how.by else []
    tail = " ".join([*when, *by])
    if how.how == "measured":
        return f"measured {tail}".strip(), True
    word = {"manual": "from a manual", "told": "only told", "guessed": "only guessed"}[how.how]
    return f"{word} {tail}".strip() + ": measure before you join", False


def through(web: Web, circuit: str) -> list[str]:
    """Through what a wire of the car reaches the unit, in words, one line for each way."""
    near: dict[str, list[tuple[str, str]]] = {}
    for run in web.wiring.runs:
        near.setdefault(run.from_, []).append((run.to, run.id))
        near.setdefault(run.to, []).append((run.from_, run.id))
    for part, record in web.parts.items():
        for a, b in INSIDE.get(record.kind, ()):
            near.setdefault(f"{part}.{a}", []).append((f"{part}.{b}", part))
            near.setdefault(f"{part}.{b}", []).append((f"{part}.{a}", part))
    starts = [t for t in near if t.startswith("vehicle.") and t.split(".")[1] == circuit]
    out: list[str] = []
    seen = set(starts)
    queue: deque[tuple[str, tuple[str, ...]]] = deque((s, ()) for s in starts)
    ends: list[tuple[str, tuple[str, ...]]] = []
    while queue:
        at, way = queue.popleft()
        for to, by in near.get(at, []):
            if to in seen:
                continue
            seen.add(to)
            on = (*way, by)
            owner = to.partition(".")[0]
            if owner in ("unit", "vehicle", "ground") or _is_end(web, owner):
                ends.append((to, on))
            else:
                queue.append((to, on))
    to_unit = [e for e in ends if e[0].startswith("unit.") or _is_end(web, e[0].split(".")[0])]
    for end, on in to_unit or ends:
        steps = [_step(web, by) for by in on]
        out.append(f"{' · '.join(steps)} · {_terminal(web, end)}")
    return out


def _is_end(web: Web, part: str) -> bool:
    """Whether the way stops there: what an interface does inside is its own."""
    return part in web.parts and web.parts[part].kind not in INSIDE


def _step(web: Web, by: str) -> str:
    return f"{web.parts[by].kind} {by}" if by in web.parts else by


def _terminal(web: Web, terminal: str) -> str:
    owner, _, rest = terminal.partition(".")
    if owner == "unit":
        return f"unit {rest}"
    if owner == "ground":
        return f"ground, {said(rest)}"
    id, _, side = rest.partition(".")
    if owner == "vehicle":
        return circuit_name(web.job.vehicle.circuit(id), side)
    record = web.parts[owner]
    if record.kind not in INSIDE:
        return f"{record.kind} {owner}, pin {rest}"
    word = f" ({RELAY_PINS[rest]})" if record.kind == "relay" and rest in RELAY_PINS else ""
    return f"{owner} {rest}{word}"


def swatch(colour: str | None) -> dict[str, Any]:
    """A wire's look for the sheet: code, words, base and stripes as display colours."""
    paint = insulation(colour)
    return {
        "code": colour or "?",
        "words": words(colour),
        "base": paint.base,
        "stripes": list(paint.stripes),
    }


def place_order(web: Web) -> list[str]:
    """The places in the order in which the hand gets to them: from the unit along the harness."""
    out: list[str] = []
    todo = [web.tree.root]
    while todo:
        place = todo.pop(0)
        out.append(place)
        todo = [*web.tree.children.get(place, []), *todo]
    return out


def _natural(text: str | None) -> tuple[int, str]:
    digits = "".join(filter(str.isdigit, text or ""))
    return (int(digits) if digits else 10_000, text or "")


def stops(web: Web, plan: Plan, size: SizeReport | None) -> list[dict[str, Any]]:
    """Place by place the wires of the car that the wiring touches, with all there is to say."""
    checks: dict[str, list[Check]] = {}
    for check in plan.checks:
        owner, _, rest = (check.probe or "").partition(".")
        if owner == "vehicle":
            checks.setdefault(rest.partition(".")[0], []).append(check)
    out = []
    for place in place_order(web):
        ids = dict.fromkeys(
            item.id.split(".")[1] for item in web.at(place) if item.kind == "vehicle"
        )
        circuits = sorted(
            (web.job.vehicle.circuit(id) for id in ids),
            key=lambda c: (c.plug or "", _natural(c.pin)),
        )
        cautions: list[Caution] = at_place(web.job, place)
        if circuits or cautions:
            rows = [_row(web, plan, size, c, checks.get(c.id) or _checks(c)) for c in circuits]
            far = web.tree.distance_m(place)
            way = "the unit is here" if far == 0 else "how far is not known"
            if far:
                way = f"{far:g} m from the unit along the harness"
            out.append({"place": place, "way": way, "cautions": cautions, "rows": rows})
    return out


def _checks(circuit: Circuit) -> list[Check]:
    """The planner's own checks of a wire, for a wiring that came without any."""
    from startwright.plan.measure import check_of  # late: it brings the planner along

    return check_of(circuit, 1, None)


def _row(
    web: Web, plan: Plan, size: SizeReport | None, circuit: Circuit, checks: list[Check]
) -> dict[str, Any]:
    rest, becomes = behaviour(circuit, web.job.vehicle.engine.idle_rpm)
    how, sure = known(circuit)
    ends = [
        end
        for item in web.items.values()
        if item.kind == "vehicle" and item.id.split(".")[1] == circuit.id
        for end in item.ends
    ]
    runs = [web.runs[r] for r in dict.fromkeys(run for run, _ in ends)]
    ids = {run.id for run in runs}
    why = [n.because for n in plan.needs if ids & set(n.by)]
    why += [run.why for run in runs if run.why]
    where = [circuit.plug, f"pin {circuit.pin}" if circuit.pin else None]
    load = [f"{amount(circuit.load_A)} A when active"] if circuit.load_A else []
    for row in size.runs if size else []:
        lost, amps = row.get("load_drop_V"), row.get("amps_A") or 0.0
        if row.get("feeds") == circuit.id and lost is not None and amps >= 0.05:
            load.append(f"{lost:.2f} V lost on the way at {amps:.1f} A")
    return {
        "id": circuit.id,
        "name": circuit_name(circuit),
        "where": ", ".join(w for w in where if w) or "plug and pin not on record",
        "wire": swatch(circuit.colour),
        "size": size_words(circuit.size_mm2) if circuit.size_mm2 else "",
        "rest": rest,
        "becomes": becomes,
        "known": how,
        "sure": sure,
        "load": "; ".join(load),
        "unit": "Ω" if circuit.style == "ladder" else "" if circuit.function == "tach" else "V",
        "cut": circuit.id in web.wiring.cuts,
        "through": through(web, circuit.id),
        "why": [in_words(web.job, w) for w in dict.fromkeys(why)],
        "runs": [run.id for run in runs],
        "caution": next((c.caution for c in checks if c.caution), None),
        "checks": [
            {
                "id": c.id,
                "do": do_line(c.do) if c.do else "Look",
                "expect": c.expect,
                "turns": engine_turns(list(c.do)),
            }
            for c in checks
        ],
    }


__all__ = ["UNIT", "behaviour", "known", "place_order", "stops", "swatch", "through"]
