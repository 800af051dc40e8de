"""Shared Hypothesis strategies: records as they may be, and wirings that are sound or sabotaged.

`vehicles`, `units`, `stocks`, `wirings`, `plans` give any valid record, for round trips and for
code that must not fall over. `sound_jobs` gives a job with a wiring of a careful hand;
`sabotaged_jobs` the same with one thing done wrong, and the rules of which one must break.
"""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

from startwright.records import Plan, Stock, Unit, Vehicle, WholeJob, Wiring
from startwright.records.job import Job
from startwright.records.readings import Readings
from startwright.records.stock import PINS
from startwright.records.words import (
    COLOURS,
    COMMANDS,
    FUNCTIONS,
    KEY_FED,
    KEY_POSITIONS,
    NEVER_TOUCHED,
    SIGNALS,
    WANTS,
)

# -- pieces ---------------------------------------------------------------------------------------

slugs = st.from_regex(r"[a-z0-9][a-z0-9_-]{0,8}", fullmatch=True)
texts = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20) | st.sampled_from(
    ["off", "no", "yes", "null", "1", "2026-03-02", "a: b", "# x", "'", '"', "~", " x ", "a\nb\n"]
)
positive = st.one_of(
    st.integers(1, 500).map(float),
    st.floats(1e-6, 1e6, allow_nan=False),
    st.sampled_from([0.5, 0.75, 1.5, 2.5]),
)
amperes = st.floats(0.01, 20).map(lambda x: round(x, 2))
colours = st.lists(st.sampled_from(COLOURS), min_size=1, max_size=2).map("/".join)
levels = st.sampled_from(["battery", "ground"])
dates = st.dates(datetime.date(1990, 1, 1), datetime.date(2100, 1, 1)).map(str)


def _some(fields: dict[str, st.SearchStrategy[Any]]) -> st.SearchStrategy[dict[str, Any]]:
    """A mapping with any of these keys."""
    return st.fixed_dictionaries({}, optional=fields)


# -- any valid record -----------------------------------------------------------------------------

_REACHED = {
    "place": texts,
    "plug": texts,
    "pin": texts,
    "colour": colours,
    "size_mm2": positive,
    "notes": texts,
}


@st.composite
def circuits(draw: st.DrawFn) -> dict[str, Any]:
    """One circuit of any function, as plain data, coherent within itself."""
    function = draw(st.sampled_from(FUNCTIONS))
    circuit = {"id": draw(slugs), "function": function, **draw(_some(_REACHED))}
    if function in KEY_FED:
        positions = st.lists(st.sampled_from(KEY_POSITIONS), min_size=1, unique=True)
        circuit["live"] = draw(positions)
        circuit |= draw(_some({"active": levels, "load_A": amperes, "leave_dead": texts}))
        if function == "starter":
            interlocks = ["downstream", "upstream", "mechanical", "none"]
            circuit["interlock"] = draw(st.sampled_from(interlocks))
    elif function in ("lock", "unlock") and draw(st.booleans()):
        circuit |= {"style": "ladder", "steps_ohm": {"rest": 4700, "lock": draw(positive)}}
    elif function not in NEVER_TOUCHED | {"ground", "tach", "immobilizer"}:
        rest, active = draw(st.permutations(["battery", "ground", "open"]))[:2]
        circuit |= {"rest": rest, "active": active}
        circuit |= draw(_some({"load_A": amperes, "pulse_s": positive}))
    circuit |= draw(
        _some({"known": st.fixed_dictionaries({"how": st.just("told"), "date": dates})})
    )
    return circuit


def vehicles() -> st.SearchStrategy[Vehicle]:
    """Any vehicle record."""
    way = st.fixed_dictionaries({"from": texts, "to": texts, "length_m": positive})
    return st.fixed_dictionaries(
        {
            "format": st.just("startwright/vehicle/1"),
            "id": slugs,
            "gearbox": st.sampled_from(["automatic", "cvt", "manual"]),
            "circuits": st.lists(circuits(), max_size=4, unique_by=lambda c: c["id"]),
        },
        optional={
            "make": texts,
            "years": st.tuples(st.integers(1950, 2100), st.integers(1950, 2100)),
            "engine": _some({"cylinders": st.integers(1, 16), "idle_stop": st.booleans()}),
            "immobilizer": st.fixed_dictionaries(
                {"kind": st.sampled_from(["none", "transponder", "unknown"])},
                optional={"evidence": st.lists(texts | st.builds(dict, saw=texts), max_size=2)},
            ),
            "battery": _some({"capacity_Ah": positive, "key_off_mA": positive}),
            "places": st.lists(way, max_size=2),
            "notes": texts,
        },
    ).map(Vehicle.model_validate)


