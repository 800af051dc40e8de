"""The bestiary: every beast breaks what its story says, in so many states; its line replays."""

from pathlib import Path
from typing import Any

import pytest
from prove.naive import Naive
from prove.naive_button import MODES, NaiveButton
from ruamel.yaml import YAML

import startwright.example
from startwright.car.build import wire_up
from startwright.prove import play, prove
from startwright.prove.explore import explore
from startwright.prove.model import ENGINE, Model
from startwright.prove.space import Space
from startwright.records.job import WholeJob
from startwright.records.read import read_job, read_wiring
from startwright.records.wiring import Wiring

FOLDER = startwright.example.path() / "bestiary"
BEASTS: list[dict[str, Any]] = YAML(typ="safe").load(Path(FOLDER / "bestiary.yaml"))
BY_ID = {b["id"]: b for b in BEASTS}


def records(id: str) -> tuple[WholeJob, Wiring]:
    return read_job(FOLDER / f"{id}.job.yaml"), read_wiring(FOLDER / f"{id}.wiring.yaml")


@pytest.mark.parametrize("id", BY_ID)
def test_a_beast_is_what_its_story_says(id: str) -> None:
    beast = BY_ID[id]
    job, wiring = records(id)
    report = prove(job, wiring)
    assert [r.rule for r in report.rules if r.holds is False] == beast["breaks"]
    assert report.verdict == ("breached" if beast["breaks"] else "proven")
    assert report.states == beast["states"]
    if beast["line"]:
        found = next(r for r in report.rules if r.holds is False and r.trace == beast["line"])
        _, met = play(job, wiring, beast["line"])
        assert all(met), found.rule


@pytest.mark.parametrize("id", BY_ID)
def test_a_naive_explorer_reaches_the_same_states(id: str) -> None:
    assert_same_states(*records(id))


def assert_same_states(job: WholeJob, wiring: Wiring) -> None:
    """The set of states is the same, once the surroundings that never feed back are left out."""
    car = wire_up(job, wiring)
    model = Model(car)
    found = explore(model)
    columns = Space(model).unpack(found.packed)
    inputs = [n.removeprefix("in.") for n in columns if n.startswith("in.")]
    coils = [n.removeprefix("coil.") for n in columns if n.startswith("coil.")]
    naive = NaiveButton(car) if car.imitates else Naive(car)
    more = [n for n in ("car.mode", "car.button", "car.turns") if n in columns]
    ours = {
        (
            *(int(columns[n][k]) for n in (*model.surroundings, *more)),
            ENGINE[columns["motion"][k]],
            model.starts[columns["start"][k]],
            model.presses[columns["press"][k]],
            *(int(columns[f"coil.{n}"][k]) for n in coils),
            *(int(columns[f"in.{n}"][k]) for n in inputs),
        )
        for k in range(len(found.packed))
    }
    theirs = {
        (
            *(s[n] for n in model.surroundings),
            *((MODES.index(s["mode"]), int(s["line"])) if car.imitates else ()),
            *((s["car.turns"],) if "car.turns" in s else ()),
            s["motion"],
            s["start"],
            s["press"],
            *(s[n] for n in coils),
            *(s[n] for n in inputs),
        )
        for s in map(dict, naive.reachable())
    }
    assert len(ours) == len(found.packed)
    assert ours == theirs
