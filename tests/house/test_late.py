"""What takes long to import waits until it is asked for, and every late name is there."""

from __future__ import annotations

import importlib
import subprocess
import sys

import pytest


@pytest.mark.parametrize(
    "package", ["startwright.identify", "startwright.records.recordings", "startwright.sheets"]
)
def test_every_late_name_is_there(package: str) -> None:
    module = importlib.import_module(package)
    assert all(getattr(module, name) is not None for name in module.__all__)
    assert not hasattr(module, "nothing_of_this_name")


def test_the_app_begins_without_an_engine() -> None:
    heavy = ("numpy", "ortools", "typst", "startwright.prove.search", "startwright.size.report")
    ask = f"import sys, startwright.web.app; print([m for m in {heavy} if m in sys.modules])"
    told = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"
