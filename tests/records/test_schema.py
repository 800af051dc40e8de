"""The JSON Schemas are current, are schemas, and say what reading says."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jsonschema
import pytest

from startwright.example import path as shop
from startwright.records import RecordError
from startwright.records.read import read
from startwright.records.schema import SCHEMAS, schema, shipped
from startwright.records.write import to_plain

FILES = sorted(p for p in shop().rglob("*.yaml") if p.name != "bestiary.yaml")


def _kind(record: Any) -> str:
    return str(record.format).split("/")[1]


@pytest.mark.parametrize("kind", SCHEMAS)
def test_shipped_is_current(kind: str) -> None:
    assert shipped(kind) == schema(kind), "run docs/generate.py"
    jsonschema.Draft202012Validator.check_schema(shipped(kind))


@pytest.mark.parametrize("file", FILES, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_every_example_keeps_its_schema(file: Path) -> None:
    record = read(file)
    jsonschema.validate(to_plain(record), shipped(_kind(record)))


def _set(data: Any, path: str, value: Any) -> None:
    *steps, last = (int(s) if s.isdigit() else s for s in path.split("."))
    for step in steps:
        data = data[step]
    data[last] = value


@pytest.mark.parametrize(
    ("file", "path", "value"),
    [
        ("vehicles/corvane-tello", "circuits.2.load_mA", 1),
        ("vehicles/corvane-tello", "circuits.2.load_A", "1"),
        ("vehicles/corvane-tello", "circuits.2.load_A", -1),
        ("vehicles/corvane-tello", "circuits.2.function", "ignitoin"),
        ("vehicles/corvane-tello", "circuits.2.colour", "GN/RED"),
        ("vehicles/corvane-tello", "gearbox", None),
        ("vehicles/corvane-tello", "format", "startwright/unit/1"),
        ("units/fernlight-3", "leads.0.way", "inn"),
        ("units/fernlight-3", "tries", 11),
        ("stock/shelf", "parts.0.kind", "relais"),
        ("jobs/plain", "wants.0", "warmth"),
        ("wirings/plain", "runs.0.to", "vehicle batt"),
        ("wirings/plain", "runs.0.form", "vehicle.batt_1"),
    ],
)
def test_the_schema_refuses(file: str, path: str, value: Any) -> None:
    record = read(shop() / f"{file}.yaml")
    data = to_plain(record)
    _set(data, path, value)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, shipped(_kind(record)))


def test_every_key_is_explained() -> None:
    for kind in set(SCHEMAS) - {"proof", "size", "timeline"}:
        made = shipped(kind)
        for name, part in [(kind, made), *made.get("$defs", {}).items()]:
            for key, about in part.get("properties", {}).items():
                assert about.get("description"), f"{name}.{key} is not in records/keys.py"


def test_no_explanation_is_left_over() -> None:
    from startwright.records.keys import KEYS

    seen: dict[str, set[str]] = {}
    for kind in SCHEMAS:
        made = schema(kind)
        for name, part in [(SCHEMAS[kind].__name__, made), *made.get("$defs", {}).items()]:
            seen.setdefault(name, set()).update(part.get("properties", {}))
    for model, keys in KEYS.items():
        assert set(keys) == seen[model], model


def test_an_unknown_schema() -> None:
    with pytest.raises(RecordError, match="one of vehicle"):
        shipped("car")
