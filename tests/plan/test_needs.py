"""What is needed, with the reason, and what stops a plan."""

from __future__ import annotations

import pytest
from plan.cars import ALWAYS, hand, job, key_fed, power, sense, small, unit, vehicle

from startwright.plan import NoPlan, Planned, plan
from startwright.plan.needs import needs_of
from startwright.prove import prove


def ids(j: object) -> dict[str, bool]:
    return {d.id: d.must for d in needs_of(j).demands}  # type: ignore[arg-type]


def test_a_start_needs_every_circuit_that_is_live_in_run_or_start():
    j = job(
        vehicle(key_fed("ign_2", "ignition", ["run"]), key_fed("acc_2", "accessory", ["accessory"]))
    )
    asked = ids(j)
    assert {"feed-ign_1", "feed-ign_2", "feed-acc_1", "feed-starter_1"} <= set(asked)
    assert "feed-acc_2" not in asked  # no step is like accessory
    assert all(asked[f"sense-{s}"] for s in ("brake", "hood", "park_neutral"))
    assert asked["engine-signal"]
    assert asked["tach"] is False
    assert asked["parking_light"] is False


def test_every_need_says_why():
    for d in needs_of(job(wants=("remote_start", "lock_unlock", "panic"))).demands:
        assert len(d.because) > 20


def test_key_sense_is_left_aside_and_a_window_feed_left_dead_with_the_source():
    j = job(
        vehicle(
            key_fed("key_in", "key_sense", ALWAYS[1:]),
            key_fed("windows", "accessory", ["run"], leave_dead=True),
        )
    )
    left = dict(needs_of(j).left)
    assert set(left) == {"key_in", "windows"}
    p = plan(j)
    assert isinstance(p, Planned)
    reasons = {r.of: r for r in p.reasons}
    assert reasons["vehicle.windows"].source == "49 CFR 571.118"
    assert not any("vehicle.windows" in r.ends for r in p.wiring.runs)


def test_without_the_want_no_start_is_wired():
    p = plan(job(wants=("lock_unlock",)))
    assert isinstance(p, Planned)
    ends = {e for r in p.wiring.runs for e in r.ends}
    assert "vehicle.starter_1" not in ends
    assert {"unit.feed_1", "unit.gnd", "vehicle.lock", "vehicle.unlock"} <= ends


