"""The parts: movement of a wire, information of a check, envelopes, places, ladders."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from startwright.identify import envelope
from startwright.identify.features import BLINK, HUM, PULSE, QUIET, TRAFFIC, classify
from startwright.identify.ladder import ratio
from startwright.identify.next_check import _information, next_checks
from startwright.identify.places import hints, never_touched
from startwright.identify.report import WireVerdict
from startwright.records.recordings import Recording, WirePlace

RNG = np.random.default_rng(4)


def moved(volts: np.ndarray, rate: float = 1000.0) -> int:
    noisy = volts + RNG.normal(0, 0.02, len(volts))
    return classify(noisy.astype(np.float32), rate, 0.02).activity


T = np.arange(3000) / 1000.0


def test_movements_are_told_apart() -> None:
    assert moved(np.full(3000, 12.4)) == QUIET
    assert moved(0.8 * np.sin(2 * np.pi * 50 * T)) == HUM
    assert moved(np.where(T * 97 % 1 < 0.3, 12.0, 0.0)) == PULSE
    assert moved(np.where(T * 1.5 % 1 < 0.5, 12.0, 0.0)) == BLINK
    assert moved(np.where(RNG.random(3000) < 0.2, 0.5, 12.0)) == TRAFFIC
    assert moved(12.4 + 0.1 * np.sin(2 * np.pi * 300 * T)) == QUIET
    assert moved(np.where(T > 1.4, 12.0, 0.0)) == QUIET


@pytest.mark.parametrize("rate", [250.0, 400.0, 1000.0, 4000.0])
def test_regular_pulses_stay_regular_below_their_own_rate(rate: float) -> None:
    t = np.arange(int(3 * rate)) / rate
    assert moved(np.where(t * 313.7 % 1 < 0.5, 12.0, 0.0), rate) == PULSE
    assert moved(np.where(RNG.random(len(t)) < 0.3, 3.5, 2.5), rate) == TRAFFIC


@given(st.lists(st.lists(st.floats(0.01, 1), min_size=3, max_size=3), min_size=2, max_size=4))
@settings(max_examples=40, derandomize=True, deadline=None)
def test_information_lies_between_nothing_and_the_doubt_itself(rows: list[list[float]]) -> None:
    groups = {str(i): (1.0 / len(rows), list(np.asarray(r) / sum(r))) for i, r in enumerate(rows)}
    bits = _information(groups)
    assert -1e-9 <= bits <= np.log2(len(rows)) + 1e-9


def test_information_of_a_clean_split_is_one_bit() -> None:
    assert _information({"a": (0.5, [1.0, 0.0]), "b": (0.5, [0.0, 1.0])}) == pytest.approx(1.0)
    assert _information({"a": (0.5, [0.5, 0.5]), "b": (0.5, [0.5, 0.5])}) == pytest.approx(0.0)


def test_a_wire_to_be_left_alone_gets_no_check() -> None:
    alone = WireVerdict(wire="w", function=None, active=None, probability=0.5, leave_alone=True)
    assert next_checks({"w": []}, [alone]) == []


def test_an_envelope_keeps_every_spike() -> None:
    t = np.arange(500_000) / 10_000
    volts = np.zeros((len(t), 3), dtype=np.float32)
    volts[123_457, 1] = 40.0
    volts[400_001, 2] = -3.0
    drawn = envelope(Recording(t, volts, ("a", "b", "c")), points=6000)
    assert len(drawn["time_s"]) == len(drawn["volts"][0]) <= 2000
    assert max(drawn["volts"][1]) == 40.0
    assert min(drawn["volts"][2]) == -3.0
    assert np.all(np.diff(drawn["time_s"]) >= 0)
    near = envelope(Recording(t, volts, ("a", "b", "c")), start_s=12.3, end_s=12.4)
    assert len(near["time_s"]) == pytest.approx(1000, abs=2)


@pytest.mark.parametrize(
    ("place", "kind"),
    [
        (WirePlace("w", "under the seat", "yellow 2-way", "1"), "srs"),
        (WirePlace("w", "steering wheel", "airbag", None), "srs"),
        (WirePlace("w", "dash", "OBD", "6"), "data"),
        (WirePlace("w", "dash", "diagnostic connector", "16"), None),
        (WirePlace("w", "dash", "CAN gateway", "3"), "data"),
        (WirePlace("w", "engine bay", "orange inverter cable", None), "high_voltage"),
        (WirePlace("w", "steering column", "white 8-way", "5", "YE"), None),
        (WirePlace("w", "trunk", "can-shaped clip on the left", None, None), "data"),
        (None, None),
    ],
)
def test_places_that_are_never_touched(place: WirePlace | None, kind: str | None) -> None:
    found = never_touched(place)
    assert (found[0] if found else None) == kind


def test_places_speak_for_functions() -> None:
    assert hints(WirePlace("w", "brake pedal", "switch, 2-way", "1"))["brake"] > 1
    assert hints(WirePlace("w", "dash", "diagnostic connector", "16"))["battery"] > 10
    assert hints(WirePlace("w", "dash", "diagnostic connector", "4"))["ground"] > 10
    assert hints(None) == {}


def test_a_divider() -> None:
    assert ratio(0.0, 5.0) == 0.0
    assert ratio(5.0, 5.0) == float("inf")
    assert ratio(5.0 * 330 / 1330, 5.0) * 1000 == pytest.approx(330)