@st.composite
def leads(draw: st.DrawFn) -> dict[str, Any]:
    """One output or input of a unit, as plain data."""
    lead: dict[str, Any] = {"id": draw(slugs), **draw(_some({"colour": colours, "pin": texts}))}
    if draw(st.booleans()):
        lead |= {"way": "out", "does": [draw(st.sampled_from([*FUNCTIONS, *SIGNALS]))]}
        lead |= {"active": draw(levels), "limit_A": draw(positive)}
        if draw(st.booleans()):
            lead |= {"does": ["ignition", "starter"], "chosen_by": "choice"}
    else:
        lead |= {"way": "in", "senses": draw(st.sampled_from([*FUNCTIONS, "service"]))}
        lead |= draw(_some({"on_V": positive, "debounce_s": positive}))
    return lead


def units() -> st.SearchStrategy[Unit]:
    """Any unit record, with a feed, a setting `choice` and further leads."""
    feed = {"id": "feed", "way": "feed", "limit_A": 30}
    choice = {
        "id": "choice",
        "values": {"off": "dead", "ignition": None, "starter": "second starter"},
        "default": "off",
    }
    run_time = {"id": "run_time", "values": {"min": 300, "max": 1800, "step": 300}, "default": 600}
    pulses = st.lists(
        st.fixed_dictionaries(
            {"drives": st.lists(st.sampled_from(["lock", "horn", "parking_light"]), max_size=2)},
            optional={"pulse_s": positive, "repeat_s": positive},
        ),
        max_size=2,
    )
    return st.fixed_dictionaries(
        {
            "format": st.just("startwright/unit/1"),
            "id": slugs,
            "logic_from": st.just("feed"),
            "leads": st.lists(
                leads().filter(lambda x: x["id"] != "feed"), max_size=5, unique_by=lambda x: x["id"]
            ).map(lambda more: [feed, *more]),
            "settings": st.just([choice, run_time]),
        },
        optional={
            "name": texts,
            "tries": st.integers(1, 10),
            "commands": _some(dict.fromkeys(COMMANDS, pulses)),
            "refuses": st.lists(st.sampled_from(["ignition_on", "service"]), unique=True),
            "guards": st.just([{"input": "hood", "reads": "inactive"}]),
            "engine_signal": st.just({"by": "engine_sense", "choices": ["tach", "timed"]}),
        },
    ).map(Unit.model_validate)


def parts() -> st.SearchStrategy[dict[str, Any]]:
    """Any article, as plain data."""
    ratings: dict[str, dict[str, st.SearchStrategy[Any]]] = {
        "relay": {
            "coil_ohm": positive,
            "contact_A": positive,
            "pull_in_V": st.floats(6, 8),
            "drop_out_V": st.floats(1, 5),
        },
        "diode": {"forward_A": positive, "reverse_V": positive},
        "resistor": {"ohm": positive},
        "fuse": {"rating_A": positive},
        "switch": {
            "operated_by": st.sampled_from(["hood", "brake", "service"]),
            "contact_at_rest": st.sampled_from(["open", "closed"]),
        },
        "interface": {"pins": st.just({"power": "battery", "earth": "ground"})},
        "wire": {"size_mm2": positive, "colour": colours, "spool_m": positive},
        "terminal": {"size_mm2": st.lists(positive, min_size=1, max_size=3)},
        "loom": {"inside_mm": positive},
    }
    return st.sampled_from(sorted(ratings)).flatmap(
        lambda kind: st.fixed_dictionaries(
            {"id": slugs, "kind": st.just(kind), **ratings[kind]},
            optional={"price": positive, "count": st.integers(0, 99), "name": texts},
        )
    )


