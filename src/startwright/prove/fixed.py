"""Rules that the wiring alone decides: hands off, suppressed coils, the unit's numbers."""

from __future__ import annotations

from math import inf

import numpy as np

from startwright.car.build import Car, joined_with
from startwright.car.circuits import BATTERY, GROUND, terminals_of
from startwright.car.control_unit import Reads, Start
from startwright.car.faults import Fault, opens
from startwright.car.fitted import node_of
from startwright.car.interfaces import may_meet_data
from startwright.car.key_resistor import key_line
from startwright.car.start_control import GIVES_UP_S
from startwright.car.terminals import Joined
from startwright.prove.model import Model
from startwright.prove.observe import Observer
from startwright.prove.reaction import Reaction
from startwright.prove.rules import LONGEST_CRANK_S, LONGEST_RUN_S, MOST_TRIES, OVERRUN_S
from startwright.records.reports import RuleResult
from startwright.records.unit import Step
from startwright.records.vehicle import Circuit

RAILS = (BATTERY, GROUND)
LONGEST_DEBOUNCE_S = OVERRUN_S
"""How long an input may take to see brake, hood or lever, s (package default)."""


def hands_off(car: Car) -> RuleResult:
    """No run touches `srs` or `high_voltage`; `data` only from a declared pin of an interface.

    Source: maker convention for airbags (no regulation sets the colour); UN Regulation 100
    par. 5.1.1.5.3 for high voltage.
    """
    guilty: list[str] = []
    said: list[str] = []
    for run in car.wiring.runs:
        for end, other in (run.ends, run.ends[::-1]):
            owner, _, rest = end.partition(".")
            if owner != "vehicle":
                continue
            circuit = car.job.vehicle.circuit(rest.partition(".")[0])
            if circuit.function in ("srs", "high_voltage"):
                guilty.append(run.id)
                what = "airbag" if circuit.function == "srs" else "high-voltage"
                said.append(f"run {run.id} touches the {what} circuit {circuit.id}")
            elif circuit.function == "data" and not _meets_data(car, circuit, other):
                guilty.append(run.id)
                said.append(
                    f"run {run.id} joins the data line {circuit.id} to {other}, which is no "
                    "declared data pin of an interface"
                )
    for circuit in car.job.vehicle.of("data"):
        name = f"vehicle.{circuit.id}"
        for other in car.joined.members(name):
            if other == name or _meets_data(car, circuit, other):
                continue
            through = [r.id for r in car.wiring.runs if other in map(node_of, r.ends)]
            if through and not set(through) & set(guilty):
                guilty += through
                said.append(f"run {through[0]} joins {other} to the data line {circuit.id}")
    for cut in car.wiring.cuts:
        if car.job.vehicle.circuit(cut).function in ("srs", "high_voltage", "data"):
            said.append(f"circuit {cut} is cut")
    return RuleResult(
        rule="hands-off",
        kind="damage",
        holds=not said,
        exercised=True,
        runs=list(dict.fromkeys(guilty)),
        says=_sentence(said) or "No run touches airbag, high-voltage or data wires.",
        source="maker convention; UN Regulation 100 par. 5.1.1.5.3; common practice, no source",
    )


def _meets_data(car: Car, circuit: Circuit, other: str) -> bool:
    """Whether a terminal is a pin of an interface that is declared for this data line."""
    part, _, pin = other.partition(".")
    return part in car.parts and may_meet_data(car.parts[part], pin, circuit.id, circuit.function)


