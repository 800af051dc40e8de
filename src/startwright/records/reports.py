"""What the questions answer, as records: the keys here are what `--json` prints."""

# ruff: noqa: RUF012 (pydantic copies defaults)
from __future__ import annotations

from typing import Any, Literal

from startwright.records.base import Record
from startwright.records.words import RuleKind, Verdict


class RuleResult(Record):
    """One rule's answer. `holds` is null where the rule is not applicable."""

    rule: str
    kind: RuleKind
    holds: bool | None
    exercised: bool
    trace: str | None = None
    runs: list[str] = []
    says: str
    source: str | None = None


class FaultResult(Record):
    """One single fault and the worst it does."""

    fault: str
    worst: Literal["hazard", "damage", "works", "none"]
    breaks: list[str] = []
    noticed: bool = False
    trace: str | None = None
    caught_by: list[str] = []


class ProofReport(Record):
    """The answer of `prove`."""

    verdict: Verdict
    states: int
    seconds: float
    assumes: list[str]
    rules: list[RuleResult]
    faults: list[FaultResult] | None = None


class SizeReport(Record):
    """The answer of `size`; rows are dictionaries whose keys carry their units."""

    verdict: Literal["holds", "fails"]
    runs: list[dict[str, Any]]
    fuses: list[dict[str, Any]]
    contacts: list[dict[str, Any]]
    starting: dict[str, Any]
    parked: dict[str, Any]
    worst: list[str] = []
    notes: list[str] = []
