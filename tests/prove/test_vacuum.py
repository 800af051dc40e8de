"""Vacuum locks: a wire held at one rail or the other works a pump while the pulse lasts."""

import pytest
from prove.base import Case

from startwright.prove import prove
from startwright.records.errors import RecordError


def pumped(pulse_s: float = 3.5) -> Case:
    case = Case()
    case.circuit("unlock", style="vacuum", rest="ground", active="battery", pulse_s=3.0, load_A=0.3)
    case.cuts = ["unlock"]
    case.parts = {"K1": "relay", "F1": "fuse-15"}
    case.run("r_switch", "vehicle.unlock.source", "K1.87a")
    case.run("r_pump", "K1.30", "vehicle.unlock.load")
    case.run("r_hot", "K1.87", "F1.a")
    case.run("r_coil", "K1.86", "F1.a")
    case.run("r_fused", "F1.b", "vehicle.batt")
    case.run("r_unlock", "unit.unlock", "K1.85")
    case.unit["commands"] = {
        "lock": [{"drives": ["lock"]}, {"drives": ["parking_light"], "pulse_s": 0.3}],
        "lock_again": [{"drives": ["horn"], "pulse_s": 0.05}],
        "unlock": [{"drives": ["unlock"], "pulse_s": pulse_s}],
    }
    return case


def broken(case: Case) -> set[str]:
    report = prove(case.job(), case.wiring())
    return {r.rule for r in report.rules if r.holds is False}


def test_a_relay_in_the_cut_wire_works_the_pump() -> None:
    assert broken(pumped()) == set()


def test_uncut_the_switch_and_the_relay_short() -> None:
    case = pumped()
    case.cuts = []
    case.without("r_switch")
    case.run("r_pump", "K1.30", "vehicle.unlock")
    assert {"no-short", "unlocks-all"} <= broken(case)


def test_a_short_pulse_does_not_bring_the_pump_home() -> None:
    assert broken(pumped(0.8)) == {"unlocks-all"}


def test_a_pump_wire_says_both_its_levels() -> None:
    case = pumped()
    case.circuit("unlock", active=None)
    with pytest.raises(RecordError, match="pump"):
        prove(case.job(), case.wiring())


@pytest.mark.parametrize(("lasts_s", "breaks"), [(4.5, set()), (1.5, {"unlocks-all"})])
def test_a_slow_pump_is_waited_for(lasts_s: float, breaks: set[str]) -> None:
    case = pumped(lasts_s)
    case.circuit("unlock", pulse_s=4.0)
    assert broken(case) == breaks


def test_two_long_pulses_are_not_run_into_one() -> None:
    """A circuit that takes two pulses gets them from a hand that waits for the first to end."""
    case = Case()
    case.circuit("unlock", presses=2)
    case.unit["commands"] = {
        "lock": [{"drives": ["lock"]}, {"drives": ["parking_light"], "pulse_s": 0.3}],
        "lock_again": [{"drives": ["horn"], "pulse_s": 0.05}],
        "unlock": [{"drives": ["unlock"], "pulse_s": 3.0}],
    }
    assert broken(case) == set()
    report = prove(case.job(), case.wiring())
    line = next(r.trace for r in report.rules if r.rule == "unlocks-all")
    assert line == "command unlock · wait 3.5 s · command unlock → unlock on"


def test_a_short_second_press_does_not_undo_the_first() -> None:
    """Pressed again after two seconds the pulse is replaced; pressed once it is long enough."""
    case = pumped()
    case.unit["commands"]["unlock_again"] = [{"drives": ["unlock"], "pulse_s": 0.8}]
    assert broken(case) == set()
