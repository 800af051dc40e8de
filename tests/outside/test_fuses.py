"""Blade fuses: colours, opening-time gates, share of load, cold resistance."""

from __future__ import annotations

from math import inf

import pytest
from outside.published import agree, ids, starting, table

from startwright.physics import battery, fuse
from startwright.reference import fuses
from startwright.reference.regulations import regulation

FUSES = table("fuses")


@pytest.mark.parametrize("row", starting("fuses", "c.blade.colour"), ids=ids)
def test_blade_colours(row):
    agree(row, fuses.colour(float(row["inputs"]["rating_a"])))


def test_maxi_colours():
    row = FUSES["c.maxi.colour"]
    agree(row, {a: fuses.colour(float(a), "maxi") for a in row["value"]})


def test_holds_a_hundred_hours_at_110_percent():
    hours = FUSES["c.gate.110"]["value"]
    assert fuse.opening_time_s(10, 11)[0] == hours * 3600
    assert fuse.holds(10, 11, inf)
    assert not fuse.holds(10, 11.1, inf)


@pytest.mark.parametrize(
    "row",
    [r for r in starting("fuses", "c.gate.") if r["id"][-3:].isdigit() and r["id"][-3:] != "110"],
    ids=ids,
)
def test_gates(row):
    """350 and 600 % from memory, as the rows say; tolerances are the rows' own."""
    rating = 20.0
    agree(row, fuse.opening_time_s(rating, rating * row["inputs"]["pct"] / 100))


@pytest.mark.xfail(
    strict=True,
    reason="an older sheet promises opening within 120 s at 135 %; 600 s is later: it rules",
)
def test_older_gate_does_not_rule():
    agree(FUSES["c.gate.135_alt"], fuse.opening_time_s(20, 27))


def test_maxi_gates():
    """From memory, as the row says."""
    row = FUSES["c.gate.maxi"]
    got = {p: fuse.opening_time_s(60, 60 * float(p) / 100) for p in row["value"]}
    agree(row, got)


def test_scope_of_the_standard():
    rated, breaking = FUSES["c.iso8820.scope"]["value"]
    agree(FUSES["c.iso8820.scope"], [100, fuses.BREAKING_A])
    with pytest.raises(ValueError, match="100 A"):
        fuse.opening_time_s(rated + 1, 10)
    with pytest.raises(ValueError, match="break"):
        fuse.opening_time_s(30, breaking + 1)


def test_share_of_a_lasting_load():
    agree(FUSES["c.load75"], fuse.CONTINUOUS_SHARE)
    assert fuse.choose_fuse(7.5, 2.5) == 10
    assert fuse.choose_fuse(7.6, 2.5) == 15


def test_rating_over_ampacity():
    agree(FUSES["c.ocp150"], regulation("fuse-over-ampacity").number)
    agree(FUSES["c.ocp150"], fuse.OVER_AMPACITY_MOST)


@pytest.mark.xfail(
    strict=True, reason="46 CFR allows a rating up to 150 % of the ampacity; the wire's own rules"
)
def test_150_percent_does_not_rule():
    from startwright.physics.wire import ampacity_A

    size = 1.0
    assert 1.5 * ampacity_A(size) >= 25
    assert fuse.choose_fuse(18, size) == 25


@pytest.mark.parametrize("row", starting("fuses", "c.blade.rcold"), ids=ids)
def test_cold_resistance(row):
    rating = row["inputs"]["rating_a"]
    listed = next(f for f in fuses.ratings("blade") if f.rating_A == rating)
    agree(row, [1000 * fuses.cold_ohm(rating), listed.drop_mV])


def test_key_off_current_from_millivolts():
    row = FUSES["c.blade.mvdrop_ex"]
    i = row["inputs"]
    agree(row, battery.current_from_fuse_mA(i["drop_mv"], i["rating_a"]))
