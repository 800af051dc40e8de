"""Runs SPIN (Debian package `spin`) on a Promela text: states stored, rules and twins seen."""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

from startwright.car.build import wire_up
from startwright.prove import export
from startwright.prove.model import Model
from startwright.prove.promela import Writer
from startwright.prove.promela_rules import STATE_RULES
from startwright.prove.promela_twins import twins
from startwright.prove.search import Searched, search
from startwright.records.job import WholeJob
from startwright.records.wiring import Wiring


@dataclass(frozen=True)
class Spun:
    """What SPIN found: how many states, which rules broken, which twins reached."""

    stored: int
    broken: set[str]
    twins: set[int]
    waits: int = 0
    """How many of the states stored are moments in a reaction, where relays race."""

    def exercised(self, model: Model) -> dict[str, bool]:
        """For each rule whether every twin of it was reached."""
        out, k = {}, 0
        for rule, listed in twins(Writer(model)).items():
            out[rule] = set(range(k, k + len(listed))) <= self.twins
            k += len(listed)
        return out


def run(text: str, folder: Path) -> Spun:
    """Explore a Promela text in full, breadth last."""
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
    reached = {int(k) for k in re.findall(r"^twin (\d+)$", done.stdout, re.MULTILINE)}
    waits = re.search(r"^waits (\d+)$", done.stdout, re.MULTILINE)
    return Spun(int(float(stored[1])), broken, reached, int(waits[1]) if waits else 0)


def both(job: WholeJob, wiring: Wiring, folder: Path) -> tuple[Model, Searched, Spun]:
    """A wiring searched here, and its export explored by SPIN."""
    model = Model(wire_up(job, wiring))
    return model, search(model), run(export(job, wiring), folder)


def disagreements(model: Model, done: Searched, spun: Spun) -> list[str]:
    """Where SPIN and the explorer differ, in words; none where they agree.

    SPIN stores one state more, the one before the first reaction, and each moment at which relays
    race and it has to choose what comes of it. It counts those as it leaves them, each once.
    """
    out = []
    if spun.stored != len(done.explored.packed) + 1 + spun.waits:
        out.append(
            f"states: SPIN {spun.stored}, here {len(done.explored.packed)}, the first, "
            f"and {spun.waits} in a race"
        )
    if spun.waits and "settles" not in done.breaches:
        out.append("relays race in SPIN, here they do not")
    ours = set(done.breaches) & set(STATE_RULES)
    if spun.broken != ours:
        out.append(f"broken: SPIN {sorted(spun.broken - ours)}, here {sorted(ours - spun.broken)}")
    for rule, reached in spun.exercised(model).items():
        if reached != done.exercised[rule]:
            out.append(f"twins of {rule}: SPIN {reached}, here {done.exercised[rule]}")
    return out
