"""Every guard, every table entry and every rule is needed: take one away and something breaks."""

import sys
from dataclasses import replace

import numpy as np
import prove.sabotage_works
import pytest
from prove.base import Case
from prove.sabotage import SPOILT
from prove.test_bestiary import records

from startwright.car.build import wire_up
from startwright.prove import prove
from startwright.prove.explore import explore
from startwright.prove.model import Model
from startwright.prove.reaction import Reaction
from startwright.prove.rules import rules
from startwright.prove.space import Space
from startwright.prove.tables import Table

SLUGS = [r.slug for r in rules(Model(wire_up(Case().job(), Case().wiring())))]


@pytest.mark.parametrize("guard", ["hood", "brake", "park_neutral"])
def test_a_unit_without_a_guard_is_a_hazard(guard: str) -> None:
    case = Case()
    case.unit["guards"] = [
        {"input": name, "reads": "active" if name == "park_neutral" else "inactive"}
        for name in ("hood", "brake", "park_neutral")
        if name != guard
    ]
    report = prove(case.job(), case.wiring())
    hazards = {r.rule for r in report.rules if r.holds is False and r.kind == "hazard"}
    expected = {"hood": "hood-ends", "brake": "brake-ends", "park_neutral": "leaving-park-ends"}
    assert expected[guard] in hazards


@pytest.mark.parametrize("refusal", ["ignition_on"])
def test_a_unit_without_a_refusal_is_a_hazard(refusal: str) -> None:
    case = Case()
    case.unit["refuses"] = [r for r in ("ignition_on", "service") if r != refusal]
    report = prove(case.job(), case.wiring())
    assert "key-has-last-word" in {r.rule for r in report.rules if r.holds is False}


@pytest.mark.parametrize("slug", SLUGS)
def test_a_rule_taken_away_is_missed(slug: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The wiring meant for a rule is breached by it, and no more once the rule looks away."""
    case = next(make for rule, make in SPOILT.values() if rule == slug)()
    if slug == "start-ends":
        case = SPOILT["relay_that_holds_itself"][1]()

    def blind(model: Model) -> tuple[object, ...]:
        return tuple(
            replace(r, bad_state=None, bad_edge=None) if r.slug == slug else r for r in rules(model)
        )

    seeing = prove(case.job(), case.wiring())
    assert slug in {r.rule for r in seeing.rules if r.holds is False}
    monkeypatch.setattr(sys.modules["startwright.prove.search"], "rules", blind)
    blinded = prove(case.job(), case.wiring())
    assert slug not in {r.rule for r in blinded.rules if r.holds is False}


def _reached(model: Model) -> tuple[frozenset[int], dict[str, np.ndarray]]:
    found = explore(model)
    columns = Space(model).unpack(found.packed)
    seen = model.derive(columns)
    seen |= Reaction(model).open_coils(columns)
    return frozenset(found.packed.tolist()), seen


@pytest.mark.parametrize("name", ["nothing-wrong", "kick-back", "blind-relay"])
def test_every_reached_table_entry_counts(name: str) -> None:
    """Turn any entry of a table that feeds back, where it is reached: other states are reached."""
    car = wire_up(*records(name))
    healthy = Model(car)
    states, seen = _reached(healthy)
    tried = 0
    for where in ("coils", "inputs", "turns", "ignition"):
        tables = getattr(healthy, where)
        for key in tables if isinstance(tables, dict) else [None]:
            table = tables if key is None else tables[key]
            table = table[1] if where == "inputs" else table
            for index in np.ndindex(table.data.shape):
                at = [seen[v] == k for v, k in zip(table.over, index, strict=True)]
                if not np.logical_and.reduce(at).any():
                    continue
                data = table.data.copy()
                data[index] = 1 - int(data[index] == 1)
                turned = Table(table.over, data)
                model = Model(car)
                model.__dict__["surroundings"] = healthy.surroundings
                if key is None:
                    model.__dict__[where] = turned
                else:
                    entry = (tables[key][0], turned) if where == "inputs" else turned
                    model.__dict__[where] = {**tables, key: entry}
                tried += 1
                other, _ = _reached(model)
                assert other != states, (where, key, dict(zip(table.over, index, strict=True)))
    assert tried > 10
