"""From probabilities to what is said of a wire: a function, or not known yet, and why."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, cast

import numpy as np

from startwright.identify.features import ACTIVITY, BLINK, HUM, NOISY, PULSE, TRAFFIC, Features
from startwright.identify.ladder import ratio, steps_ohm, supply_V
from startwright.identify.lamps import spinning_down
from startwright.identify.places import NEVER, hints, never_touched
from startwright.identify.posterior import Scored, by_function
from startwright.identify.report import Rival, WireVerdict
from startwright.identify.segments import Table
from startwright.records.recordings import WirePlace
from startwright.records.words import KEY_POSITIONS

DECIDED = 0.90
"""A function is named from this probability on."""

DANGER = 0.02
"""A wire that may be data, airbag or high voltage with more than this is not called usable."""

LEAVE_ALONE = 0.15
"""…and with more than this is to be left alone."""

MOST_RIVALS = 4

GROUND_CHECK = (
    "once its place says that it is no data or airbag line, load it from battery positive with a "
    "21 W lamp: a ground lights it and stays below 0.1 V to the battery's negative post, which is "
    "a resistance below 0.06 ohm"
)
"""21 W at 12.6 V draw 1.7 A; 0.1 V at 1.7 A are 0.06 ohm."""

KIND_WORDS = {
    "battery": "battery voltage", "ground": "ground", "low": "a volt or two above ground",
    "five": "5 V", "pulled": "a pull-up to battery voltage",
    "open": "nothing (open)", "strobe": "a pulsed pull-up", "pwm": "pulses",
    "flash": "flashing", "mid1": "an in-between level", "mid2": "an in-between level",
    "mid3": "an in-between level",
}  # fmt: skip

Active = Literal["battery", "ground"]


def decide(
    name: str,
    scored: Sequence[Scored],
    table: Table,
    features: Features,
    wire: int,
    place: WirePlace | None,
    logic: bool = False,
    loaded: bool = False,
    pull_up_ohm: float | None = None,
) -> WireVerdict:
    """One wire's verdict from its hypotheses; `loaded` says that it carried a test lamp."""
    sums = by_function(scored)
    danger = sum(p for f, _, p in sums if f in NEVER)
    elsewhere = sum(p for f, _, p in sums if f is None)
    named = [(f, a, p) for f, a, p in sums if f is not None]
    top_function, top_active, top = named[0] if named else (None, None, 0.0)
    never = never_touched(place)
    notes: list[str] = []
    evidence = _evidence(scored, table, features, wire)
    traffic = traffic_share(table, features, wire, turning=top_function != "tach")

    function: str | None = None
    active: str | None = None
    probability = top
    untried = _untried(scored, top_function, top_active, table)
    best = next((s for s in scored if s.function == top_function and s.active == top_active), None)
    if never is not None:
        function, probability = never[0], 0.97
        danger = max(danger, 0.97)
        notes.append(f"leave alone: {never[1]}")
    elif untried and top > 0.5:
        notes.append(f"not tried yet: {', '.join(untried)}")
    elif top >= DECIDED and top_function is not None:
        if top_function == "data" and traffic > 0.02:
            function = "data"
        elif top_function in (*NEVER, "immobilizer"):
            notes.append(
                "may be a data, airbag or immobilizer line: its place tells, not its volts"
            )
        elif top_function == "battery" and not loaded and hints(place).get("battery", 1.0) <= 1.0:
            notes.append(
                "battery voltage throughout: a feed, an unloaded pull-up or a sleeping data line; "
                "voltage alone does not tell, a test load does (or its place: a fuse box)"
            )
        elif danger > DANGER or traffic > 0.03:
            notes.append("may carry data: not called usable")
        else:
            function, active = top_function, top_active
    leave = danger > LEAVE_ALONE or traffic > 0.10 or function in NEVER
    if leave and function not in NEVER:
        function, active = None, None
    if leave and not any(n.startswith("leave alone") for n in notes):
        notes.append(
            "leave alone: it changes as a data line does"
            if traffic > 0.03 or danger > 0.5
            else "leave alone until it is known: it may be a data or airbag line"
        )
    if function is None and not leave and not notes:
        notes.append("not known yet")
        if top_function == "wait_to_start":
            notes.append(
                "a lamp test goes out after the same few seconds every time, a glow lamp sooner "
                "with a warm engine: turn the key to run once cold and once warm, and time it"
            )
        if top_function == "ground":
            notes.append(
                "0 V throughout: a ground, or a wire with nothing on it, or one whose circuit was "
                f"not worked; {GROUND_CHECK}"
            )
    rivals = [
        Rival(function=f, active=cast(Active | None, a), probability=round(p, 4))
        for f, a, p in named
        if (f, a) != (top_function if function is None or never is None else None, top_active)
        and f is not None
        and p >= 0.005
    ]
    if function is None and top_function is not None and top >= 0.005:
        rivals.insert(
            0,
            Rival(
                function=top_function,
                active=cast(Active | None, top_active),
                probability=round(top, 4),
            ),
        )
    steps = _ladder_levels(scored, table, features, wire)
    ohms: dict[str, float] | None = None
    if steps and "rest" in steps:
        rail = float(np.median(features.rail_V))
        if pull_up_ohm is not None:
            ohms = steps_ohm(steps, rail, pull_up_ohm)
        else:
            supply = supply_V(steps["rest"], rail)
            told = ", ".join(f"{k} {ratio(v, supply):.3g}" for k, v in steps.items() if k != "rest")
            notes.append(
                f"coded switch: ohms over the pull-up are {told}; measure the pull-up for the ohms"
            )
    notes += _cautions(function, best, table, features, wire, logic)
    said = active if function is not None else None
    return WireVerdict(
        wire=name,
        function=function,
        active=cast(Active | None, said),
        probability=round(min(probability, 0.999), 4),
        rivals=rivals[:MOST_RIVALS],
        leave_alone=leave,
        notes=notes,
        likely=top_function,
        else_probability=round(elsewhere, 4),
        evidence=evidence,
        live=_live(function, table, features, wire),
        rest=_rest(best) if function is not None else None,
        levels_V=steps,
        steps_ohm=ohms,
        place=place.place if place else None,
        plug=place.plug if place else None,
        pin=place.pin if place else None,
        colour=place.colour if place else None,
    )


