"""Commands run in this process: status, what was printed, and the JSON of it."""

from __future__ import annotations

import contextlib
import functools
import io
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from startwright.cli.run import run
from startwright.example import path as shop


@dataclass
class Ran:
    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output, which has to be one JSON document."""
        return json.loads(self.out)


Command = Callable[..., Ran]


@pytest.fixture
def startwright(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    """Runs a command line in the folder of the invented shop."""
    monkeypatch.chdir(shop())
    monkeypatch.setenv("COLUMNS", "120")
    monkeypatch.setenv("NO_COLOR", "1")

    def command(*arguments: object) -> Ran:
        capsys.readouterr()
        status = run([str(a) for a in arguments])
        out, err = capsys.readouterr()
        return Ran(status, out, err)

    return command


@pytest.fixture(scope="session")
def planned() -> Callable[[str], Any]:
    """The JSON of the plan of an example job, worked out once."""

    @functools.cache
    def once(job: str) -> Any:
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            status = run(["plan", str(shop() / "jobs" / f"{job}.yaml"), "--json"])
        return {**json.loads(printed.getvalue()), "status": status}

    return once


@pytest.fixture
def plain() -> tuple[Path, str, Path]:
    """The arguments of the plain job's sound wiring."""
    return shop() / "wirings" / "plain.yaml", "--job", shop() / "jobs" / "plain.yaml"


@pytest.fixture
def hoodless() -> tuple[Path, str, Path]:
    """The arguments of the plain job's wiring without the hood."""
    wiring = shop() / "wirings" / "plain-without-hood.yaml"
    return wiring, "--job", shop() / "jobs" / "plain.yaml"