def stocks() -> st.SearchStrategy[Stock]:
    """Any stock record."""
    return st.fixed_dictionaries(
        {
            "format": st.just("startwright/stock/1"),
            "id": slugs,
            "parts": st.lists(parts(), max_size=6, unique_by=lambda p: p["id"]),
        }
    ).map(Stock.model_validate)


def jobs() -> st.SearchStrategy[Job]:
    """Any job record, with references or the records themselves."""
    return st.fixed_dictionaries(
        {
            "format": st.just("startwright/job/1"),
            "id": slugs,
            "vehicle": texts | vehicles(),
            "unit": texts | units(),
            "stock": texts | stocks(),
            "wants": st.lists(st.sampled_from(WANTS), unique=True),
        },
        optional={"customer": texts, "places_allowed": st.lists(texts, max_size=2)},
    ).map(Job.model_validate)


_PARTS = st.lists(
    st.fixed_dictionaries(
        {"id": st.from_regex(r"[KDF][0-9]", fullmatch=True), "of": slugs}, optional={"place": texts}
    ),
    max_size=3,
    unique_by=lambda p: p["id"],
)


@st.composite
def wirings(draw: st.DrawFn, job: WholeJob | None = None) -> Wiring:
    """Any wiring; of a `job`, any wiring whose terminals and parts exist."""
    if job is None:
        fitted = draw(_PARTS)
        name = st.one_of(
            slugs.map("unit.{}".format),
            slugs.map("vehicle.{}".format),
            slugs.map("vehicle.{}.source".format),
            slugs.map("ground.{}".format),
        )
        settings: dict[str, Any] = draw(st.dictionaries(slugs, slugs | positive, max_size=3))
        cuts = draw(st.lists(slugs, max_size=2, unique=True))
    else:
        usable = [p for p in job.stock.parts if p.kind in PINS or p.kind == "interface"]
        chosen = draw(st.lists(st.sampled_from(usable), max_size=4)) if usable else []
        fitted = [{"id": f"P{n}", "of": p.id} for n, p in enumerate(chosen)]
        names = [f"unit.{lead.id}" for lead in job.unit.leads]
        names += [f"vehicle.{c.id}" for c in job.vehicle.circuits] + ["ground.brace"]
        names += [f"P{n}.{pin}" for n, p in enumerate(chosen) for pin in p.pin_names]
        name = st.sampled_from(names)
        settings, cuts = {}, []
    ends = st.tuples(name, name).filter(lambda pair: pair[0] != pair[1])
    more = _some(
        {
            "size_mm2": positive,
            "colour": colours,
            "length_m": st.floats(0.05, 5).map(lambda x: round(x, 2)),
            "joints": st.lists(st.sampled_from(["solder", "crimp", "plug"]), max_size=2),
            "why": texts,
        }
    )
    runs = [
        {"id": f"r{n}", "from": a, "to": b, **draw(more)}
        for n, (a, b) in enumerate(draw(st.lists(ends, max_size=8)), start=1)
    ]
    return Wiring.model_validate(
        {
            "format": "startwright/wiring/1",
            "parts": fitted,
            "settings": settings,
            "cuts": cuts,
            "runs": runs,
        }
    )


def plans() -> st.SearchStrategy[Plan]:
    """Any plan record."""
    need = st.fixed_dictionaries({"id": slugs, "need": texts, "because": texts})
    check = st.fixed_dictionaries({"id": slugs, "do": st.lists(texts, max_size=2), "expect": texts})
    return st.fixed_dictionaries(
        {"format": st.just("startwright/plan/1"), "job": slugs, "wiring": wirings()},
        optional={
            "needs": st.lists(need, max_size=2),
            "checks": st.lists(check, max_size=2),
            "cost": positive,
            "warnings": st.lists(texts, max_size=2),
        },
    ).map(Plan.model_validate)


def readings() -> st.SearchStrategy[Readings]:
    """Any readings record."""
    one = st.fixed_dictionaries(
        {"wire": texts, "volts_V": st.floats(-50, 50)},
        optional={"during": st.lists(texts, max_size=2), "colour": colours, "pin": texts},
    )
    return st.fixed_dictionaries(
        {"format": st.just("startwright/readings/1"), "readings": st.lists(one, max_size=4)}
    ).map(Readings.model_validate)


