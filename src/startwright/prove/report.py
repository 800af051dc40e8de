"""From what a search found to the answer a person gets."""

from __future__ import annotations

from dataclasses import replace

from startwright.car.build import Car
from startwright.car.circuits import DEFAULT_LOAD_A
from startwright.car.hybrid import is_hybrid
from startwright.car.surroundings import RAILS
from startwright.prove.choices import choices
from startwright.prove.clocked import meets, play
from startwright.prove.fixed import by_wiring, coils_suppressed, hands_off
from startwright.prove.model import Model
from startwright.prove.rules import Rule
from startwright.prove.search import Found, Searched
from startwright.prove.tell import Teller, asked_again, describe, fed_through, pressed_later
from startwright.prove.works import works
from startwright.records.errors import RecordError
from startwright.records.reports import UNDECIDED, RuleResult
from startwright.records.scenario import Expect, parse_expect, parse_scenario

NOT_CIRCUITS = ("engine", "unit", "immobilizer")
"""What a line means something else by, though a circuit may be called so."""
ONE_OF_SEVERAL = (
    " Relays race or chatter here: the line is one of several outcomes, and may play otherwise."
)


def results(model: Model, searched: Searched) -> list[RuleResult]:
    """Every rule's answer: hazards, then damage, then works; `can-be-tried` sums up the twins."""
    teller = Teller(model, choices(model), searched.explored)
    out = [_searched(model, searched, teller, rule) for rule in searched.rules]
    out += [
        _special(model, searched, teller, "within-limits"),
        hands_off(model.car),
        coils_suppressed(model.car),
        _special(model, searched, teller, "settles"),
    ]
    shown = works(model)
    order = {"hazard": 0, "damage": 1, "works": 2}
    tried = _can_be_tried([*out, *shown], searched.explored.finished)
    out = sorted([*out, tried, *shown], key=lambda r: order[r.kind])
    return out


def _applies(model: Model, rule: Rule) -> bool:
    wants = set(model.car.job.wants)
    if rule.applies == "start":
        return "remote_start" in wants
    if rule.applies == "locks":
        return bool(wants & {"lock_unlock", "driver_first_unlock"})
    if rule.applies == "interface":
        fitted = {f.part for f in model.car.interfaces if not f.for_the_key}
        return any(bool(t.data.any()) for n, t in model.interface_on.items() if n not in fitted)
    return True


def _searched(model: Model, searched: Searched, teller: Teller, rule: Rule) -> RuleResult:
    found = searched.breaches.get(rule.slug)
    exercised = searched.exercised[rule.slug]
    said, static = by_wiring(model, rule.slug)
    if found is None and not said:
        applies = _applies(model, rule)
        finished = searched.explored.finished
        return RuleResult(
            rule=rule.slug,
            kind=rule.kind,
            holds=True if finished and applies else None,
            exercised=exercised and applies,
            says=_decided(rule.says, finished) if applies else "Not wanted here.",
            source=rule.source,
        )
    if found is None:
        says = "; ".join(said)
        return RuleResult(
            rule=rule.slug,
            kind=rule.kind,
            holds=False,
            exercised=exercised,
            runs=static,
            says=says[0].upper() + says[1:] + ".",
            source=rule.source,
        )
    trace, runs, says = _told(model, searched, teller, found, rule.slug)
    return RuleResult(
        rule=rule.slug,
        kind=rule.kind,
        holds=False,
        exercised=exercised,
        trace=trace,
        runs=runs,
        says=says,
        source=rule.source,
    )


def _special(model: Model, searched: Searched, teller: Teller, slug: str) -> RuleResult:
    sentence = {
        "within-limits": "No lead, contact, fuse, wire or diode carries more than it may.",
        "settles": "Car, relays and unit come to rest after every change, in one way only.",
    }[slug]
    found = searched.breaches.get(slug)
    moved = len(searched.explored) > 1
    if found is None:
        return RuleResult(
            rule=slug,
            kind="damage",
            holds=True if searched.explored.finished else None,
            exercised=moved,
            says=_decided(sentence, searched.explored.finished),
            source="common practice, no source",
        )
    trace, runs, says = _told(model, searched, teller, found, slug)
    return RuleResult(
        rule=slug,
        kind="damage",
        holds=False,
        exercised=moved,
        trace=trace,
        runs=runs,
        says=says,
        source="common practice, no source",
    )


def _told(
    model: Model, searched: Searched, teller: Teller, found: Found, slug: str
) -> tuple[str, list[str], str]:
    told = teller.tell(found.steps, found.free)
    row = {**dict.fromkeys(model.free, 0), **found.row, **found.free}
    expects = _expects(model, row, slug, found)
    line = _replaying(model, told.line(expects))
    labels = [x for x in found.labels if x]
    words, runs = fed_through(model, labels)
    named = ", ".join(labels) or found.note
    if found.note and found.note.startswith("run "):
        runs = [found.note.removeprefix("run ")]
    says = _sentence(slug, named, words, found)
    if slug == "no-crank-into-running" and is_hybrid(model.car.job.vehicle):
        says = asked_again(model, row, f"{named}{words}")
    if "settles" in searched.breaches and "→" in line and not all(_seen(model, line)):
        says += ONE_OF_SEVERAL
    return line, runs, f"{describe(model, row)} {says}{_because(model, slug, row)}"