REFUSED = {
    "immobilizer": (vehicle(immobilizer={"kind": "unknown"}), unit(), "immobilizer", "plain-cut"),
    "no park/neutral": (vehicle(drop=("park",)), unit(), "park/neutral", "find the park/neutral"),
    "manual": (vehicle(gearbox="manual"), unit(), "gearbox is manual", "procedure"),
    "hybrid": (vehicle(powertrain="hybrid"), unit(), "hybrid", "maker"),
    "hybrid by hand": (vehicle(powertrain="hybrid"), unit(), "listens for the engine", "prove"),
    "hybrid by its fuel": (vehicle(engine={"fuel": "hybrid"}), unit(), "hybrid", "maker"),
    "no hood input": (vehicle(), unit(drop=("hood_in",)), "no hood input", "hood input"),
    "no brake guard": (
        vehicle(),
        unit(guards=[{"input": "hood", "reads": "inactive"},
                     {"input": "park_neutral", "reads": "active"}]),
        "does not guard a start by its brake", "brake",
    ),
    "upstream": (
        vehicle(key_fed("starter_1", "starter", ["start"], interlock="upstream")), unit(),
        "571.102", "key's side",
    ),
    "tach on a bus, unit by time": (
        vehicle({"id": "tach", "function": "tach", "reach": "bus"}),
        unit(engine_signal={"by": "e", "choices": ["tach", "timed"]}),
        "data bus alone", "volts",
    ),
    "no battery": (vehicle(drop=("batt_1", "batt_2")), unit(), "battery", "measure a battery"),
    "leave_dead ignition": (
        vehicle(key_fed("ign_1", "ignition", ["run", "start"], leave_dead=True)), unit(),
        "the engine may not run", "leave_dead",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_refusals_say_why_and_what_would_resolve_it(name):
    car, box, reason, resolve = REFUSED[name]
    answer = plan(job(car, box))
    assert isinstance(answer, NoPlan)
    assert not answer
    assert any(reason in r for r in answer.reasons), answer.reasons
    assert any(resolve in r.do for r in answer.resolve), answer.resolve


def test_the_same_cars_are_planned_once_the_reason_is_gone():
    assert plan(job(vehicle(immobilizer={"kind": "none"})))
    assert plan(job(vehicle(gearbox="manual"), unit(manual_gearbox="leave it in neutral, …")))
    assert plan(job(vehicle({"id": "tach", "function": "tach", "reach": "bus"})))  # by volts


def test_driver_first_takes_the_second_press_or_a_wire_of_its_own():
    wants = ("remote_start", "driver_first_unlock")
    assert not plan(job(wants=wants))
    twice = hand("unlock", "unlock", "ground", 0.2, style="pulse", pulse_s=0.6, presses=2)
    assert plan(job(vehicle(twice), wants=wants))
    own = hand("driver", "driver_unlock", "ground", 0.2, style="pulse", pulse_s=0.6)
    assert not plan(job(vehicle(own), wants=wants))  # this unit's unlock drives unlock first
    commands = {
        "unlock": [{"drives": ["driver_unlock"]}],
        "unlock_again": [{"drives": ["unlock"]}],
        "lock": [{"drives": ["lock"]}],
    }
    box = unit(small("driver", "driver_unlock"), commands=commands)
    p = plan(job(vehicle(own), box, wants=wants))
    assert isinstance(p, Planned)
    assert any(set(r.ends) == {"unit.driver", "vehicle.driver"} for r in p.wiring.runs)


def test_every_guard_of_the_unit_is_wired():
    guards = [
        {"input": "hood", "reads": "inactive"},
        {"input": "brake", "reads": "inactive"},
        {"input": "park_neutral", "reads": "active"},
        {"input": "parking_brake", "reads": "active"},
    ]
    box = unit(sense("pb_in", "parking_brake"), guards=guards)
    refused = plan(job(box=box))
    assert isinstance(refused, NoPlan)
    assert any("parking_brake" in r for r in refused.reasons)
    p = plan(job(vehicle(hand("pb", "parking_brake", "ground", 0.1)), box))
    assert isinstance(p, Planned)
    assert any(set(r.ends) == {"unit.pb_in", "vehicle.pb"} for r in p.wiring.runs)


def test_a_want_the_unit_cannot_do_is_refused():
    answer = plan(job(box=unit(power("x", "dome_light")), wants=("seat_heat",)))
    assert isinstance(answer, NoPlan)
    assert "seat heater" in answer.reasons[0]


def test_settings_that_go_too_far_are_brought_back():
    settings = [
        {"id": "run_time", "values": {"min": 300, "max": 3600, "step": 300, "unit": "s"},
         "default": 3600, "sets": "run.at_most_s"},
    ]  # fmt: skip
    p = plan(job(box=unit() | {"settings": settings}))
    assert isinstance(p, Planned)
    assert p.wiring.settings["run_time"] == 1800


def test_a_second_starter_past_the_lever_s_switch_stays_dead():
    past = key_fed("starter_2", "starter", ["start"], load_A=3.0, interlock="upstream")
    p = plan(job(vehicle(past)))
    assert isinstance(p, Planned)
    assert not any("vehicle.starter_2" in r.ends for r in p.wiring.runs)
    assert any("starter_2 stays dead" in w for w in p.warnings)


QUICK = [
    {"step": "settle", "drives": ["ignition", "accessory"], "like": "run", "for_s": 0.6},
    {"step": "crank", "drives": ["ignition", "starter"], "like": "start",
     "until": "engine_running", "at_most_s": 4, "on_timeout": "end"},
    {"step": "run", "drives": ["ignition", "accessory"], "like": "run", "at_most_s": 1200},
]  # fmt: skip


def test_a_unit_that_cranks_at_once_meets_an_engine_that_coasts():
    answer = plan(job(box=unit(sequence=QUICK)))
    assert isinstance(answer, NoPlan)
    assert "still coasts" in answer.reasons[0]
    slow = [{**QUICK[0], "for_s": 1.0}, *QUICK[1:]]
    p = plan(job(box=unit(sequence=slow)))
    assert isinstance(p, Planned)
    assert prove(job(box=unit(sequence=slow)), p.wiring).verdict == "proven"
    report = prove(job(box=unit(sequence=QUICK)), p.wiring)
    assert "no-crank-into-running" in {r.rule for r in report.rules if r.holds is False}


def test_a_lever_that_lets_go_in_park_takes_a_resting_contact():
    """In drive the coil is pulled in, in park it rests: nothing is drained."""
    lever = {"id": "park", "function": "park_neutral", "rest": "battery", "active": "open",
             "place": "kick panel"}  # fmt: skip
    j = job(vehicle(lever))
    p = plan(j)
    assert isinstance(p, Planned)
    assert any({"K1.87a", "unit.park_in"} == set(r.ends) for r in p.wiring.runs)
    assert prove(j, p.wiring).verdict == "proven"
