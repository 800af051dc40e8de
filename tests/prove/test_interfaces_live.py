"""An interface that gives the tach is heard only while it has its supply and what wakes it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from outside.spin import both, disagreements
from prove import sound, sound_hostile
from prove.base import Case
from prove.test_bestiary import assert_same_states
from prove.test_naive_senses import Data, made

from startwright.prove import prove


def box(supply: bool = True, **more: str) -> Case:
    """The tach comes over the car's bus, from a box on the tach lead."""
    c = Case().without("r_tach")
    c.circuit("tach", reach="bus")
    needs = {"power": "battery", "earth": "ground", "bus": "data", **more}
    pins = {**needs, "out": "tach"}
    c.stock["parts"].append(
        {"id": "bus-box", "kind": "interface", "serves": ["tach"], "needs": needs, "pins": pins}
    )
    c.parts["X1"] = "bus-box"
    c.run("x2", "X1.earth", "ground.body")
    c.run("x3", "X1.bus", "vehicle.bus")
    c.run("x4", "X1.out", "unit.tach_in")
    if supply:
        c.run("x1", "vehicle.batt", "X1.power")
    return c


def relay(works: str, throw: str) -> Case:
    """Its supply comes over a relay that an output works, by one of its contacts."""
    c = box(supply=False)
    c.parts |= {"K9": "relay", "F9": "fuse-15"}
    c.run("f9", "vehicle.batt", "F9.a")
    c.run("y1", "F9.b", "K9.86")
    c.run("y2", "K9.85", f"unit.{works}")
    c.run("y3", "F9.b", "K9.30")
    c.run("y4", f"K9.{throw}", "X1.power")
    return c


def supply_by_the_horn() -> Case:
    return relay("horn", "87")


def supply_by_the_resting_contact() -> Case:
    return relay("run_sig", "87a")


def supply_through_the_trunk() -> Case:
    c = box(supply=False)
    lid = {"id": "lid", "kind": "switch", "operated_by": "trunk", "contact_at_rest": "open"}
    c.stock["parts"].append(lid)
    c.parts["S9"] = "lid"
    c.run("f9", "vehicle.batt", "S9.a")
    c.run("x1", "S9.b", "X1.power")
    return c


def woken_by_the_horn() -> Case:
    c = box(wake="running_signal")
    c.run("x5", "X1.wake", "unit.horn")
    return c


def supply_by_the_running_signal() -> Case:
    return relay("run_sig", "87")


def fused() -> Case:
    c = box(supply=False)
    c.parts["F9"] = "fuse-15"
    c.run("f9", "vehicle.batt", "F9.a")
    c.run("x1", "F9.b", "X1.power")
    return c


def woken_by_the_running_signal() -> Case:
    c = box(wake="running_signal")
    c.run("x5", "X1.wake", "unit.run_sig")
    return c


DEAF = [
    supply_by_the_horn,
    supply_by_the_resting_contact,
    supply_through_the_trunk,
    woken_by_the_horn,
]
HEARD = [box, fused, supply_by_the_running_signal, woken_by_the_running_signal]


def _broken(c: Case) -> set[str]:
    return {r.rule for r in prove(c.job(), c.wiring()).rules if r.holds is False}


@pytest.mark.parametrize("make", DEAF)
def test_without_supply_or_wake_no_tach_is_heard(make: Callable[[], Case]) -> None:
    assert _broken(make()) >= {"no-crank-into-running", "runs"}


@pytest.mark.parametrize("make", HEARD)
def test_with_supply_and_wake_the_tach_is_heard(make: Callable[[], Case]) -> None:
    c = make()
    assert prove(c.job(), c.wiring()).verdict == "proven"


@pytest.mark.parametrize(
    ("make", "faults"),
    [
        (fused, {"f9 open", "x1 open", "F9 open"}),
        (supply_by_the_running_signal, {"K9 open", "K9.87 stuck open", "F9 open", "y4 open"}),
    ],
)
def test_a_supply_that_fails_is_ranked_as_the_open_wire_is(
    make: Callable[[], Case], faults: set[str]
) -> None:
    c = make()
    report = prove(c.job(), c.wiring(), faults=True)
    assert report.faults is not None
    found = {f.fault: (f.worst, "no-crank-into-running" in f.breaks) for f in report.faults}
    assert {found[f] for f in faults} == {("hazard", True)}


