"""What was found, in the vehicle record."""

from __future__ import annotations

import datetime

import pytest

from startwright.identify import WireVerdict, apply_found, apply_with_reasons, keep_off
from startwright.records import Circuit, Vehicle
from startwright.records.recordings import WirePlace

DAY = datetime.date(2026, 3, 2)


def vehicle(*circuits: dict) -> Vehicle:
    return Vehicle(format="startwright/vehicle/1", id="car", gearbox="automatic",
                   circuits=[Circuit(**c) for c in circuits])  # fmt: skip


def verdict(wire: str, function: str | None, active: str | None = "battery", **more: object):
    return WireVerdict(
        wire=wire,
        function=function,
        active=active,
        probability=0.97,
        **more,  # type: ignore[arg-type]
    )


PLACE = {"ch3": WirePlace("ch3", "steering column", "white 8-way", "5", "GY/RD")}


def test_a_new_circuit_carries_place_plug_pin_colour_and_evidence() -> None:
    found = [verdict("ch3", "ignition", live=["run", "start"], evidence=["0 V with the key off"])]
    car, conflicts = apply_found(vehicle(), found, PLACE, date=DAY, by="fitter")
    (circuit,) = car.circuits
    assert (circuit.function, circuit.live) == ("ignition", ["run", "start"])
    assert (circuit.place, circuit.plug, circuit.pin, circuit.colour) == (
        "steering column", "white 8-way", "5", "GY/RD",
    )  # fmt: skip
    assert circuit.known is not None
    assert (circuit.known.how, circuit.known.date, circuit.known.by) == ("measured", DAY, "fitter")
    assert "0 V with the key off" in circuit.known.evidence
    assert conflicts == []


def test_a_manual_that_was_wrong_gives_way_and_the_conflict_is_shown() -> None:
    before = vehicle({"id": "ign", "function": "ignition", "live": ["run", "start"], "load_A": 14,
                      "plug": "white 8-way", "pin": "5", "colour": "GN/YE",
                      "known": {"how": "manual"}})  # fmt: skip
    car, conflicts = apply_found(before, [verdict("ch3", "ignition", live=["run"])], PLACE)
    (circuit,) = car.circuits
    assert circuit.id == "ign"
    assert circuit.live == ["run"]
    assert circuit.load_A == 14
    assert circuit.known is not None
    assert circuit.known.how == "measured"
    said = {c.key: (c.said, c.measured, c.how, c.kept) for c in conflicts}
    assert said["live"] == ("run, start", "run", "manual", "measured")
    assert said["colour"] == ("GN/YE", "GY/RD", "manual", "measured")
    assert before.circuits[0].live == ["run", "start"]


def test_another_function_at_the_same_pin() -> None:
    before = vehicle({"id": "acc", "function": "accessory", "number": 2,
                      "live": ["accessory", "run"],
                      "plug": "white 8-way", "pin": "5", "known": {"how": "told"}})  # fmt: skip
    car, conflicts = apply_found(before, [verdict("ch3", "brake", rest="ground")], PLACE)
    assert car.circuits[0].function == "brake"
    assert (car.circuits[0].live, car.circuits[0].number) == (None, None)
    assert any(c.key == "function" for c in conflicts)


def test_what_was_measured_before_stays_and_the_difference_is_shown() -> None:
    before = vehicle({"id": "ign", "function": "ignition", "live": ["run", "start"],
                      "plug": "white 8-way", "pin": "5", "known": {"how": "measured"}})  # fmt: skip
    car, conflicts = apply_found(before, [verdict("ch3", "ignition", live=["run"])], PLACE)
    assert car.circuits[0].live == ["run", "start"]
    assert [c.kept for c in conflicts if c.key == "live"] == ["said"]


def test_what_is_not_known_or_dangerous_is_not_written() -> None:
    found = [
        verdict("a", None, None),
        verdict("b", "ignition", leave_alone=True, live=["run"]),
        verdict("c", "srs", None, leave_alone=True),
        verdict("d", "hood", "ground", rest="battery"),
    ]
    applied = apply_with_reasons(vehicle(), found)
    assert [c.function for c in applied.vehicle.circuits] == ["srs", "hood"]
    assert {s.wire for s in applied.skipped} == {"a", "b"}
    assert len(applied.written) == 2


def test_the_only_unmeasured_circuit_of_a_function_is_it() -> None:
    before = vehicle(
        {"id": "starter_1", "function": "starter", "live": ["start"], "interlock": "downstream"}
    )
    car, _ = apply_found(before, [verdict("ch3", "starter", live=["start"])], PLACE)
    assert len(car.circuits) == 1
    assert car.circuits[0].interlock == "downstream"
    assert car.circuits[0].pin == "5"


def test_two_wires_never_become_one_circuit() -> None:
    before = vehicle({"id": "ign", "function": "ignition", "live": ["run", "start"]})
    found = [
        verdict("a", "ignition", live=["run", "start"]),
        verdict("b", "ignition", live=["run"]),
    ]
    car, _ = apply_found(before, found)
    assert len(car.circuits) == 2
    assert {tuple(c.live or ()) for c in car.circuits} == {("run", "start"), ("run",)}


