"""Ways: inputs read by level, special locks, cuts, interfaces; each proven by the prover too."""

from __future__ import annotations

import pytest
from plan.cars import (
    HOOD,
    RELAY,
    full_stock,
    fuse,
    hand,
    job,
    key_fed,
    power,
    sense,
    small,
    stock,
    unit,
    vehicle,
)

from startwright.plan import Mend, NoPlan, Planned, plan
from startwright.plan.needs import needs_of
from startwright.plan.problem import problem_of
from startwright.plan.senses import level_when, reads, why_not_read
from startwright.prove import prove
from startwright.records import WholeJob
from startwright.records.unit import Lead
from startwright.records.vehicle import Circuit


def made(j: WholeJob) -> Planned:
    answer = plan(j)
    assert isinstance(answer, Planned), answer.reasons
    return answer


def proven(j: WholeJob) -> Planned:
    p = made(j)
    report = prove(j, p.wiring)
    broken = [(r.rule, r.says) for r in report.rules if r.holds is False]
    assert report.verdict == "proven", broken
    return p


def ends(p: Planned) -> set[frozenset[str]]:
    return {frozenset(r.ends) for r in p.wiring.runs}


def joined(p: Planned, a: str, b: str) -> bool:
    return frozenset((a, b)) in ends(p)


# ---- inputs ---------------------------------------------------------------------------------


def lead(**keys: object) -> Lead:
    return Lead.model_validate({"id": "x", "way": "in", "senses": "hood", **keys})


def test_a_weak_pull_against_a_load_is_a_divider():
    up = lead(active="ground", pull="up", pull_ohm=10_000)
    assert level_when(12.0, None, 10_000, "ground", up) == pytest.approx(6.0)
    assert level_when(12.0, None, None, "ground", up) == pytest.approx(12.0)
    assert level_when(12.0, "ground", None, "ground", up) == 0.0
    assert level_when(12.0, None, None, "ground", lead(active="ground", pull="none")) is None


def test_thresholds_have_a_middle_in_which_nothing_is_said():
    low = lead(active="ground", on_V=3.0, off_V=6.0)
    assert (reads(low, 2.0), reads(low, 4.5), reads(low, 7.0)) == (True, None, False)
    high = lead(active="battery", on_V=6.0, off_V=3.0)
    assert (reads(high, 7.0), reads(high, 4.5), reads(high, 2.0)) == (True, None, False)


def test_an_input_that_cannot_tell_a_circuit_apart_on_a_low_battery_is_refused():
    deaf = lead(active="battery", on_V=9.0, off_V=3.0)
    circuit = Circuit.model_validate(hand("brake", "brake", "battery", 4.0))
    said = why_not_read(deaf, circuit)
    assert said is not None
    assert "7.5 V" in said
    assert why_not_read(lead(active="battery", on_V=6.0, off_V=3.0), circuit) is None


def test_a_level_that_differs_takes_an_inverting_relay():
    p = proven(job(vehicle(hand("brake", "brake", "ground", 0.2))))
    assert joined(p, "vehicle.brake", "K1.85")
    assert joined(p, "K1.87", "unit.brake_in")
    assert joined(p, "F1.b", "K1.86")
    p = proven(job(box=unit(sense("brake_in", "brake", "ground"))))
    assert joined(p, "vehicle.brake", "K1.86")
    assert any(r.ends[0].startswith("ground.") or r.ends[1].startswith("ground.")
               for r in p.wiring.runs if "K1.30" in r.ends)  # fmt: skip


def test_no_relay_is_left_pulled_in_while_the_car_is_parked():
    answer = plan(job(box=unit(sense("park_in", "park_neutral", "battery"))))
    assert isinstance(answer, NoPlan)
    assert "drain the battery" in answer.reasons[0]


def test_a_coil_is_not_hung_on_a_circuit_of_unknown_rest():
    bare = hand("brake", "brake", "ground", 0.2)
    del bare["load_A"]
    answer = plan(job(vehicle(bare), shelf=full_stock(hood_pin=0)))
    assert isinstance(answer, NoPlan)
    assert "measure its rest" in answer.reasons[0]


