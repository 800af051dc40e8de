"""Outside its range a function says so; inside it grows the way nature does."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from startwright.physics import battery, bundle, drop, fuse, heat, relay, short, tach, wire
from startwright.records.vehicle import Engine
from startwright.reference import ampacities, conductors, fuses, regulations, workmanship

modest = settings(derandomize=True, deadline=None, max_examples=60)
SIZES = st.floats(0.15, 100)

REFUSED = [
    (wire.resistance_ohm, (0.01, 1)),
    (wire.resistance_ohm, (1, -1)),
    (wire.resistance_ohm, (1, 1, 400)),
    (wire.copper_factor, (300,)),
    (wire.ampacity_A, (300,)),
    (wire.ampacity_A, (1, 50)),
    (wire.ampacity_A, (1, 105, 105)),
    (wire.ampacity_A, (1, 105, 30, 0)),
    (wire.ambient_factor, (30, 20)),
    (wire.awg_to_mm2, ("41",)),
    (wire.awg_to_mm2, ("banana",)),
    (wire.awg_to_mm2, (24, "sae")),
    (wire.mm2_to_awg_label, (110,)),
    (wire.ohm_per_m, (30, 20, "iso6722")),
    (wire.solid_ohm_per_m, (1, 20, 0)),
    (wire.temperature_C, (-1, 1)),
    (wire.temperature_C, (500, 1)),
    (wire.temperature_C, (1, 1, 200)),
    (heat.air, (100,)),
    (heat.convection_W_m2K, (0.003, 20, 30)),
    (heat.convection_W_m2K, (3, 60, 30)),
    (fuse.opening_time_s, (10, -1)),
    (fuse.opening_time_s, (200, 10)),
    (fuse.opening_time_s, (30, 1500)),
    (fuse.gates, ("slow",)),
    (fuse.holds, (10, 5, -1)),
    (fuse.choose_fuse, (0, 1)),
    (fuse.choose_fuse, (30, 0.5)),
    (fuse.choose_fuse, (70, 50)),
    (fuse.choose_fuse, (5, 1, 105, 30, 1, 1.5)),
    (short.prospective_A, (12, 0)),
    (short.adiabatic_k, (160, 70)),
    (short.final_C, (40,)),
    (short.withstand_s, (1, 0, 115)),
    (short.withstand_A, (1, 6, 115)),
    (short.preece_A, (20,)),
    (short.onderdonk_A, (1, 20)),
    (short.dead_short, (10, 1, 0)),
    (drop.drop_V, (-1, 1, 1)),
    (drop.cmil_for_drop, (1, 1, 0)),
    (drop.size_for_drop_mm2, (100, 100, 0.1)),
    (drop.faa_temperature_C, (105, 30, 1, 2)),
    (drop.faa_length_m, (-1, 20)),
    (relay.coil_ohm, (0, 20)),
    (relay.pull_in_at_V, (0,)),
    (relay.coil_A, (80, -1)),
    (relay.suppressed_peak_V, (12, 80, "none")),
    (relay.release_ms, (12, 80, 13, "diode")),
    (relay.release_ms, (12, 80, 3, "resistor")),
    (relay.contact_limit_A, (40, "85")),
    (relay.contact_limit_A, (0, "87")),
    (battery.open_circuit_V, (1.2,)),
    (battery.open_circuit_V, (0.5, 90)),
    (battery.charge_from_V, (3,)),
    (battery.internal_ohm, (10,)),
    (battery.load_test_A, (0,)),
    (battery.peukert_h, (60, 20, 5, 3)),
    (battery.days_to_half, (60, 0)),
    (battery.minutes_to_earn_back, (-1,)),
    (battery.current_from_fuse_mA, (-1, 10)),
    (tach.frequency_hz, (-1, Engine())),
    (tach.frequency_hz, (800, Engine(), 0)),
    (tach.rpm_from_hz, (-1, Engine())),
    (tach.pulses_per_rev, (Engine(), "lamp")),
    (bundle.diameter_mm, ([],)),
    (bundle.diameter_mm, ([1, 0],)),
    (bundle.diameter_mm, ([1.0] * 501,)),
    (bundle.rule_mm, ([],)),
    (ampacities.table_ampacity_A, (20, 105)),
    (ampacities.table_ampacity_A, (10, 100)),
    (ampacities.engine_space_factor, (50,)),
    (ampacities.bundle_factor, (3, "mine")),
    (conductors.insulation_range_C, ("Z",)),
    (conductors.stranded_ohm_per_kft_75C, (30,)),
    (conductors.tinned_max_ohm_per_km, (3,)),
    (conductors.aircraft_wire, (40,)),
    (conductors.max_ohm_per_km, ("din",)),
    (fuses.colour, (12,)),
    (fuses.cold_ohm, (0.5,)),
    (workmanship.pull_out_lbf, (40,)),
    (workmanship.breaking_lbf, (0,)),
    (workmanship.asked, ("nothing",)),
    (workmanship.packing_factor, (0,)),
    (workmanship.sizing_factor, (2,)),
    (regulations.regulation, ("none",)),
    (regulations.bus_level, ("can", "none")),
]


@pytest.mark.parametrize(
    ("function", "arguments"), REFUSED, ids=[f"{f.__name__}{a}" for f, a in REFUSED]
)
def test_outside_the_range_it_says_so(function, arguments):
    with pytest.raises(ValueError, match=r"\w{3}"):
        function(*arguments)


@modest
@given(SIZES, SIZES)
def test_more_copper_never_carries_less(a, b):
    a, b = sorted((a, b))
    assert wire.ampacity_A(a) <= wire.ampacity_A(b) + 1e-9
    assert wire.ohm_per_m(a) >= wire.ohm_per_m(b) - 1e-12


@modest
@given(SIZES, st.floats(60, 250), st.floats(-40, 55), st.integers(1, 40))
def test_warmer_or_bundled_never_carries_more(size, insulation, ambient, wires):
    here = wire.ampacity_A(size, insulation, ambient, wires)
    assert here <= wire.ampacity_A(size, insulation, ambient, 1) + 1e-9
    assert wire.ampacity_A(size, insulation, ambient + 4, wires) <= here + 1e-9


@modest
@given(st.floats(0.2, 25), st.floats(0.01, 1.0))
def test_the_table_current_never_overheats_the_wire(size, share):
    """The rating is reached, by the independent balance, at no less than the table's current."""
    most = wire.ampacity_A(size)
    assert wire.temperature_C(share * most, size) <= 106
    assert wire.temperature_C(share * most, size) >= 30


