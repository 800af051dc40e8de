"""The exit status where the reader goes away, the disk is full, or the command is stopped."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from startwright.cli import output
from startwright.example import path as shop

SOUND = ["prove", "wirings/plain.yaml", "--job", "jobs/plain.yaml"]
BREACHED = ["prove", "wirings/plain-without-hood.yaml", "--job", "jobs/plain.yaml"]


def _shell(line: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "COLUMNS": "100", "NO_COLOR": "1", "PYTHONWARNINGS": "error"}
    return subprocess.run(
        ["bash", "-o", "pipefail", "-c", line],
        cwd=shop(),
        env=env,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def _command(*arguments: str) -> str:
    return " ".join([sys.executable, "-m", "startwright", *arguments])


@pytest.mark.parametrize("reader", ["head -1", "true"])
@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (SOUND, 0),
        ([*SOUND, "--json"], 0),
        ([*SOUND, "--timeline", "start"], 0),
        (BREACHED, 1),
        ([*SOUND, "--most-states", "10"], 3),
        ([*SOUND, "--why", "nosuch"], 2),
    ],
    ids=lambda a: " ".join(a[1:2] + a[4:]) if isinstance(a, list) else None,
)
def test_a_reader_that_goes_away_changes_no_status(
    arguments: list[str], status: int, reader: str
) -> None:
    """Neither a `no` of a sound wiring nor an `all is well` of a breached one."""
    asked = _shell(f"{_command(*arguments)} | {reader} > /dev/null")
    assert asked.returncode == status
    assert "Traceback" not in asked.stderr
    assert "Broken pipe" not in asked.stderr


@pytest.mark.parametrize("more", [[], ["--json"]])
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full disk to write to")
def test_an_answer_that_cannot_be_written_is_one_clear_error(more: list[str]) -> None:
    asked = _shell(f"{_command(*SOUND, *more)} > /dev/full")
    assert asked.returncode == 2
    assert asked.stderr.startswith("standard output: an answer that cannot be written")
    assert len(asked.stderr.splitlines()) == 2


def test_closed_outputs_change_no_status() -> None:
    assert _shell(f"{_command(*SOUND)} >&- 2>&-").returncode == 0
    assert _shell(f"{_command(*BREACHED)} >&- 2>&-").returncode == 1


def test_a_fault_of_this_program_is_no_no() -> None:
    code = (
        "import sys\n"
        "from startwright.cli import commands, run\n"
        "def broken(*_, **__):\n"
        "    raise ZeroDivisionError('oh')\n"
        "commands.read = broken\n"
        "sys.argv = ['startwright', 'plan', 'jobs/plain.yaml']\n"
        "run.main()\n"
    )
    asked = subprocess.run(
        [sys.executable, "-c", code], cwd=shop(), capture_output=True, text=True, check=False
    )
    assert asked.returncode == 70
    assert "ZeroDivisionError: oh" in asked.stderr


@pytest.mark.skipif(os.name == "nt", reason="signals")
@pytest.mark.parametrize("more", [["--faults", "--pairs"], ["--faults", "--json"]])
def test_ctrl_c_during_faults(more: list[str], tmp_path: Path) -> None:
    """Stopped in the middle of a fault: one word, no half answer, not finished."""
    ready = tmp_path / "ready"
    code = (
        "import pathlib, sys, time\n"
        "from startwright.prove import judge\n"
        "def slow(self, fault, after=()):\n"
        f"    pathlib.Path({str(ready)!r}).touch()\n"
        "    time.sleep(60)\n"
        "judge.Judge._faulty = slow\n"
        f"sys.argv = ['startwright', *{[*SOUND, *more]!r}]\n"
        "from startwright.cli.run import main\n"
        "main()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code],
        cwd=shop(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as asked:
        for _ in range(600):
            if ready.exists():
                break
            time.sleep(0.1)
        asked.send_signal(signal.SIGINT)
        out, err = asked.communicate(timeout=60)
    assert asked.returncode == 3
    assert "Traceback" not in err
    if "--json" in more:
        assert set(json.loads(out)) == {"error"}
    else:
        assert (out, err) == ("", "stopped\n")


def test_a_terminal_is_left_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal:
        def isatty(self) -> bool:
            return True

    at = Terminal()
    monkeypatch.setattr(sys, "stdout", at)
    monkeypatch.setattr(sys, "stderr", at)
    assert output.hold() is None
    assert sys.stdout is at  # type: ignore[comparison-overlap]