def test_a_missing_hood_circuit_takes_the_switch_from_the_shelf():
    p = proven(job(vehicle(drop=("hood",))))
    assert [f.of for f in p.wiring.parts] == ["hood-pin"]
    assert joined(p, "S1.b", "unit.hood_in")


def test_without_a_tach_wire_volts_or_the_charge_lamp_will_do():
    p = proven(job(vehicle(drop=("tach",))))
    assert p.wiring.settings["engine_sense"] == "volts"
    assert not next(n for n in p.needs if n.id == "tach").met
    assert any("slower than by tach" in w for w in p.warnings)
    lamp = hand("lamp", "charge_lamp", "battery", 0.2)
    box = unit(sense("lamp_in", "charge_lamp", "battery"), drop=("tach_in",),
               engine_signal={"by": "how", "choices": ["charge_lamp", "timed"]})  # fmt: skip
    p = proven(job(vehicle(lamp), box))
    assert p.wiring.settings["how"] == "charge_lamp"


# ---- outputs --------------------------------------------------------------------------------


def test_a_motor_that_rests_at_ground_is_cut_and_not_shorted():
    motors = [
        {"id": f, "function": f, "style": "reversing", "rest": "ground", "active": "battery",
         "load_A": 8.0, "place": "kick panel"}
        for f in ("lock", "unlock")
    ]  # fmt: skip
    p = proven(job(vehicle(*motors), wants=("remote_start", "lock_unlock")))
    assert sorted(p.wiring.cuts) == ["lock", "unlock"]
    assert joined(p, "vehicle.lock.load", "K1.30")
    assert joined(p, "vehicle.lock.source", "K1.87a")


def test_a_coded_switch_line_takes_a_resistor_beside_its_own():
    steps = {"rest": 4700, "lock": 330, "unlock": 1000}
    line = {"id": "line", "function": "lock", "also": ["unlock"], "style": "ladder",
            "steps_ohm": steps, "place": "column"}  # fmt: skip
    car = vehicle(line, drop=("lock", "unlock"))
    ohms = [{"id": f"r-{o}", "kind": "resistor", "ohm": o, "watt": 0.5, "price": 0.1, "count": 2}
            for o in (330, 360, 1000, 1300)]  # fmt: skip
    p = proven(job(car, shelf=stock(RELAY, HOOD, fuse(3), *ohms),
                   wants=("remote_start", "lock_unlock")))  # fmt: skip
    assert sorted(f.of for f in p.wiring.parts) in (["r-1300", "r-360"], ["r-1300", "r-330"])
    answer = plan(job(car, shelf=stock(RELAY, fuse(3)), wants=("lock_unlock",)))
    assert isinstance(answer, NoPlan)
    assert "355 ohm" in " ".join(answer.reasons)
    assert "resistor" in answer.resolve[0].do


def test_the_starter_is_cut_by_a_resting_contact():
    box = unit(small("armed", "armed_signal", suppressed=True))
    p = proven(job(box=box, wants=("remote_start", "starter_cut", "lock_unlock")))
    assert p.wiring.cuts == ["starter_1"]
    assert joined(p, "unit.start", "vehicle.starter_1.load")
    assert joined(p, "K1.87a", "vehicle.starter_1.source")


def test_an_armed_output_ends_at_a_relay_with_a_free_contact():
    box = unit(small("armed", "armed_signal", suppressed=True))
    p = proven(job(box=box, wants=("armed_output", "lock_unlock")))
    assert joined(p, "unit.armed", "K1.85")
    assert not any("K1.87" in e for r in p.wiring.runs for e in r.ends)


def test_signals_pull_in_relays_that_stand_in_for_the_key():
    box = unit(small("ign_sig", "ignition_signal", suppressed=True),
               power("ign", "ignition"), drop=("acc",))  # fmt: skip
    car = vehicle(key_fed("ign_2", "ignition", ["run", "start"], load_A=18.0), drop=("acc_1",))
    p = proven(job(car, box))
    kinds = sorted(f.of for f in p.wiring.parts)
    assert kinds == ["fuse-25", "relay"]