AT = {"plug": "white 8-way", "pin": "5"}


def test_what_belonged_to_another_function_goes_with_it() -> None:
    before = vehicle(
        {"id": "acc", "function": "accessory", "number": 1, "live": ["accessory", "run"],
         "load_A": 3, "may_hold_in_crank": "the radio only", "fuse_A": 20, **AT,
         "known": {"how": "manual"}},
        {"id": "ign", "function": "ignition", "number": 1, "live": ["run", "start"]},
    )  # fmt: skip
    car, conflicts = apply_found(before, [verdict("ch3", "ignition", live=["run"])], PLACE)
    was = car.circuit("acc")
    assert (was.function, was.live, was.number) == ("ignition", ["run"], 2)
    assert (was.load_A, was.may_hold_in_crank, was.fuse_A) == (None, False, 20)
    assert ("live", "accessory, run", "run", "measured") in {
        (c.key, c.said, c.measured, c.kept) for c in conflicts
    }


def test_two_that_were_exchanged_keep_their_numbers() -> None:
    before = vehicle(
        {"id": "a", "function": "accessory", "number": 1, "live": ["accessory", "run"],
         "plug": "P", "pin": "1"},
        {"id": "b", "function": "ignition", "number": 1, "live": ["run", "start"],
         "plug": "P", "pin": "2"},
    )  # fmt: skip
    found = [
        verdict("w1", "ignition", live=["run", "start"], plug="P", pin="1"),
        verdict("w2", "accessory", live=["accessory", "run"], plug="P", pin="2"),
        verdict("w3", "ignition", live=["run"], plug="P", pin="3"),
    ]
    car, _ = apply_found(before, found)
    assert [(c.function, c.number) for c in car.circuits] == [
        ("ignition", 1), ("accessory", 1), ("ignition", 2),
    ]  # fmt: skip


def test_a_measured_circuit_of_another_function_stays_whole() -> None:
    before = vehicle({"id": "brake", "function": "brake", "rest": "ground", "active": "battery",
                      **AT, "known": {"how": "measured"}})  # fmt: skip
    applied = apply_with_reasons(before, [verdict("ch3", "ignition", live=["run"])], PLACE)
    circuit = applied.vehicle.circuit("brake")
    assert (circuit.function, circuit.live, circuit.rest) == ("brake", None, "ground")
    assert [(c.key, c.kept) for c in applied.conflicts] == [("function", "said")]
    assert not applied.skipped


def test_a_level_against_the_rest_of_the_record_says_what_to_measure() -> None:
    before = vehicle({"id": "horn", "function": "horn", "rest": "ground", "active": "battery",
                      **AT, "known": {"how": "manual"}})  # fmt: skip
    applied = apply_with_reasons(before, [verdict("ch3", "horn", "ground")], PLACE)
    assert applied.vehicle == before
    (left,) = applied.skipped
    for said in ("worked it was measured at ground", "(manual) has ground for it at rest",
                 "measure it at rest", "horn stays"):  # fmt: skip
        assert said in left.because
    assert {(c.key, c.said, c.measured, c.kept) for c in applied.conflicts} == {
        ("active", "battery", "ground", "said")
    }
    settled = apply_with_reasons(before, [verdict("ch3", "horn", "ground", rest="battery")], PLACE)
    assert settled.vehicle.circuit("horn").rest == "battery"


def test_a_feed_without_its_positions_says_what_to_measure() -> None:
    applied = apply_with_reasons(vehicle(), [verdict("ch3", "ignition")], PLACE)
    assert "measure it in accessory, run and start" in applied.skipped[0].because


@pytest.mark.parametrize("never", ["srs", "data", "high_voltage", "immobilizer"])
@pytest.mark.parametrize(
    "wire",
    [
        {"wire": "ch3", "plug": "white 8-way", "pin": "5"},
        {"wire": "ch3", "plug": " White  8-way", "pin": "5"},
        {"wire": "never"},
        {"wire": "ch3", "plug": "white 8-way", "colour": "GY/RD"},
    ],
)
def test_what_the_record_keeps_off_never_becomes_usable(never: str, wire: dict) -> None:
    before = vehicle({"id": "never", "function": never, **AT, "colour": "GY/RD",
                      "known": {"how": "guessed"}})  # fmt: skip
    found = verdict(function="ignition", live=["run"], **wire)
    applied = apply_with_reasons(before, [found])
    assert applied.vehicle == before
    assert applied.written == []
    assert applied.skipped[0].because.startswith("leave alone: the record has it as")
    (conflict,) = applied.conflicts
    assert (conflict.key, conflict.said, conflict.measured, conflict.kept) == (
        "function", never, "ignition", "said",
    )  # fmt: skip
    (shown,) = keep_off(before, [found])
    assert (shown.function, shown.leave_alone) == (None, True)


def test_another_pin_of_the_plug_is_not_kept_off() -> None:
    before = vehicle({"id": "never", "function": "data", **AT, "colour": "GY/RD"})
    found = [verdict("ch3", "ignition", live=["run"], plug="white 8-way", pin="6", colour="GY/RD")]
    assert keep_off(before, found) == found
    assert [c.function for c in apply_found(before, found)[0].circuits] == ["data", "ignition"]
