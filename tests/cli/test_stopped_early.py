"""Ctrl-C while the program still loads: the same one word and status as later on."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from startwright.cli.stopped import ERROR
from startwright.example import path as shop
from startwright.records import RecordError

LATE = [
    "startwright.cli.run",
    "typer",
    "startwright.records",
    "pydantic",
    "startwright.cli.commands",
]
ENTRIES = {
    "the command": "from startwright.cli import main\nsys.exit(main())\n",
    "python -m": "import runpy\nrunpy.run_module('startwright', run_name='__main__')\n",
}
HOOK = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
class Hand:
    def find_spec(self, name, path=None, target=None):
        if name == {module!r}:
            os.kill(os.getpid(), signal.SIGINT)
sys.meta_path.insert(0, Hand())
sys.argv = ['startwright', 'prove', 'wirings/plain.yaml', '--job', 'jobs/plain.yaml', *{more!r}]
"""


def pressed_at(module: str, entry: str, *more: str) -> subprocess.CompletedProcess[str]:
    """The command with SIGINT at the moment when it looks for a module."""
    code = HOOK.format(module=module, more=list(more)) + ENTRIES[entry]
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=shop(),
        env={**os.environ, "NO_COLOR": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


@pytest.mark.skipif(os.name == "nt", reason="signals")
@pytest.mark.parametrize("entry", ENTRIES)
@pytest.mark.parametrize("module", LATE)
def test_one_word_and_not_finished(module: str, entry: str) -> None:
    asked = pressed_at(module, entry)
    assert (asked.returncode, asked.stdout, asked.stderr) == (3, "", "stopped\n")


@pytest.mark.skipif(os.name == "nt", reason="signals")
@pytest.mark.parametrize("module", LATE)
def test_one_document_where_that_was_asked_for(module: str) -> None:
    asked = pressed_at(module, "the command", "--json")
    assert (asked.returncode, asked.stderr) == (3, "")
    assert json.loads(asked.stdout) == {"error": ERROR}


def test_it_is_the_one_shape_of_errors() -> None:
    assert RecordError(**ERROR).as_json() == {"error": ERROR}
    assert all(ERROR.values())


def test_nothing_that_takes_long_stands_before_the_hand_on_ctrl_c() -> None:
    """What the entry point imports before it listens is of the standard library, and little."""
    ask = "import sys\nfrom startwright.cli import main\nprint(*sorted(sys.modules))"
    told = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    ours = [m for m in told.stdout.split() if m.startswith("startwright")]
    assert ours == ["startwright", "startwright.cli"]
    assert not {"pydantic", "typer", "numpy", "json"} & set(told.stdout.split())