# -- a car, a unit and a careful hand -------------------------------------------------------------

ALWAYS = ["out", "off", "accessory", "run", "start"]


@dataclasses.dataclass(frozen=True)
class Sound:
    """A job and a wiring that should be proven."""

    job: WholeJob
    wiring: Wiring


@dataclasses.dataclass(frozen=True)
class Sabotaged(Sound):
    """A job and a wiring with one thing done wrong, and the rules of which one must break."""

    sabotage: str
    breaks: frozenset[str]


def _plain_vehicle(draw: st.DrawFn, lamps: str) -> dict[str, Any]:
    ground_rest = st.sampled_from(["open", "battery"])
    battery_rest = st.sampled_from(["open", "ground"])

    def key_fed(id: str, function: str, live: list[str], **more: Any) -> dict[str, Any]:
        return {"id": id, "function": function, "live": live, "place": "steering column", **more}

    def to_ground(id: str, function: str, load_A: float, **more: Any) -> dict[str, Any]:
        level = {"rest": draw(ground_rest), "active": "ground", "load_A": load_A}
        return {"id": id, "function": function, "place": "kick panel", **level, **more}

    lamp = {"id": "lamps", "function": "parking_light", "active": lamps, "place": "kick panel"}
    if lamps == "battery":
        lamp |= {"rest": draw(battery_rest), "load_A": draw(st.sampled_from([2.5, 3.2, 4.0]))}
    else:
        lamp |= {"rest": draw(ground_rest), "load_A": draw(st.sampled_from([0.1, 0.2, 0.3]))}
    loads = st.sampled_from([6.0, 8.5, 10.0, 12.0])
    return {
        "format": "startwright/vehicle/1",
        "id": "car",
        "gearbox": draw(st.sampled_from(["automatic", "cvt"])),
        "immobilizer": {"kind": "none", "evidence": ["a plain-cut copy started the engine"]},
        "circuits": [
            key_fed("batt_1", "battery", ALWAYS, fuse_A=40, size_mm2=4.0),
            key_fed("batt_2", "battery", ALWAYS, fuse_A=40, size_mm2=4.0),
            key_fed("ign_1", "ignition", ["run", "start"], load_A=draw(loads), size_mm2=2.5),
            key_fed("acc_1", "accessory", ["accessory", "run"], load_A=draw(loads), size_mm2=2.5),
            key_fed(
                "starter_1",
                "starter",
                ["start"],
                load_A=draw(loads),
                size_mm2=2.5,
                interlock=draw(st.sampled_from(["downstream", "mechanical"])),
            ),
            {
                "id": "brake",
                "function": "brake",
                "place": "brake pedal",
                "rest": draw(battery_rest),
                "active": "battery",
                "load_A": 4.0,
            },
            to_ground("hood", "hood", 0.02),
            to_ground("park", "park_neutral", 0.05),
            {"id": "tach", "function": "tach", "pulses_per_rev": 2, "place": "kick panel"},
            lamp,
            to_ground("horn", "horn", 0.3),
            to_ground("lock", "lock", 0.2, style="pulse", pulse_s=0.6),
            to_ground("unlock", "unlock", 0.2, style="pulse", pulse_s=0.6),
            {"id": "airbag", "function": "srs", "place": "steering column"},
        ],
        "places": [{"from": "steering column", "to": "kick panel", "length_m": 0.7}],
    }


