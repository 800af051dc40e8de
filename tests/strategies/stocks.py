"""Any stock record, and any article."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from startwright.records import Stock
from strategies.pieces import colours, positive, slugs, texts


def parts() -> st.SearchStrategy[dict[str, Any]]:
    """Any article, as plain data."""
    ratings: dict[str, dict[str, st.SearchStrategy[Any]]] = {
        "relay": {
            "coil_ohm": positive,
            "contact_A": positive,
            "pull_in_V": st.floats(6, 8),
            "drop_out_V": st.floats(1, 5),
        },
        "diode": {"forward_A": positive, "reverse_V": positive},
        "resistor": {"ohm": positive},
        "fuse": {"rating_A": positive},
        "switch": {
            "operated_by": st.sampled_from(["hood", "brake", "service"]),
            "contact_at_rest": st.sampled_from(["open", "closed"]),
        },
        "interface": {"pins": st.just({"power": "battery", "earth": "ground"})},
        "wire": {"size_mm2": positive, "colour": colours, "spool_m": positive},
        "terminal": {"size_mm2": st.lists(positive, min_size=1, max_size=3)},
        "loom": {"inside_mm": positive},
    }
    return st.sampled_from(sorted(ratings)).flatmap(
        lambda kind: st.fixed_dictionaries(
            {"id": slugs, "kind": st.just(kind), **ratings[kind]},
            optional={"price": positive, "count": st.integers(0, 99), "name": texts},
        )
    )


def stocks() -> st.SearchStrategy[Stock]:
    """Any stock record."""
    return st.fixed_dictionaries(
        {
            "format": st.just("startwright/stock/1"),
            "id": slugs,
            "parts": st.lists(parts(), max_size=6, unique_by=lambda p: p["id"]),
        }
    ).map(Stock.model_validate)
