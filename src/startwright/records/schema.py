"""JSON Schemas (2020-12) of every record, generated from the models.

They travel in the package (``records/schemas/<kind>.json``), so that an editor or another program
can check a record before it gets here. What holds between keys is only checked by reading.
"""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

from pydantic import BaseModel

from startwright.records.errors import RecordError
from startwright.records.keys import meaning
from startwright.records.read import KINDS
from startwright.records.reports import ProofReport, SizeReport, Timeline

SCHEMAS: dict[str, type[BaseModel]] = {
    **KINDS,
    "proof": ProofReport,
    "size": SizeReport,
    "timeline": Timeline,
}
"""What has a schema: every record, and the reports that `--json` prints."""


def schema(kind: str) -> dict[str, Any]:
    """The JSON Schema of a kind, made now from the model."""
    model = SCHEMAS[kind]
    made = model.model_json_schema(by_alias=True)
    for name, part in [(model.__name__, made), *made.get("$defs", {}).items()]:
        for key, about in part.get("properties", {}).items():
            about.pop("title", None)
            if said := meaning(name, key):
                about["description"] = said
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:startwright:{kind}:1",
        **made,
    }


def schema_text(kind: str) -> str:
    """The text of the shipped file."""
    return json.dumps(schema(kind), indent=1, ensure_ascii=False, sort_keys=False) + "\n"


def shipped(kind: str) -> dict[str, Any]:
    """The JSON Schema of a kind as it travels in the package.

    Raises
    ------
    RecordError
        Where there is no such kind.
    """
    if kind not in SCHEMAS:
        raise RecordError(f"no schema of {kind[:60]!r}", "schema", f"one of {', '.join(SCHEMAS)}")
    file = resources.files("startwright.records") / "schemas" / f"{kind}.json"
    found: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return found