def coils_suppressed(car: Car, fault: Fault | None = None) -> RuleResult:
    """Every coil driven by a transistor lead has a suppressor, at the coil or in the lead.

    A coil counts as driven by a lead through runs, fuses, diodes, resistors and the contacts of
    relays and switches, since any of them may be closed when the lead lets go. What a `fault` has
    opened is not there.

    Source: common practice, no source.
    """
    parts = {n: p for n, p in car.parts.items() if not opens(fault, n)}
    wires = [(node_of(r.from_), node_of(r.to)) for r in car.wiring.runs if not opens(fault, r.id)]
    wires += [(f"{n}.a", f"{n}.b") for n, p in parts.items() if p.kind == "fuse"]
    plain = Joined(wires)
    rails = car.joined if fault is None else joined_with(car, fault)
    diodes = [n for n, p in parts.items() if p.kind == "diode"]
    relays = [n for n, p in parts.items() if p.kind == "relay"]
    across = {(d, r) for d in diodes for r in relays if _lies_across(rails, plain, d, r)}
    beside = {d for d, _ in across}
    links = wires + [(f"{d}.anode", f"{d}.cathode") for d in diodes if d not in beside]
    links += [(f"{k}.30", f"{k}.{pin}") for k in relays for pin in ("87", "87a")]
    links += [(f"{n}.a", f"{n}.b") for n, p in parts.items() if p.kind in ("switch", "resistor")]
    joined = Joined(link for link in links if not any(_on_a_rail(car, end) for end in link))
    bare: list[str] = []
    guilty: list[str] = []
    driven = 0
    for lead in car.unit.out_leads:
        if not car.unit.is_transistor(lead):
            continue
        for name, part in parts.items():
            if part.kind != "relay":
                continue
            terminal = f"unit.{lead.id}"
            if not any(joined.together(terminal, f"{name}.{pin}") for pin in ("85", "86")):
                continue
            driven += 1
            diode = any(relay == name for _, relay in across)
            if not (lead.suppressed or part.suppressed or diode):
                bare.append(f"the coil of {name} on lead {lead.id}")
                guilty += [
                    r.id
                    for r in car.wiring.runs
                    if any(joined.together(e, terminal) for e in r.ends if e.startswith(name))
                ]
    says = "Every coil on a transistor lead has a suppressor."
    if bare:
        says = f"No suppressor: {', '.join(bare)}; its kick-back can kill the lead."
    return RuleResult(
        rule="coils-suppressed",
        kind="damage",
        holds=not bare if driven else None,
        exercised=driven > 0,
        runs=list(dict.fromkeys(guilty)),
        says=says if driven else "No coil hangs on a transistor lead.",
        source="common practice, no source",
    )


def _on_a_rail(car: Car, terminal: str) -> bool:
    return car.joined.together(terminal, BATTERY) or car.joined.together(terminal, GROUND)


def _lies_across(rails: Joined, plain: Joined, diode: str, relay: str) -> bool:
    """Whether a diode lies between the coil pins of a relay: a suppressor, not a link.

    It may end at another terminal of the battery, or of ground, than the coil does; `rails` says
    what lies on either.
    """
    ends = (f"{diode}.anode", f"{diode}.cathode")

    def same(one: str, other: str) -> bool:
        return plain.together(one, other) or any(
            all(rails.together(end, rail) for end in (one, other)) for rail in RAILS
        )

    return any(same(a, f"{relay}.85") and same(b, f"{relay}.86") for a, b in (ends, ends[::-1]))


def numbers_end(model: Model) -> list[str]:
    """What in the unit's numbers lets a start last too long, in words.

    The unit is followed through a start whose engine never catches, each timer running out: how
    often it cranks, and for how long without a rest. An engine that catches may run through every
    step after the first crank; for a unit that cannot hear it, through every such step of that way.

    Source: common practice, no source.
    """
    car, unit = model.car, model.unit
    if not may_start(car):
        return []
    turning = cranking_steps(model)
    said: list[str] = []
    if unit.tries > MOST_TRIES:
        said.append(f"the unit tries {unit.tries} times, more than {MOST_TRIES}")
    waits = any(i.senses == "wait_to_start" and i.how == "level" for i in car.inputs)
    running_s = 0.0
    cranked = False
    for k, step in enumerate(unit.steps):
        cranks = k in turning
        time_s = step.for_s if step.for_s is not None else step.at_most_s
        on_lamp = step.until == "wait_over" and (step.for_s, step.at_most_s) == (None, None)
        on_lamp = on_lamp or (step.for_s is not None and step.or_until == "wait_over")
        ends_by_lamp = on_lamp and not (waits and (cranks or cranked))
        awaits_engine = step.until == "engine_running" and unit.hears
        if not ends_by_lamp:
            if on_lamp or time_s is None:
                said.append(f"step {step.step} has no end of its own")
            elif cranked and not cranks and not awaits_engine:
                running_s += time_s
        cranked = cranked or cranks
    spells, deaf_s = _cranking(car, turning)
    longest = max(spells, key=lambda spell: spell[1], default=("", 0.0))
    if longest[1] > LONGEST_CRANK_S:
        said.append(
            f"step {longest[0]} cranks on to {longest[1]:g} s, more than {LONGEST_CRANK_S:g}"
        )
    if len(spells) > MOST_TRIES and unit.tries <= MOST_TRIES:
        said.append(f"one start cranks {len(spells)} times, more than {MOST_TRIES}")
    running_s = max(running_s, deaf_s)
    if running_s > LONGEST_RUN_S:
        said.append(f"the engine is let run for {running_s:g} s, more than {LONGEST_RUN_S:g}")
    return said


