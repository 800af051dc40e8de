"""A wiring that holds, and one spoilt thing at a time that must be found, with words to act on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from size.small import RUNS, job, row, wiring

from startwright.physics.wire import ampacity_A, resistance_ohm
from startwright.records import RecordError, Wiring
from startwright.size import size

SOUND = size(job(), wiring())


def test_a_careful_wiring_holds():
    assert SOUND.verdict == "holds", SOUND.worst
    assert {r["id"] for r in SOUND.runs} == {r["id"] for r in RUNS}
    assert all(r["holds"] and r["says"] and r["source"] for r in SOUND.runs + SOUND.fuses)
    assert SOUND.worst == []


def test_it_is_one_json_document():
    text = SOUND.model_dump_json()
    assert set(json.loads(text)) >= {"verdict", "runs", "fuses", "contacts", "starting", "parked"}
    assert "Infinity" not in text
    assert "NaN" not in text


def test_amps_by_hand():
    """Ignition alone (the lamps lit by hand): battery, fuse, feed, contact, wire, load in a row."""
    amps = row(SOUND.runs, "ign")["amps_A"]
    load = 14.4 / 12
    own = resistance_ohm(2.5, 0.7) + 0.005
    shared = 1e-3 + resistance_ohm(4.0, 0.75) + 0.004
    assert amps == pytest.approx(14.4 / (load + own + shared), rel=0.002)
    assert row(SOUND.runs, "feed")["amps_A"] > amps + 9


def test_loading_is_amps_over_ampacity():
    one = row(SOUND.runs, "ign")
    assert one["ampacity_A"] == pytest.approx(ampacity_A(2.5, 105, 30, one["bundled"]), abs=0.01)
    assert one["loading"] == pytest.approx(one["amps_A"] / one["ampacity_A"], rel=0.01)
    assert 30 < one["temperature_C"] < 60


def test_rows_stand_worst_first():
    loads = [r["loading"] for r in SOUND.runs]
    assert loads == sorted(loads, reverse=True)


def test_heat_of_the_place_counts():
    warm = size(job(), wiring(), ambient_C=60)
    assert row(warm.runs, "ign")["ampacity_A"] < 0.8 * row(SOUND.runs, "ign")["ampacity_A"]


def test_a_thin_wire_is_found_and_a_size_named():
    got = size(job(), wiring({"feed": {"size_mm2": 1.0}, "tap": {"size_mm2": 1.0}}))
    assert got.verdict == "fails"
    thin = row(got.runs, "feed")
    assert not thin["holds"]
    assert "take" in thin["says"]
    better = {"feed": {"size_mm2": thin["needs_mm2"]}, "tap": {"size_mm2": thin["needs_mm2"]}}
    again = size(job(), wiring(better))
    assert row(again.runs, "feed")["loading"] <= 1


def test_a_long_wire_drops_too_much_and_the_named_size_mends_it():
    got = size(job(), wiring({"ign": {"length_m": 6.0}}))
    one = row(got.runs, "ign")
    assert not one["holds"]
    assert one["load_drop_share"] > 0.03
    assert "ign" in one["says"]
    mended = size(job(), wiring({"ign": {"length_m": 6.0, "size_mm2": one["needs_mm2"]}}))
    assert row(mended.runs, "ign")["holds"], row(mended.runs, "ign")["says"]


def test_a_fuse_larger_than_its_wire():
    parts = [{"id": "F1", "of": "fuse-40"}]
    got = size(job(), wiring({"feed": {"size_mm2": 2.5}}, parts=parts))
    fuse = row(got.fuses, "F1")
    assert not fuse["holds"]
    assert "feed" in fuse["thin"]
    assert "does not protect feed" in fuse["says"]
    assert fuse["needs_mm2"] is not None


def test_a_fuse_that_its_load_opens():
    got = size(job(), wiring(parts=[{"id": "F1", "of": "fuse-15"}]))
    fuse = row(got.fuses, "F1")
    assert not fuse["holds"]
    assert fuse["share"] > 0.75
    assert fuse["needs_A"] == 25 or fuse["needs_A"] == 20


def test_a_fixed_load_behind_a_larger_fuse_stands_with_a_caution():
    parts = [{"id": "F1", "of": "fuse-30"}]
    got = size(job(), wiring({"lights": {"size_mm2": 1.0}}, parts=parts))
    fuse = row(got.fuses, "F1")
    assert fuse["holds"], fuse["says"]
    assert "would be better" in fuse["says"]
    worse = size(job(), wiring({"lights": {"size_mm2": 0.75}}, parts=parts))
    assert "lights" in row(worse.fuses, "F1")["thin"]


def test_a_short_that_the_fuse_is_too_slow_for():
    """A signal wire needs no overload protection, but a short must not burn it."""
    relay = [{"id": "K1", "of": "relay"}]
    runs = [
        {"id": "coil", "from": "F1.b", "to": "K1.86", "size_mm2": 0.2, "length_m": 0.5},
        {"id": "sig", "from": "K1.85", "to": "unit.sig", "size_mm2": 0.5, "length_m": 0.5},
    ]
    got = size(job(), wiring(more=runs, parts=[{"id": "F1", "of": "fuse-25"}, *relay]))
    fuse = row(got.fuses, "F1")
    assert not fuse["holds"]
    assert fuse["thin"] == ["coil"]
    assert fuse["clears_s"] > fuse["survives_s"]


def test_an_unfused_feed():
    plain = job()
    circuits = [
        c.model_copy(update={"fuse_A": None}) if c.id == "batt" else c
        for c in plain.vehicle.circuits
    ]
    bare = plain.model_copy(
        update={"vehicle": plain.vehicle.model_copy(update={"circuits": circuits})}
    )
    assert size(bare, wiring()).verdict == "holds", "15 cm before the fuse are allowed"
    direct = [
        {"id": "feed", "from": "vehicle.batt", "to": "unit.feed", "size_mm2": 4.0, "length_m": 0.6}
    ]
    got = size(bare, wiring(more=direct, parts=[], drop=("tap", "feed")))
    assert not row(got.runs, "feed")["holds"]
    assert "no fuse" in row(got.runs, "feed")["says"]
    assert any("fuse_A" in n or "fuse" in n for n in got.notes)


def fused_car(amps: float):
    plain = job()
    circuits = [
        c.model_copy(update={"fuse_A": amps}) if c.id == "batt" else c
        for c in plain.vehicle.circuits
    ]
    return plain.model_copy(
        update={"vehicle": plain.vehicle.model_copy(update={"circuits": circuits})}
    )


@pytest.mark.parametrize("amps", [60.0, 80.0, 150.0])
def test_a_large_main_fuse_asks_for_a_fuse_near_the_tap(amps):
    assert size(fused_car(amps), wiring()).verdict == "holds", "15 cm to F1 are allowed"
    got = size(fused_car(amps), wiring({"tap": {"length_m": 1.0}}))
    assert got.verdict == "fails"
    fuse = row(got.fuses, "the car's fuse of batt")
    assert fuse["thin"] == ["tap"]
    json.loads(got.model_dump_json())


def test_missing_sizes_and_lengths_are_assumed_and_said():
    got = size(job(), wiring({"ign": {"size_mm2": None, "length_m": None}}))
    one = row(got.runs, "ign")
    assert one["size_mm2"] == 2.5
    assert any("ign 2.5 mm²" in n for n in got.notes)
    assert any("ign 1 m" in n for n in got.notes)


@pytest.mark.parametrize(
    ("key", "value"), [("ambient_C", 300.0), ("battery_C", -80.0), ("charge", 1.5)]
)
def test_values_out_of_range_are_refused(key, value):
    with pytest.raises(RecordError, match=key):
        size(job(), wiring(), **{key: value})


def test_a_size_that_is_no_wire_is_refused():
    with pytest.raises(RecordError, match="size_mm2"):
        size(job(), wiring({"ign": {"size_mm2": 400.0}}))


def test_an_empty_wiring_is_answered():
    got = size(job(), Wiring.model_validate({"format": "startwright/wiring/1", "runs": []}))
    assert got.runs == []
    assert got.starting["says"]


def test_a_dead_short_is_never_called_sound():
    runs = [
        {"id": "bad", "from": "unit.feed", "to": "ground.brace", "size_mm2": 1.0, "length_m": 0.5}
    ]
    got = size(job(), wiring(more=runs))
    assert got.verdict == "fails"
    assert not row(got.runs, "bad")["holds"]


def test_every_key_is_documented():
    text = (Path(__file__).parents[2] / "docs" / "size.md").read_text(encoding="utf-8")
    rows = [*SOUND.runs, *SOUND.fuses, *SOUND.contacts, SOUND.starting, SOUND.parked]
    rows += SOUND.starting["table"]
    keys = {k for r in rows for k in r}
    missing = sorted(k for k in keys if f"`{k}`" not in text)
    assert not missing, f"docs/size.md does not name {missing}"


def test_a_run_drops_by_its_own_warm_resistance():
    from startwright.physics.wire import temperature_C

    one = row(SOUND.runs, "feed")
    cold = one["amps_A"] * resistance_ohm(4.0, 0.6)
    alone = temperature_C(one["amps_A"], 4.0)
    assert one["drop_V"] > 1.02 * cold
    assert one["drop_V"] >= one["amps_A"] * resistance_ohm(4.0, 0.6, alone) * 0.999


def test_a_load_that_only_key_and_hand_together_put_on():
    """A coil between ignition and the hood switch works with the key in run and the hood open."""
    runs = [
        {"id": "coil", "from": "vehicle.ign", "to": "K1.86", "size_mm2": 0.75, "length_m": 0.4},
        {"id": "pin", "from": "K1.85", "to": "vehicle.hood", "size_mm2": 0.75, "length_m": 0.4},
    ]
    parts = [{"id": "F1", "of": "fuse-25"}, {"id": "K1", "of": "relay"}]
    got = size(job(), wiring(more=runs, parts=parts, drop=("ign",)))
    coil = row(got.runs, "coil")
    assert coil["amps_A"] == pytest.approx(14.4 / 85, rel=0.02)
    assert coil["state"] == "key run, hood open"


def test_a_dead_short_is_named_first_and_never_sized():
    """Battery to ground over half a metre: no amps, no days, no volts, and no larger wire."""
    runs = [
        {"id": "bad", "from": "unit.feed", "to": "ground.brace", "size_mm2": 1.0, "length_m": 0.5}
    ]
    got = size(job(), wiring(more=runs))
    assert got.verdict == "fails"
    assert "without a load (key out) by tap, feed, bad" in got.worst[0]
    joined = {r["id"] for r in got.runs if "joins battery and ground" in r["says"]}
    assert joined == {"tap", "feed", "bad"}
    assert [r["id"] in joined for r in got.runs[:4]] == [True, True, True, False]
    assert all(r["amps_A"] == 0 and r["needs_mm2"] is None for r in got.runs)
    assert all(f["load_A"] == 0 and f["peak_A"] == 0 for f in got.fuses)
    for key in ("wiring_mA", "total_mA", "days_to_half", "start_Ah", "minutes_to_earn_back"):
        assert got.parked[key] is None
    assert not got.parked["holds"]
    assert got.starting["shorted"]
    assert got.starting["unit_V"] is None
    assert not got.starting["holds"]
    assert any("dead short: no amps" in n for n in got.notes)


@pytest.mark.parametrize(("size_mm2", "length_m"), [(0.5, 6.0), (0.22, 15.0), (0.1, 20.0)])
def test_a_short_through_a_long_thin_wire_is_a_short_and_no_overload(size_mm2, length_m):
    """0.2 to 4 ohm of wire and nothing else: a thicker wire would only burn the next thing."""
    bad = {"id": "bad", "from": "unit.feed", "to": "ground.brace"}
    got = size(job(), wiring(more=[{**bad, "size_mm2": size_mm2, "length_m": length_m}]))
    assert "without a load (key out) by tap, feed, bad:" in got.worst[0]
    assert not any("take" in w for w in got.worst)
    assert "joins battery and ground" in row(got.runs, "bad")["says"]
    assert row(got.runs, "bad")["needs_mm2"] is None
    assert "joins battery and ground" not in row(got.runs, "ign")["says"]


def test_a_short_in_one_state_is_named_beside_the_loads_that_stand_then():
    """The lights output on the body through 2 ohm of wire, while the ignition draws its 12 A."""
    got = size(job(), wiring({"lights": {"to": "ground.brace", "size_mm2": 0.1, "length_m": 10}}))
    joined = {r["id"] for r in got.runs if "joins battery and ground" in r["says"]}
    assert joined == {"tap", "feed", "lights"}


def test_a_load_of_two_hundred_amperes_is_no_short():
    """0.072 ohm, less than the usual limit: it is too much for the wire, and is said so."""
    plain = job()
    circuits = [
        c.model_copy(update={"load_A": 200.0}) if c.id == "ign" else c
        for c in plain.vehicle.circuits
    ]
    vehicle = plain.vehicle.model_copy(update={"circuits": circuits})
    got = size(plain.model_copy(update={"vehicle": vehicle}), wiring())
    assert row(got.runs, "ign")["amps_A"] > 100
    assert not any("without a load" in w for w in got.worst)


def test_a_short_in_some_states_leaves_the_others_sized():
    """The ignition output on the body: the lamps, lit with the key out, draw their 3 A."""
    got = size(job(), wiring({"ign": {"to": "ground.brace"}}))
    assert "by tap, feed, ign" in got.worst[0]
    assert max(r["amps_A"] for r in got.runs) < 40
    assert row(got.runs, "lights")["amps_A"] == pytest.approx(3.0, rel=0.02)
    assert got.parked["holds"]
    assert got.parked["start_Ah"] is None
    assert got.starting["shorted"]


def test_an_unrecorded_load_is_said():
    plain = job()
    circuits = [
        c.model_copy(update={"load_A": None}) if c.id in ("ign", "lamps") else c
        for c in plain.vehicle.circuits
    ]
    vehicle = plain.vehicle.model_copy(update={"circuits": circuits})
    got = size(plain.model_copy(update={"vehicle": vehicle}), wiring())
    assert any("no load is recorded for ign:" in n for n in got.notes)
    assert any("no load is recorded for lamps:" in n for n in got.notes)
    assert not any("no load" in n for n in SOUND.notes)
    assert row(got.runs, "ign")["load_drop_V"] is not None


def test_never_a_larger_fuse_in_the_car():
    got = size(fused_car(10.0), wiring())
    fuse = row(got.fuses, "the car's fuse of batt")
    assert not fuse["holds"]
    assert fuse["needs_A"] is None
    assert "never put a larger fuse into the car" in fuse["says"]


def test_without_its_feed_the_unit_is_fed_backwards_by_the_lamp_switch():
    """Nothing but the solver finds this: the lamps' run feeds ignition through the unit."""
    got = size(job(), wiring(parts=[], drop=("tap", "feed")))
    assert not row(got.contacts, "unit.lights")["holds"]
    assert any("not connected" in c for c in got.starting["cautions"])
