"""Any readings record."""

from __future__ import annotations

from hypothesis import strategies as st

from startwright.records.readings import Readings
from strategies.pieces import colours, texts


def readings() -> st.SearchStrategy[Readings]:
    """Any readings record."""
    one = st.fixed_dictionaries(
        {"wire": texts, "volts_V": st.floats(-50, 50)},
        optional={"during": st.lists(texts, max_size=2), "colour": colours, "pin": texts},
    )
    return st.fixed_dictionaries(
        {"format": st.just("startwright/readings/1"), "readings": st.lists(one, max_size=4)}
    ).map(Readings.model_validate)
