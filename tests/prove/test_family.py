"""Several faulty cars searched at once: each reaches what it reaches alone, by the same steps."""

from collections.abc import Callable

import numpy as np
import pytest
from prove import push_button, sabotage, sound
from prove.base import Case
from prove.test_interfaces_live import supply_by_the_running_signal

from startwright.car.build import wire_up
from startwright.prove.explore import Beside, Explored, explore
from startwright.prove.family import WHICH, Family, as_one, seeds_of_each, side_by_side
from startwright.prove.faults import all_faults, fault_named
from startwright.prove.faulty import Faulty, faulty_model, opens_all, seeds_in
from startwright.prove.judge import Judge
from startwright.prove.model import Model
from startwright.prove.reaction import Reaction
from startwright.prove.search import Again, Watcher, _fresh_states, search
from startwright.prove.searches import Searches
from startwright.prove.steps import Steps
from startwright.prove.tables import Array, Table, TooLarge
from startwright.prove.view import Marks

CASES: list[Callable[[], Case]] = [
    sound.plain,
    sound.transponder_with_interface,
    sound.tells_park_alone,
    sabotage.two_relays_race,
    push_button.imitating,
]


def _faulty(healthy: Model) -> list[Faulty]:
    """Every car with a single fault."""
    models = [(f, faulty_model(healthy, f)) for f in all_faults(healthy.car)]
    return [Faulty(fault, model, Marks(model)) for fault, model in models]


@pytest.mark.parametrize("make", CASES, ids=lambda m: m.__name__)
def test_searched_together_each_reaches_what_it_reaches_alone(make: Callable[[], Case]) -> None:
    case = make()
    healthy = Model(wire_up(case.job(), case.wiring()))
    searches = Searches(healthy, explore(healthy, steps=Steps(healthy, Watcher(healthy).watched)))
    ones = [one for one in _faulty(healthy) if searches.wants(one)]
    assert searches.search(ones)
    beside = 0
    for one in ones:
        quick = searches.of(one)
        seeds = seeds_in(searches.sound, one.model)
        full = explore(one.model, steps=Steps(one.model, one.watcher.watched), seeds=seeds)
        assert np.array_equal(np.sort(quick.packed), np.sort(full.packed)), str(one.fault)
        assert _steps_of(quick) == _steps_of(full), str(one.fault)
        assert [len(rows) for _, rows in quick.levels] == [len(rows) for _, rows in full.levels]
        if quick.beside is not None:
            beside += 1
            _nothing_new_is_left_out(quick)
    assert len(ones) > 10
    assert beside > 5


def _nothing_new_is_left_out(explored: Explored) -> None:
    """What follows in the faulty car and not in the sound one comes of a fresh core."""
    assert explored.beside is not None
    sound_one, fresh = explored.beside.sound, explored.beside.fresh
    new = {step[:2] for step in _steps_of(explored) ^ _steps_of(sound_one)}
    packed = explored.steps.cores.pack(explored.steps.columns)
    core, g = np.nonzero(fresh)
    marked = set(zip(packed[core].tolist(), g.tolist(), strict=True))
    assert new & _expanded(explored) <= marked


def _expanded(explored: Explored) -> set[tuple[int, int]]:
    """Every core reached with a press of each class, packed."""
    core, g = _reached(explored)
    packed = explored.steps.cores.pack(explored.steps.columns)
    return set(zip(packed[core].tolist(), g.tolist(), strict=True))


def _reached(explored: Explored) -> tuple[Array, Array]:
    """The cores reached with a press of each class, and the class."""
    steps = explored.steps
    masks = [explored.bits.mask(np.array(steps.presses.of == g)) for g in range(steps.classes)]
    core, g = np.nonzero(np.stack([(explored.reached & m).any(axis=1) for m in masks], axis=1))
    return core, g


def _steps_of(explored: Explored) -> set[tuple[int, int, int, int]]:
    """Where every choice leads from every core reached, by packed cores; buttons last."""
    steps = explored.steps
    packed = steps.cores.pack(steps.columns)
    core, g = _reached(explored)
    chosen = steps.chosen[steps.place[core, g]]
    row, move = np.nonzero(chosen >= 0)
    at, event, after = np.nonzero(steps.presses.leads_to[:, g].transpose(1, 0, 2))
    button = len(steps.core_moves) + event * steps.classes + after
    reactions = np.concatenate([chosen[row, move], steps.pressed[core[at], event, after]])
    assert (reactions >= 0).all()
    which, reaction = steps.followed(reactions)
    of = np.concatenate([row, at])[which]
    return set(
        zip(
            packed[core[of]].tolist(),
            g[of].tolist(),
            np.concatenate([move, button])[which].tolist(),
            packed[steps.after[reaction]].tolist(),
            strict=True,
        )
    )


