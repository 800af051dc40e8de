"""Any vehicle record, and any circuit."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from startwright.records import Vehicle
from startwright.records.words import FUNCTIONS, KEY_FED, KEY_POSITIONS, NEVER_TOUCHED
from strategies.pieces import amperes, colours, dates, levels, positive, slugs, some, texts

_REACHED = {
    "place": texts,
    "plug": texts,
    "pin": texts,
    "colour": colours,
    "size_mm2": positive,
    "notes": texts,
}


@st.composite
def circuits(draw: st.DrawFn) -> dict[str, Any]:
    """One circuit of any function, as plain data, coherent within itself."""
    function = draw(st.sampled_from(FUNCTIONS))
    circuit = {"id": draw(slugs), "function": function, **draw(some(_REACHED))}
    if function in KEY_FED:
        positions = st.lists(st.sampled_from(KEY_POSITIONS), min_size=1, unique=True)
        circuit["live"] = draw(positions)
        circuit |= draw(some({"active": levels, "load_A": amperes, "leave_dead": texts}))
        if function == "starter":
            interlocks = ["downstream", "upstream", "mechanical", "none"]
            circuit["interlock"] = draw(st.sampled_from(interlocks))
    elif function in ("lock", "unlock") and draw(st.booleans()):
        circuit |= {"style": "ladder", "steps_ohm": {"rest": 4700, "lock": draw(positive)}}
    elif function not in NEVER_TOUCHED | {"ground", "tach", "immobilizer"}:
        rest, active = draw(st.permutations(["battery", "ground", "open"]))[:2]
        circuit |= {"rest": rest, "active": active}
        circuit |= draw(some({"load_A": amperes, "pulse_s": positive}))
    circuit |= draw(some({"known": st.fixed_dictionaries({"how": st.just("told"), "date": dates})}))
    return circuit


def vehicles() -> st.SearchStrategy[Vehicle]:
    """Any vehicle record."""
    way = st.fixed_dictionaries({"from": texts, "to": texts, "length_m": positive})
    return st.fixed_dictionaries(
        {
            "format": st.just("startwright/vehicle/1"),
            "id": slugs,
            "gearbox": st.sampled_from(["automatic", "cvt", "manual"]),
            "circuits": st.lists(circuits(), max_size=4, unique_by=lambda c: c["id"]),
        },
        optional={
            "make": texts,
            "years": st.tuples(st.integers(1950, 2100), st.integers(1950, 2100)),
            "engine": some({"cylinders": st.integers(1, 16), "idle_stop": st.booleans()}),
            "immobilizer": st.fixed_dictionaries(
                {"kind": st.sampled_from(["none", "transponder", "unknown"])},
                optional={"evidence": st.lists(texts | st.builds(dict, saw=texts), max_size=2)},
            ),
            "battery": some({"capacity_Ah": positive, "key_off_mA": positive}),
            "places": st.lists(way, max_size=2),
            "notes": texts,
        },
    ).map(Vehicle.model_validate)
