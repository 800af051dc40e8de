"""Nothing runs behind a part or on another run, nothing covers a word: at 6, 28 and 40 runs."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheets import geometry as g
from sheets import wirings
from startwright.records import WholeJob, Wiring
from startwright.sheets.arrange import arrange, crossings, first_arrangement
from startwright.sheets.ends import UNIT, Web, read_web
from startwright.sheets.layout import lay_out
from startwright.sheets.measure import PAPER, SCREEN, Measure
from startwright.sheets.shapes import Loom
from startwright.sheets.stack import Arrangement, Heights, stack


def clean(loom: Loom) -> None:
    """All that must never be."""
    assert g.slanted(loom) == []
    assert g.boxes_on_boxes(loom) == []
    assert g.behind_boxes(loom) == []
    assert g.too_close(loom, 8) == []
    assert g.labels_on_labels(loom) == []
    assert g.labels_on_parts(loom) == []
    assert g.labels_on_runs(loom) == []
    assert g.out_of_page(loom) == []


@pytest.mark.parametrize("size", [SCREEN, PAPER], ids=["screen", "paper"])
@pytest.mark.parametrize("made", [wirings.small, wirings.quill], ids=["small", "quill"])
def test_shop_wirings_are_clean(made: object, size: Measure) -> None:
    job, wiring = made()  # type: ignore[operator]
    loom = lay_out(job, wiring, size=size)
    clean(loom)
    assert g.crossings(loom) <= 2


@given(st.integers(0, 10_000), st.integers(1, 40), st.booleans())
@settings(max_examples=40, derandomize=True, deadline=None)
def test_any_tree_is_clean(seed: int, runs: int, paper: bool) -> None:
    job, wiring = wirings.anything(seed, runs)
    clean(lay_out(job, wiring, size=PAPER if paper else SCREEN))


@pytest.mark.parametrize("seed", range(4))
def test_forty_runs_are_clean_and_drawn_with_just_the_crossings_the_order_needs(
    seed: int,
) -> None:
    job, wiring = wirings.anything(100 + seed, 40)
    web = read_web(job, wiring)
    loom = lay_out(job, wiring)
    clean(loom)
    best = crossings(web, stack(web, arrange(web)))
    start = crossings(web, stack(web, first_arrangement(web)))
    assert best < start
    assert g.crossings(loom) == best


def test_every_run_goes_from_its_terminal_to_its_terminal() -> None:
    job, wiring = wirings.quill()
    loom = lay_out(job, wiring)
    for run in wiring.runs:
        for end, terminal in ((0, run.from_), (-1, run.to)):
            x, y = loom.runs[run.id][end]
            owner, _, rest = terminal.partition(".")
            if owner == "unit":
                box, edges = loom.leads[rest], {loom.unit.right}
            elif owner in loom.parts:
                box = loom.pins[(owner, rest)]
                edges = {box.x, box.right}
            else:
                box = loom.flags[terminal]
                edges = {box.x}
            assert x in edges
            assert box.y < y < box.bottom


def test_legs_are_as_long_as_in_the_car_where_the_paper_allows() -> None:
    job, wiring = wirings.quill()
    loom = lay_out(job, wiring)
    by_place = {sleeve.place: sleeve for sleeve in loom.sleeves}
    assert by_place["brake pedal"].box.width == pytest.approx(0.5 * SCREEN.per_m)
    assert by_place["driver's kick panel"].box.width == pytest.approx(0.8 * SCREEN.per_m)
    bulkhead = by_place["engine bay bulkhead"]
    assert bulkhead.length_m == pytest.approx(1.9)
    assert bulkhead.shortened
    assert bulkhead.box.width == SCREEN.leg_most


def test_the_tree_is_the_shortest_way_from_the_unit() -> None:
    job, wiring = wirings.quill()
    web = read_web(job, wiring)
    assert web.tree.root == "steering column"
    assert web.tree.path("engine bay bulkhead") == [
        "steering column", "driver's kick panel", "engine bay bulkhead",
    ]  # fmt: skip
    assert web.tree.distance_m("engine bay bulkhead") == pytest.approx(2.7)
    # the pedal hangs at the column although the kick panel is joined to it as well
    assert web.tree.legs["brake pedal"].parent == "steering column"


def test_bundles_are_told_where_they_are_known() -> None:
    job, wiring = wirings.quill()
    loom = lay_out(job, wiring, bundles={"driver's kick panel": 9.44})
    clean(loom)
    texts = [label.text for label in loom.labels]
    assert "0.8 m from steering column · 8 runs · ⌀ 9.4 mm" in texts
    assert len([t for t in texts if "⌀" in t]) == 1


def test_a_place_nothing_ends_at_is_named_on_the_way() -> None:
    job, wiring = wirings.small()
    web = read_web(job, wiring)
    leg = web.tree.legs["engine bay bulkhead"]
    assert leg.via == ("driver's kick panel",)
    assert leg.length_m == pytest.approx(2.7)


def test_the_unit_sits_where_it_is_allowed() -> None:
    job, wiring = wirings.quill()
    there = WholeJob.model_validate(
        job.model_dump(by_alias=True) | {"places_allowed": ["driver's kick panel"]}
    )
    assert read_web(there, wiring).tree.root == "driver's kick panel"
    clean(lay_out(there, wiring))


def test_parts_without_a_place_sit_where_most_of_their_runs_lead() -> None:
    job, wiring = wirings.quill()
    nowhere = Wiring.model_validate(
        wiring.model_dump(by_alias=True)
        | {"parts": [{"id": p.id, "of": p.of} for p in wiring.parts]}
    )
    web = read_web(job, nowhere)
    assert web.items["K1"].place == "steering column"
    assert web.items["D1"].place == "driver's kick panel"
    assert web.owner[("r1", 0)] == UNIT
    clean(lay_out(job, nowhere))


def test_ends_that_would_meet_are_set_half_a_row_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rare: two runs within one place that would lie end on end in every order of tracks."""
    monkeypatch.setattr(
        "startwright.sheets.layout.arrange", lambda web, size: first_arrangement(web)
    )
    shifted: list[frozenset[str]] = []

    def watch(web: Web, order: Arrangement, shift: frozenset[str], size: Measure) -> Heights:
        shifted.append(shift)
        return stack(web, order, shift, size)

    monkeypatch.setattr("startwright.sheets.lanes.stack", watch)
    clean(lay_out(*wirings.anything(428, 28)))
    assert any(shifted)


def test_same_numbers_every_time() -> None:
    job, wiring = wirings.anything(7, 30)
    assert lay_out(job, wiring).runs == lay_out(job, wiring).runs


def test_the_checks_see_what_they_are_for() -> None:
    """Break the geometry on purpose: every check must notice."""
    job, wiring = wirings.quill()
    loom = lay_out(job, wiring)
    part = loom.parts["K1"]
    loom.runs["r1"] = [(part.x - 20, part.middle), (part.right + 20, part.middle)]
    assert g.behind_boxes(loom)
    assert g.labels_on_runs(loom)
    loom.runs["r3"] = loom.runs["r4"]
    assert any({a, b} == {"r3", "r4"} for a, b, *_ in g.too_close(loom, 8))
    loom.labels.append(replace(loom.labels[5], x=loom.labels[5].x + 3))
    assert g.labels_on_labels(loom)
