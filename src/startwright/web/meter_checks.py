"""The one check that comes next, with its cautions and what each candidate would show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from startwright.car.hybrid import is_hybrid
from startwright.identify import (
    KEEP_OFF,
    IdentifyReport,
    NextCheck,
    WireVerdict,
    before_probing,
)
from startwright.identify.checks import PROBE_s
from startwright.records import Circuit, Meter, Reading, Vehicle
from startwright.records.recordings import WirePlace
from startwright.sheets import colour
from startwright.sheets.cautions import ENGINE_TURNS, Caution
from startwright.sheets.doing import do_words
from startwright.web import meter_say
from startwright.web.meter_bench import Bench, Wire

TOLD = {"measured": 20.0, "manual": 10.0, "told": 5.0, "guessed": 2.0}
"""How much likelier a function is that the record names, by how the record knows it (manuals are
wrong about one wire in ten or so; common practice, no source)."""

BORNE_OUT = 0.95
"""A function that the record names and the meter bears out is known from here on, both together."""

MEASURED_LEAST = 0.60
"""…and never from less than this by the meter alone."""

LAMP_DANGER = 0.02
"""A lamp only where data and airbag together have less than this."""


@dataclass(frozen=True)
class Shown:
    """One value that the meter may show, and what the wire is likely to be then."""

    shows: str
    who: list[tuple[str, float | None]]


@dataclass(frozen=True)
class Step:
    """One check as the page shows it."""

    wire: Wire
    do: list[str]
    words: list[str]
    lamp: bool
    candidates: list[Shown]
    cautions: list[Caution]
    refused: str
    seconds: float | None
    gain_bits: float | None

    @property
    def state(self) -> str:
        """What is operated, short."""
        return meter_say.state_words(self.do)

    def same(self, check: NextCheck) -> bool:
        """Whether this is that check."""
        lamp = check.meter == "test load"
        return (self.wire.name, set(self.do), self.lamp) == (
            check.wire,
            set(_actions(check.do)),
            lamp,
        )


def report_of(bench: Bench) -> IdentifyReport:
    """What the readings say so far."""
    from startwright.identify import identify_readings

    diesel = bench.vehicle.engine.ignition == "compression"
    report = identify_readings(bench.readings, bench.places, diesel=diesel)
    return report.model_copy(
        update={"wires": [borne_out(bench.wire(v.wire), v) for v in report.wires]}
    )


def _told(wire: Wire) -> float:
    return TOLD.get(wire.how, 1.0)


def borne_out(wire: Wire, verdict: WireVerdict) -> WireVerdict:
    """The verdict, with the function that the record names where the meter bears it out.

    By Bayes' rule on the engine's probability of that function and the odds that the record gives
    it. Battery is left to the engine (volts alone do not tell it), and so is whatever may be data
    or airbag.
    """
    claim = wire.claimed
    if verdict.function is not None or verdict.leave_alone or claim in (None, "battery", "ground"):
        return verdict
    danger = sum(r.probability for r in verdict.rivals if r.function in KEEP_OFF)
    mine = [r for r in verdict.rivals if r.function == claim]
    measured = sum(r.probability for r in mine)
    if danger > LAMP_DANGER or measured < MEASURED_LEAST:
        return verdict
    odds = _told(wire) * measured / max(1e-9, 1.0 - measured)
    both = odds / (1.0 + odds)
    if both < BORNE_OUT:
        return verdict
    said = f"the record says so too ({wire.how}); by the meter alone {measured:.2f}"
    rest = wire.circuit.rest if wire.circuit is not None else None
    if rest == mine[0].active:
        # the record has it the wrong way round
        rest = "ground" if rest == "battery" else "battery"
    return verdict.model_copy(
        update={
            "function": claim,
            "active": mine[0].active,
            "rest": rest,
            "probability": round(min(both, 0.999), 4),
            "rivals": [r for r in verdict.rivals if r.function != claim],
            "notes": [n for n in verdict.notes if n != "not known yet"],
            "evidence": [*verdict.evidence, said],
        }
    )


def ranked(bench: Bench, report: IdentifyReport) -> list[NextCheck]:
    """Checks worth the time, the most information per minute first.

    A check in the state that the car is in, or at the wire where the probe is, costs less than the
    engine's plain sum: nothing has to be worked, or nothing found, again.
    """
    verdicts = {v.wire: v for v in report.wires}
    checks: list[NextCheck] = []
    for wire in bench.wanted:
        verdict = verdicts.get(wire.name)
        if verdict is not None and (verdict.function is not None or verdict.leave_alone):
            continue
        own = [r for r in bench.readings if r.wire == wire.name]
        mine = _checks(bench, wire, own)
        # where the record leaves nothing open, what the meter leaves open counts
        checks += mine or [c for c in report.next_checks if c.wire == wire.name]
    last = bench.readings[-1] if bench.readings else None
    return sorted(checks, key=lambda c: -c.gain_bits / _cost_s(c, last))


def _cost_s(check: NextCheck, last: Reading | None) -> float:
    seconds = check.seconds
    if last is not None and check.meter == "digital":
        worked = seconds - PROBE_s
        probed = PROBE_s * (0.4 if check.wire == last.wire else 1.0)
        same = set(_actions(check.do)) == set(last.during)
        seconds = probed + (0.0 if same else worked)
    return max(seconds, 2.0)


def _checks(bench: Bench, wire: Wire, own: Sequence[Reading]) -> list[NextCheck]:
    """The best checks of one wire, from its values and what is written about it."""
    values = tuple((r.volts_V, tuple(r.during), r.meter.kind, r.meter.hum) for r in own)
    diesel = bench.vehicle.engine.ignition == "compression"
    return _best(wire.place, wire.claimed, _told(wire), diesel, values)


Value = tuple[float, tuple[str, ...], Literal["digital", "lamp"], bool]


@lru_cache(maxsize=1024)
def _best(
    place: WirePlace, claimed: str | None, likelier: float, diesel: bool, values: tuple[Value, ...]
) -> list[NextCheck]:
    """As `_checks`; the wires that were not read since are not weighed again."""
    from startwright.identify import checks_for

    own = [
        Reading(wire=place.wire, volts_V=v, during=list(d), meter=Meter(kind=k, hum=h))
        for v, d, k, h in values
    ]
    return checks_for(place, own, {claimed: likelier} if claimed else {}, diesel=diesel)


def _actions(do: Sequence[str]) -> list[str]:
    return [one for one in do if one != "key off"]


def step_of(bench: Bench, report: IdentifyReport, check: NextCheck) -> Step:
    """A check of the engine's as the page shows it."""
    wire = bench.wire(check.wire)
    verdict = next((v for v in report.wires if v.wire == wire.name), None)
    chances = _chances(verdict)
    shown: dict[str, list[tuple[str, float | None]]] = {}
    for who, symbol in check.candidates.items():
        one = (meter_say.candidate(who), chances.get(who.replace(" ", "_")))
        shown.setdefault(meter_say.shown(symbol, check.do), []).append(one)
    candidates = [Shown(shows, who) for shows, who in shown.items()]
    do = _actions(check.do)
    return Step(
        wire=wire,
        do=do,
        words=do_words(do),
        lamp=check.meter == "test load",
        candidates=candidates,
        cautions=cautions_of(bench.vehicle, wire, do, check.caution),
        refused=refused(wire, verdict, lamp=check.meter == "test load"),
        seconds=check.seconds,
        gain_bits=check.gain_bits,
    )


