"""What changed between two plans of a job: runs, parts, settings, and what is said of them."""

from __future__ import annotations

from collections import Counter

from pydantic import Field

from startwright.plan.write import ends_key
from startwright.records.base import Record
from startwright.records.reports import ProofReport, SizeReport
from startwright.records.wiring import Plan, Run, Wiring


class Changed(Record):
    """The differences, each as a sentence a fitter can act on; empty where nothing changed."""

    runs: list[str] = Field(default_factory=list)
    parts: list[str] = Field(default_factory=list)
    settings: list[str] = Field(default_factory=list)
    verdicts: list[str] = Field(default_factory=list)

    def __bool__(self) -> bool:
        """Whether anything changed."""
        return bool(self.runs or self.parts or self.settings or self.verdicts)


def changed(
    before: Plan | Wiring,
    after: Plan | Wiring,
    *,
    size: tuple[SizeReport | None, SizeReport | None] = (None, None),
    proof: tuple[ProofReport | None, ProofReport | None] = (None, None),
) -> Changed:
    """Say what is different in the second plan or wiring.

    Parts that do the same under another name (K1 is now K2) are not a difference: names are paired
    by what they are and where their runs go.

    Parameters
    ----------
    before, after : Plan or Wiring
        Two answers for the same job.
    size, proof : pair of reports, optional
        What was said of each.

    Returns
    -------
    Changed
    """
    a = before.wiring if isinstance(before, Plan) else before
    b = after.wiring if isinstance(after, Plan) else after
    names = _paired(a, b)
    return Changed(
        runs=_runs(a, b, names),
        parts=_parts(a, b),
        settings=_settings(a, b),
        verdicts=_verdicts(size, proof),
    )


def _signature(wiring: Wiring, part: str) -> tuple[str, tuple[str, ...]]:
    """What a part is and what hangs on its pins, without the names of other parts."""
    of = next(p.of for p in wiring.parts if p.id == part)
    kinds = {p.id: p.of for p in wiring.parts}
    hung = []
    for run in wiring.runs:
        for here, there in (run.ends, run.ends[::-1]):
            owner, _, pin = here.partition(".")
            if owner == part:
                other, _, rest = there.partition(".")
                hung.append(f"{pin}:{kinds.get(other, other)}.{rest}")
    return of, tuple(sorted(hung))


def _paired(a: Wiring, b: Wiring) -> dict[str, str]:
    """For each part of `b` the name of the part of `a` that does the same."""
    left = {p.id: _signature(a, p.id) for p in a.parts}
    out: dict[str, str] = {}
    for part in b.parts:
        mine = _signature(b, part.id)
        same = [n for n, s in left.items() if s == mine]
        if same:
            name = part.id if part.id in same else same[0]
            out[part.id] = name
            del left[name]
    for part in b.parts:
        if part.id not in out:
            name = part.id
            if name in left and left[name][0] == part.of:
                out[part.id] = name
                del left[name]
                continue
            while name in out.values() or name in left:
                name += "'"
            out[part.id] = name
    return out


def _named(run: Run, names: dict[str, str]) -> str:
    ends = []
    for end in run.ends:
        owner, dot, rest = end.partition(".")
        ends.append(f"{names.get(owner, owner)}{dot}{rest}")
    return ends_key(*ends)


def _runs(a: Wiring, b: Wiring, names: dict[str, str]) -> list[str]:
    old: dict[str, list[Run]] = {}
    for run in a.runs:
        old.setdefault(ends_key(*run.ends), []).append(run)
    out = []
    for run in b.runs:
        key = _named(run, names)
        if not old.get(key):
            out.append(f"new: {run.from_} to {run.to} ({run.id})")
            continue
        was = old[key].pop(0)
        for name, unit in (("size_mm2", " mm²"), ("colour", ""), ("length_m", " m")):
            x, y = getattr(was, name), getattr(run, name)
            if x != y:
                out.append(f"{run.from_} to {run.to}: {_say(x, unit)} is now {_say(y, unit)}")
    for runs in old.values():
        out += [f"gone: {r.from_} to {r.to} (was {r.id})" for r in runs]
    return out


def _say(value: object, unit: str) -> str:
    return (
        "not said"
        if value is None
        else f"{value:g}{unit}"
        if isinstance(value, float | int)
        else f"{value}{unit}"
    )


def _parts(a: Wiring, b: Wiring) -> list[str]:
    was, now = Counter(p.of for p in a.parts), Counter(p.of for p in b.parts)
    out = []
    for of in sorted({*was, *now}):
        if now[of] > was[of]:
            out.append(f"{now[of] - was[of]} more {of}")
        elif was[of] > now[of]:
            out.append(f"{was[of] - now[of]} fewer {of}")
    out += [f"{c} is now cut" for c in b.cuts if c not in a.cuts]
    out += [f"{c} is no longer cut" for c in a.cuts if c not in b.cuts]
    return out


def _settings(a: Wiring, b: Wiring) -> list[str]:
    out = []
    for name in sorted({*a.settings, *b.settings}):
        x, y = a.settings.get(name), b.settings.get(name)
        if x != y:
            out.append(f"{name}: {_say(x, '')} is now {_say(y, '')}")
    return out


def _verdicts(
    size: tuple[SizeReport | None, SizeReport | None],
    proof: tuple[ProofReport | None, ProofReport | None],
) -> list[str]:
    out = []
    if size[0] is not None and size[1] is not None and size[0].verdict != size[1].verdict:
        out.append(f"size: {size[0].verdict} is now {size[1].verdict}")
    if proof[0] is None or proof[1] is None:
        return out
    if proof[0].verdict != proof[1].verdict:
        out.append(f"proof: {proof[0].verdict} is now {proof[1].verdict}")
    was = {r.rule: r.holds for r in proof[0].rules}
    for rule in proof[1].rules:
        if rule.rule in was and was[rule.rule] != rule.holds:
            said = {True: "holds", False: "is breached", None: "does not apply"}
            out.append(f"{rule.rule}: {said[was[rule.rule]]}, now {said[rule.holds]}")
    return out
