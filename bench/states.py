"""The search beside SPIN and plain Python, at 0.2 and 4 million states; its growth; faults.

Run with ``make bench`` or ``python bench/states.py``; ``--short`` leaves the four million out. SPIN
(Debian's ``spin`` with gcc) explores the exported model. Times are of the processor, so a busy
machine does not count; what to watch are the ratios. Breadth first SPIN would want some 10 GB at
4 million and is left out there. What begins in a fresh process is the quickest of three at 0.2
million, ours and the peer's.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
sys.path.insert(0, str(Path(__file__).parent))

from _peer import Peer
from _worlds import plain_search, plain_with

import startwright.example
from startwright.car.build import wire_up
from startwright.plan import NoPlan, plan
from startwright.prove import export, prove
from startwright.prove.explore import explore
from startwright.prove.model import Model
from startwright.prove.steps import Steps
from startwright.records.read import read_job

SIZES = {"0.2 million": 4, "4 million": 8}
FRESH = """
import sys, time, resource
sys.path[:0] = {path!r}
from _worlds import plain_with
case = plain_with({followers})
job, wiring = case.job(), case.wiring()
from startwright.car.build import wire_up
from startwright.prove import prove
from startwright.prove.model import Model
from startwright.prove.search import search
if {what!r} == "whole":
    prove(job, wiring)
    print(time.process_time())
else:
    model = Model(wire_up(job, wiring))
    model.feedback, model.moves, model.outs
    if {what!r} == "plain":
        from _peer import Peer
        work = Peer(model).search
    elif {what!r} == "alone":
        from startwright.prove.explore import explore
        work = lambda: explore(model)
    else:
        work = lambda: search(model)
    began = time.process_time()
    work()
    print(time.process_time() - began)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def main() -> None:
    examples()
    for name, followers in SIZES.items():
        if followers <= 4 or "--short" not in sys.argv:
            beside_spin(name, followers)
    growth()


# ---- the examples, and their faults ---------------------------------------------------------


FAULTS = """
import time
from startwright.car.build import wire_up
from startwright.prove.explore import explore
from startwright.prove.faults import single_faults
from startwright.prove.model import Model
from startwright.prove.search import search
from startwright.records.read import read_job, read_wiring
job, wiring = read_job({job!r}), read_wiring({wiring!r})
model = Model(wire_up(job, wiring))
times = [time.process_time()]
done = search(model)
times.append(time.process_time())
explore(model, steps=done.explored.steps)
times.append(time.process_time())
faults = single_faults(model, done)
times.append(time.process_time())
print(len(done.explored), len(faults), *(b - a for a, b in zip(times, times[1:])))
"""


def examples() -> None:
    """Each job's search and all its single faults, in a fresh process as ``startwright prove``."""
    print(f"{'job':26} {'states':>8} {'search s':>9} {'again s':>8} {'faults':>7} {'s':>6}")
    for file in sorted((startwright.example.path() / "jobs").glob("*.yaml")):
        planned = plan(read_job(file))
        if isinstance(planned, NoPlan):
            print(f"{file.stem:26} {'refused':>8}")
            continue
        with tempfile.TemporaryDirectory() as folder:
            wiring = Path(folder, "wiring.json")
            wiring.write_text(planned.wiring.model_dump_json(by_alias=True, exclude_none=True))
            text = FAULTS.format(job=str(file), wiring=str(wiring))
            run = [sys.executable, "-c", text]
            out = subprocess.run(run, check=True, capture_output=True, text=True).stdout.split()
        states, faults = int(out[0]), int(out[1])
        first, again, seconds = (float(x) for x in out[2:])
        print(
            f"{file.stem:26} {states:8d} {first:9.3f} {again:8.4f} "
            f"{faults:7d} {seconds:6.2f} {seconds / first:5.1f}×"
        )


# ---- beside SPIN and plain Python -----------------------------------------------------------


