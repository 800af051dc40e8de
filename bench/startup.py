"""How long a command takes to begin: each verb against a bare interpreter, in the same run.

Wall time of whole processes, the best and the middle of `ROUNDS`, alternating between commands so
that a busy moment of the machine touches all alike. The peers are Python that does nothing and
Python that imports what the verb cannot do without; the ratio is what to watch, not the seconds.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from startwright.example import path

ROUNDS = 7
BIN = Path(sys.executable).parent
JOB = path() / "jobs" / "plain.yaml"


def once(command: list[str], cwd: str) -> float:
    began = time.perf_counter()
    result = subprocess.run(command, cwd=cwd, capture_output=True, check=False)
    took = time.perf_counter() - began
    if result.returncode not in (0, 1):
        raise SystemExit(f"{command} ended with {result.returncode}: {result.stderr.decode()}")
    return took


def commands(cwd: str) -> dict[str, list[str]]:
    startwright = str(BIN / "startwright")
    plan = Path(cwd) / "plan.json"
    plan.write_bytes(
        subprocess.run([startwright, "plan", JOB, "--json"], check=True, capture_output=True).stdout
    )
    job = ["--job", str(JOB)]
    return {
        "python, nothing": [sys.executable, "-c", "pass"],
        "python, pydantic and numpy": [sys.executable, "-c", "import pydantic, numpy"],
        "startwright --help": [startwright, "--help"],
        "startwright plan": [startwright, "plan", str(JOB), "--json"],
        "startwright size": [startwright, "size", str(plan), *job, "--json"],
        "startwright prove": [startwright, "prove", str(plan), *job, "--json"],
        "the app, imported": [sys.executable, "-c", "import startwright.web"],
    }


def main() -> None:
    with tempfile.TemporaryDirectory() as cwd:
        todo = commands(cwd)
        took: dict[str, list[float]] = {name: [] for name in todo}
        for _ in range(ROUNDS):
            for name, command in todo.items():
                took[name].append(once(command, cwd))
    bare = statistics.median(took["python, nothing"])
    print(f"{'command':30} {'best':>8} {'middle':>8} {'to bare Python':>15}")
    for name, times in took.items():
        middle = statistics.median(times)
        print(f"{name:30} {min(times):7.3f}s {middle:7.3f}s {middle / bare:14.1f}×")


if __name__ == "__main__":
    main()
