"""The unit: settings, sequence, guards, commands, outputs and what feeds them."""

from __future__ import annotations

from typing import Any

from prove.bench import Bench, case

ON = ["parking_light", "ignition", "accessory", "running_signal"]
CRANK = ["parking_light", "ignition", "running_signal", "starter"]
SETTLE: dict[str, Any] = {"step": "settle", "drives": ON, "like": "run", "for_s": 2}
START: dict[str, Any] = {
    "step": "crank",
    "drives": CRANK,
    "like": "start",
    "until": "engine_running",
    "at_most_s": 4,
    "on_timeout": "retry",
}
RUN: dict[str, Any] = {"step": "run", "drives": ON, "like": "run", "at_most_s": 1200}
GUARDS: list[dict[str, str]] = [
    {"input": "hood", "reads": "inactive"},
    {"input": "brake", "reads": "inactive"},
    {"input": "park_neutral", "reads": "active"},
]

# ---- settings and outputs -----------------------------------------------------------------------


@case("no-short", "can-start")
def ignition_fed_battery_where_the_car_wants_ground(b: Bench) -> None:
    b.settings["ig_level"] = "battery"


@case("as-under-the-key")
def second_ignition_fed_as_a_starter(b: Bench) -> None:
    b.settings["fx_does"] = "starter"


@case("as-under-the-key")
def second_ignition_held_in_crank(b: Bench) -> None:
    b.settings["fx_does"] = "ignition"


@case("as-under-the-key")
def flexible_output_set_to_nothing(b: Bench) -> None:
    b.settings["fx_does"] = "off"


@case("flashes")
def lamps_fed_ground(b: Bench) -> None:
    b.settings["li_level"] = "ground"


@case()
def runs_half_an_hour(b: Bench) -> None:
    b.unit["settings"].append(
        {
            "id": "rt",
            "values": {"min": 300, "max": 1800, "step": 300, "unit": "s"},
            "default": 1200,
            "sets": "run.at_most_s",
        }
    )
    b.settings["rt"] = 1800


@case("no-short")
def outputs_of_two_levels_joined(b: Bench) -> None:
    b.join("x: unit.ig - unit.ac")


@case("car-unchanged", "start-ends")
def accessory_and_ignition_outputs_joined(b: Bench) -> None:
    b.join("x: unit.fx - unit.ac")


@case("crank-only-when-safe", "no-crank-into-running")
def starter_and_ignition_outputs_joined(b: Bench) -> None:
    b.join("x: unit.fx - unit.st")


@case("no-short", "within-limits")
def horn_straight_on_a_ground_output(b: Bench) -> None:
    """The horn's wire is fed by its switch: pressed during a chirp it meets ground."""
    b.join("ho: unit.ho - vehicle.horn")


# ---- feeds, wires, interlocks -------------------------------------------------------------------


@case("within-limits")
def second_feed_too_small(b: Bench) -> None:
    b.lead("f2", limit_A=12, fuse_A=10)


@case("within-limits")
def both_feeds_behind_one_small_fuse(b: Bench) -> None:
    b.part(F1="f10")
    b.join("f0: vehicle.main - F1.a", "f1: F1.b - unit.f1", "f2: F1.b - unit.f2")


@case()
def both_feeds_behind_one_fuse(b: Bench) -> None:
    b.part(F1="f25")
    b.join("f0: vehicle.main - F1.a", "f1: F1.b - unit.f1", "f2: F1.b - unit.f2")


@case("can-start")
def second_feed_forgotten(b: Bench) -> None:
    b.without("f2")


@case("as-under-the-key", "can-start")
def second_feed_from_the_accessory(b: Bench) -> None:
    b.join("f2: vehicle.a1 - unit.f2")


@case("within-limits")
def wires_too_thin(b: Bench) -> None:
    b.size_mm2 = 0.35


@case("start-through-interlock")
def second_starter_past_the_interlock(b: Bench) -> None:
    b.circuit("s2", interlock="upstream")


@case()
def second_starter_past_the_interlock_left_dead(b: Bench) -> None:
    b.circuit("s2", interlock="upstream")
    b.without("st2")


@case("start-through-interlock")
def cut_starter_past_the_interlock_fed_at_its_source(b: Bench) -> None:
    b.circuit("s1", interlock="upstream")
    b.cuts.append("s1")
    b.join("st: unit.st - vehicle.s1.source", "x: vehicle.s1.source - vehicle.s1.load")