def test_one_relay_borrows_for_a_second_ignition():
    p = proven(job(vehicle(key_fed("ign_2", "ignition", ["run"], load_A=9.0))))
    assert [f.of for f in p.wiring.parts] == ["relay"]
    assert any("|borrow|" in k for k in p.made_of.values())


def test_a_pulse_that_is_too_short_is_refused():
    slow = hand("lock", "lock", "ground", 0.2, style="pulse", pulse_s=3.5)
    answer = plan(job(vehicle(slow), wants=("lock_unlock",)))
    assert isinstance(answer, NoPlan)
    assert "shorter than the 3.5 s" in " ".join(answer.reasons)


def test_a_level_chosen_by_a_setting_is_chosen():
    lamps = power("lamps", "parking_light", feed="feed_2", active_by="lamps_level",
                  limit_A={"battery": 10, "ground": 0.5}) | {"active": None}  # fmt: skip
    low = hand("lamps", "parking_light", "ground", 0.2)
    p = proven(job(vehicle(low), unit(lamps)))
    assert p.wiring.settings["lamps_level"] == "ground"
    assert p.score.parts == 0
    heavy = hand("lamps", "parking_light", "ground", 2.0)
    assert made(job(vehicle(heavy), unit(lamps))).score.parts > 0


# ---- interfaces -----------------------------------------------------------------------------

RING = {
    "id": "ring", "kind": "interface", "serves": ["transponder"], "model_fit": ["car"],
    "needs": {"power": "battery", "earth": "ground", "wake": "running_signal",
              "coil": "immobilizer"},
    "pins": {"power": "battery", "earth": "ground", "wake": "running_signal",
             "coil": "immobilizer", "spare": "data"},
    "price": 39, "count": 1, "limit_A": 1,
}  # fmt: skip
CODED = {"immobilizer": {"kind": "transponder"}}
READER = {"id": "reader", "function": "immobilizer", "place": "column"}


def test_an_interface_is_wired_at_every_pin_it_needs():
    j = job(vehicle(READER, **CODED), shelf=stock(RING, RELAY, HOOD, fuse(3)))
    p = proven(j)
    assert joined(p, "vehicle.reader", "X1.coil")
    assert joined(p, "unit.run_sig", "X1.wake")
    assert joined(p, "F1.b", "X1.power")
    assert not any("X1.spare" in e for r in p.wiring.runs for e in r.ends)
    assert any("571.114" in w for w in p.warnings)


@pytest.mark.parametrize(
    ("shelf", "said"),
    [
        (stock(RELAY, HOOD, fuse(3)), "no interface on the shelf"),
        (stock(RING | {"model_fit": ["another"]}, fuse(3)), "not made for this vehicle"),
        (stock(RING | {"serves": ["coded_data"]}, fuse(3)), "no interface on the shelf"),
    ],
)
def test_an_interface_that_does_not_fit_is_no_plan(shelf, said):
    answer = plan(job(vehicle(READER, **CODED), shelf=shelf))
    assert isinstance(answer, NoPlan)
    assert said in " ".join(answer.reasons)
    assert "interface for the transponder" in answer.resolve[0].do


def test_an_interface_without_the_circuit_it_needs_is_no_plan():
    answer = plan(job(vehicle(**CODED), shelf=stock(RING, fuse(3))))
    assert isinstance(answer, NoPlan)
    assert "ring.coil needs" in " ".join(answer.reasons)


def test_a_circuit_that_is_cut_lends_nothing():
    starter = key_fed("starter_1", "starter", ["start"], load_A=4.0, interlock="mechanical")
    car = vehicle(key_fed("acc_2", "accessory", ["run"], load_A=4.0), starter)
    box = unit(small("armed", "armed_signal", suppressed=True))
    plain = job(car, box)
    cut = job(car, box, wants=("remote_start", "starter_cut", "lock_unlock"))
    lent, kept = (problem_of(j, needs_of(j), Mend())[0].ways for j in (plain, cut))
    assert any("starter_1 opens" in w.says for w in lent)
    assert not any("starter_1 opens" in w.says for w in kept)
    proven(cut)


