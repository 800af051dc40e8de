"""Runs SPIN (Debian package `spin`) on a Promela text: states stored, rules seen broken."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

from startwright.prove.promela_rules import STATE_RULES


def spin(text: str, folder: Path) -> tuple[int, set[str]]:
    """Number of states SPIN stores, and the slugs of the rules it reports broken."""
    (folder / "world.pml").write_text(text)
    subprocess.run(["spin", "-a", "world.pml"], cwd=folder, check=True, capture_output=True)
    subprocess.run(
        ["gcc", "-O0", "-w", "-DNOREDUCE", "-DSAFETY", "-o", "pan", "pan.c"],
        cwd=folder,
        check=True,
        capture_output=True,
    )
    done = subprocess.run(
        ["./pan", "-m200000", "-E", "-n"], cwd=folder, check=True, capture_output=True, text=True
    )
    assert "error: max search depth too small" not in done.stdout
    assert "errors: 0" in done.stdout, done.stdout
    stored = re.search(r"^\s*([0-9.e+]+) states, stored", done.stdout, re.MULTILINE)
    assert stored is not None, done.stdout
    broken = {STATE_RULES[int(k)] for k in re.findall(r"^breach (\d+)$", done.stdout, re.MULTILINE)}
    return int(float(stored[1])), broken
