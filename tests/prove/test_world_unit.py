"""The world, clause by clause: the unit does what its record says, word by word."""

from __future__ import annotations

from typing import Any

import pytest
from prove.base import Case
from prove.sound import SOUND
from prove.test_world_more import CRANK, WELL, holds, model, unit

from startwright.car.control_unit import Press, Start
from startwright.prove import play, prove

RUN = CRANK + 1
HEARD = WELL._replace(engine=True)


def alone(*steps: dict[str, Any], **changes: Any) -> Any:
    return unit(sequence=[{"step": f"s{k}", **s} for k, s in enumerate(steps)], **changes)


# ---- the sequence -------------------------------------------------------------------------------


def test_each_step_drives_what_its_record_says_and_nothing_else() -> None:
    made = model(Case())
    does = {d.id: made.unit.does(d) for d in made.unit.out_leads}
    for code, start in enumerate(made.starts):
        wanted = set(made.unit.steps[start.step].drives) if start.mode == "step" else set()
        driven = {lead for lead, table in made.outs.items() if table[code, 0]}
        assert driven == {lead for lead in made.outs if does[lead] in wanted}


def test_a_step_lasts_for_its_time_and_at_most_so_long() -> None:
    u = unit()
    assert [u.time_s(Start("step", k)) for k in range(4)] == [1, 2, 4, 1200]
    assert u.time_s(Start("pause", CRANK, 1)) == 5
    assert u.time_s(Start()) is None


@pytest.mark.parametrize(
    ("on_timeout", "after"),
    [("end", Start()), ("next", Start("step", 1)), ("retry", Start("pause", 0, 1))],
)
def test_a_step_that_ran_out_of_time_goes_where_its_record_says(
    on_timeout: str, after: Start
) -> None:
    u = alone(
        {"drives": ["ignition"], "at_most_s": 4, "on_timeout": on_timeout},
        {"drives": ["ignition"], "for_s": 4},
    )
    assert u.move(Start("step", 0), WELL, "time") == after
    assert u.move(Start("step", 0), WELL, "none") == Start("step", 0)


def test_the_last_step_that_is_over_ends_the_start() -> None:
    u = unit()
    assert u.move(Start("step", RUN, ran=True), HEARD, "time") == Start()


def test_a_first_step_whose_until_is_already_true_is_passed_over() -> None:
    case = SOUND["diesel_with_wait_lamp"]()
    case.unit["sequence"] = [
        {"step": "glow", "drives": ["horn"], "like": "off", "until": "wait_over", "at_most_s": 9},
        {"step": "tell", "drives": ["parking_light"], "like": "off", "for_s": 3},
    ]
    assert holds(case, "command start → horn off, parking_light on")
    assert holds(case, "wait_lamp on · command start → horn on, parking_light off")


def test_a_step_waits_for_its_lamp_beyond_its_time() -> None:
    """`for_s` with `or_until: wait_over`: at least so long, and until the lamp is out."""
    u = alone({"for_s": 2, "or_until": "wait_over"}, {"for_s": 4})
    assert u.move(Start("step", 0), WELL._replace(waiting=True), "time") == Start("step", 0)
    assert u.move(Start("step", 0), WELL, "time") == Start("step", 1)
    assert u.move(Start("step", 0), WELL, "none") == Start("step", 0)


def test_a_step_ends_by_its_time_or_when_the_engine_runs() -> None:
    u = alone({"for_s": 2, "or_until": "engine_running"}, {"for_s": 4})
    assert u.move(Start("step", 0), HEARD, "none").step == 1
    assert u.move(Start("step", 0), WELL, "time").step == 1


@pytest.mark.parametrize("start", [*(Start("step", k) for k in range(4)), Start("pause", CRANK, 1)])
def test_a_guard_ends_whatever_goes_on_and_so_does_a_stop(start: Start) -> None:
    assert unit().move(start, WELL._replace(guards=False), "none") == Start()
    assert unit().move(start, WELL, "stop") == Start()


def test_a_start_is_refused_while_a_guard_reads_otherwise() -> None:
    assert unit().move(Start(), WELL._replace(guards=False), "start") == Start()
    for hand in ("hood open", "brake press", "shift drive"):
        assert holds(Case(), f"{hand} · command start → unit idle")


def test_a_start_commanded_in_the_pause_is_ignored() -> None:
    u = unit()
    pause = Start("pause", CRANK, 1)
    assert u.move(pause, WELL, "start") == pause
    assert u.move(pause, WELL, "time") == Start("step", CRANK - 1, 1)


def test_no_try_is_left_for_an_engine_that_has_run() -> None:
    """It stalls and the timer runs out in one go: the start ends, there is no other try."""
    u = unit()
    assert u.move(Start("step", CRANK, 0, True), WELL, "time") == Start()
    line = "command start · engine fails · wait 3.5 s · engine starts · engine stalls · wait 9 s"
    assert holds(Case(), f"{line} → unit idle, starter off")


def test_tries_end() -> None:
    """Three tries of four seconds, two pauses of five with two seconds before the next crank."""
    line = "command start · engine fails · wait 3 s · wait {} s → {}"
    assert holds(Case(), line.format(25, "starter on"))
    assert holds(Case(), line.format(27, "unit idle"))


# ---- inputs -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("setting", "signal"),
    [("tach", "timed"), ("volts", "volts"), ("charge_lamp", "timed"), ("timed", "timed")],
)
def test_without_a_tach_lead_the_setting_counts_if_it_can_work(setting: str, signal: str) -> None:
    case = Case().without("r_tach")
    case.settings["engine_sense"] = setting
    assert model(case).unit.signal == signal


