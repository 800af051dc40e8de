"""Any verdict unfolded: the rule, what tries it, and every record line that it rests on."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from startwright.car.build import wire_up
from startwright.car.hybrid import is_hybrid
from startwright.prove.cures import Cure, cures
from startwright.prove.model import Model
from startwright.prove.rests import on_the_way, rests_on
from startwright.prove.rules import Rule, rules, tried_steps
from startwright.prove.witness import witness
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.lines import Lines, Point
from startwright.records.reports import ProofReport, RuleResult
from startwright.records.wiring import Wiring
from startwright.records.words import KEY_POSITIONS

TWINS: dict[str, tuple[str, ...]] = {
    "crank-only-when-safe": (
        "the unit fed the starter",
        "a start was commanded with the hood open or the lever out of park",
    ),
    "no-crank-into-running": ("the engine caught while the unit fed the starter",),
    "brake-ends": ("the brake was pressed while the unit fed ignition or starter",),
    "hood-ends": ("the hood was opened while the unit fed ignition or starter",),
    "leaving-park-ends": ("the lever left park while the unit fed ignition or starter",),
    "start-ends": ("a run ended by its own time",),
    "key-has-last-word": (
        "the driver took over during a remote run",
        "a start was commanded while the engine ran by key",
    ),
    "locks-on-command": ("the unit worked a lock", "the unit worked an unlock"),
    "start-through-interlock": ("the unit fed the starter",),
    "immobilizer-only-while-starting": ("an interface was enabled in a step",),
    "no-short": ("an output was driven",),
    "only-what-is-called": ("an output was driven",),
    "car-unchanged": tuple(f"outputs open, key {p}" for p in KEY_POSITIONS),
}
"""The situations in which a rule bites, in words, in the order of its twins."""

SENTENCES: dict[str, str] = {
    "hands-off": "No run touches airbag or high-voltage wires; data wires only meet the declared "
    "pin of an interface.",
    "coils-suppressed": "Every coil that a transistor lead drives has a suppressor.",
    "within-limits": "No lead, contact, fuse, wire or diode carries more than it may.",
    "settles": "Car, relays and unit come to rest after every change, in one way only.",
    "can-be-tried": "Every rule that applies came to the test.",
    "can-start": "By command from parked, key out, the engine starts.",
    "runs": "The engine that was started runs on until its time is over.",
    "can-stop": "A command stops it.",
}
"""The sentences of rules that are not searched for; of a want it is the want itself."""


@dataclass(frozen=True)
class Twin:
    """A situation in which the rule bites, and the line that reaches it, if any does."""

    says: str
    line: str | None


@dataclass(frozen=True)
class Why:
    """One rule's answer, unfolded.

    Attributes
    ----------
    result : RuleResult
    sentence : str
        What the rule asks.
    twins : tuple of Twin
        What put it to the test, with the shortest line there; empty for what a replay shows.
    rests : tuple of Point
        Guards, inputs, steps and numbers it asks of the unit; `missing` where they are not there.
    way : tuple of Point
        Runs, parts, leads and circuits on the way to what the rule is about.
    cures : tuple of Cure
        For a breach the single changes that would have prevented it, each proven.
    tried : int
        How many changes were tried for that.
    """

    result: RuleResult
    sentence: str
    twins: tuple[Twin, ...]
    rests: tuple[Point, ...]
    way: tuple[Point, ...]
    cures: tuple[Cure, ...]
    tried: int

    def as_json(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "sentence": self.sentence,
            "source": self.result.source,
            "twins": [{"says": t.says, "line": t.line} for t in self.twins],
            "rests_on": [p.as_json() for p in self.rests],
            "on_the_way": [p.as_json() for p in self.way],
            "would_have_prevented": [c.as_json() for c in self.cures],
            "changes_tried": self.tried,
        }


def named(report: ProofReport, slug: str) -> RuleResult:
    """The rule of a report by its slug.

    Raises
    ------
    RecordError
        Where there is none, with the nearest that there is.
    """
    slugs = [rule.rule for rule in report.rules]
    for rule in report.rules:
        if rule.rule == slug:
            return rule
    near = difflib.get_close_matches(slug, slugs, n=1)
    hint = f"{near[0]}, or another of: " if near else ""
    known = ", ".join(slugs) or "a search that began"
    raise RecordError(f"no rule {slug[:60]!r}", "--why", hint + known)


def why(
    job: WholeJob,
    wiring: Wiring,
    report: ProofReport,
    slug: str,
    *,
    lines: Lines | None = None,
    most_states: int = 2_000_000,
    progress: Callable[[int], bool] = lambda tried: True,
) -> Why:
    """Unfold one rule's answer.

    Parameters
    ----------
    job, wiring
        What was proven.
    report : ProofReport
        What `prove` said of them.
    slug : str
        The rule.
    lines : Lines, optional
        The files the records were read from; without them each point has its path alone.
    most_states : int
        States after which the search for the lines of its twins gives up.
    progress : callable
        Called with the number of changes tried to prevent a breach; False stops trying.

    Raises
    ------
    RecordError
        Where the report has no such rule.

    Source: `world.md` of the design; the rule's own source comes with it.
    """
    result = named(report, slug)
    lines = lines or Lines()
    model = Model(wire_up(job, wiring))
    rule = next((r for r in rules(model) if r.slug == slug), None)
    found: list[Cure] = []
    tried = 0
    if result.holds is False and slug != "can-be-tried":
        found, tried = cures(model.car, report, result, lines, progress=progress)
    return Why(
        result,
        rule.says if rule is not None else SENTENCES.get(slug, f"What was wanted: {slug}."),
        _twins(model, rule, most_states) if rule is not None and result.holds is not None else (),
        tuple(rests_on(model.car, result, lines)),
        tuple(on_the_way(model.car, result, lines)),
        tuple(found),
        tried,
    )


def _twins(model: Model, rule: Rule, most: int) -> tuple[Twin, ...]:
    seen = witness(model, rule, most=most)
    said = list(TWINS.get(rule.slug, ()))
    if rule.slug == "key-has-last-word" and model.car.imitates:
        said[0] = "the driver pressed the button of an engine started by remote"
    if rule.slug == "no-crank-into-running" and is_hybrid(model.car.job.vehicle):
        said = ["the car became ready while the unit fed its start signal"]
    if rule.slug == "as-under-the-key":
        steps = [model.unit.steps[k].step for k in tried_steps(model.unit)]
        said = [f"step {step}, key out or off" for step in steps]
    return tuple(
        Twin(words, seen.line(model, seen.twins[k]) if k in seen.twins else None)
        for k, words in enumerate(said)
    )
