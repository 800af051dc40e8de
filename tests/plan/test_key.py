"""What stands in for a key while the unit starts: a resistor in its line, or an interface."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from plan.cars import (
    button_car,
    button_unit,
    interface,
    job,
    key_lines,
    ohm,
    power,
    shelf_with,
    small,
    stock,
    unit,
    vehicle,
)
from plan.working import joined, kinds, part, reasons, safe

from startwright.plan import Mend
from startwright.plan.keyed import combinations
from startwright.plan.way import bench_of
from startwright.prove import prove


def keyed(key_ohm: float | None = 1130, lines: int = 1, **keys: Any) -> dict[str, Any]:
    immobilizer: dict[str, Any] = {"kind": "resistor_key"}
    if key_ohm is not None:
        immobilizer["key_ohm"] = key_ohm
    return vehicle(*key_lines(lines), immobilizer=immobilizer, **keys)


@pytest.mark.parametrize("lines", [1, 2])
def test_a_resistor_takes_the_key_s_place_in_the_cut_line(lines: int):
    p = safe(job(keyed(lines=lines), unit(), shelf_with(ohm(1130))))
    relay = part(p, "vehicle.key_1.load", "30")
    assert p.wiring.cuts == ["key_1"]
    assert joined(p, "vehicle.key_1.source", f"{relay}.87a")
    assert joined(p, f"{relay}.87", "R1.a")
    assert joined(p, f"{relay}.85", "unit.run_sig")
    assert joined(p, "R1.b", "vehicle.key_2") is (lines == 2)
    assert any("few milliamps" in w for w in p.warnings)
    check = next(c for c in p.checks if c.probe == "vehicle.key_1" and "key insert" in c.do)
    assert check.expect.startswith("1130 ohm")


def test_always_in_it_would_be_a_key_left_in_the_lock():
    """With the coil of the planner's relay on ground instead the wiring is breached."""
    j = job(keyed(), unit(), shelf_with(ohm(1130)))
    p = safe(j)
    data = p.wiring.model_dump(by_alias=True, mode="json", exclude_none=True)
    for run in data["runs"]:
        if "unit.run_sig" in (run["from"], run["to"]):
            run["to" if run["to"] == "unit.run_sig" else "from"] = "ground.column"
    report = prove(j, p.wiring.model_validate(data))
    assert "immobilizer-only-while-starting" in {r.rule for r in report.rules if r.holds is False}


def test_the_nearest_value_is_taken_and_a_wrong_one_refused():
    p = safe(job(keyed(), unit(), shelf_with(ohm(1050), ohm(1200), ohm(1100))))
    assert "ohm-1100" in kinds(p)
    said = reasons(job(keyed(5000), unit()))
    assert "between 4500 and 5500 ohm on the shelf" in said
    assert "add to the shelf: 1 × resistor of 5000 ohm" in said


def test_resistors_in_series_make_up_the_value():
    p = safe(job(keyed(2200), unit(), shelf_with(ohm(1000))))
    assert kinds(p) == ["fuse-1", "ohm-1000", "ohm-1300", "relay"]
    assert joined(p, "R1.b", "R2.a")
    few = {**ohm(700), "count": 1}
    shelf = shelf_with(few)
    shelf["parts"] = [q for q in shelf["parts"] if q["id"] not in ("ohm-360", "ohm-1300")]
    assert "no resistor, nor up to 3" in reasons(job(keyed(1400), unit(), shelf))


def test_combinations_keep_the_count_the_power_and_the_margin():
    weak = {**ohm(1130), "id": "weak", "watt": 0.01}
    shelf = stock({**ohm(500), "count": 2}, weak, ohm(1400))
    bench = bench_of(job(keyed(), unit(), shelf), Mend())
    assert [[p.id for p in c] for c in combinations(bench, 1130)] == []  # 1000 is 11.5 % off
    assert [[p.id for p in c] for c in combinations(bench, 1010)] == [["ohm-500", "ohm-500"]]
    one = dataclasses.replace(bench, parts=(bench.parts[0].model_copy(update={"count": 1}),))
    assert combinations(one, 1010) == []


@pytest.mark.parametrize(
    ("car", "said"),
    [
        (keyed(None), "measure the key's blade and enter `key_ohm`"),
        (keyed(lines=0), "find the wire between lock and computer"),
    ],
)
def test_what_is_not_on_record_is_asked_for(car: dict[str, Any], said: str):
    assert said in reasons(job(car, unit(), shelf_with(ohm(1130))))
    assert kinds(safe(job(car, unit(), shelf_with(interface("resistor_key"))))) == [
        "for-resistor-key", "fuse-1",
    ]  # fmt: skip