def test_with_a_tach_lead_the_setting_does_not_count() -> None:
    case = Case()
    case.settings["engine_sense"] = "timed"
    assert model(case).unit.signal == "tach"


def test_a_charge_lamp_lead_that_is_joined_can_work() -> None:
    assert model(SOUND["charge_lamp"]()).unit.signal == "charge_lamp"
    assert holds(SOUND["charge_lamp"](), "command start · wait 6 s → engine runs, starter off")


def test_a_unit_that_can_be_set_to_no_signal_goes_by_time() -> None:
    case = Case().without("r_tach")
    case.unit.pop("engine_signal")
    assert model(case).unit.signal == "timed"


def test_the_ignition_is_looked_at_when_the_command_comes_and_not_later() -> None:
    assert holds(Case(), "key run · command start → unit idle")
    assert holds(Case(), "command start · wait 2 s · key run · wait 0.5 s → ignition on")
    clock, _ = play(Case().job(), Case().wiring(), "command start · wait 2 s · key run")
    assert not clock.idle


def test_the_ignition_is_seen_at_the_units_own_leads_alone() -> None:
    """Joined to nothing, the lead sees nothing: the command is taken."""
    case = Case().without("r_ign")
    clock, _ = play(case.job(), case.wiring(), "key run · command start")
    assert not clock.idle


def test_service_blocks_a_start() -> None:
    assert holds(Case(), "service on · command start → unit idle")
    assert holds(SOUND["service_switch"](), "service on · command start → unit idle")


def test_a_unit_that_loses_its_feed_drops_all_it_drives() -> None:
    case = Case()
    line = "command start · wait 2 s · fault r_feed open → ignition off, unit idle"
    assert holds(case, line)
    assert holds(case, "command lock · fault r_gnd open → lock off")
    assert holds(case, "fault r_gnd open · command start → unit idle")


# ---- commands -----------------------------------------------------------------------------------


def test_a_command_drives_for_as_long_as_its_pulses_say() -> None:
    """The lock for 0.8 s, 0.3 s of rest, then the lights for 0.3 s."""
    for at_s, lock, lights in ((0.7, "on", "off"), (0.9, "off", "off"), (1.3, "off", "on")):
        assert holds(Case(), f"command lock · wait {at_s} s → lock {lock}, parking_light {lights}")
    assert holds(Case(), "command lock · wait 1.6 s → lock off, parking_light off")


def test_a_pulse_set_to_another_length_has_it() -> None:
    case = Case()
    case.unit["settings"] = [
        {
            "id": "s",
            "values": {"min": 0.5, "max": 4, "step": 0.5},
            "default": 3,
            "sets": "commands.lock.pulse_s",
        }
    ]
    assert holds(case, "command lock · wait 2.9 s → lock on")


def test_panic_repeats_for_as_long_as_its_record_says() -> None:
    case = SOUND["panic_too"]()
    assert holds(case, "command panic · wait 0.4 s → horn on")
    assert holds(case, "command panic · wait 0.6 s → horn off")
    assert holds(case, "command panic · wait 20.2 s → horn on")
    assert holds(case, "command panic · wait 31 s → horn off")


@pytest.mark.parametrize(
    "when",
    [
        "command start · wait 2 s",
        "command start · engine fails · wait 8 s",
        "key run",
        "service on",
        "hood open · brake press",
    ],
)
@pytest.mark.parametrize("command", ["lock", "unlock"])
def test_lock_and_unlock_work_at_any_time(when: str, command: str) -> None:
    assert holds(Case(), f"{when} · command {command} → {command} on")


def test_a_lock_takes_the_place_of_a_pulse_under_way() -> None:
    line = "command unlock · wait 0.5 s · command lock → lock on, unlock off"
    assert holds(Case(), line)
    assert holds(Case(), "command lock · wait 0.5 s · command lock · wait 0.04 s → lock off")


def test_again_is_within_its_seconds() -> None:
    case = SOUND["driver_first"]()
    case.unit["commands"] = {
        "unlock": [{"drives": ["unlock"], "pulse_s": 0.5}],
        "unlock_again": [{"drives": ["horn"], "pulse_s": 0.5}],
    }
    again = "command unlock · wait {} s · command unlock → horn {}"
    assert holds(case, again.format(4.9, "on"))
    assert holds(case, again.format(5.1, "off"))
    case.unit["again_within_s"] = 2
    assert holds(case, again.format(2.1, "off"))
    assert holds(case, "command unlock · wait 1 s · command lock · command unlock → horn off")


def test_armed_follows_lock_and_unlock_alone() -> None:
    u = model(SOUND["starter_cut_when_armed"]()).unit
    locked = u.press(Press(), "lock")
    assert locked.armed
    assert all(u.press(locked, c).armed for c in ("start", "stop", "trunk", "panic"))
    assert not u.press(locked, "unlock").armed


# ---- the car's own idle-stop --------------------------------------------------------------------


def test_a_rest_at_idle_goes_on_by_itself_and_ends_with_the_ignition() -> None:
    case = SOUND["idle_stop"]()
    rests = "command start · wait 3 s · engine starts · wait 5 s · engine stops"
    assert holds(case, f"{rests} · wait 60 s · engine starts → engine runs, ignition on")
    assert holds(case, f"{rests} · command stop · engine starts → engine stands, ignition off")
    assert prove(case.job(), case.wiring()).verdict == "proven"