def test_rules_that_look_with_all_outputs_open_look_again_where_a_coil_differs() -> None:
    case = sound.starter_cut_when_armed()
    healthy = Model(wire_up(case.job(), case.wiring()))
    judge = Judge(healthy, search(healthy))
    fault = fault_named(healthy.car, "K1 open")
    assert fault is not None
    model = faulty_model(healthy, fault)
    one = Faulty(fault, model, Marks(model))
    looking = {slug for slug, asked in judge.asks.items() if "fed_starter" in asked}
    assert opens_all(one.marks["fed_starter"], {"K1"})
    assert not opens_all(one.marks["fed_starter"], {"K2"})
    again = judge._again(one)
    assert looking
    assert looking <= again.rules
    assert again.steps
    same = Faulty(fault, healthy, judge.marks)
    assert judge._again(same) == Again(set(), steps=False)


@pytest.mark.parametrize("make", [sound.plain, sabotage.two_relays_race], ids=lambda m: m.__name__)
def test_what_a_search_knows_of_a_moment_is_what_follows(make: Callable[[], Case]) -> None:
    case = make()
    healthy = Model(wire_up(case.job(), case.wiring()))
    steps = explore(healthy).steps
    packed, classes, event = steps.asked(np.arange(len(steps.after)))
    restless = np.any(steps.flaws, axis=0)
    told = 0
    for k in [*range(0, len(steps.after), 97), *np.flatnonzero(restless)[:20].tolist()]:
        columns = steps.cores.unpack(packed[k : k + 1])
        columns["press"] = steps.presses.stands_for[classes[k : k + 1]].astype(np.int32)
        known = steps.known(columns, int(event[k]))
        if restless[k]:
            assert known is None
            continue
        alone = Reaction(healthy).react(columns, event[k : k + 1].astype(np.int32))
        assert known is not None
        assert known[1]
        for name in columns:
            assert known[0][name].tolist() == alone.columns[name].tolist(), (k, name)
        told += 1
    assert told > 20
    assert restless.any() == (make is sabotage.two_relays_race)


@pytest.mark.parametrize("make", CASES, ids=lambda m: m.__name__)
def test_looking_where_something_differs_finds_what_looking_everywhere_does(
    make: Callable[[], Case],
) -> None:
    case = make()
    healthy = Model(wire_up(case.job(), case.wiring()))
    judge = Judge(healthy, search(healthy))
    ones = [one for one in _faulty(healthy) if judge.searches.wants(one)]
    judge.searches.search(ones)
    broken = 0
    for one in ones:
        found = judge.searches.of(one)
        if found.beside is not None:
            quick, full = (Watcher(one.model, one.marks, twins=False) for _ in range(2))
            quick.look(found, judge._again(one))
            full.look(found)
            new = set(full.broken) - judge.before
            assert set(quick.broken) - judge.before == new, str(one.fault)
            for slug in new:
                first = quick.first(found, slug), full.first(found, slug)
                assert len(first[0].steps) == len(first[1].steps), (str(one.fault), slug)  # type: ignore[union-attr]
            broken += len(new)
    assert broken > 5


def test_a_core_is_fresh_with_a_press_that_the_sound_car_does_not_reach_it_with() -> None:
    case = sound.plain()
    healthy = Model(wire_up(case.job(), case.wiring()))
    found = explore(healthy)
    count = len(found.reached)
    lock = found.bits.mask(np.arange(found.bits.size) == 3)
    at = np.flatnonzero((found.reached & lock).any(axis=1))
    reached = found.reached[:-1].copy()
    reached[at[5]] &= ~lock
    beside = Beside(Explored(found.steps, reached), np.ones((count, found.steps.classes), bool))
    faulty = Explored(found.steps, found.reached, beside=beside)
    assert at[_fresh_states(faulty, at, lock)].tolist() == [at[5], count - 1]
    assert not _fresh_states(found, at, lock).any()


def test_what_can_end_in_several_ways_is_looked_at_again() -> None:
    case = sabotage.two_relays_race()
    healthy = Model(wire_up(case.job(), case.wiring()))
    found = explore(healthy)
    steps = found.steps
    again = Family([healthy], steps.presses)
    again.take_over(found, [np.ones(len(steps.after), dtype=bool)])
    several = np.isin(steps.keys, steps.keys[[a for a, _ in steps.others]])
    assert several.any()
    assert not several.all()
    assert np.array_equal(again._otherwise, several)
    reacted = np.flatnonzero(~several)
    assert np.array_equal(again.after[reacted], steps.after[reacted])