@modest
@given(st.floats(0.15, 100), st.sampled_from(["iso6722", "iec60228"]))
def test_the_cautious_resistance_is_the_larger(size, standard):
    try:
        listed = wire.ohm_per_m(size, standard=standard)
    except ValueError:
        return
    assert wire.ohm_per_m(size) >= listed - 1e-15


@modest
@given(st.sampled_from([f.rating_A for f in fuses.ratings()]), st.floats(0.1, 8), st.floats(0.1, 8))
def test_more_current_never_opens_later(rating, a, b):
    low, high = sorted((a, b))
    slow = fuse.opening_time_s(rating, low * rating)
    fast = fuse.opening_time_s(rating, high * rating)
    assert slow[0] >= fast[0]
    assert slow[1] >= fast[1]
    assert fast[0] < fast[1]


@modest
@given(st.sampled_from([5.0, 15.0, 30.0, 60.0]), st.floats(0.1, 6), st.floats(0, 1e4))
def test_holding_is_the_earliest_opening(rating, times, seconds):
    earliest = fuse.opening_time_s(rating, times * rating)[0]
    assert fuse.holds(rating, times * rating, seconds) == (seconds <= earliest)


def test_holding_for_good():
    assert fuse.holds(10, 11, inf)
    assert not fuse.holds(10, 12, inf)
    assert not fuse.holds(10, 2000, 0.001)


@modest
@given(st.floats(0.2, 40), st.floats(0.5, 16))
def test_a_chosen_fuse_carries_and_protects(load, size):
    try:
        rating = fuse.choose_fuse(load, size)
    except ValueError:
        assert load / 0.75 > 0.5 * wire.ampacity_A(size)
        return
    assert load <= 0.75 * rating + 1e-9
    assert rating <= wire.ampacity_A(size) + 1e-9


@modest
@given(st.floats(100, 1000), st.floats(-35, 45), st.floats(0.05, 1.0))
def test_batteries_weaken_with_cold_and_discharge(cca, at, charge):
    ohm = battery.internal_ohm(cca, at, charge)
    assert battery.internal_ohm(cca, at - 3, charge) >= ohm
    assert battery.internal_ohm(cca, at, charge - 0.05) >= ohm
    assert battery.internal_ohm(cca, at, charge, weak=True) > ohm


@modest
@given(st.floats(0.05, 1.0), st.floats(-17, 48))
def test_voltage_and_charge_are_each_others_reverse(charge, at):
    volts = battery.open_circuit_V(charge, at)
    assert battery.charge_from_V(volts, at) == pytest.approx(charge, abs=1e-9)


def test_awg_names():
    assert [conductors.awg_name(conductors.awg_number(n)) for n in ("4/0", "0000", "0", "18")] == [
        "4/0",
        "4/0",
        "1/0",
        "18",
    ]
    for size in wire.SIZES_MM2:
        number = wire.mm2_to_awg_label(size).removesuffix(" AWG")
        listed = next(s for s in conductors.sae_sizes() if s.awg == number)
        assert listed.nominal_mm2 >= size
    for n in range(0, 27):
        assert wire.mm2_to_awg_label(wire.awg_to_mm2(n)) == f"{conductors.awg_name(n)} AWG"


def test_a_short_beyond_the_fuse_is_not_called_cleared():
    got = short.dead_short(30, 4.0, 1500)
    assert not got.holds
    assert "break" in got.says
    weak = short.dead_short(30, 4.0, 35)
    assert not weak.holds
    assert "135 %" in weak.says