def _cranks(car: Car, step: Step) -> bool:
    """Whether a step turns the starter, by a lead or as the driver would with foot and button."""
    pressed = car.imitates and {"brake", "start_button"} <= set(step.drives)
    return pressed or bool({"starter", "starter_signal"} & set(step.drives))


def cranking_steps(model: Model) -> frozenset[int]:
    """The steps that turn the starter, by number: by their words, or as this car is wired.

    The car is parked, whatever else is so in it; what a lead is called does not matter, nor
    through how many relays it works.
    """
    return model.kept.own("cranking steps", lambda: _cranking_steps(model))


def _cranking_steps(model: Model) -> frozenset[int]:
    by_word = {k for k, s in enumerate(model.unit.steps) if _cranks(model.car, s)}
    if model.car.imitates:
        return frozenset(by_word)
    codes = [model.start_code[Start("step", k)] for k in range(len(model.unit.steps))]
    columns = {v.name: np.zeros(len(codes), dtype=np.int32) for v in model.variables}
    columns["start"] = np.array(codes, dtype=np.int32)
    reaction = Reaction(model)
    settled = reaction.rested(columns)
    fed = Observer(model).fed("starter").look(model.derive(settled) | reaction.open_coils(settled))
    return frozenset(by_word | {int(k) for k in np.flatnonzero(fed)})


def _cranking(car: Car, turning: frozenset[int]) -> tuple[list[tuple[str, float]], float]:
    """Each spell of cranking of an engine that never catches: its last step, and its seconds.

    And how long the unit would let an engine run that it cannot hear, s.
    """
    unit = car.unit
    reads = Reads(guards=True, engine=False, waiting=False, ignition=False, service=False)
    spells: list[tuple[str, float]] = []
    deaf_s = 0.0
    now = unit.move(Start(), reads, "start")
    cranked = False
    for _ in unit.starts:
        while (after := unit.move(now, reads, "none")) != now:
            now = after
        time_s = unit.time_s(now)
        if time_s is None:
            break
        step = unit.steps[now.step] if now.mode == "step" else None
        cranks = step is not None and now.step in turning
        if step is not None and cranks:
            before = spells.pop()[1] if cranked else 0.0
            most_s = GIVES_UP_S if car.imitates else inf
            spells.append((step.step, min(before + time_s, most_s)))
        elif step is not None and spells and not unit.hears:
            deaf_s += time_s
        cranked = cranks
        now = unit.move(now, reads, "time")
    return spells, deaf_s


ENDS_BY = {
    "brake-ends": "brake",
    "hood-ends": "hood",
    "leaving-park-ends": "park_neutral",
    "no-crank-into-running": "",
    "key-has-last-word": "ignition",
}
"""Which input's debounce a rule waits for; '' stands for what tells that the engine runs."""


def may_start(car: Car) -> bool:
    """Whether a start is wanted, or a step of it drives an output that is connected at all."""
    driven = {d for step in car.unit.steps for d in step.drives}
    wired = {car.unit.does(d) for d in car.unit.out_leads if d.id in car.unit.wired}
    return "remote_start" in car.job.wants or bool(driven & wired)


