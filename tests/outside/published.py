"""Reads the published values beside these tests and holds results against them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import yaml

HERE = Path(__file__).parent / "values"


def table(name: str) -> dict[str, dict[str, Any]]:
    """The rows of one file by id."""
    rows = yaml.safe_load((HERE / f"{name}.yaml").read_text(encoding="utf-8"))
    return {r["id"]: r for r in rows}


def starting(name: str, prefix: str) -> list[dict[str, Any]]:
    """The rows whose id starts so; at least one, or the test is empty."""
    rows = [r for i, r in table(name).items() if i.startswith(prefix)]
    assert rows, f"no row starts with {prefix}"
    return rows


def ids(row: dict[str, Any]) -> str:
    return str(row["id"])


def agree(row: Mapping[str, Any], got: Any) -> None:
    """`got` equals the row's value within the row's tolerance, element by element."""
    _agree(row["value"], got, row["tolerance"], row["id"])


def _agree(want: Any, got: Any, tolerance: Any, where: str) -> None:
    if isinstance(want, Mapping):
        assert set(want) == set(got), where
        for key in want:
            _agree(want[key], got[key], tolerance, f"{where}[{key}]")
    elif isinstance(want, Sequence) and not isinstance(want, str):
        assert len(want) == len(got), where
        for k, (w, g) in enumerate(zip(want, got, strict=True)):
            _agree(w, g, tolerance, f"{where}[{k}]")
    elif isinstance(want, str):
        assert want == got, where
    else:
        allowed = 1e-9 * max(1.0, abs(want))
        if isinstance(tolerance, Mapping):
            allowed = tolerance.get("abs", 0.0) + tolerance.get("rel", 0.0) * abs(want)
        assert abs(got - want) <= allowed + 1e-12, f"{where}: {got} is not {want} ± {allowed}"
