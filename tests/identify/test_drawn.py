"""One thing at a time, on recordings drawn by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from identify.drawn import BRAKE_KEY_OFF, Action, Drawn, actions
from startwright.identify import examine, identify
from startwright.records import RecordError
from startwright.records.recordings import TimedAction, WirePlace

AT_LOCK = WirePlace("bat", "steering column", "ignition switch, white 8-way", "1", "RD")


def found(
    drawn: Drawn,
    late_s: float = 0.0,
    without: tuple[str, ...] = (),
    also: Sequence[Action] = (),
) -> dict:
    report = identify(drawn.recording(), actions(late_s, without, also), {"bat": AT_LOCK})
    return {v.wire: v for v in report.wires}


def test_the_key_wires() -> None:
    wires = found(Drawn().key_wires())
    said = {name: (v.function, v.active) for name, v in wires.items()}
    assert said == {
        "bat": ("battery", "battery"),
        "acc": ("accessory", "battery"),
        "ign": ("ignition", "battery"),
        "ign2": ("ignition", "battery"),
        "st": ("starter", "battery"),
    }
    assert wires["ign"].live == ["run", "start"]
    assert wires["ign2"].live == ["run"]
    assert wires["acc"].live == ["accessory", "run"]
    assert "falls to 0 V while cranking: not the main ignition" in wires["ign2"].evidence
    assert any("test load" in note for note in wires["ign"].notes)


@pytest.mark.parametrize("late_s", [-0.4, -0.2, 0.2, 0.4])
def test_notes_early_or_late_are_moved_to_the_edges(late_s: float) -> None:
    drawn = Drawn().key_wires()
    seen = examine(drawn.recording(), actions(late_s))
    times = {(n.what, n.to): n.time_s for n in seen.noted if n.what == "key"}
    assert times["key", "accessory"] == pytest.approx(2.5, abs=0.04)
    assert times["key", "off"] == pytest.approx(20.0, abs=0.04)
    wires = found(Drawn().key_wires(), late_s)
    assert {v.function for v in wires.values()} == {"battery", "accessory", "ignition", "starter"}


@pytest.mark.parametrize(
    "without",
    [("key run",), ("engine starts",), ("brake release",), ("key insert",), ("lock release",)],
)
def test_a_missing_note_does_not_mislead(without: tuple[str, ...]) -> None:
    drawn = Drawn().key_wires().fed("brake", (6.0, 7.5)).grounded("lock", (16.0, 16.6), up=5.0)
    wires = found(drawn, 0.15, without)
    truth = {"bat": "battery", "acc": "accessory", "ign": "ignition", "ign2": "ignition",
             "st": "starter", "brake": "brake", "lock": "lock"}  # fmt: skip
    for name, verdict in wires.items():
        assert verdict.function in (None, truth[name]), name
    assert sum(v.function is not None for v in wires.values()) >= 4


def test_hands() -> None:
    drawn = (
        Drawn().key_wires().fed("brake", (6.0, 7.5), (22.6, 23.4)).grounded("hood", (13.0, 14.5))
        .grounded("lock", (16.0, 16.6), up=5.0).fed("unlock", (18.0, 18.5))
    )  # fmt: skip
    wires = found(drawn, also=BRAKE_KEY_OFF)
    assert (wires["brake"].function, wires["brake"].active) == ("brake", "battery")
    assert (wires["hood"].function, wires["hood"].active) == ("hood", "ground")
    assert wires["hood"].rest == "battery"
    assert (wires["lock"].function, wires["lock"].active) == ("lock", "ground")
    assert (wires["unlock"].function, wires["unlock"].active) == ("unlock", "battery")


def test_a_wire_that_answers_to_nothing_worked_is_not_named() -> None:
    drawn = Drawn().key_wires().grounded("quiet", up=5.0)
    wires = found(drawn)
    assert wires["quiet"].function is None
    assert wires["quiet"].probability < 0.9


def test_a_coded_lock_wire_gives_its_levels_and_ohms() -> None:
    drawn = Drawn().key_wires()
    up, rest = 1000.0, 5.0
    lock_V = rest * 330 / (330 + up)
    unlock_V = rest * 1000 / (1000 + up)
    level = np.full(len(drawn.t), rest)
    level[drawn.during((16.0, 16.6))] = lock_V
    level[drawn.during((18.0, 18.6))] = unlock_V
    drawn.level("switch", level)
    report = identify(drawn.recording(), actions(), pull_up_ohm={"switch": up})
    verdict = next(v for v in report.wires if v.wire == "switch")
    assert (verdict.function, verdict.active) == ("lock", "ground")
    assert verdict.levels_V["lock"] == pytest.approx(lock_V, abs=0.03)
    assert verdict.steps_ohm is not None
    assert verdict.steps_ohm["lock"] == pytest.approx(330, rel=0.05)
    assert verdict.steps_ohm["unlock"] == pytest.approx(1000, rel=0.05)


@pytest.mark.parametrize("rate", [250.0, 1000.0, 4000.0])
@pytest.mark.parametrize("levels", [(2.5, 3.5), (2.5, 1.5), (12.3, 0.5), (0.0, 4.0)])
def test_traffic_is_left_alone_at_any_rate(rate: float, levels: tuple[float, float]) -> None:
    drawn = Drawn(rate).key_wires()
    busy = drawn.rng.random(len(drawn.t)) < 0.15
    awake = drawn.t > 2.4
    drawn.level("bus", np.where(busy & awake, levels[1], levels[0]))
    verdict = found(drawn)["bus"]
    assert verdict.leave_alone
    assert verdict.function in (None, "data")


def test_a_bus_that_the_scope_averages_is_left_alone() -> None:
    drawn = Drawn().key_wires()
    awake = drawn.t > 2.4
    drawn.level("bus", np.where(awake, 2.6 + drawn.rng.normal(0, 0.05, len(drawn.t)), 0.02))
    verdict = found(drawn)["bus"]
    assert verdict.function is None or verdict.function == "data"
    assert verdict.leave_alone


def test_place_and_plug_speak_for_leaving_alone() -> None:
    drawn = Drawn().key_wires().fed("ch9", (4.0, 20.0))
    for place, kind in (
        (WirePlace("ch9", "under the seat", "yellow 2-way", "1"), "srs"),
        (WirePlace("ch9", "steering column", "airbag clock spring", "1"), "srs"),
        (WirePlace("ch9", "dash", "diagnostic connector", "6"), "data"),
        (WirePlace("ch9", "engine bay", "inverter, orange", "1"), "high_voltage"),
    ):
        report = identify(drawn.recording(), actions(), {"ch9": place})
        verdict = next(v for v in report.wires if v.wire == "ch9")
        assert verdict.leave_alone
        assert verdict.function == kind
        assert not any(c.wire == "ch9" for c in report.next_checks)


def test_battery_throughout_without_a_place_is_not_called_a_feed() -> None:
    report = identify(Drawn().key_wires().recording(), actions())
    verdict = next(v for v in report.wires if v.wire == "bat")
    assert verdict.function is None
    assert verdict.likely == "battery"
    assert any(c.wire == "bat" and c.meter == "test load" for c in report.next_checks)


def test_lamp_test_pulses_are_no_traffic() -> None:
    drawn = Drawn().key_wires().fed("brake", (6.0, 7.5), (22.6, 23.4))
    pulses = (drawn.t % 0.7 < 0.001) & (drawn.t > 1)
    drawn.columns["brake"] = np.where(pulses, drawn.rail, drawn.columns["brake"])
    verdict = found(drawn, also=BRAKE_KEY_OFF)["brake"]
    assert not verdict.leave_alone
    assert verdict.function == "brake"


def test_an_engine_that_starts_at_the_second_try() -> None:
    drawn = Drawn()
    t = drawn.t
    drawn.rail = np.where(
        ((t > 6) & (t < 7)) | ((t > 9) & (t < 10)), 9.9, np.where((t > 10) & (t < 20.2), 14.1, 12.5)
    )
    drawn.key_wires()
    drawn.columns.clear()
    drawn.fed("bat", (0, 99)).fed("ign", (4, 20)).fed("st", (6.0, 7.0), (9.0, 10.0))
    drawn.fed("ign2", (4, 6), (7, 9), (10, 20))
    notes = [
        (1.0, "key insert"), (4.0, "key run"), (6.1, "key start"), (7.2, "key run"),
        (9.2, "key start"), (9.9, "engine starts"), (10.1, "key run"), (20.1, "key off"),
    ]  # fmt: skip
    seen = examine(drawn.recording(), [TimedAction(a, b) for a, b in notes])
    assert [c.caught for c in seen.cranks] == [False, True]
    report = identify(drawn.recording(), [TimedAction(a, b) for a, b in notes])
    said = {v.wire: v.likely for v in report.wires}
    # the accessory position was passed over: the second ignition may be an accessory
    assert said.pop("ign2") in ("ignition", "accessory")
    assert said == {"bat": "battery", "ign": "ignition", "st": "starter"}
    assert next(v for v in report.wires if v.wire == "st").function == "starter"


def test_without_notes_the_key_is_proposed_from_the_signals() -> None:
    places = {n: replace(AT_LOCK, wire=n) for n in ("bat", "ign")}
    report = identify(Drawn().key_wires().recording(), None, places)
    proposed = {a.action: a.time_s for a in report.actions}
    assert all(a.proposed and a.noted_s is None for a in report.actions)
    assert proposed["key accessory"] == pytest.approx(2.5, abs=0.05)
    assert proposed["key start"] == pytest.approx(9.0, abs=0.1)
    assert proposed["key off"] == pytest.approx(20.0, abs=0.05)
    said = {v.wire: v.function for v in report.wires}
    assert said["ign"] == "ignition"
    assert said["st"] == "starter"
    assert any("confirm" in n for n in report.notes)


def test_without_notes_and_without_a_start_the_key_is_proposed_too() -> None:
    drawn = Drawn()
    drawn.rail = np.full(len(drawn.t), 12.5)
    drawn.fed("bat", (0, 99)).fed("acc", (2.5, 20.0)).fed("ign", (4.0, 20.0)).fed(
        "ign2", (4.0, 20.0)
    )
    drawn.fed("brake", (6.0, 7.5))
    proposed = {a.action: a.time_s for a in identify(drawn.recording(), None).actions}
    assert proposed["key accessory"] == pytest.approx(2.5, abs=0.05)
    assert proposed["key run"] == pytest.approx(4.0, abs=0.05)
    assert proposed["key off"] == pytest.approx(20.0, abs=0.05)
    assert set(proposed) == {"key accessory", "key run", "key off"}


def test_an_action_that_is_none() -> None:
    with pytest.raises(RecordError, match="is no action"):
        identify(Drawn().key_wires().recording(), [TimedAction(1.0, "kick tyre")])


def test_json_has_the_fixed_keys() -> None:
    dumped = identify(Drawn().key_wires().recording(), actions()).model_dump(mode="json")
    assert {"wires", "next_checks"} <= set(dumped)
    fixed = {"wire", "function", "active", "probability", "rivals", "leave_alone", "notes"}
    assert all(fixed <= set(w) for w in dumped["wires"])
    assert all(
        {"do", "wire", "expected", "gain_bits", "seconds"} <= set(c) for c in dumped["next_checks"]
    )
    assert all({"function", "active", "probability"} <= set(r)
               for w in dumped["wires"] for r in w["rivals"])  # fmt: skip


def test_a_brake_pressed_only_in_run_is_not_named_until_it_is_pressed_with_the_key_off() -> None:
    drawn = Drawn().key_wires().fed("brake", (6.0, 7.5))
    report = identify(drawn.recording(), actions(), {"bat": AT_LOCK})
    once = next(v for v in report.wires if v.wire == "brake")
    assert once.function is None
    assert once.likely == "brake"
    assert once.rivals[0].function == "brake"
    assert any("shift interlock" in note for note in once.notes)
    first = next(c for c in report.next_checks if c.wire == "brake")
    assert first.do == ["key off", "brake press"]
    assert first.candidates["brake"] == "battery voltage"
    assert first.candidates["something else"] == "0 V"


def test_a_brake_pressed_with_the_key_off_is_told_from_an_interlock() -> None:
    drawn = Drawn().key_wires().fed("brake", (6.0, 7.5), (22.6, 23.4)).fed("lock", (6.0, 7.5))
    both = found(drawn, also=BRAKE_KEY_OFF)
    assert (both["brake"].function, both["brake"].active) == ("brake", "battery")
    assert both["lock"].function is None
    assert both["lock"].likely != "brake" or both["lock"].probability < 0.1


def test_a_wire_at_0_V_throughout_is_not_named_and_its_check_is_told() -> None:
    drawn = Drawn().key_wires()
    drawn.level("low", np.zeros(len(drawn.t)))
    low = found(drawn)["low"]
    assert low.function is None
    assert low.likely == "ground"
    assert any("load it from battery positive" in note for note in low.notes)


def charging(drawn: Drawn) -> np.ndarray:
    """A charge lamp's wire: dead, then a volt through its lamp, then battery."""
    level = np.where(drawn.during((4.0, 20.0)), 1.1, 0.0)
    return np.where(drawn.during((10.6, 20.1)), drawn.rail, level)


def test_a_charge_lamp_is_named_where_it_is_held_low_in_run() -> None:
    drawn = Drawn().key_wires()
    drawn.level("lamp", charging(drawn))
    drawn.fed("output", (10.6, 20.1))
    wires = found(drawn)
    assert (wires["lamp"].function, wires["lamp"].active) == ("charge_lamp", "battery")
    assert wires["output"].function is None


@pytest.mark.parametrize(("seconds", "diesel", "said"), [
    (1.0, True, "wait_to_start"), (3.0, True, None), (3.0, None, None), (1.0, False, None),
])  # fmt: skip
def test_a_glow_lamp_is_named_where_no_lamp_test_is_so_short_or_long(
    seconds: float, diesel: bool | None, said: str | None
) -> None:
    drawn = Drawn().key_wires()
    fed = np.where(drawn.during((4.0, 20.0)), drawn.rail, 0.0)
    drawn.level("lamp", np.where(drawn.during((4.0, 4.0 + seconds)), 0.1, fed))
    report = identify(drawn.recording(), actions(), diesel=diesel)
    verdict = next(v for v in report.wires if v.wire == "lamp")
    assert verdict.function == said
    if said:
        assert verdict.active == "ground"
