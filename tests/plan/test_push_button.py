"""Push-button cars: fed past the button, or foot and press imitated; every plan is proven."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from plan.cars import (
    PRESSES,
    RELAY,
    button_car,
    button_unit,
    full_stock,
    hand,
    interface,
    job,
    key_fed,
    power,
    sense,
    shelf_with,
    small,
    unit,
    vehicle,
)
from plan.working import joined, kinds, part, reasons, safe

from startwright.car.start_control import OWN, RUN, START
from startwright.job import work
from startwright.plan import NoPlan, plan
from startwright.plan.needs import needs_of
from startwright.plan.press import modes_of
from startwright.prove import prove
from startwright.records.unit import Unit


def test_a_unit_that_feeds_the_circuits_goes_past_the_button():
    p = safe(job(vehicle(hand("button", "start_button", "ground", 0.02), start="push_button")))
    assert joined(p, "unit.ign", "vehicle.ign_1")
    assert not any("vehicle.button" in r.ends for r in p.wiring.runs)
    assert any("key that lies in the car" in w for w in p.warnings)


def test_foot_and_press_are_imitated_and_the_pedal_hidden_from_the_ending_press():
    p = safe(job(button_car(), button_unit()))
    assert p.wiring.cuts == ["brake"]
    assert joined(p, "vehicle.brake.source", "unit.brake_in")
    pressing = part(p, "vehicle.brake.load", "30")
    hiding = part(p, "vehicle.brake.source", "87a")
    assert joined(p, f"{pressing}.87a", f"{hiding}.30")
    assert joined(p, f"{pressing}.85", "unit.foot")
    assert joined(p, f"{hiding}.85", "unit.button")
    assert joined(p, "vehicle.ign_1", "unit.ign_in")
    assert not any(f"vehicle.{c}" in r.ends for c in ("acc_1", "starter_1") for r in p.wiring.runs)
    left = {r.of: r.says for r in p.reasons}
    assert "own start control" in left["vehicle.starter_1"]
    needs = {n.id: n for n in p.needs}
    assert "step push presses with the foot" in needs["press-button"].because
    assert needs["imitate-brake"].met
    assert any("first press on the brake" in w for w in p.warnings)


def test_what_the_planner_leaves_out_the_prover_misses():
    """The relay that hides the pedal is no luxury: without it the wiring is breached."""
    j = job(button_car(), button_unit())
    p = safe(j)
    hiding = part(p, "vehicle.brake.source", "87a")
    runs = [r for r in p.wiring.runs if not {f"{hiding}.85", f"{hiding}.86"} & set(r.ends)]
    report = prove(j, p.wiring.model_copy(update={"runs": runs}))
    assert "brake-ends" in {r.rule for r in report.rules if r.holds is False}


def test_one_relay_does_where_a_signal_comes_with_foot_and_ending():
    steps = [
        {**s, "drives": [*s["drives"], *(["ignition_signal"] if "brake" in s["drives"] else [])]}
        for s in PRESSES
    ]
    ending = {"drives": ["start_button", "ignition_signal"], "pulse_s": 0.5}
    box = button_unit(
        power("foot", "brake", feed="feed_2", limit_A=10),
        small("hide", "ignition_signal", suppressed=True),
        sequence=steps,
        ending=ending,
    )
    p = safe(job(button_car(), box))
    assert kinds(p) == ["fuse-1", "relay"]
    assert joined(p, "unit.foot", "K1.87")
    assert joined(p, "unit.button", "vehicle.button")


@pytest.mark.parametrize(
    "circuits",
    [
        [hand("brake", "brake", "ground", 0.2)],
        [hand("brake_2", "brake", "ground", 0.2)],
        [hand("brake", "brake", "battery", 2.0, side="left"),
         hand("brake_2", "brake", "battery", 2.0, side="right")],
        [hand("button", "start_button", "battery", 0.02)],
        [key_fed("starter_1", "starter", ["start"], load_A=10.0, interlock="upstream")],
        [key_fed("starter_1", "starter", ["start"], load_A=10.0, interlock="none")],
        [key_fed("ign_1", "ignition", ["run", "start"], load_A=10.0, leave_dead=True)],
    ],
)  # fmt: skip
def test_every_such_car_is_planned_and_proven(circuits: list[dict[str, Any]]):
    p = safe(job(button_car(*circuits), button_unit()))
    assert set(p.wiring.cuts) == {
        c["id"] for c in button_car(*circuits)["circuits"] if c["function"] == "brake"
    }


def test_a_smart_key_takes_an_interface_and_says_so():
    j = job(button_car(immobilizer={"kind": "smart_key"}), button_unit())
    assert "no interface on the shelf for a smart key" in reasons(j)
    assert "add to the shelf: 1 × interface for the smart key" in reasons(j)
    p = safe(job(button_car(immobilizer={"kind": "smart_key"}), button_unit(),
                 shelf_with(interface("smart_key"))))  # fmt: skip
    assert joined(p, "unit.run_sig", "X1.wake")


def test_an_interface_must_answer_while_the_engine_is_cranked():
    steps = copy.deepcopy(PRESSES)
    steps[2]["drives"].remove("running_signal")
    said = reasons(job(button_car(immobilizer={"kind": "smart_key"}), button_unit(sequence=steps),
                       shelf_with(interface("smart_key"))))  # fmt: skip
    assert "running_signal is not driven in step push, which cranks" in said


def _steps(**changes: Any) -> list[dict[str, Any]]:
    steps = copy.deepcopy(PRESSES)
    steps[2] |= changes
    return steps


REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "no ending": ({"ending": None}, "cannot end a start by a press"),
    "an ending without the button": (
        {"ending": {"drives": ["brake"], "pulse_s": 0.5}}, "cannot end a start by a press",
    ),
    "an ending with the foot": (
        {"ending": {"drives": ["start_button", "brake"], "pulse_s": 0.5}}, "drives the brake",
    ),
    "a driven car": ({"refuses": ["service"]}, "being driven"),
    "a stop that presses": (
        {"commands": {"stop": [{"drives": ["start_button"], "pulse_s": 0.5}]}}, "whatever the car",
    ),
    "two tries": ({"tries": 2, "sequence": _steps(on_timeout="retry")}, "tries 2 times"),
    "no foot with the press": (
        {"sequence": [*PRESSES[:2], {**PRESSES[2], "drives": ["start_button"]}, PRESSES[3]]},
        "never cranks",
    ),
    "not waiting for the engine": (
        {"sequence": [*PRESSES[:2], {k: v for k, v in PRESSES[2].items() if k != "until"},
                      PRESSES[3]]},
        "does not wait until the engine runs",
    ),
    "accessory first": (
        {"sequence": [{"step": "wake", "drives": ["start_button"], "for_s": 0.5}, *PRESSES]},
        "leaves the car in accessory",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_a_unit_that_cannot_imitate_is_refused_with_the_reason(name: str):
    keys, said = REFUSED[name]
    keys = {k: v for k, v in keys.items() if v is not None}
    box = button_unit(**keys)
    if name == "no ending":
        del box["ending"]
    assert said in reasons(job(button_car(), box))


@pytest.mark.parametrize("name", ["no ending", "a driven car", "a stop that presses", "two tries",
                                  "an ending with the foot"])  # fmt: skip
def test_the_reason_is_true(name: str):
    """The sound wiring of the sound unit, with this unit in its place, is breached."""
    keys, _ = REFUSED[name]
    sound = safe(job(button_car(), button_unit()))
    box = button_unit(**{k: v for k, v in keys.items() if v is not None})
    if name == "no ending":
        del box["ending"]
    assert prove(job(button_car(), box), sound.wiring).verdict == "breached"


def test_a_unit_without_ignition_input_cannot_tell_on_from_off():
    box = button_unit()
    box["leads"] = [d for d in box["leads"] if d["id"] != "ign_in"]
    assert "no ignition input" in reasons(job(button_car(), box))


def test_the_tries_are_set_to_one_where_a_setting_can():
    box = button_unit(tries=3, sequence=_steps(on_timeout="retry"))
    box["settings"].append({"id": "tries", "values": {"min": 1, "max": 5, "step": 1},
                            "default": 3, "sets": "tries"})  # fmt: skip
    p = safe(job(button_car(), box))
    assert p.wiring.settings["tries"] == 1


def test_a_unit_that_does_neither_is_told_both_ways():
    said = reasons(job(button_car(), unit(sequence=[{"step": "flash", "drives": ["horn"]}])))
    assert "Fed past the button: No step of the unit" in said
    assert "Foot and press imitated: The unit unit has no output for the start button." in said


def _both() -> dict[str, Any]:
    """A unit that can feed the circuits and can press; its steps drive all of it."""
    more = {0: [], 1: [], 2: ["ignition", "starter"], 3: ["ignition", "accessory"]}
    steps = [{**s, "drives": [*s["drives"], *more[k]]} for k, s in enumerate(PRESSES)]
    return unit(
        small("button", "start_button", suppressed=True),
        small("foot", "brake", suppressed=True),
        sense("ign_in", "ignition", "battery"),
        sequence=steps,
        tries=1,
        ending={"drives": ["start_button"], "pulse_s": 0.5},
    )


def test_the_better_of_the_two_ways_is_taken_and_the_other_told():
    j = job(button_car(), _both())
    p = safe(j)
    assert kinds(p) == []  # fed: nothing but wires
    answer = plan(j, alternatives=9)
    assert not isinstance(answer, NoPlan)
    other = next(a for a in answer.alternatives if "Foot and press imitated" in a.differs)
    assert other.score.parts == 4
    assert prove(j, other.plan.wiring).verdict == "proven"


def test_without_relays_and_outputs_the_way_that_is_left_is_taken():
    upstream = key_fed("starter_1", "starter", ["start"], load_A=10.0, interlock="upstream")
    p = safe(job(button_car(upstream), _both()))
    assert "vehicle.button" in {e for r in p.wiring.runs for e in r.ends}
    said = reasons(job(button_car(upstream), _both(), full_stock(relay=1)))
    assert "Fed past the button: The starter circuit starter_1 lies past" in said
    assert "The shelf holds 1 of relay" in said


def test_a_relay_that_lets_go_of_too_little_is_not_hung_on_the_foot():
    weak = {**RELAY, "id": "weak", "contact_A": 1}
    shelf = full_stock(relay=0)
    shelf["parts"].append(weak)
    assert "the contact of weak carries 1 A, not 4 A" in reasons(job(button_car(), button_unit(),
                                                                     shelf))  # fmt: skip


def test_what_the_car_makes_of_the_presses():
    box = Unit.model_validate(button_unit())
    assert modes_of(box) == ((OWN, OWN), (OWN, OWN), (START, RUN), (RUN, RUN))
    assert [d.id for d in needs_of(job(button_car(), button_unit()), "imitated").demands][2:5] == [
        "press-button", "imitate-brake", "sense-ignition",
    ]  # fmt: skip


def test_the_ending_press_is_among_the_loads():
    """A signal that the ending drives alone counts on its lead like any other."""
    out = work(job(button_car(), button_unit()))
    assert out.size is not None
    assert out.size.verdict == "holds"
