"""Tach: pulses per turn by ignition and cylinders; the learnt ratio rules."""

from __future__ import annotations

import pytest
from outside.published import agree, ids, starting, table

from startwright.physics import tach
from startwright.records.vehicle import Engine

ROWS = table("tach")
IGNITION = {
    "distributor or common coil": "distributor",
    "wasted spark, one coil wire": "waste_spark",
}


@pytest.mark.parametrize(
    "row", [r for r in starting("tach", "g.tach.") if "signal" in r["inputs"]], ids=ids
)
def test_pulses_per_turn(row):
    i = row["inputs"]
    engine = Engine(cylinders=i["cylinders"], ignition=IGNITION[i["signal"]])
    agree(row, tach.pulses_per_rev(engine))


def test_frequency():
    row = ROWS["g.tach.freq"]
    i = row["inputs"]
    common = Engine(cylinders=i["cylinders"], ignition="distributor")
    agree(row, tach.frequency_hz(i["rpm"], common))
    agree(row, tach.frequency_hz(i["rpm"], Engine(cylinders=4), i["pulses_per_rev"]))
    for cylinders, rpm, hz in ((8, 600, 40), (6, 800, 40)):
        engine = Engine(cylinders=cylinders, ignition="distributor")
        assert tach.frequency_hz(rpm, engine) == hz
        assert tach.rpm_from_hz(hz, engine) == rpm


@pytest.mark.parametrize("cylinders", [6, 8])
def test_a_module_makes_its_own_number(cylinders):
    """A line of a module makes two a turn whatever the cylinders: learnt rules over computed."""
    learnt = ROWS["g.tach.pcm"]["value"]
    engine = Engine(cylinders=cylinders, ignition="distributor")
    assert tach.frequency_hz(600, engine, learnt) == 20
    assert tach.frequency_hz(600, engine) != 20


def test_no_coil_no_guess():
    with pytest.raises(ValueError, match="learn"):
        tach.frequency_hz(800, Engine(ignition="compression"))
    assert tach.frequency_hz(600, Engine(ignition="compression"), 12) == 120
