"""The example of the network's page runs and says what the page says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

PAGE = Path(__file__).resolve().parents[2] / "docs" / "network.md"


def test_the_example_of_the_page() -> None:
    code = re.search(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S)
    assert code is not None
    names: dict[str, object] = {}
    exec(code[1], names)
    volts = names["answer"].node_V[:, names["number"]["fed"]]  # type: ignore
    assert volts == pytest.approx([0.0, 12.59], abs=5e-3)
    assert "0 V and 12.59 V" in code[1]