@pytest.mark.parametrize("make", [supply_by_the_resting_contact, supply_by_the_running_signal])
def test_spin_agrees(make: Callable[[], Case], tmp_path: Path) -> None:
    c = make()
    assert disagreements(*both(c.job(), c.wiring(), tmp_path)) == []


@pytest.mark.parametrize("wire", ["vehicle.batt", "unit.ign", "vehicle.ign", "vehicle.brake"])
def test_the_naive_reading_agrees(wire: str) -> None:
    def boxed(job: Data, wiring: Data) -> None:
        for circuit in job["vehicle"]["circuits"]:
            if circuit["function"] == "tach":
                circuit["reach"] = "bus"
        needs = {"power": "battery"}
        job["stock"]["parts"].append(
            {
                "id": "bus-box",
                "kind": "interface",
                "serves": ["tach"],
                "needs": needs,
                "pins": {**needs, "out": "tach"},
            }
        )
        wiring["parts"].append({"id": "X1", "of": "bus-box"})
        wiring["runs"] = [r for r in wiring["runs"] if r["id"] != "r_tach"]
        wiring["runs"].append({"id": "x1", "from": wire, "to": "X1.power"})
        wiring["runs"].append({"id": "x4", "from": "X1.out", "to": "unit.tach_in"})

    assert_same_states(*made(boxed))


# ---- a unit with a running signal at ground and another at battery ----------------------------


def woken_by_one_of_two(wake: str, order: tuple[str, str], through: str = "") -> Case:
    c = sound.transponder_with_interface()
    leads = c.unit["leads"]
    at_ground = next(d for d in leads if d["id"] == "run_sig")
    leads.remove(at_ground)
    both = {"run_sig": at_ground, "sig_plus": {**at_ground, "id": "sig_plus", "active": "battery"}}
    leads += [both[name] for name in order]
    c.run("x3", "X1.wake", f"unit.{wake}")
    if through:
        c.parts["D9"] = "diode"
        near, far = ("anode", "cathode") if through == "anode" else ("cathode", "anode")
        c.run("x3", f"unit.{wake}", f"D9.{near}")
        c.run("x5", f"D9.{far}", "X1.wake")
    return c


@pytest.mark.parametrize("order", [("run_sig", "sig_plus"), ("sig_plus", "run_sig")])
@pytest.mark.parametrize(
    ("wake", "through"),
    [("run_sig", ""), ("sig_plus", ""), ("run_sig", "cathode"), ("sig_plus", "anode")],
)
def test_a_signal_has_the_level_of_the_lead_it_comes_from(
    wake: str, through: str, order: tuple[str, str]
) -> None:
    c = woken_by_one_of_two(wake, order, through)
    other = "sig_plus" if wake == "run_sig" else "run_sig"
    assert not {"can-start", "runs", "immobilizer-only-while-starting"} & _broken(c)
    c.run("x9", f"unit.{other}", "vehicle.horn" if other == "run_sig" else "vehicle.lights")
    assert not {"can-start", "runs", "immobilizer-only-while-starting"} & _broken(c)


@pytest.mark.parametrize("order", [("run_sig", "sig_plus"), ("sig_plus", "run_sig")])
def test_the_verdict_does_not_hang_on_the_order_of_the_record(order: tuple[str, str]) -> None:
    c = woken_by_one_of_two("run_sig", order)
    assert prove(c.job(), c.wiring()).verdict == "proven"


# ---- the immobilizer's line is moved by nothing but what stands in for a key's resistor ----------


@pytest.mark.parametrize("active", ["ground", "battery"])
def test_no_output_may_move_a_line_that_measures_no_resistor(active: str) -> None:
    c = sound.transponder_with_interface()
    c.circuit("ring", function="immobilizer")
    if active == "battery":
        c.lead("run_sig", active="battery", limit_A=10, switch="relay")
    assert prove(c.job(), c.wiring()).verdict == "proven"
    c.run("x9", "unit.run_sig", "vehicle.ring")
    assert "only-what-is-called" in _broken(c)


@pytest.mark.parametrize(
    "make",
    [
        sound_hostile.key_resistor_in_a_cut,
        sound_hostile.key_resistor_between_two_wires,
        sound_hostile.key_resistor_beside_the_key,
    ],
)
def test_a_resistor_may_take_the_place_of_the_key(make: Callable[[], Case]) -> None:
    c = make()
    assert prove(c.job(), c.wiring()).verdict == "proven"
