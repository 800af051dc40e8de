"""A breached wiring with everything left out that the breach does not need.

Delta debugging (A. Zeller and R. Hildebrandt, "Simplifying and Isolating Failure-Inducing Input",
IEEE Transactions on Software Engineering 28 (2002) 183, algorithm ddmin), first over whole webs of
runs, then over single ones, as in hierarchical delta debugging (G. Misherghi and Z. Su, "HDD",
ICSE 2006).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from startwright.car.build import wire_up
from startwright.car.terminals import Joined
from startwright.prove import prove
from startwright.prove.clocked import play
from startwright.prove.decided import decided
from startwright.prove.model import Model
from startwright.prove.rests import about_starting, listens
from startwright.prove.rules import rules
from startwright.prove.tables import TooLarge
from startwright.prove.witness import breaks
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.reports import RuleResult
from startwright.records.scenario import Action, Scenario
from startwright.records.wiring import Run, Wiring
from startwright.records.write import to_plain

T = TypeVar("T")

MOST_STATES = 2_000_000
MOST_TESTS = 2000


@dataclass(frozen=True)
class Shrunk:
    """The smallest wiring found, and what is left of the breach in it.

    Attributes
    ----------
    wiring : Wiring
    result : RuleResult
        The rule as the small wiring breaks it, with its line.
    left_out : tuple of str
        The runs that the breach does not need, in the order of the wiring.
    tests : int
        How many wirings were looked at.
    minimal : bool
        Whether each run, cut and setting that is left was shown to be needed; False where it was
        stopped before.
    """

    wiring: Wiring
    result: RuleResult
    left_out: tuple[str, ...]
    tests: int
    minimal: bool

    def as_json(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "rule": self.result.rule,
            "trace": self.result.trace,
            "says": self.result.says,
            "runs": len(self.wiring.runs),
            "left_out": list(self.left_out),
            "tests": self.tests,
            "minimal": self.minimal,
            "wiring": to_plain(self.wiring),
        }


class _Stopped(Exception):
    """Progress said to stop."""


def shrink(
    job: WholeJob,
    wiring: Wiring,
    rule: str,
    *,
    progress: Callable[[int, int], bool] = lambda tests, runs: True,
) -> Wiring:
    """The wiring of `smallest`."""
    return smallest(job, wiring, rule, progress=progress).wiring


def smallest(
    job: WholeJob,
    wiring: Wiring,
    rule: str,
    *,
    progress: Callable[[int, int], bool] = lambda tests, runs: True,
) -> Shrunk:
    """Leave out what the breach does not need, while the same rule breaks for the same reason.

    The inputs that the rule is about stay joined as they were: a wiring that breaks `hood-ends` by
    a latching relay is not shrunk to one that breaks it because the hood is no longer sensed. Where
    the rule is about starting and a command starts the unit, it still does. A cut whose sides were
    joined again, be it through a resting contact, stays joined or is not made. What is left is one
    way to break the rule, not the only one; another order might end at another.

    Parameters
    ----------
    job, wiring
        A breached wiring.
    rule : str
        A rule of the kind hazard or damage that it breaks.
    progress : callable
        Called before each test with the number of tests and of runs left; False stops, and the
        smallest so far is given with `minimal` False.

    Returns
    -------
    Shrunk
        The same for the same input.

    Raises
    ------
    RecordError
        Where the wiring does not break the rule, or it is one of the kind works, which leaving
        runs out breaks by itself.

    Source: ddmin and hierarchical delta debugging as the module cites them.
    """
    test = _Test(job, wiring, rule, progress)
    if rule not in _harmful(job, wiring) or not test.breaks(wiring):
        raise RecordError(
            f"the rule {rule[:60]!r}, which this wiring does not break or which is no hazard or "
            "damage rule",
            "--shrink",
            _broken(job, wiring),
        )
    best = wiring
    minimal = True
    try:
        while True:
            before = best
            best = test.healed(_fewer_runs(best, test))
            best = _fewer_cuts(best, test)
            best = _fewer_settings(best, test)
            if best == before:
                break
    except _Stopped:
        best, minimal = test.smallest, False
    found = next(r for r in prove(job, best, most_states=MOST_STATES).rules if r.rule == rule)
    kept = {r.id for r in best.runs}
    left_out = tuple(r.id for r in wiring.runs if r.id not in kept)
    return Shrunk(best, found, left_out, test.tests, minimal)


class _Test:
    """Whether a wiring still breaks the rule for the same reason; each is looked at once."""

    def __init__(
        self, job: WholeJob, wiring: Wiring, rule: str, progress: Callable[[int, int], bool]
    ) -> None:
        self.job = job
        self.rule = rule
        self.progress = progress
        self.tests = 0
        self.smallest = wiring
        self._known: dict[str, bool] = {}
        whole = wire_up(job, wiring)
        self._heard = listens(whole, rule)
        self._starts = about_starting(rule) and _starts(Model(whole))
        self._kinds: dict[str, str] = {p.id: p.kind for p in job.stock.parts}
        self.bridged = {c for c in wiring.cuts if _bridges(wiring, c, self._kinds)}

    def breaks(self, wiring: Wiring) -> bool:
        wiring = self.healed(wiring)
        key = wiring.model_dump_json()
        if key not in self._known:
            if self.tests >= MOST_TESTS or not self.progress(self.tests, len(wiring.runs)):
                raise _Stopped
            self.tests += 1
            self._known[key] = self._ask(wiring)
            if self._known[key]:
                self.smallest = wiring
        return self._known[key]

    def healed(self, wiring: Wiring) -> Wiring:
        """The wiring without the cuts that nothing is joined to any more, though something was."""
        ends = {e for r in wiring.runs for e in r.ends}
        cuts = [c for c in wiring.cuts if c not in self.bridged or ends & {*_sides(c)}]
        return wiring.model_copy(update={"cuts": cuts})

    def _ask(self, wiring: Wiring) -> bool:
        open_ = (c for c in wiring.cuts if not _bridges(wiring, c, self._kinds))
        if any(c in self.bridged for c in open_):
            return False
        try:
            car = wire_up(self.job, wiring)
            if listens(car, self.rule) != self._heard:
                return False
            model = Model(car)
            known = decided(model, self.rule)
            if known is False:
                return False
            if self._starts and not _starts(model):
                return False
            return known is True or breaks(model, self.rule, most=MOST_STATES) is True
        except (RecordError, TooLarge):
            return False


def _sides(circuit: str) -> tuple[str, str]:
    """The two terminals of a cut circuit."""
    return f"vehicle.{circuit}.source", f"vehicle.{circuit}.load"


def _bridges(wiring: Wiring, circuit: str, kinds: Mapping[str, str]) -> bool:
    """Whether runs, fuses, diodes and resting contacts join the two sides of a cut."""
    through = {"fuse": ("a", "b"), "relay": ("30", "87a"), "diode": ("anode", "cathode")}
    links = [r.ends for r in wiring.runs]
    for part in wiring.parts:
        one, other = through.get(kinds.get(part.of, ""), ("", ""))
        links.append((f"{part.id}.{one}", f"{part.id}.{other}"))
    return Joined(links).together(*_sides(circuit))


def _starts(model: Model) -> bool:
    """Whether a command in the parked car starts the unit's sequence."""
    return not play(model, Scenario((Action("command", "start"),))).idle