def _plain_unit(lamps: str) -> dict[str, Any]:
    def power(id: str, does: str, feed: str) -> dict[str, Any]:
        level = {"active": "battery", "fed_by": feed, "limit_A": 25, "switch": "relay"}
        return {"id": id, "way": "out", "does": [does], **level}

    def small(id: str, does: str) -> dict[str, Any]:
        level = {"active": "ground", "limit_A": 0.5, "switch": "transistor"}
        return {"id": id, "way": "out", "does": [does], **level}

    def sense(id: str, senses: str, active: str) -> dict[str, Any]:
        at = {"battery": ("down", 6.0, 3.0), "ground": ("up", 3.0, 6.0)}[active]
        more = dict(zip(("pull", "on_V", "off_V"), at, strict=True))
        return {"id": id, "way": "in", "senses": senses, "active": active, **more}

    lamp = power("lamps", "parking_light", "feed_2")
    return {
        "format": "startwright/unit/1",
        "id": "unit",
        "logic_from": "feed_1",
        "leads": [
            {"id": "feed_1", "way": "feed", "limit_A": 30, "fuse_A": 30, "size_mm2": 4.0},
            {"id": "feed_2", "way": "feed", "limit_A": 30, "fuse_A": 30, "size_mm2": 4.0},
            {"id": "gnd", "way": "ground", "limit_A": 10, "size_mm2": 1.5},
            power("ign", "ignition", "feed_1"),
            power("acc", "accessory", "feed_2"),
            power("start", "starter", "feed_1"),
            lamp if lamps == "battery" else small("lamps", "parking_light"),
            small("horn", "horn"),
            small("lock", "lock"),
            small("unlock", "unlock"),
            sense("brake_in", "brake", "battery"),
            sense("hood_in", "hood", "ground"),
            sense("park_in", "park_neutral", "ground"),
            {"id": "tach_in", "way": "in", "senses": "tach"},
        ],
        "engine_signal": {"by": "engine_sense", "choices": ["tach", "volts", "timed"]},
    }


_SHELF = {
    "format": "startwright/stock/1",
    "id": "shelf",
    "parts": [
        {"id": "fuse-30", "kind": "fuse", "rating_A": 30, "price": 1.8, "count": 9},
        {"id": "diode-1", "kind": "diode", "forward_A": 1, "reverse_V": 400, "count": 9},
        {
            "id": "relay-40",
            "kind": "relay",
            "coil_ohm": 85,
            "contact_A": 40,
            "pull_in_V": 7.0,
            "drop_out_V": 1.5,
            "suppressed": True,
            "price": 4.2,
            "count": 9,
        },
    ],
}

# id, from, to, size_mm2
_RUNS = [
    ("feed_1_a", "vehicle.batt_1", "F1.a", 4.0),
    ("feed_1_b", "F1.b", "unit.feed_1", 4.0),
    ("feed_2_a", "vehicle.batt_2", "F2.a", 4.0),
    ("feed_2_b", "F2.b", "unit.feed_2", 4.0),
    ("earth", "unit.gnd", "ground.brace", 1.5),
    ("ign", "unit.ign", "vehicle.ign_1", 2.5),
    ("acc", "unit.acc", "vehicle.acc_1", 2.5),
    ("start", "unit.start", "vehicle.starter_1", 2.5),
    ("brake", "vehicle.brake", "unit.brake_in", 0.5),
    ("hood", "vehicle.hood", "unit.hood_in", 0.5),
    ("park", "vehicle.park", "unit.park_in", 0.5),
    ("tach", "vehicle.tach", "unit.tach_in", 0.5),
    ("lamps", "unit.lamps", "vehicle.lamps", 1.0),
    ("horn", "unit.horn", "vehicle.horn", 0.5),
    ("lock", "unit.lock", "vehicle.lock", 0.5),
    ("unlock", "unit.unlock", "vehicle.unlock", 0.5),
]


@st.composite
def sound_jobs(draw: st.DrawFn) -> Sound:
    """A plain car, a plain unit, and the wiring of a careful hand; levels and loads vary."""
    lamps = draw(levels)
    job = WholeJob.model_validate(
        {
            "format": "startwright/job/1",
            "id": "job",
            "vehicle": _plain_vehicle(draw, lamps),
            "unit": _plain_unit(lamps),
            "stock": _SHELF,
            "wants": ["remote_start", "lock_unlock", "light_flash", "horn_chirp"],
        }
    )
    lengths = st.sampled_from([0.2, 0.4, 0.7, 1.1])
    wiring = {
        "format": "startwright/wiring/1",
        "parts": [{"id": "F1", "of": "fuse-30"}, {"id": "F2", "of": "fuse-30"}],
        "settings": {"engine_sense": "tach"},
        "runs": [
            {"id": id, "from": a, "to": b, "size_mm2": size, "length_m": draw(lengths)}
            for id, a, b, size in _RUNS
        ],
    }
    return Sound(job, Wiring.model_validate(wiring))


