"""What was found, in the vehicle record."""

from __future__ import annotations

import datetime

from startwright.identify import WireVerdict, apply_found, apply_with_reasons
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
    before = vehicle({"id": "acc", "function": "accessory", "live": ["accessory", "run"],
                      "plug": "white 8-way", "pin": "5", "known": {"how": "told"}})  # fmt: skip
    car, conflicts = apply_found(before, [verdict("ch3", "brake", rest="ground")], PLACE)
    assert car.circuits[0].function == "brake"
    assert car.circuits[0].live is None
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