def test_tables_side_by_side_are_those_of_each_car() -> None:
    rng = np.random.default_rng(7)
    tables = [
        Table(("key", "hood"), rng.integers(0, 3, (5, 2)).astype(np.int8)),
        Table(("gear",), rng.integers(0, 3, 3).astype(np.int8)),
        Table((), np.array(1, dtype=np.int8)),
    ]
    both = side_by_side(tables)
    rows = 400
    columns = {
        WHICH: rng.integers(0, 3, rows),
        "key": rng.integers(0, 5, rows),
        "hood": rng.integers(0, 2, rows),
        "gear": rng.integers(0, 3, rows),
    }
    each = np.stack([t.look(columns) for t in tables])
    assert np.array_equal(both.look(columns), each[columns[WHICH], np.arange(rows)])
    assert side_by_side([tables[0], tables[0]]) is tables[0]
    wide = Table(tuple(f"out.{k}" for k in range(24)), np.zeros((2,) * 24, dtype=np.int8))
    with pytest.raises(TooLarge, match="tables of 2 cars over 26 variables"):
        side_by_side([wide, tables[0]])


def test_a_reaction_of_several_cars_is_that_of_each() -> None:
    case = push_button.imitating()
    healthy = Model(wire_up(case.job(), case.wiring()))
    models = [one.model for one in _faulty(healthy) if one.model.variables == healthy.variables]
    models = [m for m in models if m.car.tach_lost == healthy.car.tach_lost]
    done = explore(healthy)
    columns = {n: c[:300] for n, c in done.steps.columns.items()} | {
        "press": np.zeros(300, dtype=np.int32)
    }
    columns["hood"] = 1 - columns["hood"]
    event = np.zeros(300, dtype=np.int32)
    family = as_one(models)
    for k, model in enumerate(models):
        which = {WHICH: np.full(300, k, dtype=np.int32)}
        out = Reaction(family).react(columns | which, event)
        alone = Reaction(model).react(columns, event)
        for name, column in alone.columns.items():
            assert np.array_equal(out.columns[name], column), (k, name)


def test_every_table_that_feeds_back_is_that_of_the_car_it_is_asked_of() -> None:
    case = supply_by_the_running_signal()
    healthy = Model(wire_up(case.job(), case.wiring()))
    searches = Searches(healthy, explore(healthy, steps=Steps(healthy, Watcher(healthy).watched)))
    models = [one.model for one in _faulty(healthy) if one.kind == searches._kind]
    family = as_one(models)
    rng = np.random.default_rng(11)
    rows = 5_000
    columns = {v.name: rng.integers(0, v.size, rows).astype(np.int32) for v in family.variables}
    seen = family.derive(columns)
    seen |= {f"coil_o.{c}": rng.integers(0, 2, rows) for c in family.coils}
    differ = 0
    for name, table in zip(_FED, family.feedback[-len(_FED) :], strict=True):
        each = np.stack([getattr(m, name).look(seen) for m in models])
        assert np.array_equal(table.look(seen), each[columns[WHICH], np.arange(rows)]), name
        differ += bool((each != each[0]).any())
    assert len(family.feedback) == len(healthy.coils) + len(healthy.inputs) + len(_FED)
    assert differ > 3
    assert any((m.tach_lives.look(seen) != healthy.tach_lives.look(seen)).any() for m in models)


_FED = ("turns", "ignition", "ignition_seen", "alive", "immobilizer", "tach_lives")
"""The tables that feed back beside those of coils and inputs, in the order of `Model.feedback`."""


def test_too_much_for_all_at_once_is_searched_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    case = sound.plain()
    healthy = Model(wire_up(case.job(), case.wiring()))
    sound_one = explore(healthy, steps=Steps(healthy, Watcher(healthy).watched))
    ones = [one for one in _faulty(healthy) if Searches(healthy, sound_one).wants(one)]
    plenty, scarce = Searches(healthy, sound_one), Searches(healthy, sound_one)
    plenty.search(ones)
    alone: list[int] = []
    init = Family.__init__

    def small(self: Family, models: list[Model], presses: object) -> None:
        alone.append(len(models))
        if len(models) > 1:
            raise TooLarge("more than one")
        init(self, models, presses)  # type: ignore[arg-type]

    monkeypatch.setattr(Family, "__init__", small)
    assert scarce.search(ones)
    assert alone.count(1) == len(ones)
    assert max(alone) > 1
    for one in ones:
        assert np.array_equal(np.sort(plenty.of(one).packed), np.sort(scarce.of(one).packed))


def test_a_search_that_is_stopped_keeps_nothing() -> None:
    case = sound.plain()
    healthy = Model(wire_up(case.job(), case.wiring()))
    searches = Searches(healthy, explore(healthy, steps=Steps(healthy, Watcher(healthy).watched)))
    ones = [one for one in _faulty(healthy) if searches.wants(one)]
    assert not searches.search(ones, lambda states: False)
    assert all(searches.wants(one) for one in ones)


def test_seeds_of_several_say_whose_they_are() -> None:
    case = sound.plain()
    healthy = Model(wire_up(case.job(), case.wiring()))
    seeds = seeds_in(explore(healthy), healthy)
    both = seeds_of_each([seeds, seeds])
    count = len(seeds.rows)
    assert both.columns[WHICH].tolist() == [0] * count + [1] * count
    assert np.array_equal(both.rows[:count], both.rows[count:])
    assert WHICH not in seeds.columns