Runs = dict[str, tuple[str, str]]
Change = Callable[[Runs], None]


def _leave_out(id: str) -> Change:
    return lambda runs: runs.pop(id) and None


def _swap(a: str, b: str) -> Change:
    def change(runs: Runs) -> None:
        runs[a], runs[b] = (runs[a][0], runs[b][1]), (runs[b][0], runs[a][1])

    return change


def _to(id: str, frm: str, to: str) -> Change:
    return lambda runs: runs.update({id: (frm, to)})


SABOTAGES: dict[str, tuple[Change, frozenset[str]]] = {
    "the hood wire left out": (
        _leave_out("hood"),
        frozenset({"hood-ends", "crank-only-when-safe"}),
    ),
    "the brake wire left out": (_leave_out("brake"), frozenset({"brake-ends"})),
    "the hood input taken to the horn": (
        _to("hood", "vehicle.horn", "unit.hood_in"),
        frozenset({"hood-ends", "crank-only-when-safe"}),
    ),
    "the park input on a ground point": (
        _to("park", "unit.park_in", "ground.brace"),
        frozenset({"leaving-park-ends", "crank-only-when-safe"}),
    ),
    "the hood and park inputs crossed": (
        _swap("hood", "park"),
        frozenset({"hood-ends", "leaving-park-ends", "crank-only-when-safe", "can-start"}),
    ),
    "the ignition and starter leads crossed": (
        _swap("ign", "start"),
        frozenset({"no-crank-into-running", "as-under-the-key", "only-what-is-called"}),
    ),
    "the ignition lead bridged to the starter": (
        _to("bridge", "vehicle.ign_1", "vehicle.starter_1"),
        frozenset({"car-unchanged", "no-crank-into-running", "only-what-is-called"}),
    ),
    "the accessory bridged to the ignition": (
        _to("bridge", "vehicle.acc_1", "vehicle.ign_1"),
        frozenset({"car-unchanged", "only-what-is-called", "as-under-the-key"}),
    ),
    "the lock and unlock leads crossed": (
        _swap("lock", "unlock"),
        frozenset({"locks-on-command", "locks", "unlocks-all", "unlocks-driver"}),
    ),
    "a lead tapped into the airbag": (
        _to("tap", "unit.horn", "vehicle.airbag"),
        frozenset({"hands-off"}),
    ),
    "a feed taken to ground": (
        _to("feed_2_b", "F2.b", "ground.brace"),
        frozenset({"no-short", "within-limits"}),
    ),
    "the unit's ground left out": (_leave_out("earth"), frozenset({"can-start", "can-be-tried"})),
    "the starter lead left out": (_leave_out("start"), frozenset({"can-start", "runs"})),
    "the horn lead left out": (_leave_out("horn"), frozenset({"sounds", "can-be-tried"})),
}
"""What a hand does wrong, and the rules of which at least one must break."""


@st.composite
def sabotaged_jobs(draw: st.DrawFn) -> Sabotaged:
    """A sound job with one thing done wrong."""
    sound = draw(sound_jobs())
    sabotage = draw(st.sampled_from(sorted(SABOTAGES)))
    return sabotage_job(sound, sabotage)


def sabotage_job(sound: Sound, sabotage: str) -> Sabotaged:
    """The job with one of `SABOTAGES` done to its wiring."""
    change, breaks = SABOTAGES[sabotage]
    runs = {run.id: run.ends for run in sound.wiring.runs}
    change(runs)
    wiring = sound.wiring.model_dump(by_alias=True, exclude_unset=True)
    known = {run["id"]: run for run in wiring["runs"]}
    fresh = {"size_mm2": 1.0, "length_m": 0.5}
    wiring["runs"] = [
        {**known.get(id, fresh), "id": id, "from": a, "to": b} for id, (a, b) in runs.items()
    ]
    return Sabotaged(sound.job, Wiring.model_validate(wiring), sabotage, breaks)