def own_step(
    bench: Bench, report: IdentifyReport, wire: Wire, do: list[str], *, lamp: bool
) -> Step:
    """A check that the fitter chose, with what is to be expected where the engine says it."""
    verdict = next((v for v in report.wires if v.wire == wire.name), None)
    plain = Step(
        wire=wire,
        do=do,
        words=do_words(do),
        lamp=lamp,
        candidates=[],
        cautions=cautions_of(bench.vehicle, wire, do, None),
        refused=refused(wire, verdict, lamp=lamp),
        seconds=None,
        gain_bits=None,
    )
    own = [r for r in bench.readings if r.wire == wire.name]
    mine = [] if wire.keep_off else _checks(bench, wire, own)
    for check in [*mine, *report.next_checks]:
        if plain.same(check):
            return step_of(bench, report, check)
    return plain


def _chances(verdict: WireVerdict | None) -> dict[str, float]:
    if verdict is None:
        return {}
    chances: dict[str, float] = {}
    for rival in verdict.rivals:
        chances[rival.function] = chances.get(rival.function, 0.0) + rival.probability
    if verdict.function is not None:
        chances[verdict.function] = verdict.probability
    chances["something_else"] = verdict.else_probability
    return chances


def refused(wire: Wire, verdict: WireVerdict | None, *, lamp: bool) -> str:
    """Why no probe goes there, said before it does; empty where it may.

    A wire that the record or its place keeps off is refused to any probe; a lamp goes only where a
    digital meter was first, and found no sign of data or airbag.
    """
    if wire.keep_off:
        return wire.keep_off
    if verdict is not None and verdict.leave_alone:
        return next((n for n in verdict.notes if "leave alone" in n), "it may carry data")
    if not lamp:
        return ""
    never = before_probing(wire.place, "lamp")
    if never is not None and wire.where:
        return never
    if verdict is None:
        return "nobody knows yet that this is no data and no airbag wire; the digital meter first"
    danger = sum(r.probability for r in verdict.rivals if r.function in KEEP_OFF)
    if danger > LAMP_DANGER:
        return (
            f"with {meter_say.percent(danger)} it is a data or airbag wire; the digital meter, "
            "until that is ruled out"
        )
    return ""


