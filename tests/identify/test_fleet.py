"""A few dozen generated cars: right where it decides, honest in its numbers, never on a data line.

The full survey is ``bench/identify.py``.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from identify.fleet import Car, car
from startwright.identify import IdentifyReport, identify

CARS = range(9000, 9026)
NEVER = ("srs", "data", "high_voltage")


@cache
def surveyed() -> list[tuple[Car, IdentifyReport]]:
    found = []
    for seed in CARS:
        rate = float(np.exp(np.random.default_rng(seed).uniform(np.log(250), np.log(1200))))
        one = car(seed, rate)
        found.append((one, identify(one.recording, one.actions, one.wires)))
    return found


def test_what_is_decided_is_right() -> None:
    decided = right = wires = 0
    for one, report in surveyed():
        for verdict in report.wires:
            wires += 1
            if verdict.function is not None:
                function, active = one.truth[verdict.wire]
                decided += 1
                right += function == verdict.function and verdict.active in (None, active)
    assert right / decided > 0.94
    assert decided / wires > 0.40


def test_no_data_or_airbag_line_is_called_usable() -> None:
    seen = 0
    for one, report in surveyed():
        for verdict in report.wires:
            if one.truth[verdict.wire][0] in NEVER:
                seen += 1
                assert verdict.leave_alone or verdict.function is None, (one.kinds, verdict)
    assert seen > 25


def test_probabilities_are_honest() -> None:
    said, was = [], []
    for one, report in surveyed():
        for verdict in report.wires:
            if verdict.likely is not None and not verdict.leave_alone:
                said.append(verdict.probability)
                was.append(verdict.likely == one.truth[verdict.wire][0])
    p, good = np.array(said), np.array(was, dtype=float)
    for low, high in ((0.2, 0.5), (0.5, 0.85), (0.85, 0.95), (0.95, 1.0)):
        inside = (p >= low) & (p < high)
        assert inside.sum() > 12
        assert abs(p[inside].mean() - good[inside].mean()) < 0.2


def test_next_checks_are_for_wires_not_known_and_not_dangerous() -> None:
    for one, report in surveyed():
        alone = {v.wire for v in report.wires if v.leave_alone}
        rates = [c.gain_bits / c.seconds for c in report.next_checks]
        assert rates == sorted(rates, reverse=True) or np.allclose(
            rates, sorted(rates, reverse=True), rtol=0.02
        )
        for check in report.next_checks:
            assert check.wire not in alone
            assert one.truth[check.wire][0] != "srs"
            assert check.gain_bits > 0
            assert check.expected


def test_the_same_recording_gives_the_same_answer() -> None:
    one, report = surveyed()[0]
    assert identify(one.recording, one.actions, one.wires) == report