@case("as-under-the-key")
def second_starter_forgotten(b: Bench) -> None:
    b.without("st2")


@case()
def key_that_cannot_get_to_start_in_gear(b: Bench) -> None:
    b.circuit("s1", interlock="mechanical")
    b.circuit("s2", interlock="mechanical")


@case("start-through-interlock", "crank-only-when-safe")
def key_that_cannot_get_to_start_in_gear_and_a_deaf_lever(b: Bench) -> None:
    key_that_cannot_get_to_start_in_gear(b)
    b.join("pi: unit.pi - vehicle.aux")


# ---- locks, lamps and the rest ------------------------------------------------------------------


@case("locks-on-command")
def lock_resistors_exchanged(b: Bench) -> None:
    b.part(RL="r1270", RU="r355")


@case("locks")
def lock_without_its_resistor(b: Bench) -> None:
    b.without("lo2")
    b.join("lo: unit.lo - vehicle.sw")


@case("locks-on-command")
def both_locks_on_one_resistor(b: Bench) -> None:
    b.join("un: unit.un - RL.a")


@case()
def disarms_the_alarm_first(b: Bench) -> None:
    b.join("di: unit.di - vehicle.disarm")
    first = {"step": "disarm", "drives": ["alarm_disarm"], "like": "off", "for_s": 1}
    b.unit["sequence"] = [first, SETTLE, START, RUN]


@case("locks-on-command")
def disarms_the_alarm_through_the_unlock_wire(b: Bench) -> None:
    disarms_the_alarm_first(b)
    b.join("di: unit.di - RU.a")


@case()
def heats_the_seat_and_the_window(b: Bench) -> None:
    b.wants += ["seat_heat", "rear_defog"]
    warm = {**RUN, "drives": [*ON, "seat_heater", "rear_defogger"]}
    b.unit["sequence"] = [SETTLE, START, warm]
    b.part(K1="rel")
    b.join(
        "sh: unit.sh - vehicle.seat",
        "k86: vehicle.aux - K1.86",
        "k85: K1.85 - unit.rd",
        "k30: vehicle.aux - K1.30",
        "k87: K1.87 - vehicle.rear",
    )


@case("within-limits")
def heats_the_window_over_a_small_contact(b: Bench) -> None:
    heats_the_seat_and_the_window(b)
    b.circuit("rear", load_A=5)
    b.part(K1="small")


@case("only-what-is-called")
def seat_heater_on_the_running_signal(b: Bench) -> None:
    b.join("sh: unit.rs - vehicle.seat")


@case()
def panic_by_a_relay(b: Bench) -> None:
    b.wants.append("panic")
    b.part(K1="rel")
    b.join(
        "k86: vehicle.aux - K1.86",
        "k85: K1.85 - unit.ho",
        "k30: vehicle.aux - K1.30",
        "k87: K1.87 - vehicle.horn",
    )


@case("only-what-is-called")
def trunk_output_sounds_the_horn(b: Bench) -> None:
    panic_by_a_relay(b)
    b.wants.remove("panic")
    b.lead("tr", suppressed=True)
    b.join("k85: K1.85 - unit.tr")


# ---- commands -----------------------------------------------------------------------------------


@case("crank-only-when-safe", "start-ends")
def panic_turns_the_starter(b: Bench) -> None:
    b.unit["commands"] = {"panic": [{"drives": ["starter"], "repeat_s": 30}]}


@case("start-ends", "brake-ends")
def stop_feeds_the_ignition(b: Bench) -> None:
    b.unit["commands"] = {"stop": [{"drives": ["ignition"]}]}


# ---- starter cut, armed -------------------------------------------------------------------------


def _cut_both(b: Bench) -> None:
    b.wants.append("starter_cut")
    b.cuts += ["s1", "s2"]
    b.join("st: unit.st - vehicle.s1.load", "st2: unit.st - vehicle.s2.load")
    for k, wire in (("K1", "s1"), ("K2", "s2")):
        b.parts[k] = "rel"
        b.join(
            f"{k}30: {k}.30 - vehicle.{wire}.source",
            f"{k}87a: {k}.87a - vehicle.{wire}.load",
            f"{k}86: vehicle.aux - {k}.86",
            f"{k}85: {k}.85 - unit.ar",
        )


@case()
def starters_cut_while_armed(b: Bench) -> None:
    _cut_both(b)