def slow_inputs(model: Model, slug: str) -> tuple[list[str], list[str]]:
    """What in the unit's inputs lets a hazard last too long before it ends, in words; its runs.

    Timers are not clocked in the search, so the time an input takes is judged here: each connected
    input of the rule's guard, and of any other guard that the brake, hood or lever moves as wired,
    for any one of them may be the one that sees it.

    Source: common practice, no source.
    """
    car = model.car
    sense = ENDS_BY.get(slug)
    if not may_start(car):
        return [], []
    telling = _moved_by(model, sense) if sense in MOVED_BY else frozenset[str]()
    if sense == "":
        sense = car.unit.signal if "remote_start" in car.job.wants else None
    leads = {d.id: d for d in car.job.unit.leads}
    said: list[str] = []
    runs: list[str] = []
    for inp in car.inputs:
        time_s = leads[inp.lead].debounce_s
        sees = (inp.how != "nothing" and inp.senses == sense) or inp.lead in telling
        if sees and time_s > LONGEST_DEBOUNCE_S:
            said.append(
                f"input {inp.lead} takes {time_s:g} s to see it, more than {LONGEST_DEBOUNCE_S:g}"
            )
            runs += [r.id for r in car.wiring.runs if f"unit.{inp.lead}" in r.ends]
    return said, runs


MOVED_BY = {
    "brake": {"brake", "brake_left", "brake_right"},
    "hood": {"hood", "hood_left", "hood_right"},
    "park_neutral": {"gear"},
}
"""The surroundings that stand for what a guard is on."""


def _moved_by(model: Model, sense: str | None) -> frozenset[str]:
    """The inputs of guards whose reading hangs on what a sense stands for, through relays too."""
    names = set(MOVED_BY[sense or ""])
    while True:
        coils = {f"coil.{n}" for n, t in model.coils.items() if names & set(t.over)}
        if coils <= names:
            break
        names |= coils
    guards = {g.input for g in model.unit.record.guards}
    return frozenset(
        lead
        for lead, (inp, table) in model.inputs.items()
        if inp.senses in guards and names & set(table.over)
    )


def severed(car: Car, fault: Fault | None = None) -> tuple[list[str], list[str]]:
    """Cuts that leave a circuit in two pieces and that no level would tell, in words; their runs.

    A tach or an immobilizer line has no contact or load on record (but for that of a key with a
    resistor). Its two sides must be joined again by runs and fuses, or both meet an interface;
    what a `fault` has opened joins nothing.
    """
    joined = car.joined if fault is None else joined_with(car, fault)
    dumb = {"tach"} if key_line(car.job.vehicle) else {"tach", "immobilizer"}
    said: list[str] = []
    runs: list[str] = []
    for cut in car.wiring.cuts:
        circuit = car.job.vehicle.circuit(cut)
        sides = terminals_of(circuit, True)
        if circuit.function not in dumb or joined.together(*sides):
            continue
        met = [
            any(
                t.partition(".")[0] in car.parts
                and car.parts[t.partition(".")[0]].kind == "interface"
                for t in joined.members(side)
            )
            for side in sides
        ]
        if not all(met):
            said.append(f"{cut} is cut and its two sides are not joined again")
            runs += [r.id for r in car.wiring.runs if set(r.ends) & set(sides)]
    return said, runs


def joined_rails(car: Car) -> tuple[list[str], list[str]]:
    """Whether battery and ground are joined for good, in words; the runs that do it."""
    if not car.joined.together(BATTERY, GROUND):
        return [], []
    runs = [r.id for r in car.wiring.runs if car.joined.together(node_of(r.from_), GROUND)]
    return ["battery and ground are joined for good by runs"], runs


def left_in_gear(car: Car) -> list[str]:
    """Why a manual car may not be started, in words: nothing says that it was left in neutral.

    Source: common practice, no source.
    """
    declared = (car.unit.record.manual_gearbox or "").strip()
    manual = car.job.vehicle.gearbox == "manual" and not declared
    if not manual or "remote_start" not in car.job.wants:
        return []
    return [
        "the gearbox is manual, and the unit's record declares no procedure that makes sure it was "
        "left in neutral"
    ]


def by_wiring(model: Model, slug: str) -> tuple[list[str], list[str]]:
    """What breaks a searched rule without any search, in words; its runs."""
    if slug == "crank-only-when-safe":
        return left_in_gear(model.car), []
    if slug == "car-unchanged":
        return severed(model.car)
    if slug == "start-ends":
        return numbers_end(model), []
    if slug == "no-short":
        return joined_rails(model.car)
    return slow_inputs(model, slug)


def _sentence(said: list[str]) -> str:
    text = "; ".join(said)
    return text[:1].upper() + text[1:] + "." if text else ""