def _harmful(job: WholeJob, wiring: Wiring) -> set[str]:
    """The rules of the kind hazard or damage."""
    searched = rules(Model(wire_up(job, wiring)))
    alone = {"within-limits", "settles", "hands-off", "coils-suppressed"}
    return {r.slug for r in searched if r.kind != "works"} | alone


def _broken(job: WholeJob, wiring: Wiring) -> str:
    rules = prove(job, wiring).rules
    slugs = [r.rule for r in rules if r.holds is False and r.kind != "works"]
    return f"a hazard or damage rule that it breaks: {', '.join(slugs) or 'there is none'}"


# -- what is left out ------------------------------------------------------------------------------


def _fewer_runs(wiring: Wiring, test: _Test) -> Wiring:
    """Whole webs, the largest first: of two ways to break it the one with fewer runs stays."""
    webs = _webs(wiring)
    for web in sorted((w for w in webs if len(w) > 1), key=len, reverse=True):
        less = [w for w in webs if w is not web]
        if test.breaks(_of(wiring, [r for w in less for r in w])):
            webs = less
    kept = fewest(webs, lambda some: test.breaks(_of(wiring, [r for w in some for r in w])))
    runs = [r for web in kept for r in web]
    return _of(wiring, fewest(runs, lambda some: test.breaks(_of(wiring, some))))


def _fewer_cuts(wiring: Wiring, test: _Test) -> Wiring:
    for circuit in wiring.cuts:
        if any({*_sides(circuit)} & {*r.ends} for r in wiring.runs):
            continue
        less = wiring.model_copy(update={"cuts": [c for c in wiring.cuts if c != circuit]})
        if test.breaks(less):
            wiring = less
    return wiring


def _fewer_settings(wiring: Wiring, test: _Test) -> Wiring:
    for id in list(wiring.settings):
        less = {k: v for k, v in wiring.settings.items() if k != id}
        smaller = wiring.model_copy(update={"settings": less})
        if test.breaks(smaller):
            wiring = smaller
    return wiring


def _of(wiring: Wiring, runs: Sequence[Run]) -> Wiring:
    """The wiring with these runs, in their old order, and the parts that they reach."""
    ids = {r.id for r in runs}
    kept = [r for r in wiring.runs if r.id in ids]
    ends = {e.partition(".")[0] for r in kept for e in r.ends}
    parts = [p for p in wiring.parts if p.id in ends]
    return wiring.model_copy(update={"runs": kept, "parts": parts})


def _webs(wiring: Wiring) -> list[list[Run]]:
    """The runs that hang together through parts, in the order of the wiring."""
    parts = {p.id for p in wiring.parts}
    root: dict[str, str] = {}

    def find(name: str) -> str:
        while root.setdefault(name, name) != name:
            name = root[name]
        return name

    for run in wiring.runs:
        names = [f"run {run.id}"]
        names += [o for e in run.ends if (o := e.partition(".")[0]) in parts]
        for other in names[1:]:
            root[find(other)] = find(names[0])
    webs: dict[str, list[Run]] = {}
    for run in wiring.runs:
        webs.setdefault(find(f"run {run.id}"), []).append(run)
    return list(webs.values())


def fewest(items: list[T], still: Callable[[list[T]], bool]) -> list[T]:
    """Items of which none can be left out alone: ddmin with complements.

    `still` says whether some items, in their old order, are enough; all of them are.

    >>> fewest(list(range(8)), lambda some: {2, 5} <= set(some))
    [2, 5]
    """
    chunks = 2
    while len(items) >= 1:
        size = max(1, -(-len(items) // chunks))
        for start in range(0, len(items), size):
            less = items[:start] + items[start + size :]
            if still(less):
                items = less
                chunks = max(chunks - 1, 2)
                break
        else:
            if size == 1:
                break
            chunks = min(len(items), chunks * 2)
    return items
