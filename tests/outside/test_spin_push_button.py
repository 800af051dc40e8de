"""SPIN explores imitated push-button starts by itself: the same states, the same broken rules.

Source: SPIN 6.5 (Debian package `spin`; G. J. Holzmann, The SPIN Model Checker, 2004).
"""

from pathlib import Path

import pytest
from outside.spin import both, disagreements
from prove.push_button import SPOILT, imitating


@pytest.mark.parametrize("name", ["sound", "foot_in_the_way", "takes_a_driven_car"])
def test_spin_agrees(name: str, tmp_path: Path) -> None:
    case = imitating() if name == "sound" else SPOILT[name][1]()
    assert disagreements(*both(case.job(), case.wiring(), tmp_path)) == []
