"""One question alone, and both curves of fuse and wire."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from startwright.physics.fuse import opening_time_s
from startwright.physics.short import adiabatic_k, withstand_s
from startwright.physics.wire import ampacity_A, resistance_ohm
from startwright.records import RecordError
from startwright.size import curves, single
from startwright.size.single import damage_s


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.floats(0.1, 40), st.floats(0.1, 8), st.sampled_from([0.03, 0.1]))
def test_what_is_chosen_keeps_every_limit(load_A, length_m, share):
    got = single(load_A, length_m, max_drop_share=share)
    size = got["size_mm2"]
    assert ampacity_A(size) >= load_A
    assert load_A * resistance_ohm(size, length_m) <= share * 12
    assert got["drop_share"] <= share + 1e-5
    assert load_A <= 0.75 * got["fuse_A"] + 1e-9
    assert got["fuse_A"] <= ampacity_A(size) + 1e-9


def test_the_published_pump():
    """ABYC's 10 A pump over 21 ft: 6,271 cmil; in SAE wire that is 10 AWG."""
    got = single(10, 21 * 0.3048)
    assert got["awg"] == "10 AWG"
    assert got["because"] == "drop"


def test_no_fuse_asked():
    assert single(3, 1, fuse=False)["fuse_A"] is None


@pytest.mark.parametrize(
    ("load", "length", "more"),
    [
        (0, 1, {}),
        (5, 0, {}),
        (5, 1, {"max_drop_share": 0.9}),
        (300, 2, {}),
        (5, 1, {"ambient_C": 120.0}),
        (20, 90, {}),
    ],
)
def test_what_cannot_be_is_refused(load, length, more):
    with pytest.raises(RecordError):
        single(load, length, **more)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        (name, value)
        for name, bad in {
            "load_A": (-1, 0, 1e9, float("nan"), float("inf")),
            "length_m": (-1, 0, 1e9, float("nan")),
            "max_drop_share": (-0.1, 0, 3, float("nan")),
            "insulation_C": (-5, 0, 59, 500, float("nan")),
            "ambient_C": (-300, 105, 400, float("nan")),
            "bundled": (0, -1, 10**6),
        }.items()
        for value in bad
    ],
)
def test_an_odd_value_is_named_with_what_would_be_right(name, value):
    asked = {"load_A": 10, "length_m": 2, name: value}
    with pytest.raises(RecordError) as caught:
        single(**asked)
    assert caught.value.where == name
    assert " to " in caught.value.expected


def test_curves_hold_the_published_gates():
    got = curves(20, 2.5)
    at_double = next(r for r in got["fuse"] if r["amps_A"] == 40)
    assert (at_double["opens_min_s"], at_double["opens_max_s"]) == (0.15, 5.0)
    assert got["fuse"][0]["opens_max_s"] is None
    seconds = [r["survives_s"] for r in got["wire"]]
    assert seconds == sorted(seconds, reverse=True)


def test_the_wire_curve_is_adiabatic_at_the_short_end():
    adiabatic = withstand_s(1.0, 600, adiabatic_k(70, 160))
    assert damage_s(1.0, 600) == pytest.approx(adiabatic, rel=0.02)
    assert damage_s(1.0, 40) > withstand_s(1.0, 40, adiabatic_k(70, 160))


@pytest.mark.parametrize(("rating", "size"), [(25, 0.5), (40, 1.0), (30, 0.75)])
def test_a_fuse_too_large_crosses_the_wire(rating, size):
    got = curves(rating, size)
    assert not got["protected"]
    assert any(
        damage_s(size, a) < opening_time_s(rating, a)[1] for a in (1.35 * rating, 1.6 * rating)
    ) or rating > ampacity_A(size)


def test_curves_refuse_what_is_no_fuse():
    with pytest.raises(RecordError):
        curves(200, 2.5)
