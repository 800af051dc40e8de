"""SPIN explores the exported model by itself: the same number of states, the same broken rules.

Source: SPIN 6.5 (Debian package `spin`; G. J. Holzmann, The SPIN Model Checker, 2004). It stores
one state more than we do: the one before the first reaction. Rules that the wiring alone decides,
sums over feeds and clocked replays are not in the exported model.
"""

from pathlib import Path

import pytest
from outside.spin import spin
from prove.base import Case
from prove.sound import SOUND
from prove.test_bestiary import BY_ID, records

from startwright.car.build import wire_up
from startwright.prove import export
from startwright.prove.model import Model
from startwright.prove.promela_rules import STATE_RULES
from startwright.prove.search import search


def agree(case: Case, folder: Path) -> None:
    done = search(Model(wire_up(case.job(), case.wiring())))
    stored, broken = spin(export(case.job(), case.wiring()), folder)
    assert stored == len(done.explored.packed) + 1
    assert broken == set(done.breaches) & set(STATE_RULES)


@pytest.mark.parametrize(
    "id",
    [
        "grounded-lever",
        "wrong-tach",
        "blind-relay",
        "crossed-locks",
        "always-awake",
        "joined-sides",
    ],
)
def test_spin_agrees_on_beasts(id: str, tmp_path: Path) -> None:
    beast = BY_ID[id]
    stored, broken = spin(export(*records(id)), tmp_path)
    assert stored == beast["states"] + 1
    assert broken == set(beast["breaks"]) & set(STATE_RULES)


@pytest.mark.parametrize("name", ["plain", "idle_stop"])
def test_spin_agrees_on_whole_jobs(name: str, tmp_path: Path) -> None:
    agree(SOUND[name](), tmp_path)


def test_spin_agrees_on_a_spoilt_job(tmp_path: Path) -> None:
    agree(Case().without("r_hood", "r_tach"), tmp_path)
