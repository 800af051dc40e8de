"""SPIN explores hybrids by itself: the same states, the same broken rules.

Source: SPIN 6.5 (Debian package `spin`; G. J. Holzmann, The SPIN Model Checker, 2004).
"""

from pathlib import Path

import pytest
from outside.spin import spin
from prove.hybrid import by_button, by_charge_lamp, listens_to_the_tach

from startwright.car.build import wire_up
from startwright.prove import export
from startwright.prove.model import Model
from startwright.prove.promela_rules import STATE_RULES
from startwright.prove.search import search


@pytest.mark.parametrize("make", [by_button, by_charge_lamp, listens_to_the_tach])
def test_spin_agrees(make, tmp_path: Path) -> None:
    case = make()
    done = search(Model(wire_up(case.job(), case.wiring())))
    stored, broken = spin(export(case.job(), case.wiring()), tmp_path)
    assert stored == len(done.explored.packed) + 1
    assert broken == set(done.breaches) & set(STATE_RULES)
