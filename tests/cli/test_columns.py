"""Rows on a screen of any width: no word is broken, nothing is lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from startwright.cli.columns import hanging, laid_out, wrap

WORDS = st.text(st.sampled_from("abcdefg_.-"), min_size=1, max_size=24)
CELLS = st.lists(WORDS, max_size=12).map(" ".join)
RULES = [
    ("✓", "crank-only-when-safe", "hazard", "The unit cranks only when it is safe to."),
    ("–", "immobilizer-only-while-starting", "hazard", "Not wanted here."),
]
HEADS = ("", "rule", "kind", "says")


def words(lines: list[str]) -> list[str]:
    return sorted(w for line in lines for w in line.split() if set(w) - set("─·"))


@given(
    st.integers(20, 200),
    st.integers(1, 5).flatmap(
        lambda n: st.lists(st.lists(CELLS, min_size=n, max_size=n), min_size=1)
    ),
)
def test_every_word_is_there_whole_and_lines_are_as_wide_as_they_may(width, rows) -> None:
    heads = [f"h{n}" for n in range(len(rows[0]))]
    lines = laid_out(heads, rows, width)
    asked = words([cell for row in rows for cell in row])
    got = words(lines)
    assert got in (asked, sorted([*asked, *heads]))
    longest = max((len(w) for w in asked), default=0)
    assert max(map(len, lines), default=0) <= max(width, longest + 4)


@given(CELLS, st.integers(1, 60))
def test_wrapping_keeps_the_words(text, width) -> None:
    lines = wrap(text, width)
    assert " ".join(lines) == text
    assert all(len(line) <= width or " " not in line for line in lines)


def test_a_table_where_there_is_room() -> None:
    assert laid_out(HEADS, RULES, 120)[:3] == [
        "    rule                              kind     says",
        "─" * 87,
        "✓   crank-only-when-safe              hazard   The unit cranks only when it is safe to.",
    ]


def test_one_under_the_other_where_there_is_none() -> None:
    assert laid_out(HEADS, RULES, 40) == [
        "✓ crank-only-when-safe · hazard",
        "  The unit cranks only when it is safe",
        "  to.",
        "– immobilizer-only-while-starting ·",
        "  hazard",
        "  Not wanted here.",
    ]


def test_a_cell_away_from_its_head_says_its_unit() -> None:
    rows = [("1", "r1", "unit.gnd → ground.steering_column", "1.5")]
    lines = laid_out(("", "run", "from → to", "mm²"), rows, 34, labels=("{}", "{}", "{}", "{} mm²"))
    assert lines == ["1 r1 · 1.5 mm²", "  unit.gnd →", "  ground.steering_column"]


@pytest.mark.parametrize("width", [40, 60, 80, 120])
@pytest.mark.parametrize(
    "question",
    [
        "size wirings/plain.yaml --job jobs/plain.yaml",
        "prove wirings/plain.yaml --job jobs/plain.yaml",
        "prove wirings/plain.yaml --job jobs/plain.yaml --timeline start",
        "plan jobs/plain.yaml",
        "identify recordings/quill-without-notes.csv",
    ],
)
def test_no_name_is_broken_on_a_narrow_screen(startwright, monkeypatch, question, width) -> None:
    monkeypatch.setenv("COLUMNS", "300")
    names = {w for w in startwright(*question.split()).out.split() if "_" in w or "-" in w}
    monkeypatch.setenv("COLUMNS", str(width))
    narrow = startwright(*question.split()).out
    assert len(names) > 2
    assert {n.strip(",") for n in names} <= {w.strip(",") for w in narrow.split()}


def test_what_follows_a_mark_stands_under_its_text() -> None:
    assert hanging("- a long line of words", 12) == ["- a long", "  line of", "  words"]
    assert hanging("  formula of a drop", 14) == ["  formula of a", "    drop"]
    assert hanging("plain words go on", 11) == ["plain words", "go on"]