def beside_spin(name: str, followers: int) -> None:
    case = plain_with(followers)
    job, wiring = case.job(), case.wiring()
    alone, _ = _fresh(followers, "alone")
    first, size = _fresh(followers, "watched")
    whole, _ = _fresh(followers, "whole")
    plain, plain_size = _fresh(followers, "plain")
    model = Model(wire_up(job, wiring))
    steps = Steps(model)
    done = explore(model, steps=steps)
    again, _ = _timed(lambda: explore(model, steps=steps))
    print(f"\n{name}: {len(done)} states, {steps.count} cores, {size:.0f} MB at most")
    print(f"  first search of a fresh process, no rules watched  {alone:8.3f} s")
    print(f"  the same, all rules watched                        {first:8.3f} s")
    print(f"  searched again, steps known                        {again:8.3f} s")
    print(f"  whole proof in a fresh process, imports and all    {whole:8.3f} s")
    peer = Peer(model)
    assert peer.search() == len(done)
    plain_again, _ = _timed(peer.search)
    print(f"  plain Python that works its reactions, fresh       {plain:8.3f} s")
    print(
        f"    {plain / alone:.1f}× our search, {plain / first:.1f}× with rules; {plain_size:.0f} MB"
    )
    print(f"  the same again, its reactions known                {plain_again:8.3f} s")
    print(f"    {plain_again / again:.0f}× ours again")
    slow, reached = _timed(lambda: plain_search(steps, int(done.levels[0][0][0])))
    assert reached == len(done)
    print(f"  plain Python, all outcomes given to it             {slow:8.3f} s")
    print(f"    {slow / alone:.1f}× our search, {slow / first:.1f}× with rules")
    print(f"    {slow / again:.0f}× ours again")
    del peer
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "world.pml").write_text(export(job, wiring))
        generated = _process(folder, "spin", "-a", "world.pml")
        ways = [("depth first", "-DSAFETY"), ("breadth first", "-DBFS")]
        for way, flag in ways if followers <= 4 else ways[:1]:
            flags = ("-O2", "-w", "-DNOREDUCE", "-DSAFETY", flag)
            compiled = _process(folder, "gcc", *flags, "-o", "pan", "pan.c")
            ran = _process(folder, "./pan", "-m20000000", "-E", "-n", "-w26")
            all_three = generated + compiled + ran
            print(f"  SPIN {way:45} {ran:8.3f} s")
            print(f"    {ran / alone:.1f}× our search, {ran / first:.1f}× with rules")
            print(f"    {ran / again:.0f}× ours again")
            print(
                f"    with generating and gcc {all_three:.1f} s: {all_three / whole:.1f}× our whole"
            )


def _fresh(followers: int, what: str) -> tuple[float, float]:
    """Seconds and megabytes in a fresh process: the quickest of three, of one where it is long."""
    text = FRESH.format(path=sys.path[:2], followers=followers, what=what)
    run = [sys.executable, "-c", text]
    tries = []
    for _ in range(3 if followers <= 4 else 1):
        out = subprocess.run(run, check=True, capture_output=True, text=True).stdout
        tries.append(tuple(float(x) for x in out.split()))
    return min(tries)


def _process(folder: str, *words: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, cwd=folder, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


# ---- growth ---------------------------------------------------------------------------------


def growth() -> None:
    print("\ngrowth with the circuits that feed back:")
    base = 0.0
    for followers in (1, 2, 4):
        case = plain_with(followers)
        seconds, report = _timed(lambda case=case: prove(case.job(), case.wiring()))
        base = base or seconds / report.states
        each = seconds / report.states
        print(
            f"  ×{followers}  {report.states:8d} states {seconds:7.3f} s, "
            f"{each * 1e6:5.2f} µs a state ({each / base:.2f}×)"
        )


def _timed(work):  # type: ignore[no-untyped-def]
    began = time.process_time()
    found = work()
    return time.process_time() - began, found


if __name__ == "__main__":
    main()
