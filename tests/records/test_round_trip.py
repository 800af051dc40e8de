"""Any record, written and read again, is the same record."""

from __future__ import annotations

import jsonschema
import pytest
import strategies
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from startwright.records.base import Record
from startwright.records.read import parse
from startwright.records.schema import shipped
from startwright.records.write import to_json, to_plain, to_yaml

KINDS = {
    "vehicle": strategies.vehicles(),
    "unit": strategies.units(),
    "stock": strategies.stocks(),
    "job": strategies.jobs(),
    "wiring": strategies.wirings(),
    "plan": strategies.plans(),
    "readings": strategies.readings(),
}


@pytest.mark.parametrize("kind", KINDS)
@settings(
    max_examples=25,
    derandomize=True,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(data=st.data())
def test_read_write_read(kind: str, data: st.DataObject) -> None:
    record: Record = data.draw(KINDS[kind])
    text = to_yaml(record)
    again = parse(text, "x.yaml", kind)
    assert again == record
    assert again.model_fields_set == record.model_fields_set
    assert to_yaml(again) == text
    assert parse(to_json(record), "x.json", kind) == record
    jsonschema.validate(to_plain(record), shipped(kind))


@settings(max_examples=10, derandomize=True, deadline=None)
@given(st.one_of(strategies.sound_jobs(), strategies.sabotaged_jobs()))
def test_jobs_with_their_wirings_come_back(made: strategies.Sound) -> None:
    assert parse(to_yaml(made.wiring), "x.yaml", "wiring") == made.wiring
    assert parse(to_yaml(made.job), "x.yaml", "job") == made.job.__class__.__base__.model_validate(
        to_plain(made.job)
    )


def test_every_sabotage_changes_the_wiring() -> None:
    seen: set[str] = set()

    @settings(max_examples=1, derandomize=True, deadline=None)
    @given(strategies.sound_jobs())
    def once(sound: strategies.Sound) -> None:
        for name in strategies.SABOTAGES:
            made = strategies.sabotage_job(sound, name)
            assert made.wiring != sound.wiring
            assert made.breaks
            seen.add(name)

    once()
    assert seen == set(strategies.SABOTAGES)