def _replaying(model: Model, line: str) -> str:
    """The line, told so that what it shows is seen with real seconds too.

    Timers are not clocked in the search, so a pulse may last there until its time comes. Pressed as
    late as the way allows it is still under way.
    """
    if "→" not in line or all(_seen(model, line)):
        return line
    scenario = parse_scenario(line)
    for actions in pressed_later(scenario.actions):
        other = str(replace(scenario, actions=tuple(actions)))
        if all(_seen(model, other)):
            return other
    return line


def _seen(model: Model, line: str) -> list[bool]:
    scenario = parse_scenario(line)
    try:
        clock = play(model, scenario)
    except RecordError:
        return []
    return [meets(clock.model, clock.row(), e) for e in scenario.expects]


def _sentence(slug: str, named: str, words: str, found: Found) -> str:
    if slug == "settles":
        return f"{found.note[0].upper()}{found.note[1:]}."
    return {
        "crank-only-when-safe": f"The unit feeds {named}{words} all the same.",
        "no-crank-into-running": f"The unit cranks an engine that already turns ({named}{words}).",
        "brake-ends": f"The brake is pressed and the unit still feeds {named}{words}.",
        "hood-ends": f"The hood is open and the unit still feeds {named}{words}.",
        "leaving-park-ends": f"The lever has left park and the unit still feeds {named}{words}.",
        "start-ends": f"The unit is idle and {named} stays fed{words}.",
        "key-has-last-word": f"The key has not the last word over {named or 'the engine'}{words}.",
        "locks-on-command": f"{named} is worked{words} though nothing commands it.",
        "start-through-interlock": f"{named} is fed{words} past the car's park/neutral switch.",
        "immobilizer-only-while-starting": f"The interface {named} is enabled outside a start.",
        "no-short": f"Battery meets ground without a load, at {named}{words}.",
        "car-unchanged": f"With the unit's outputs open {named} does not behave as before{words}.",
        "only-what-is-called": f"Nothing calls for {named} to stand so{words}.",
        "within-limits": f"{named} carries more than it may.",
        "as-under-the-key": f"{named} does not stand as it does under the key{words}.",
    }[slug]


def _because(model: Model, slug: str, row: dict[str, int]) -> str:
    """What is missing that would have ended it, in words; '' where nothing is."""
    asked = {"brake-ends": ["brake"], "hood-ends": ["hood"], "leaving-park-ends": ["park_neutral"]}
    if slug == "crank-only-when-safe":
        asked[slug] = ["hood"] if row["hood"] else ["park_neutral"]
    named = {"brake": "the brake", "hood": "the hood", "park_neutral": "the lever"}
    guarded = {g.input for g in model.unit.record.guards}
    sensed = {i.senses for i in model.car.inputs if i.how == "level"}
    for sense in asked.get(slug, []):
        if sense not in guarded:
            return f" The unit has no guard on {named[sense]}."
        if sense not in sensed:
            return f" Nothing senses {named[sense]}."
    return ""


def _expects(model: Model, row: dict[str, int], slug: str, found: Found) -> str:
    """What a breach's line shows at its end: the circuits concerned, as they stand."""
    by_id = {c.id: c for c in model.car.job.vehicle.circuits}
    said: list[str] = []
    for label in found.labels:
        if label in model.interface_on:
            on = meets(model, row, Expect("immobilizer", "on"))
            said.append(f"immobilizer {'on' if on else 'off'}")
        elif label in by_id and model.acts(by_id[label]):
            circuit = by_id[label]
            alone = len(model.car.job.vehicle.of(circuit.function)) == 1
            taken = circuit.function in by_id and by_id[circuit.function] is not circuit
            name = circuit.function if alone and not taken else circuit.id
            if name in NOT_CIRCUITS and name != circuit.function:
                continue
            on = meets(model, row, Expect(name, "on"))
            said.append(f"{name} {'on' if on else 'off'}")
    if not said and slug in ("key-has-last-word", "no-crank-into-running"):
        said.append("engine runs" if row["motion"] == 2 else "engine stands")
    kept = list(dict.fromkeys(said))[:3]
    return ", ".join(str(parse_expect(s)) for s in kept)


def _decided(says: str, finished: bool) -> str:
    return says if finished else UNDECIDED


