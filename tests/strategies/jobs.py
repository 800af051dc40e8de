"""Any job record."""

from __future__ import annotations

from hypothesis import strategies as st

from startwright.records.job import Job
from startwright.records.words import WANTS
from strategies.pieces import slugs, texts
from strategies.stocks import stocks
from strategies.units import units
from strategies.vehicles import vehicles


def jobs() -> st.SearchStrategy[Job]:
    """Any job record, with references or the records themselves."""
    return st.fixed_dictionaries(
        {
            "format": st.just("startwright/job/1"),
            "id": slugs,
            "vehicle": texts | vehicles(),
            "unit": texts | units(),
            "stock": texts | stocks(),
            "wants": st.lists(st.sampled_from(WANTS), unique=True),
        },
        optional={"customer": texts, "places_allowed": st.lists(texts, max_size=2)},
    ).map(Job.model_validate)
