"""SPIN explores wirings in which a lead or relay does what its name does not say.

Source: SPIN 6.5 (Debian package `spin`; G. J. Holzmann, The SPIN Model Checker, 2004).
"""

from pathlib import Path

import prove.sabotage_wired as spoilt
import prove.sound_wired as sound
import pytest
from outside.spin import both, disagreements


@pytest.mark.parametrize(
    "make",
    [
        spoilt.gap_in_a_unit_that_holds_after_the_key,
        spoilt.lever_told_by_a_wire_that_nothing_holds,
        spoilt.starter_kept_from_the_key_while_a_horn_sounds,
        sound.starter_kept_from_the_key_while_running,
    ],
)
def test_spin_agrees(make, tmp_path: Path) -> None:
    case = make()
    assert disagreements(*both(case.job(), case.wiring(), tmp_path)) == []