def turning(do: Sequence[str], said: str | None) -> list[Caution]:
    """What can hurt someone when this is operated; `said` is the engine's own word on it."""
    if "key start" in do or "engine starts" in do:
        return [{"kind": "engine", "head": "The engine turns", "says": _after(ENGINE_TURNS)}]
    return [{"kind": "engine", "head": "First", "says": _sentence(said)}] if said else []


def cautions_of(vehicle: Vehicle, wire: Wire, do: Sequence[str], said: str | None) -> list[Caution]:
    """What can hurt someone where the hand is about to go, the nearest first."""
    out = turning(do, said)
    for function, kind, head in (
        ("srs", "airbag", "Airbag here: no probe"),
        ("high_voltage", "high_voltage", "High voltage here: it can kill"),
        ("data", "data", "Data wires here: no lamp, no load"),
    ):
        near = [c for c in vehicle.of(function) if c.place and c.place == wire.place.place]
        if near:
            near.sort(key=lambda c: c.plug != wire.place.plug)
            out.append(
                {"kind": kind, "head": head, "says": _sentence("; ".join(map(_seen_as, near[:3])))}
            )
    if is_hybrid(vehicle) and not vehicle.of("high_voltage"):
        out.append(
            {
                "kind": "high_voltage",
                "head": "Hybrid",
                "says": "Orange cables can kill. None is on record; look before you reach.",
            }
        )
    return out


def _seen_as(circuit: Circuit) -> str:
    looks = f"{colour.words(circuit.colour)}: " if circuit.colour else ""
    pin = f", pin {circuit.pin}" if circuit.pin else ""
    return f"{looks}{circuit.plug or circuit.place}{pin}"


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + "."


def _after(text: str) -> str:
    """The part after the colon, as a sentence."""
    rest = (text.partition(": ")[2] or text).rstrip(".")
    return _sentence(rest)


def place_words(place: WirePlace) -> str:
    """Place, plug and pin in one line."""
    pin = f"pin {place.pin}" if place.pin else None
    return ", ".join(p for p in (place.place, place.plug, pin) if p) or "place not written down"
