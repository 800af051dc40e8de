"""The rules: what must hold in every reachable state, and on every step between two.

Each rule has a slug, a kind, a plain sentence, where it comes from, and twins: situations in which
it bites, which must be reachable. All of them are listed in ``docs/reference/rules.md``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from startwright.car.control_unit import ControlUnit
from startwright.car.hybrid import is_hybrid
from startwright.car.start_control import MODE
from startwright.car.start_control import OFF as OFF_MODE
from startwright.car.start_control import RUN as RUN_MODE
from startwright.prove.choices import BY_HAND
from startwright.prove.model import COASTING, RUNNING, Model
from startwright.prove.tables import Array
from startwright.prove.view import EdgeView, View
from startwright.records.words import KEY_POSITIONS, RuleKind

OVERRUN_S = 0.5
"""How long the unit may go on cranking once the engine runs, s (package default)."""
LONGEST_CRANK_S = 15.0
LONGEST_RUN_S = 1800.0
MOST_TRIES = 5

NO_CRANK = {
    False: "The unit never begins to crank an engine that turns, and lets go once it runs.",
    True: "The unit never asks a car to become ready that is ready, and lets go once it is.",
}
"""The sentence of `no-crank-into-running`, by whether the car is a hybrid."""

OUT, OFF, ACCESSORY, RUN, START = range(5)
Applies = Literal["always", "start", "locks", "interface", "starter"]
OnStates = Callable[[View], Array]
OnEdges = Callable[[EdgeView], Array]


@dataclass(frozen=True)
class Rule:
    """One rule.

    `bad_state` and `bad_edge` find breaches; `twins` and `edge_twins` the situations that must be
    reached; `marks` names the marks that explain a breach.
    """

    slug: str
    kind: RuleKind
    says: str
    source: str
    applies: Applies = "always"
    bad_state: OnStates | None = None
    bad_edge: OnEdges | None = None
    twins: tuple[OnStates, ...] = ()
    edge_twins: tuple[OnEdges, ...] = ()
    marks: tuple[str, ...] = ()
    expects: str = ""


def out_of_park(model: Model, gear: Array) -> Array:
    """Whether the car may move: out of park and neutral; out of park where the car tells it."""
    tells = any(c.tells == "park" for c in model.car.job.vehicle.of("park_neutral"))
    return np.asarray(gear != 0 if tells else gear == 2)


def letting_go(v: View) -> Array:
    """The unit has let go and is about to press the button that turns the car off.

    It lasts `GAP_S` (0.3 s), within the debounce that `world.md` grants to what ends a start.
    """
    return v.by_start(np.array([s.mode == "release" for s in v.model.starts]))


def _unsafe(v: View) -> Array:
    return np.asarray((v["hood"] == 1) | out_of_park(v.model, v["gear"]))


def _powered(v: View) -> Array:
    return np.asarray(v["fed_ignition"] | v["fed_starter"])


def _refused_unsafe(e: EdgeView) -> Array:
    unsafe = _unsafe(e.before)[e.edges.parent]
    return np.asarray(e.chose("command start") & e.was_idle() & unsafe)


def _begins(e: EdgeView) -> Array:
    motion = e.was("motion")
    begins = e.becomes("fed_starter") & ~e.was("fed_starter")
    return np.asarray(begins & ((motion == RUNNING) | (motion == COASTING)))


def _overruns(v: View) -> Array:
    times = [v.model.unit.time_s(s) for s in v.model.starts]
    long = np.array([t is None or t > OVERRUN_S for t in times])
    return np.asarray((v["motion"] == RUNNING) & v["fed_starter"] & v.by_start(long))


def _catches(e: EdgeView) -> Array:
    return np.asarray(e.chose("engine starts") & e.was("fed_starter"))


def _ends_on(name: str) -> OnEdges:
    def twin(e: EdgeView) -> Array:
        powered = _powered(e.before)[e.edges.parent]
        return np.asarray(powered & (e.was(name) == 0) & (e.becomes(name) == 1))

    return twin


def _leaves_park(e: EdgeView) -> Array:
    powered = _powered(e.before)[e.edges.parent]
    was = out_of_park(e.before.model, e.was("gear"))
    now = out_of_park(e.after.model, e.becomes("gear"))
    return np.asarray(powered & ~was & now)


def _runs_out(e: EdgeView) -> Array:
    return np.asarray(e.chose("time") & ~e.was_idle() & e.is_idle() & (e.was("motion") == RUNNING))


def _starts_unasked(e: EdgeView) -> Array:
    return np.asarray(e.was_idle() & ~e.is_idle() & ~e.chose("command start"))


def _key_started(e: EdgeView) -> Array:
    key = e.was("key")
    running = e.was("motion") == RUNNING
    return np.asarray(e.was_idle() & running & ((key == RUN) | (key == START)))


def _meddles(e: EdgeView) -> Array:
    taken = _key_started(e) & e.chose("command start") & ~e.is_idle()
    if e.before.model.unit.record.holds_after_key:
        taken = np.zeros_like(taken)
    if e.before.model.car.imitates:
        stopped = _key_started(e) & (e.becomes(MODE) == OFF_MODE)
        return np.asarray(taken | stopped | (_hand_stops(e) & (e.becomes("motion") == RUNNING)))
    return np.asarray(taken | _gap(e))


def _hand_stops(e: EdgeView) -> Array:
    """The driver presses the button of an engine that an imitated press has started."""
    running = ~e.was_idle() & (e.was("motion") == RUNNING) & (e.was(MODE) == RUN_MODE)
    return np.asarray(running & e.chose(BY_HAND))


def _takeover(e: EdgeView) -> Array:
    running = e.was("motion") == RUNNING
    pressed = (e.was("brake") == 0) & (e.becomes("brake") == 1)
    return np.asarray(~e.was_idle() & running & pressed & (e.was("key") == RUN))


def _gap(e: EdgeView) -> Array:
    """Taking over, by the key to run or by the brake after it, drops an ignition circuit."""
    running = e.was("motion") == RUNNING
    turned = ~e.was_idle() & running & (e.was("key") != RUN) & (e.becomes("key") == RUN)
    drops = e.becomes("dead_under_key") & ~e.was("dead_under_key")
    return np.asarray((turned | _takeover(e)) & (drops | (e.becomes("motion") != RUNNING)))


def _runs_alone(v: View) -> Array:
    keyless = v["key"] < RUN
    alone = v.idle & keyless & (v["motion"] == RUNNING)
    held = v.idle & (v["key"] == RUN) & (v["motion"] == RUNNING) & v["fed_starter"]
    return np.asarray(alone | held)


def _tried_while_running(e: EdgeView) -> Array:
    return np.asarray(_key_started(e) & e.chose("command start"))


def _both_ways(v: View) -> Array:
    return np.asarray(v["moved_uncalled"] | (v["fed_lock"] & v["fed_unlock"]))


def _interlocked(v: View) -> Array:
    bare = any(
        c.interlock in (None, "none", "mechanical") for c in v.model.car.job.vehicle.of("starter")
    )
    past = v["past_interlock"]
    if bare:
        past = past | (v["fed_starter"] & out_of_park(v.model, v["gear"]) & ~letting_go(v))
    return np.asarray(past)


def _unlike(v: View) -> Array:
    unit = v.model.unit
    out = np.zeros(len(v["key"]), dtype=bool)
    keyless = v["key"] <= OFF
    for position in KEY_POSITIONS:
        like = np.array(
            [s.mode == "step" and unit.steps[s.step].like == position for s in v.model.starts]
        )
        if like.any():
            out |= v.by_start(like) & keyless & v[f"unlike_{position}"]
    return out


def _in_every_step(model: Model) -> tuple[OnStates, ...]:
    def twin(k: int) -> OnStates:
        def reached(v: View) -> Array:
            here = np.array([s.mode == "step" and s.step == k for s in v.model.starts])
            return np.asarray(v.by_start(here) & (v["key"] <= OFF))

        return reached

    return tuple(twin(k) for k in tried_steps(model.unit))


def tried_steps(unit: ControlUnit) -> list[int]:
    """The steps in which a circuit must be seen as under the key, by number.

    Not one that waits for the wait lamp alone, which need not be connected; nor one that the
    unit's own program never comes to, since no wiring could show it.
    """
    return [k for k, s in enumerate(unit.steps) if s.until != "wait_over" and k in unit.comes_to]


def _at_every_key() -> tuple[OnStates, ...]:
    return tuple(lambda v, k=k: np.asarray(~v.driven & (v["key"] == k)) for k in range(5))


def rules(model: Model) -> tuple[Rule, ...]:
    """The rules that are looked for in states and steps, hazards first."""
    return (
        Rule(
            "crank-only-when-safe",
            "hazard",
            "The unit feeds a starter circuit only with the hood shut and the lever in park or "
            "neutral.",
            "common practice, no source; 49 CFR 571.102 S3.1.3 for the lever",
            "start",
            bad_state=lambda v: np.asarray(v["fed_starter"] & _unsafe(v) & ~letting_go(v)),
            twins=(lambda v: v["fed_starter"],),
            edge_twins=(_refused_unsafe,),
            marks=("fed_starter",),
            expects="starter on",
        ),
        Rule(
            "no-crank-into-running",
            "hazard",
            NO_CRANK[is_hybrid(model.car.job.vehicle)],
            "common practice, no source",
            "start",
            bad_state=_overruns,
            bad_edge=_begins,
            edge_twins=(_catches,),
            marks=("fed_starter",),
            expects="starter on",
        ),
        Rule(
            "brake-ends",
            "hazard",
            "The brake pedal ends what the unit feeds of ignition and starter.",
            "common practice, no source; 49 CFR 571.114 S5.1.1 (the car must not drive off)",
            "start",
            bad_state=lambda v: np.asarray((v["brake"] == 1) & _powered(v) & ~letting_go(v)),
            edge_twins=(_ends_on("brake"),),
            marks=("fed_starter", "fed_ignition"),
            expects="ignition on",
        ),
        Rule(
            "hood-ends",
            "hazard",
            "An open hood ends what the unit feeds of ignition and starter.",
            "common practice, no source",
            "start",
            bad_state=lambda v: np.asarray((v["hood"] == 1) & _powered(v) & ~letting_go(v)),
            edge_twins=(_ends_on("hood"),),
            marks=("fed_starter", "fed_ignition"),
            expects="ignition on",
        ),
        Rule(
            "leaving-park-ends",
            "hazard",
            "Leaving park or neutral ends what the unit feeds of ignition and starter.",
            "common practice, no source; 49 CFR 571.114 S5.1.1 (the car must not drive off)",
            "start",
            bad_state=lambda v: np.asarray(
                out_of_park(v.model, v["gear"]) & _powered(v) & ~letting_go(v)
            ),
            edge_twins=(_leaves_park,),
            marks=("fed_starter", "fed_ignition"),
            expects="ignition on",
        ),
        Rule(
            "start-ends",
            "hazard",
            "A start ends by itself: at most 30 minutes, five tries of at most 15 s; only a new "
            "command starts again, and nothing stays fed when the unit is idle.",
            "common practice, no source",
            "start",
            bad_state=lambda v: np.asarray(v.idle & _powered(v)),
            bad_edge=_starts_unasked,
            edge_twins=(_runs_out,),
            marks=("fed_starter", "fed_ignition"),
            expects="ignition on",
        ),
        Rule(
            "key-has-last-word",
            "hazard",
            "The key has the last word: a takeover leaves no gap, a command leaves an engine "
            "started by key alone, and key off stops it.",
            "common practice, no source",
            "start",
            bad_state=_runs_alone,
            bad_edge=_meddles,
            edge_twins=(
                _hand_stops if model.car.imitates else _takeover,
                _tried_while_running,
            ),
            marks=("fed_ignition", "fed_starter", "dead_under_key"),
            expects="ignition on",
        ),
        Rule(
            "locks-on-command",
            "hazard",
            "The unit moves a lock only when a command or a step says so, never both ways at once.",
            "common practice, no source",
            "locks",
            bad_state=_both_ways,
            twins=(lambda v: v["fed_lock"], lambda v: v["fed_unlock"]),
            marks=("moved_uncalled", "fed_lock"),
            expects="lock on",
        ),
        Rule(
            "start-through-interlock",
            "hazard",
            "The start signal goes through the car's own park/neutral switch; where it has none, "
            "the unit senses the lever.",
            "49 CFR 571.102 S3.1.3",
            "start",
            bad_state=_interlocked,
            twins=(lambda v: v["fed_starter"],),
            marks=("past_interlock", "fed_starter"),
            expects="starter on",
        ),
        Rule(
            "immobilizer-only-while-starting",
            "hazard",
            "An immobilizer interface is enabled only while the unit is in one of its steps.",
            "49 CFR 571.114 S4 (an electronic code counts as a key)",
            "interface",
            bad_state=lambda v: np.asarray(v["interface_on"] & ~v.in_step),
            twins=(lambda v: np.asarray(v["interface_on"] & v.in_step),),
            marks=("interface_on",),
            expects="immobilizer on",
        ),
        Rule(
            "no-short",
            "damage",
            "No path without a load joins battery and ground.",
            "common practice, no source",
            bad_state=lambda v: v["short"],
            twins=(lambda v: v.driven,),
            marks=("short",),
        ),
        Rule(
            "car-unchanged",
            "damage",
            "With all outputs of the unit open every circuit behaves as in the factory car.",
            "49 U.S.C. 30122(b) (nothing is made inoperative)",
            bad_state=lambda v: v["changed"],
            twins=_at_every_key(),
            marks=("changed",),
        ),
        Rule(
            "only-what-is-called",
            "damage",
            "While the unit works, only the circuits that its step or command drives differ from "
            "the factory car.",
            "common practice, no source",
            bad_state=lambda v: v["uncalled"],
            twins=(lambda v: v.driven,),
            marks=("uncalled",),
        ),
        Rule(
            "as-under-the-key",
            "works",
            "In each step the key-fed circuits stand as they do in the key position it is like.",
            "common practice, no source; 49 CFR 571.118 for circuits better left dead",
            "start",
            bad_state=_unlike,
            twins=_in_every_step(model),
            marks=tuple(
                f"unlike_{p}" for p in KEY_POSITIONS if any(s.like == p for s in model.unit.steps)
            ),
        ),
    )
