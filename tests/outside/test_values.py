"""The carried values themselves: complete, marked, and none carried in vain."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from outside.published import HERE, table

FILES = sorted(p.stem for p in HERE.glob("*.yaml"))
TESTS = "".join(
    p.read_text(encoding="utf-8") for p in sorted(Path(__file__).parent.glob("test_*.py"))
)


@pytest.mark.parametrize("name", FILES)
def test_rows_are_complete(name):
    for id, row in table(name).items():
        assert {"inputs", "value", "unit", "tolerance", "source", "verified_in", "note"} <= set(row)
        assert row["source"], id
        assert row["verified_in"], f"{id} does not say where its words were read"


@pytest.mark.parametrize("name", FILES)
def test_no_value_is_carried_in_vain(name):
    """Each id stands in a test, or a test takes all that start alike."""
    named = set(re.findall(r'"([a-n]\.[^"{]*)"', TESTS))
    named |= {m.partition("{")[0] for m in re.findall(r'f"([a-n]\.[^"]*\{[^"]*)"', TESTS)}
    prefixes = set(re.findall(rf'starting\("{name}", "([^"]+)"\)', TESTS))
    prefixes |= {n for n in named if n.endswith(".")}
    idle = [
        id for id in table(name) if id not in named and not any(id.startswith(p) for p in prefixes)
    ]
    assert not idle, f"no test takes {idle}"