BUS = {"id": "tach", "function": "tach", "reach": "bus"}
DATA = {"id": "can_high", "function": "data", "place": "kick panel"}
BY_TIME = {"by": "engine_sense", "choices": ["tach", "timed"]}


def test_the_engine_s_speed_may_come_from_an_interface():
    needs = {"power": "battery", "earth": "ground", "wake": "running_signal", "bus": "data"}
    reader = RING | {"id": "reader", "serves": ["tach"], "needs": needs,
                     "pins": needs | {"speed": "tach"}}  # fmt: skip
    j = job(vehicle(BUS, DATA), unit(engine_signal=BY_TIME), stock(reader, RELAY, HOOD, fuse(3)))
    p = proven(j)
    assert joined(p, "X1.speed", "unit.tach_in")
    assert joined(p, "vehicle.can_high", "X1.bus")
    assert next(n for n in p.needs if n.id == "tach").met
    without = plan(job(vehicle(BUS, DATA), unit(engine_signal=BY_TIME)))
    assert isinstance(without, NoPlan)


def test_the_interface_of_the_key_may_give_the_speed_as_well():
    both = RING | {"pins": {**RING["pins"], "speed": "tach"}}
    j = job(vehicle(READER, BUS, **CODED), unit(engine_signal=BY_TIME),
            stock(both, RELAY, HOOD, fuse(3)))  # fmt: skip
    p = proven(j)
    assert joined(p, "X1.speed", "unit.tach_in")
    assert len([f for f in p.wiring.parts if f.of == "ring"]) == 1


def test_a_coded_step_is_made_up_of_resistors_in_series():
    """No single one on the shelf is near: a lock step of 330 beside 4700 takes about 355 ohm."""
    steps = {"rest": 4700, "lock": 330, "unlock": 1000}
    line = {"id": "line", "function": "lock", "also": ["unlock"], "style": "ladder",
            "steps_ohm": steps, "place": "column"}  # fmt: skip
    ohms = [{"id": f"r-{o}", "kind": "resistor", "ohm": o, "watt": 0.5, "price": 0.1, "count": 2}
            for o in (120, 680)]  # fmt: skip
    j = job(vehicle(line, drop=("lock", "unlock")), shelf=stock(RELAY, HOOD, fuse(3), *ohms),
            wants=("remote_start", "lock_unlock"))  # fmt: skip
    answer = plan(j)
    assert isinstance(answer, NoPlan)  # three of 120, and but two on the shelf
    assert "nor up to 3 in series, for the lock step of line" in answer.reasons[0]
    ohms[0]["count"] = 3
    p = proven(job(vehicle(line, drop=("lock", "unlock")),
                   shelf=stock(RELAY, HOOD, fuse(3), *ohms),
                   wants=("remote_start", "lock_unlock")))  # fmt: skip
    assert sorted(f.of for f in p.wiring.parts) == ["r-120", "r-120", "r-120", "r-680", "r-680"]


@pytest.mark.parametrize(
    ("active", "pull", "rest", "reads_it"),
    [("battery", "up", "ground", True), ("ground", "down", "battery", True),
     ("ground", "up", "ground", False), ("battery", "down", "battery", False)],
)  # fmt: skip
def test_a_contact_that_lets_go_is_told_by_the_input_s_own_pull(active, pull, rest, reads_it):
    hood = {"id": "hood", "function": "hood", "rest": rest, "active": "open", "place": "column"}
    box = unit(sense("hood_in", "hood", active, pull=pull))
    j = job(vehicle(hood), box, full_stock(hood_pin=0))
    if reads_it:
        assert joined(proven(j), "vehicle.hood", "unit.hood_in")
        return
    answer = plan(j)
    assert isinstance(answer, NoPlan)
    assert "does not tell hood at rest from hood let go" in answer.reasons[0]
