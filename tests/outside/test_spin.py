"""SPIN explores the exported model by itself: the same states, broken rules and twins.

Source: SPIN 6.5 (Debian package `spin`; G. J. Holzmann, The SPIN Model Checker, 2004). It stores
one state more than we do: the one before the first reaction. Rules that the wiring alone decides
and clocked replays are not in the exported model.

`SPIN_ALL=1` (`make spin`) takes two hundred random wirings instead of the spread here: a hundred
plain ones, and a hundred of the rarer cars.
"""

import os
from collections import Counter
from pathlib import Path

import pytest
from outside.spin import disagreements, run
from prove.base import Case
from prove.random_cars import chance, kinds, wide_chance
from prove.sound import SOUND
from prove.test_bestiary import BY_ID, records
from prove.test_world_edges import NEVER

import startwright.example
from startwright.car.build import wire_up
from startwright.plan import NoPlan, plan
from startwright.prove.model import Model
from startwright.prove.promela import promela
from startwright.prove.promela_rules import STATE_RULES
from startwright.prove.search import search
from startwright.records.job import WholeJob
from startwright.records.read import read_job, read_wiring
from startwright.records.wiring import Wiring

EXAMPLES = startwright.example.path()
JOBS = ("plain", "transponder", "two-starters", "two-starters-small-unit", "push-button", "vacuum")
WIRINGS = sorted(p.stem for p in (EXAMPLES / "wirings").glob("plain*.yaml"))
HUNDRED = range(100)
SPREAD = HUNDRED if os.environ.get("SPIN_ALL") else (0, 1, 3, 5, 7, 15, 26, 29, 30, 54, 87, 99)
KINDS = (
    "push button, imitated",
    "push button, fed or left running",
    "ladder locks",
    "vacuum locks",
    "reversing with cuts",
    "a interface",
    "a resistor",
    "a switch",
    "idle-stop",
    "senses wait_to_start",
    "senses service",
    "senses charge_lamp",
    "several ignition circuits",
    "several starter circuits",
    "immobilizer resistor_key",
)
WIDE = HUNDRED if os.environ.get("SPIN_ALL") else (0, 4, 8, 13, 21, 34)


def agree(job: WholeJob, wiring: Wiring, folder: Path) -> set[str]:
    """Both explore; what they differ in must be nothing. The rules both saw broken are told."""
    model = Model(wire_up(job, wiring))
    spun = run(promela(model), folder)
    assert disagreements(model, search(model), spun) == []
    return spun.broken


@pytest.mark.parametrize("id", BY_ID)
def test_spin_agrees_on_beasts(id: str, tmp_path: Path) -> None:
    broken = agree(*records(id), tmp_path)
    assert broken == set(BY_ID[id]["breaks"]) & set(STATE_RULES)


@pytest.mark.parametrize("name", JOBS)
def test_spin_agrees_on_planned_examples(name: str, tmp_path: Path) -> None:
    job = read_job(EXAMPLES / "jobs" / f"{name}.yaml")
    answer = plan(job)
    assert not isinstance(answer, NoPlan)
    assert agree(job, answer.wiring, tmp_path) == set()


@pytest.mark.parametrize("name", WIRINGS)
def test_spin_agrees_on_example_wirings(name: str, tmp_path: Path) -> None:
    job = read_job(EXAMPLES / "jobs" / "plain.yaml")
    agree(job, read_wiring(EXAMPLES / "wirings" / f"{name}.yaml"), tmp_path)


@pytest.mark.parametrize("seed", SPREAD)
def test_spin_agrees_on_random_wirings(seed: int, tmp_path: Path) -> None:
    case = chance(seed)
    agree(case.job, case.wiring, tmp_path)


@pytest.mark.parametrize("seed", WIDE)
def test_spin_agrees_on_rarer_cars(seed: int, tmp_path: Path) -> None:
    case = wide_chance(seed)
    agree(case.job, case.wiring, tmp_path)


@pytest.mark.skipif(not os.environ.get("SPIN_ALL"), reason="plans two hundred cars")
def test_every_kind_is_judged() -> None:
    """How many of the two hundred have what; each kind several times."""
    count = Counter(
        k for seed in HUNDRED for make in (chance, wide_chance) for k in kinds(make(seed))
    )
    print(dict(sorted(count.items())))
    assert {k: count[k] for k in KINDS if count[k] < 3} == {}


def test_spin_agrees_on_idle_stop(tmp_path: Path) -> None:
    case = SOUND["idle_stop"]()
    assert agree(case.job(), case.wiring(), tmp_path) == set()


@pytest.mark.parametrize("why", NEVER)
def test_spin_agrees_on_a_step_that_never_comes(why: str, tmp_path: Path) -> None:
    case = Case()
    case.unit["sequence"] = NEVER[why]
    assert agree(case.job(), case.wiring(), tmp_path) == set()


def test_spin_agrees_on_a_spoilt_job(tmp_path: Path) -> None:
    case = Case().without("r_hood", "r_tach")
    assert "hood-ends" in agree(case.job(), case.wiring(), tmp_path)


@pytest.mark.parametrize(
    ("of", "to"),
    [
        ("motion = 2; event = 0 /* catch */", "skip; event = 0 /* catch */"),
        ("brake == 0 -> chose = 0;", "brake == 0 && key == 0 -> chose = 0;"),
    ],
)
def test_a_changed_text_is_seen(of: str, to: str, tmp_path: Path) -> None:
    """SPIN is no rubber stamp: one choice changed in the text, and it finds other states."""
    job, wiring = records("nothing-wrong")
    model = Model(wire_up(job, wiring))
    text = promela(model)
    assert text.count(of) == 1
    assert disagreements(model, search(model), run(text.replace(of, to), tmp_path))