def _can_be_tried(all_rules: list[RuleResult], finished: bool) -> RuleResult:
    """Whether every rule that holds was exercised; not known where the search did not finish."""
    missing = [r.rule for r in all_rules if r.holds and not r.exercised]
    if not missing and not finished:
        return RuleResult(
            rule="can-be-tried",
            kind="works",
            holds=None,
            exercised=True,
            says=UNDECIDED,
            source="common practice, no source",
        )
    return RuleResult(
        rule="can-be-tried",
        kind="works",
        holds=not missing,
        exercised=True,
        says=(
            f"Never came to the test: {', '.join(missing)}."
            if missing
            else "Every rule came to the test."
        ),
        source="common practice, no source",
    )


def assumptions(car: Car) -> list[str]:
    """What a verdict rests on, in words."""
    out = [
        "every part is free of faults (single faults are tried apart)",
        f"the battery stands at {RAILS['rest']} V at rest, {RAILS['crank']} V while cranking, "
        f"{RAILS['run']} V with the engine running ({RAILS['low_rest']} and {RAILS['low_crank']} V "
        "when low)",
        f"the record of unit {car.job.unit.id} says what it does",
        f"the record of vehicle {car.job.vehicle.id} says what its circuits are",
    ]
    guessed = [
        c.id
        for c in car.job.vehicle.circuits
        if c.known is not None and c.known.how in ("told", "guessed")
    ]
    if guessed:
        out.append(f"circuits only told or guessed are as written: {', '.join(guessed)}")
    unsaid = [
        f"{c.id} {DEFAULT_LOAD_A.get(c.function, 1.0):g} A"
        for c in car.job.vehicle.circuits
        if c.key_fed and c.load_A is None and c.function in DEFAULT_LOAD_A
    ]
    if unsaid:
        out.append(f"loads that no record states: {', '.join(unsaid)}")
    out += _unlimited(car)
    past = [c.id for c in car.job.vehicle.of("starter") if c.interlock == "upstream"]
    if past and len(past) < len(car.job.vehicle.of("starter")):
        out.append(
            f"{', '.join(past)} past the car's park/neutral switch may stay dead: another starter "
            "circuit cranks (49 CFR 571.102 S3.1.3)"
        )
    if is_hybrid(car.job.vehicle):
        out.append(
            "the car is a hybrid: a start makes it ready, which counts as a running engine, and "
            "its own computer starts and stops the engine then at any moment"
        )
    out += signal_costs(car)
    never = [s.step for k, s in enumerate(car.unit.steps) if k not in car.unit.comes_to]
    if never and "remote_start" in car.job.wants:
        out.append(
            f"steps of the unit's program that nothing it reads brings about never come: "
            f"{', '.join(never)}"
        )
    if car.unit.record.holds_after_key:
        out.append("the unit may hold the engine running after key off, as its record declares")
    return out


def _unlimited(car: Car) -> list[str]:
    """What no record gives a limit to, in words: it is taken to carry what it has to."""
    runs = [r.id for r in car.wiring.runs if r.size_mm2 is None]
    leads = [
        d.id
        for d in car.job.unit.leads
        if d.way in ("feed", "out") and d.id in car.unit.wired and (d.limit_A or d.fuse_A) is None
    ]
    out = []
    if runs:
        out.append(f"runs whose size no record states are thick enough: {_few(runs)}")
    if leads:
        out.append(f"leads whose limit no record states carry what hangs on them: {_few(leads)}")
    return out


def _few(names: list[str]) -> str:
    return ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")


def signal_costs(car: Car) -> list[str]:
    """What it costs to tell a running engine by something other than the tach, in words.

    Source: common practice, no source; the seconds are the unit's own.
    """
    unit = car.unit
    if not unit.steps or unit.signal == "tach":
        return []
    if unit.signal in ("volts", "charge_lamp") and is_hybrid(car.job.vehicle):
        by = "the battery's volts" if unit.signal == "volts" else "the wire that tells the charge"
        return [
            f"the unit tells a ready car by {by}: a charger on the battery, or the car's own while "
            "it is plugged in, may pass for a ready car, a failed converter for one that went off"
        ]
    if unit.signal == "volts":
        return [
            "the unit tells a running engine by the battery's volts: a charger on the battery "
            "passes for a running engine, a failed alternator for a stall"
        ]
    if unit.signal == "charge_lamp":
        return [
            "the unit tells a running engine by the charge lamp: a failed alternator or belt "
            "passes for a stall, and a burnt-out lamp for what its wire then shows"
        ]
    cranks = [s for s in unit.steps if {"starter", "starter_signal", "start_button"} & {*s.drives}]
    crank_s = sum(s.for_s or s.at_most_s or 0.0 for s in cranks)
    held = [s for s in unit.steps if "ignition" in s.drives and s not in cranks]
    held_s = max((s.for_s or s.at_most_s or 0.0 for s in held), default=0.0)
    return [
        f"the unit cannot tell whether the engine runs and goes by time: it cranks for {crank_s:g} "
        "s whether the engine catches sooner or not at all, tries once, and after a stall leaves "
        f"the ignition on for up to {held_s:g} s"
    ]
