"""What records are made of: names, texts, numbers, levels, colours, dates."""

from __future__ import annotations

import datetime
from typing import Any

from hypothesis import strategies as st

from startwright.records.words import COLOURS

slugs = st.from_regex(r"[a-z0-9][a-z0-9_-]{0,8}", fullmatch=True)
texts = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20) | st.sampled_from(
    ["off", "no", "yes", "null", "1", "2026-03-02", "a: b", "# x", "'", '"', "~", " x ", "a\nb\n"]
)
positive = st.one_of(
    st.integers(1, 500).map(float),
    st.floats(1e-6, 1e6, allow_nan=False),
    st.sampled_from([0.5, 0.75, 1.5, 2.5]),
)
amperes = st.floats(0.01, 20).map(lambda x: round(x, 2))
colours = st.lists(st.sampled_from(COLOURS), min_size=1, max_size=2).map("/".join)
levels = st.sampled_from(["battery", "ground"])
dates = st.dates(datetime.date(1990, 1, 1), datetime.date(2100, 1, 1)).map(str)


def some(fields: dict[str, st.SearchStrategy[Any]]) -> st.SearchStrategy[dict[str, Any]]:
    """A mapping with any of these keys."""
    return st.fixed_dictionaries({}, optional=fields)
