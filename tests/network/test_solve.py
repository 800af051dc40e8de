"""Volts and amps of small networks that can be worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from network.laws import assert_laws

from startwright.network.elements import Builder, Network, Resistor
from startwright.network.solve import SolveError, closed_by, solve


def divider() -> Network:
    b = Builder()
    b.hold("battery")
    b.hold("ground")
    b.contact("key", "battery", "fed", "key", [False, True], ohm=0.01)
    b.resistor("wire", "fed", "lamp", 0.09)
    b.resistor("filament", "lamp", "ground", 5.9)
    return b.build()[0]


def test_a_lamp_behind_a_key() -> None:
    net = divider()
    closed = closed_by(net, {"key": np.array([0, 1, 0])})
    got = solve(net, closed, [12.0, 0.0])
    assert_laws(net, closed, np.array([12.0, 0.0]), got)
    assert got.resistor_A[:, 1] == pytest.approx([0.0, 2.0, 0.0])
    assert got.node_V[1, net.node("lamp")] == pytest.approx(11.8)
    assert got.node_V[0, net.node("fed")] == pytest.approx(0.0)
    assert got.contact_A[1, 0] == pytest.approx(2.0)
    assert not got.floating.any()
    assert not got.shorted.any()


def test_held_volts_may_differ_by_state() -> None:
    net = divider()
    held = np.array([[12.0, 0.0], [9.0, 0.0], [14.4, 1.0]])
    closed = np.ones((3, 1), dtype=bool)
    got = solve(net, closed, held)
    assert_laws(net, closed, held, got)
    assert got.contact_A[:, 0] == pytest.approx([2.0, 1.5, 13.4 / 6.0])


def test_a_diode_follows_shockley() -> None:
    b = Builder()
    b.hold("battery")
    b.hold("ground")
    b.resistor("series", "battery", "a", 10.0)
    b.diode("d", "a", "ground", saturation_A=2e-9, emission=1.7, series_ohm=0.05)
    net, _ = b.build()
    closed = np.zeros((1, 0), dtype=bool)
    got = solve(net, closed, [12.0, 0.0])
    assert_laws(net, closed, np.array([12.0, 0.0]), got)
    amp = got.diode_A[0, 0]
    junction = 1.7 * 0.025852 * math.log(amp / 2e-9 + 1.0)
    assert amp * 10.05 + junction == pytest.approx(12.0, rel=1e-9)


def test_a_blocking_diode_keeps_a_back_feed_out() -> None:
    b = Builder()
    b.hold("battery")
    b.hold("ground")
    b.diode("d", "a", "battery")
    b.resistor("load", "a", "ground", 1000.0)
    net, _ = b.build()
    closed = np.zeros((1, 0), dtype=bool)
    got = solve(net, closed, [12.0, 0.0])
    assert_laws(net, closed, np.array([12.0, 0.0]), got)
    assert got.diode_A[0, 0] == pytest.approx(-1e-9 - 12e-12, rel=1e-4)


def test_what_floats_has_no_volts_unless_it_may_leak() -> None:
    b = Builder()
    b.hold("battery")
    b.hold("ground")
    b.contact("k", "battery", "x", "k", [False, True])
    b.resistor("between", "x", "y", 3.0)
    net, _ = b.build()
    closed = closed_by(net, {"k": [0, 1]})
    got = solve(net, closed, [12.0, 0.0])
    assert_laws(net, closed, np.array([12.0, 0.0]), got)
    assert got.floating.tolist() == [[False, False, True, True], [False] * 4]
    assert np.isnan(got.node_V[0, 2:]).all()
    leaky = solve(net, closed, [12.0, 0.0], leak_S=1e-9)
    assert_laws(net, closed, np.array([12.0, 0.0]), leaky, leak_S=1e-9)
    assert leaky.node_V[0, 2:] == pytest.approx([6.0, 6.0])
    elsewhere = solve(net, closed, [12.0, 0.0], leak_S=1e-9, leak_to_V=[5.0, 7.0])
    assert elsewhere.node_V[0, 2:] == pytest.approx([5.0, 5.0])
    assert np.array_equal(leaky.floating, got.floating)


def test_a_short_is_told_from_a_load() -> None:
    b = Builder()
    for name in ("battery", "feed", "ground"):
        b.hold(name)
    b.contact("k1", "battery", "x", "k1", [False, True])
    b.resistor("wire", "x", "y", 0.02)
    b.contact("k2", "y", "ground", "k2", [False, True])
    b.contact("k3", "battery", "feed", "k3", [False, True])
    b.resistor("load", "x", "ground", 0.11)
    net, _ = b.build()
    table = [[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0], [0, 0, 1]]
    closed = np.array(table, dtype=bool)
    got = solve(net, closed, [12.0, 12.0, 0.0])
    assert_laws(net, closed, np.array([12.0, 12.0, 0.0]), got)
    assert got.shorted.tolist() == [False, False, False, True, False]
    assert got.contact_A[3, 1] == pytest.approx((12.0 - got.contact_A[3, 0] * 0.005) / 0.025)
    apart = solve(net, closed, [14.4, 12.0, 0.0])
    assert apart.shorted.tolist() == [False, False, False, True, True]
    strict = solve(net, closed, [12.0, 12.0, 0.0], short_ohm=0.12)
    assert strict.shorted.tolist() == [False, True, False, True, False]


def test_a_short_runs_through_a_diode_one_way_only() -> None:
    b = Builder()
    b.hold("battery")
    b.hold("ground")
    b.diode("d", "x", "ground")
    b.contact("k", "battery", "x", "k", [False, True])
    net, _ = b.build()
    closed = closed_by(net, {"k": [0, 1]})
    assert solve(net, closed, [12.0, 0.0]).shorted.tolist() == [False, True]
    assert solve(net, closed, [-12.0, 0.0]).shorted.tolist() == [False, False]


def test_a_wire_of_no_ohms_works() -> None:
    net = Network(
        ("battery", "ground", "a", "b"),
        (0, 1),
        (
            Resistor("in", 0, 2, 1.0),
            Resistor("none", 2, 3, 0.0),
            Resistor("none too", 3, 2, 0.0),
            Resistor("out", 3, 1, 3.0),
        ),
    )
    closed = np.zeros((1, 0), dtype=bool)
    got = solve(net, closed, [12.0, 0.0])
    assert_laws(net, closed, np.array([12.0, 0.0]), got)
    assert got.node_V[0, 2:] == pytest.approx([9.0, 9.0], abs=1e-5)
    assert got.resistor_A[0] == pytest.approx([3.0, 1.5, -1.5, 3.0], rel=1e-6)


def test_equal_states_get_equal_answers() -> None:
    net = divider()
    closed = np.random.default_rng(3).random((5000, 1)) < 0.5
    got = solve(net, closed, [12.0, 0.0])
    assert set(np.unique(got.contact_A[closed[:, 0], 0])) == {got.contact_A[closed[:, 0]][0, 0]}


def test_no_states_no_answers() -> None:
    got = solve(divider(), np.zeros((0, 1), dtype=bool), [12.0, 0.0])
    assert got.node_V.shape == (0, 4)
    assert got.shorted.shape == (0,)


@pytest.mark.parametrize(
    ("closed", "held", "options", "says"),
    [
        (np.zeros((2, 3), dtype=bool), [12.0, 0.0], {}, r"\(states, 1\) would be right"),
        (np.zeros((2, 1), dtype=bool), [12.0], {}, r"held_V has shape \(1,\)"),
        (np.zeros((2, 1), dtype=bool), [12.0, math.nan], {}, "no number"),
        (np.zeros((2, 1), dtype=bool), [12.0, 0.0], {"leak_S": -1.0}, "leak_S is -1"),
    ],
)
def test_a_question_that_is_none_is_refused(closed, held, options, says) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(SolveError, match=says):
        solve(divider(), closed, held, **options)


def test_controls_are_checked() -> None:
    net = divider()
    with pytest.raises(SolveError, match="'key' has no value"):
        closed_by(net, {})
    with pytest.raises(SolveError, match=r"0\.\.1 would be right"):
        closed_by(net, {"key": [0, 2]})
    assert closed_by(net, {"key": 1}).tolist() == [[True]]


def test_a_state_that_does_not_settle_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    b = Builder()
    b.hold("battery")
    b.hold("ground")
    b.contact("K7", "battery", "x", "k", [False, True])
    b.diode("d", "x", "y")
    b.resistor("load", "y", "ground", 6.0)
    net, _ = b.build()
    monkeypatch.setattr("startwright.network.newton.ROUNDS", 2)
    with pytest.raises(SolveError, match=r"closed contacts \['K7'\] and battery 12 V, ground 0 V"):
        solve(net, np.ones((1, 1), dtype=bool), [12.0, 0.0])
