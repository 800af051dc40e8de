"""Imports only go down the house, and the rule bites."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LINT = Path(sys.executable).parent / "lint-imports"


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [LINT, "--no-cache", folder / "pyproject.toml"],
        cwd=folder,
        capture_output=True,
        text=True,
        env={"PYTHONPATH": str(folder / "src"), "PATH": "/usr/bin:/bin"},
        check=False,
    )


def test_imports_only_go_down():
    result = lint(ROOT)
    assert result.returncode == 0, result.stdout + result.stderr
    assert "4 kept, 0 broken" in result.stdout


@pytest.mark.parametrize(
    ("where", "what"),
    [
        ("plan", "import startwright.prove"),
        ("records", "import startwright.network"),
        ("network", "import startwright.records"),
        ("shop", "import startwright.job"),
        ("prove", "import rich"),
    ],
)
def test_a_step_up_is_found(tmp_path, where, what):
    source = tmp_path / "src" / "startwright"
    folders = [p for p in (ROOT / "src" / "startwright").iterdir() if (p / "__init__.py").is_file()]
    for folder in folders:
        (source / folder.name).mkdir(parents=True)
        (source / folder.name / "__init__.py").write_text('"""."""\n')
    (source / "__init__.py").write_text('"""."""\n')
    (source / "cli.py").write_text('"""."""\n')
    (source / where / "up.py").write_text(f'"""."""\n\n{what}\n')
    (tmp_path / "pyproject.toml").write_text((ROOT / "pyproject.toml").read_text())
    result = lint(tmp_path)
    assert result.returncode == 1, result.stdout + result.stderr
    assert "1 broken" in result.stdout
