"""Any wiring, of a job or of none, and any plan."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from startwright.records import Plan, WholeJob, Wiring
from startwright.records.stock import PINS
from strategies.pieces import colours, positive, slugs, some, texts

_PARTS = st.lists(
    st.fixed_dictionaries(
        {"id": st.from_regex(r"[KDF][0-9]", fullmatch=True), "of": slugs}, optional={"place": texts}
    ),
    max_size=3,
    unique_by=lambda p: p["id"],
)


@st.composite
def wirings(draw: st.DrawFn, job: WholeJob | None = None) -> Wiring:
    """Any wiring; of a `job`, any wiring whose terminals and parts exist."""
    if job is None:
        fitted = draw(_PARTS)
        name = st.one_of(
            slugs.map("unit.{}".format),
            slugs.map("vehicle.{}".format),
            slugs.map("vehicle.{}.source".format),
            slugs.map("ground.{}".format),
        )
        settings: dict[str, Any] = draw(st.dictionaries(slugs, slugs | positive, max_size=3))
        cuts = draw(st.lists(slugs, max_size=2, unique=True))
    else:
        usable = [p for p in job.stock.parts if p.kind in PINS or p.kind == "interface"]
        chosen = draw(st.lists(st.sampled_from(usable), max_size=4)) if usable else []
        fitted = [{"id": f"P{n}", "of": p.id} for n, p in enumerate(chosen)]
        names = [f"unit.{lead.id}" for lead in job.unit.leads]
        names += [f"vehicle.{c.id}" for c in job.vehicle.circuits] + ["ground.brace"]
        names += [f"P{n}.{pin}" for n, p in enumerate(chosen) for pin in p.pin_names]
        name = st.sampled_from(names)
        settings, cuts = {}, []
    ends = st.tuples(name, name).filter(lambda pair: pair[0] != pair[1])
    more = some(
        {
            "size_mm2": positive,
            "colour": colours,
            "length_m": st.floats(0.05, 5).map(lambda x: round(x, 2)),
            "joints": st.lists(st.sampled_from(["solder", "crimp", "plug"]), max_size=2),
            "why": texts,
        }
    )
    runs = [
        {"id": f"r{n}", "from": a, "to": b, **draw(more)}
        for n, (a, b) in enumerate(draw(st.lists(ends, max_size=8)), start=1)
    ]
    return Wiring.model_validate(
        {
            "format": "startwright/wiring/1",
            "parts": fitted,
            "settings": settings,
            "cuts": cuts,
            "runs": runs,
        }
    )


def plans() -> st.SearchStrategy[Plan]:
    """Any plan record."""
    need = st.fixed_dictionaries({"id": slugs, "need": texts, "because": texts})
    check = st.fixed_dictionaries({"id": slugs, "do": st.lists(texts, max_size=2), "expect": texts})
    return st.fixed_dictionaries(
        {"format": st.just("startwright/plan/1"), "job": slugs, "wiring": wirings()},
        optional={
            "needs": st.lists(need, max_size=2),
            "checks": st.lists(check, max_size=2),
            "cost": positive,
            "warnings": st.lists(texts, max_size=2),
        },
    ).map(Plan.model_validate)
