"""The page's example runs and says what the page says; every public function names its source."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import startwright.network

PAGE = Path(__file__).resolve().parents[2] / "docs" / "network.md"


def test_the_example_of_the_page() -> None:
    code = re.search(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S)
    assert code is not None
    names: dict[str, object] = {}
    exec(code[1], names)
    volts = names["answer"].node_V[:, names["number"]["fed"]]  # type: ignore
    assert volts == pytest.approx([0.0, 12.59], abs=5e-3)
    assert "0 V and 12.59 V" in code[1]


def test_every_public_function_names_its_source() -> None:
    seen, bare = 0, []
    for path in sorted(Path(startwright.network.__file__).parent.glob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                seen += 1
                if "Source:" not in (ast.get_docstring(node) or ""):
                    bare.append(f"{path.name}:{node.name}")
    assert seen > 10
    assert not bare