def test_an_interface_is_looked_at_for_its_model():
    fits = shelf_with(interface("resistor_key", "car"), ohm(1130))
    assert "for-resistor-key" in kinds(safe(job(keyed(), unit(), fits)))  # fewer parts
    other = shelf_with(interface("resistor_key", "another-car"), ohm(1130))
    assert "for-resistor-key" not in kinds(safe(job(keyed(), unit(), other)))
    said = reasons(job(keyed(1e5), unit(), other))
    assert "for-resistor-key is not made for this vehicle" in said


@pytest.mark.parametrize("how", ["fed", "imitated"])
def test_a_button_beside_a_measured_key(how: str):
    car = (button_car if how == "imitated" else vehicle)(
        *key_lines(2), immobilizer={"kind": "resistor_key", "key_ohm": 1130},
        **({} if how == "imitated" else {"start": "push_button"}),
    )  # fmt: skip
    p = safe(job(car, button_unit() if how == "imitated" else unit(), shelf_with(ohm(1130))))
    assert "key_1" in p.wiring.cuts


# ---- interfaces ---------------------------------------------------------------------------------

TRANSPONDER = vehicle(immobilizer={"kind": "transponder"})


def test_an_interface_without_a_wake_pin_has_its_supply_switched():
    bare = interface("transponder", power="battery", earth="ground")
    p = safe(job(TRANSPONDER, unit(), shelf_with(bare)))
    assert joined(p, "K1.87", "X1.power")
    assert joined(p, "K1.85", "unit.run_sig")
    hot = unit(small("run_sig", "running_signal", active="battery", limit_A=1.0))
    assert joined(safe(job(TRANSPONDER, hot, shelf_with(bare))), "unit.run_sig", "X1.power")
    none = unit(drop=("run_sig",))
    assert "nothing enables for-transponder but its supply" in reasons(
        job(TRANSPONDER, none, shelf_with(bare))
    )


@pytest.mark.parametrize("level", ["battery", "ground"])
def test_a_wake_pin_of_the_other_level_takes_an_inverting_relay(level: str):
    needs = {"power": "battery", "earth": "ground", "wake": f"running_signal {level}"}
    other = {"battery": "ground", "ground": "battery"}[level]
    box = unit(small("run_sig", "running_signal", active=other, suppressed=True))
    p = safe(job(TRANSPONDER, box, shelf_with(interface("transponder", **needs))))
    relay = part(p, "X1.wake", "87")
    assert joined(p, f"{relay}.{'85' if other == 'ground' else '86'}", "unit.run_sig")


def test_a_signal_that_a_command_works_wakes_nothing():
    said = reasons(
        job(TRANSPONDER,
            unit(commands={"panic": [{"drives": ["running_signal"], "pulse_s": 0.5}]}),
            shelf_with(interface("transponder")))
    )  # fmt: skip
    assert "would stand in for a key at any time" in said


# ---- a starter cut where the car itself cranks ---------------------------------------------------


def test_a_cut_is_joined_while_the_car_s_own_control_cranks():
    armed = small("armed", "armed_signal", suppressed=True)
    p = safe(job(button_car(), button_unit(armed), wants=("remote_start", "starter_cut")))
    joins = part(p, "unit.run_sig", "85")
    cut = part(p, "vehicle.starter_1.load", "30")
    assert joined(p, f"{cut}.30", f"{joins}.30")
    assert joined(p, f"{joins}.87", f"{cut}.87a")
    alone = button_unit(armed)
    alone["leads"] = [d for d in alone["leads"] if d["id"] != "run_sig"]
    said = reasons(job(button_car(), alone, wants=("remote_start", "starter_cut")))
    assert "would keep the car's own control from cranking" in said


def test_every_starter_wire_is_cut_past_the_lever_s_switch_too():
    past = {"id": "starter_2", "function": "starter", "live": ["start"], "load_A": 3.0,
            "interlock": "upstream", "leave_dead": True, "place": "column"}  # fmt: skip
    box = unit(small("armed", "armed_signal", suppressed=True), power("start", "starter"))
    p = safe(job(vehicle(past), box, wants=("remote_start", "starter_cut")))
    assert set(p.wiring.cuts) == {"starter_1", "starter_2"}
