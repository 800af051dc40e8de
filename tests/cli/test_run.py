"""Exit statuses, and one shape for every error."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from startwright.cli import commands, run
from startwright.example import path as shop
from startwright.records import RecordError

STARTWRIGHT = [sys.executable, "-m", "startwright"]


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (["plan"], "Missing argument"),
        (["plan", "nowhere.yaml"], "no such file"),
        (["plan", "."], "a folder"),
        (["plan", "stock/shelf.yaml"], "a stock record"),
        (["plan", "jobs/plain.yaml", "--alternatives", "-1"], "alternatives"),
        (["plan", "jobs/plain.yaml", "--out", "no/such/folder/plan.yaml"], "cannot be written"),
        (["plan", "jobs/plain.yaml", "--jsn"], "No such option"),
        (["prove", "wirings/plain.yaml"], "Missing option"),
        (["prove", "jobs/plain.yaml", "--job", "jobs/plain.yaml"], "a job record"),
        (["prove", "wirings/plain.yaml", "--job", "wirings/plain.yaml"], "a wiring record"),
        (["fly"], "No such command"),
        (["identify", "nowhere.csv"], "cannot be opened"),
        (["serve", "--folder", "nowhere"], "no such folder"),
        (["serve", "--port", "99999"], "--port"),
    ],
    ids=lambda a: " ".join(a) if isinstance(a, list) else None,
)
def test_every_error_has_one_shape(startwright, arguments: list[str], what: str) -> None:
    asked = startwright(*arguments, "--json") if arguments[0] != "serve" else None
    if asked is not None:
        assert asked.status == 2
        error = asked.json["error"]
        assert set(error) == {"what", "where", "expected"}
        assert all(error.values())
        assert what.lower() in error["what"].lower()
        assert asked.err == ""
    people = startwright(*arguments)
    assert people.status == 2
    assert people.out == ""
    assert what.lower() in people.err.lower()
    assert "expected" in people.err
    assert "Traceback" not in people.err


def test_further_errors_are_listed_for_people(startwright, tmp_path: Path) -> None:
    text = (shop() / "wirings" / "plain.yaml").read_text()
    wrong = tmp_path / "w.yaml"
    wrong.write_text(text.replace("colour: RD", "colour: red").replace("size_mm2: 0.5", "mm: 1"))
    asked = startwright("prove", wrong, "--job", "jobs/plain.yaml")
    assert asked.status == 2
    heads = [line for line in asked.err.splitlines() if not line.startswith(" ")]
    assert len(heads) == 11
    assert heads[-1].startswith("and ")
    lines = [int(h.split(":")[1].split()[0]) for h in heads[:-1]]
    assert lines == sorted(lines)


def test_a_fault_of_this_program_is_not_an_answer(startwright, monkeypatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("oh")

    monkeypatch.setattr(commands, "read", broken)
    asked = startwright("plan", "jobs/plain.yaml", "--json")
    assert asked.status == run.BROKEN
    assert "ZeroDivisionError" in asked.json["error"]["what"]
    with pytest.raises(ZeroDivisionError):
        startwright("plan", "jobs/plain.yaml")


def test_stopping_is_not_finished(startwright, monkeypatch) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(commands, "read", stopped)
    asked = startwright("plan", "jobs/plain.yaml")
    assert (asked.status, asked.out, asked.err) == (3, "", "stopped\n")
    assert set(startwright("plan", "jobs/plain.yaml", "--json").json) == {"error"}


def test_help_and_version(startwright) -> None:
    for asked in (startwright(), startwright("--help")):
        assert asked.status == 0
        assert "Exit status: 0 all is well" in asked.out
    assert startwright("--version").out.strip().count(".") == 2


def test_a_record_cannot_steer_the_terminal(startwright, tmp_path: Path) -> None:
    text = (shop() / "jobs" / "manual.yaml").read_text()
    for kind in ("vehicles", "units", "stock"):
        text = text.replace(f"../{kind}", str(shop() / kind))
    (tmp_path / "j.yaml").write_text(text)
    from startwright.cli.show import clean

    assert clean("a\x1b[31mb\x07\x9bc\nd\te") == "a·[31mb··c\nd\te"


# -- the real command -----------------------------------------------------------------------------


def _run(*arguments: str, **more: object) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "COLUMNS": "100", "NO_COLOR": "1", "PYTHONWARNINGS": "error"}
    return subprocess.run(
        [*STARTWRIGHT, *arguments],
        cwd=shop(),
        env=env,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        **more,  # type: ignore[arg-type]
    )


def test_the_command_itself() -> None:
    asked = _run("plan", "jobs/manual.yaml", "--json")
    assert asked.returncode == 1
    assert asked.stderr == ""
    assert json.loads(asked.stdout)["format"] == "startwright/no-plan/1"
    assert _run("plan", "nowhere.yaml").returncode == 2


def test_help_loads_no_engine() -> None:
    slow = ("numpy", "ortools", "fastapi", "typst", "rich.table", "ruamel")
    code = (
        "import sys\nfrom startwright.cli.run import run\nrun(['--help'])\n"
        f"sys.stderr.write(repr([m for m in {slow} if m in sys.modules]))"
    )
    asked = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert asked.stderr == "[]"


def test_a_reader_that_has_enough(tmp_path: Path) -> None:
    command = " ".join(STARTWRIGHT)
    line = f"{command} prove wirings/plain.yaml --job jobs/plain.yaml --json | head -c 1"
    asked = subprocess.run(
        ["bash", "-c", line], cwd=shop(), capture_output=True, text=True, check=True, timeout=60
    )
    assert (asked.stdout, asked.stderr) == ("{", "")


def test_others_of_an_error_come_after_it() -> None:
    error = RecordError("a", "b", "c")
    assert error.others == ()
    assert str(error) == "b: a; expected c"
