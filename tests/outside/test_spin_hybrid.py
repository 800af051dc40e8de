"""SPIN explores hybrids by itself: the same states, the same broken rules.

Source: SPIN 6.5 (Debian package `spin`; G. J. Holzmann, The SPIN Model Checker, 2004).
"""

from pathlib import Path

import pytest
from outside.spin import both, disagreements
from prove.hybrid import by_button, by_charge_lamp, listens_to_the_tach


@pytest.mark.parametrize("make", [by_button, by_charge_lamp, listens_to_the_tach])
def test_spin_agrees(make, tmp_path: Path) -> None:
    case = make()
    assert disagreements(*both(case.job(), case.wiring(), tmp_path)) == []