@case("cuts-starter")
def one_of_two_starters_cut(b: Bench) -> None:
    _cut_both(b)
    b.join("K230: vehicle.s2.source - vehicle.s2.load")


@case("cuts-starter", "car-unchanged")
def starters_cut_on_the_wrong_contact(b: Bench) -> None:
    _cut_both(b)
    b.join("K187a: K1.87 - vehicle.s1.load", "K287a: K2.87 - vehicle.s2.load")


@case("as-under-the-key")
def starter_fed_before_the_cut(b: Bench) -> None:
    """Armed, the unit cannot crank either."""
    _cut_both(b)
    b.join("st: unit.st - vehicle.s1.source")


@case("crank-only-when-safe", "start-ends")
def armed_output_turns_the_starter(b: Bench) -> None:
    b.part(K1="rel")
    b.join(
        "k86: vehicle.aux - K1.86",
        "k85: K1.85 - unit.ar",
        "k30: vehicle.aux - K1.30",
        "k87: K1.87 - vehicle.s1",
    )


# ---- guards and sequence ------------------------------------------------------------------------


@case()
def manual_gearbox_left_with_the_parking_brake_set(b: Bench) -> None:
    b.car["gearbox"] = "manual"
    b.unit["manual_gearbox"] = "left running in neutral, parking brake set, doors shut after"
    b.unit["guards"] = [
        *GUARDS,
        {"input": "parking_brake", "reads": "active"},
        {"input": "driver_door", "reads": "inactive"},
    ]
    b.join("pb: vehicle.pb - unit.pbi", "dd: vehicle.ddoor - unit.di_in")


@case("crank-only-when-safe", "leaving-park-ends")
def parking_brake_in_place_of_the_lever(b: Bench) -> None:
    b.unit["guards"] = [*GUARDS[:2], {"input": "parking_brake", "reads": "active"}]
    b.join("pb: vehicle.pb - unit.pbi")


@case("can-start", "crank-only-when-safe")
def guard_that_wants_drive(b: Bench) -> None:
    b.unit["guards"] = [*GUARDS[:2], {"input": "park_neutral", "reads": "inactive"}]


@case("can-start", "hood-ends")
def guard_that_wants_the_hood_open(b: Bench) -> None:
    b.unit["guards"] = [{"input": "hood", "reads": "active"}, *GUARDS[1:]]


@case()
def ignition_off_for_a_moment_before_the_crank(b: Bench) -> None:
    rest = {"step": "rest", "drives": ["parking_light"], "like": "off", "for_s": 1}
    b.unit["sequence"] = [SETTLE, rest, START, RUN]


@case("as-under-the-key")
def accessory_held_in_crank(b: Bench) -> None:
    b.unit["sequence"] = [SETTLE, {**START, "drives": [*CRANK, "accessory"]}, RUN]


@case("no-crank-into-running")
def starter_driven_while_it_runs(b: Bench) -> None:
    b.unit["sequence"] = [SETTLE, START, {**RUN, "drives": CRANK}]


@case("no-crank-into-running")
def half_a_second_more_of_the_starter(b: Bench) -> None:
    """Into an engine that the driver started meanwhile it begins to crank."""
    more = {"step": "more", "drives": CRANK, "like": "start", "for_s": 0.5}
    b.unit["sequence"] = [SETTLE, START, more, RUN]


@case("no-crank-into-running")
def settles_too_short_for_an_engine_that_coasts(b: Bench) -> None:
    b.unit["sequence"] = [{**SETTLE, "for_s": 0.6}, START, RUN]


@case("no-crank-into-running")
def cranks_first_of_all(b: Bench) -> None:
    b.unit["sequence"] = [START, RUN]


@case()
def cranks_by_time_unless_it_hears_the_engine(b: Bench) -> None:
    crank = {
        "step": "crank",
        "drives": CRANK,
        "like": "start",
        "for_s": 3,
        "or_until": "engine_running",
    }
    b.unit["sequence"] = [SETTLE, crank, RUN]


@case()
def run_that_would_be_tried_again(b: Bench) -> None:
    """A unit that heard the engine never retries."""
    b.unit["sequence"] = [SETTLE, START, {**RUN, "on_timeout": "retry"}]


@case("as-under-the-key")
def run_step_that_says_it_is_like_off(b: Bench) -> None:
    b.unit["sequence"] = [SETTLE, START, {**RUN, "like": "off"}]
