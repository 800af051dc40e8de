"""The generated pages and schemas are current, and leave nothing out."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest
import typer

from startwright.cli import app
from startwright.records.keys import KEYS
from startwright.records.scenario import ACTIONS, FAULTS
from startwright.records.words import FUNCTIONS, SIGNALS, WANTS

ROOT = Path(__file__).parents[2]
REFERENCE = ROOT / "docs" / "reference"


@pytest.fixture(scope="module")
def generate() -> ModuleType:
    spec = importlib.util.spec_from_file_location("generate", ROOT / "docs" / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_generated_file_is_current(generate: ModuleType) -> None:
    stale = [
        path.name
        for path, text in generate.pages().items()
        if not path.exists() or path.read_text(encoding="utf-8") != text
    ]
    assert stale == [], "run docs/generate.py"


def test_every_command_and_option_is_documented() -> None:
    page = (REFERENCE / "commands.md").read_text()
    group = typer.main.get_command(app)
    for name, verb in group.commands.items():  # type: ignore[attr-defined]
        section = page.split(f"## startwright {name}\n")[1].split("\n## ")[0]
        for parameter in verb.params:
            if parameter.param_type_name == "argument":
                assert f"`{parameter.metavar.strip('[]')}`" in section
            else:
                assert all(f"`{option}`" in section for option in parameter.opts)
            assert parameter.help, f"{name} {parameter.name} has no help"
            assert parameter.help in section


def test_every_key_is_documented() -> None:
    page = (REFERENCE / "records.md").read_text()
    for keys in KEYS.values():
        for key, meaning in keys.items():
            assert any(
                line.startswith(f"| `{key}` |") and line.endswith(f"| {meaning} |")
                for line in page.splitlines()
            ), key
    for word in (*FUNCTIONS, *SIGNALS, *WANTS):
        assert f"`{word}`" in page


def test_every_action_is_documented() -> None:
    page = (REFERENCE / "scenarios.md").read_text()
    for what, states in ACTIONS.items():
        assert f"| `{what}` | {', '.join(f'`{s}`' for s in states)} |" in page
    for fault in FAULTS:
        assert f"`{fault}`" in page


def test_writing_is_idle_when_current(generate: ModuleType) -> None:
    written: list[str] = []
    generate.main(written.append)
    assert written == []
