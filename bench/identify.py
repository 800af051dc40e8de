"""How often `identify` is right, how honest its probabilities are, how fast it is.

Run: ``python bench/identify.py [recordings] [--picture FILE]``. Recordings come from the physical
generator of the tests (``tests/identify/fleet.py``), from seeds that no test and no tuning used.
Speed is a ratio to the bare read of the same file in the same run.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from collections import Counter, defaultdict
from itertools import pairwise
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from identify.fleet import car  # noqa: E402
from identify.shopping import checks_needed  # noqa: E402

from startwright.identify import identify  # noqa: E402
from startwright.records.recordings import read_recording  # noqa: E402

FIRST_SEED = 100_000
NEVER = ("srs", "data", "high_voltage")
BINS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0001)


def right(truth: tuple[str | None, str | None], function: str, active: str | None) -> bool:
    return truth[0] == function and (active is None or truth[1] in (None, active))


def survey(count: int) -> list[tuple[float, bool]]:
    """Decided, right, calibration; gives (probability, right) of every wire."""
    pairs: list[tuple[float, bool]] = []
    decided = correct = wires = danger = usable = 0
    kinds: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    wrong: Counter[tuple[str, str]] = Counter()
    for seed in range(FIRST_SEED, FIRST_SEED + count):
        one = car(seed)
        report = identify(one.recording, one.actions, one.wires)
        for verdict in report.wires:
            truth, kind = one.truth[verdict.wire], one.kinds[verdict.wire]
            wires += 1
            kinds[kind][0] += 1
            if truth[0] in NEVER:
                danger += 1
                usable += not (verdict.leave_alone or verdict.function is None)
            elif verdict.likely is not None and not verdict.leave_alone:
                pairs.append((verdict.probability, verdict.likely == truth[0]))
            if verdict.function is not None:
                good = right(truth, verdict.function, verdict.active)
                decided += 1
                correct += good
                kinds[kind][1] += 1
                kinds[kind][2] += good
                if not good:
                    wrong[kind, verdict.function] += 1
    print(f"{count} recordings, {wires} wires")
    print(f"decided {decided / wires:.1%}, right of these {correct / max(decided, 1):.2%}")
    print(f"never-touched wires {danger}, called usable {usable}")
    for kind, (n, d, g) in sorted(kinds.items()):
        print(f"  {kind:16s} {n:5d}  decided {d / n:4.0%}  right {g / max(d, 1):6.1%}")
    for (kind, function), n in wrong.most_common(12):
        print(f"  wrong: {kind} called {function}: {n}")
    return pairs


def reliability(pairs: list[tuple[float, bool]]) -> list[tuple[float, float, int]]:
    """Mean probability, share right and count in each bin; prints the calibration error."""
    p = np.array([x for x, _ in pairs])
    good = np.array([y for _, y in pairs], dtype=float)
    rows = []
    error = 0.0
    for low, high in pairwise(BINS):
        inside = (p >= low) & (p < high)
        if inside.any():
            rows.append((float(p[inside].mean()), float(good[inside].mean()), int(inside.sum())))
            error += inside.mean() * abs(rows[-1][0] - rows[-1][1])
            print(
                f"  {low:.2f}-{high:.2f}: said {rows[-1][0]:.3f}, "
                f"right {rows[-1][1]:.3f}, {rows[-1][2]}"
            )
    print(f"expected calibration error {error:.3f}")
    return rows


def picture(rows: list[tuple[float, float, int]], path: Path, count: int) -> None:
    """The reliability diagram: what was said against what was so."""
    size, edge = 360, 46

    def x(v: float) -> float:
        return edge + v * (size - edge - 14)

    def y(v: float) -> float:
        return size - edge - v * (size - edge - 14)

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" role="img" '
        f'aria-label="Reliability of identify on {count} generated recordings">',
        "<style>text{font:11px sans-serif;fill:#222}line,path{stroke:#222;fill:none}"
        ".p{fill:#0b6;stroke:#222}</style>",
        f'<rect width="{size}" height="{size}" fill="#fff"/>',
        f'<path d="M{x(0)},{y(1)}V{y(0)}H{x(1)}"/>',
        f'<line x1="{x(0)}" y1="{y(0)}" x2="{x(1)}" y2="{y(1)}" stroke-dasharray="4 4"/>',
    ]
    for v in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts.append(f'<text x="{x(v)}" y="{y(0) + 15}" text-anchor="middle">{v:g}</text>')
        parts.append(f'<text x="{x(0) - 6}" y="{y(v) + 4}" text-anchor="end">{v:g}</text>')
    most = max(n for *_, n in rows)
    for said, was, n in rows:
        radius = 3 + 8 * (n / most) ** 0.5
        parts.append(
            f'<circle class="p" fill-opacity="0.6" cx="{x(said):.1f}" cy="{y(was):.1f}" '
            f'r="{radius:.1f}"><title>{n} wires: said {said:.3f}, right {was:.3f}</title></circle>'
        )
    parts.append(f'<text x="{x(0.5)}" y="{size - 12}" text-anchor="middle">probability said</text>')
    parts.append(
        f'<text transform="translate(13 {y(0.5)}) rotate(-90)" '
        'text-anchor="middle">share right</text>'
    )
    parts.append("</svg>\n")
    path.write_text("\n".join(parts), encoding="utf-8")


def speed() -> None:
    """Rows a second of the whole way against the bare read of the same numbers."""
    one = car(7, rate=4000)
    table = np.column_stack([one.recording.time_s, one.recording.volts])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "capture.csv"
        np.savetxt(path, table, fmt="%.4f", delimiter=",", comments="",
                   header=",".join(["time_s", *one.recording.names]))  # fmt: skip
        megabytes = path.stat().st_size / 1e6
        began = time.perf_counter()
        np.loadtxt(path, delimiter=",", skiprows=1)
        bare = time.perf_counter() - began
        began = time.perf_counter()
        recording = read_recording(path)
        read = time.perf_counter() - began
        identify(recording, one.actions)
        whole = time.perf_counter() - began
    rows = len(table)
    print(f"{rows} rows of {table.shape[1]} columns, {megabytes:.0f} MB")
    print(f"bare read {rows / bare:,.0f} rows/s; own reader {bare / read:.2f} of it; "
          f"to the answer {rows / whole:,.0f} rows/s, {whole / bare:.2f} times it")  # fmt: skip
    print(f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("recordings", nargs="?", type=int, default=200)
    parser.add_argument("--picture", type=Path)
    parser.add_argument("--cars", type=int, default=20)
    asked = parser.parse_args()
    speed()
    rows = reliability(survey(asked.recordings))
    if asked.picture:
        picture(rows, asked.picture, asked.recordings)
    best, fixed = [], []
    for seed in range(FIRST_SEED, FIRST_SEED + asked.cars):
        a, b = checks_needed(seed)
        best.append(a)
        fixed.append(b)
    for name, runs in (("next check", best), ("fixed list", fixed)):
        checks = np.array([r.checks for r in runs])
        minutes = np.array([r.minutes for r in runs])
        known = sum(r.known for r in runs) / max(1, sum(r.wires for r in runs))
        print(f"{name}: {checks.mean():.1f} checks, {minutes.mean():.1f} minutes a car, "
              f"{known:.0%} of wires known, {sum(r.wrong for r in runs)} wrong")  # fmt: skip


if __name__ == "__main__":
    main()