def traffic_share(table: Table, features: Features, wire: int, *, turning: bool = True) -> float:
    """Share of the observed time in which the wire changed as a data line does.

    Without `turning`, the stretches in which the engine turns are left out: a tach is uneven while
    the starter labours, and for a moment after.
    """
    seconds = np.maximum(table.core_end_s - table.core_start_s, 0.0)
    if not turning:
        steady = (table.engine == 1) & (features.activity[:, wire] == PULSE)
        labouring = (table.crank > 0) | (table.engine > 0) | spinning_down(table)
        if (seconds * steady).sum() > (seconds * (labouring & (table.crank == 0) & ~steady)).sum():
            seconds = np.where(labouring, 0.0, seconds)
    total = float(seconds.sum())
    if total <= 0:
        return 0.0
    return float(seconds[features.activity[:, wire] == TRAFFIC].sum()) / total


_NEEDED = {
    "brake_key_off": "brake press with the key off (with the key in run a shift interlock, which "
    "is fed with the brake, looks the same)"
}


def _untried(
    scored: Sequence[Scored], function: str | None, active: str | None, table: Table
) -> list[str]:
    """What would have to be worked before this function can be named."""
    behaviours = [
        s for s in scored if s.function == function and s.active == active and s.behaviour
    ]
    if not behaviours or behaviours[0].behaviour is None:
        return []
    needs = behaviours[0].behaviour.needs
    if any(need in table.exercised for need in needs) or not needs:
        return []
    return [_NEEDED.get(n, n.replace("key_", "key ").replace("_", " ")) for n in needs]


def _rest(best: Scored | None) -> Literal["battery", "ground", "open"] | None:
    if best is None or best.behaviour is None:
        return None
    kind = best.rest
    if kind in ("battery", "pulled", "five", "strobe"):
        return "battery"
    if kind in ("ground", "low"):
        return "ground"
    return "open" if kind == "open" else None


