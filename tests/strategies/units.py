"""Any unit record, and any lead."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from startwright.records import Unit
from startwright.records.words import COMMANDS, FUNCTIONS, SIGNALS
from strategies.pieces import colours, levels, positive, slugs, some, texts


@st.composite
def leads(draw: st.DrawFn) -> dict[str, Any]:
    """One output or input of a unit, as plain data."""
    lead: dict[str, Any] = {"id": draw(slugs), **draw(some({"colour": colours, "pin": texts}))}
    if draw(st.booleans()):
        lead |= {"way": "out", "does": [draw(st.sampled_from([*FUNCTIONS, *SIGNALS]))]}
        lead |= {"active": draw(levels), "limit_A": draw(positive)}
        if draw(st.booleans()):
            lead |= {"does": ["ignition", "starter"], "chosen_by": "choice"}
    else:
        lead |= {"way": "in", "senses": draw(st.sampled_from([*FUNCTIONS, "service"]))}
        lead |= draw(some({"on_V": positive, "debounce_s": positive}))
    return lead


def units() -> st.SearchStrategy[Unit]:
    """Any unit record, with a feed, a setting `choice` and further leads."""
    feed = {"id": "feed", "way": "feed", "limit_A": 30}
    choice = {
        "id": "choice",
        "values": {"off": "dead", "ignition": None, "starter": "second starter"},
        "default": "off",
    }
    run_time = {"id": "run_time", "values": {"min": 300, "max": 1800, "step": 300}, "default": 600}
    pulses = st.lists(
        st.fixed_dictionaries(
            {"drives": st.lists(st.sampled_from(["lock", "horn", "parking_light"]), max_size=2)},
            optional={"pulse_s": positive, "repeat_s": positive},
        ),
        max_size=2,
    )
    return st.fixed_dictionaries(
        {
            "format": st.just("startwright/unit/1"),
            "id": slugs,
            "logic_from": st.just("feed"),
            "leads": st.lists(
                leads().filter(lambda x: x["id"] != "feed"), max_size=5, unique_by=lambda x: x["id"]
            ).map(lambda more: [feed, *more]),
            "settings": st.just([choice, run_time]),
        },
        optional={
            "name": texts,
            "tries": st.integers(1, 10),
            "commands": some(dict.fromkeys(COMMANDS, pulses)),
            "refuses": st.lists(st.sampled_from(["ignition_on", "service"]), unique=True),
            "guards": st.just([{"input": "hood", "reads": "inactive"}]),
            "engine_signal": st.just({"by": "engine_sense", "choices": ["tach", "timed"]}),
        },
    ).map(Unit.model_validate)