def _live(function: str | None, table: Table, features: Features, wire: int) -> list[str] | None:
    """Key positions in which a key-fed wire stood at battery voltage most of the time."""
    if function not in ("battery", "accessory", "ignition", "starter", "key_sense"):
        return None
    found = []
    for position in KEY_POSITIONS:
        rows = table.key_in(position) == 1
        if position == "start":
            rows &= table.crank == 1
        if rows.any():
            high = np.average(features.share[rows, wire] > 0.6, weights=table.weight[rows])
            if high > 0.5:
                found.append(position)
    return found


def _level_words(level: float, share: float) -> str:
    if share > 0.85:
        return "at battery voltage"
    if abs(level) < 0.8:
        return "at 0 V"
    return f"at {level:.1f} V"


def _evidence(scored: Sequence[Scored], table: Table, features: Features, wire: int) -> list[str]:
    """What the wire did, in words, and what that rules out."""
    lines: list[str] = []
    groups: list[tuple[str, np.ndarray[tuple[int], np.dtype[np.bool_]]]] = []
    for position in ("out", "off", "accessory", "run"):
        rows = (table.key_in(position) == 1) & (table.crank == 0)
        if position == "run":
            groups.append(("with the key in run, engine not running", rows & (table.engine == 0)))
            groups.append(("with the engine running", table.engine == 1))
        else:
            groups.append(
                (f"with the key {'in ' if position == 'accessory' else ''}{position}", rows)
            )
    groups.append(("while cranking", table.crank == 1))
    for name, values in table.hands.items():
        if (values == 1).any():
            groups.append((f"with {name.replace('_', ' ')} worked", values == 1))
    usual = float(np.median(features.share[:, wire]))
    for words, rows in groups:
        if not rows.any():
            continue
        index = np.flatnonzero(rows)
        index = index[table.weight[index] >= 0.2] if (table.weight[index] >= 0.2).any() else index
        level = float(np.median(features.level_V[index, wire]))
        share = float(np.median(features.share[index, wire]))
        kinds = features.activity[index, wire]
        odd = [k for k in (TRAFFIC, PULSE, BLINK, HUM, NOISY) if (kinds == k).mean() > 0.4]
        if odd:
            what = ACTIVITY[odd[0]]
            rate = float(np.median(features.pulse_hz[index, wire]))
            lines.append(f"{what} {words}" + (f", {rate:.0f} a second" if odd[0] == PULSE else ""))
        elif words.startswith(("with the key", "with the engine", "while")) or (
            abs(share - usual) > 0.1
        ):
            text = f"{_level_words(level, share)} {words}"
            if words == "while cranking":
                ran = (table.key_in("run") == 1) & (table.crank == 0)
                if ran.any() and np.median(features.share[ran, wire]) > 0.85 and share < 0.3:
                    text = "falls to 0 V while cranking: not the main ignition"
                elif ran.any() and np.median(features.share[ran, wire]) < 0.3 and share > 0.7:
                    text = "rises to battery voltage only while cranking"
            lines.append(text)
    return lines


def _ladder_levels(
    scored: Sequence[Scored], table: Table, features: Features, wire: int
) -> dict[str, float]:
    """Levels of a coded lock wire at rest and pressed; empty where it is none."""
    if not scored or scored[0].name != "lock and unlock on one coded wire":
        return {}
    lock, unlock = table.hand("lock") == 1, table.hand("unlock") == 1
    rest = (table.hand("lock") == 0) & (table.hand("unlock") == 0)
    return {
        name: round(float(np.median(features.level_V[rows, wire])), 2)
        for name, rows in (("rest", rest), ("lock", lock), ("unlock", unlock))
        if rows.any()
    }


def _cautions(
    function: str | None,
    best: Scored | None,
    table: Table,
    features: Features,
    wire: int,
    logic: bool,
) -> list[str]:
    """What voltage alone cannot tell, with the check that can."""
    notes: list[str] = []
    if function in ("battery", "accessory", "ignition"):
        notes.append(
            "voltage alone does not tell a feed from an unloaded pull-up: "
            "check that it carries a test load (21 W lamp) before it is used"
        )
    if function == "ground":
        notes.append(GROUND_CHECK)
    if logic:
        notes.append("seen by a logic probe: levels between 0 and 12 V are not known")
    if function == "starter" and (features.share[table.key_in("start") == 1, wire] < 0.3).any():
        notes.append("the engine computer or the interlock can hold it off while the key is held")
    return notes
