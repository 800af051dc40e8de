"""The failure-mode sheet: what each single fault does at the car, the worst first.

The modes and the heads of the table are those of IEC 60812: item, failure mode, effect, how it is
detected, what provides against it. Severity is the kind of the worst rule that breaks; there is no
risk number, for how often a part fails is not known here.
"""

from __future__ import annotations

from typing import Any

from startwright.records import FaultResult, Plan, ProofReport, RecordError, WholeJob
from startwright.records.reports import PairResult
from startwright.sheets.effects import NOT_FINISHED, effects, unfinished
from startwright.sheets.ends import Web, read_web
from startwright.sheets.failed import MODES, hanging, named, told
from startwright.sheets.head import check_given, head_data
from startwright.sheets.naming import article, in_words
from startwright.sheets.typeset import Paper, pdf

WORST: tuple[tuple[str, str, str], ...] = (
    ("hazard", "Hazard", "someone can be run over, crushed or gassed, or the car be stolen"),
    ("damage", "Damage", "a part or the car can be spoilt, or works wrongly"),
    ("works", "Does not work", "what was wanted is missing; nothing and nobody is harmed"),
)


def failure_modes_pdf(
    job: WholeJob, plan: Plan, proof: ProofReport | None, *, paper: Paper = "a4"
) -> bytes:
    """The failure-mode sheet as PDF.

    Parameters
    ----------
    job, plan
        As `bench.bench_pdf` takes them; stamped in the same way where it is not proven.
    proof : ProofReport
        Of this plan's wiring, with its faults.
    paper : "a4" or "us-letter"

    Returns
    -------
    bytes
        Identical for identical input and version.

    Raises
    ------
    RecordError
        Where the plan is another job's, names a terminal that is not there, or no faults were
        tried.

    Source: IEC 60812 for the modes and the heads of the table.
    """
    check_given(job, plan, paper)
    return pdf("failure_modes.typ", sheet_data(job, plan, proof, paper))


def sheet_data(
    job: WholeJob, plan: Plan, proof: ProofReport | None, paper: Paper
) -> dict[str, Any]:
    """All that the sheet says, as plain data for the template.

    Raises
    ------
    RecordError
        Where no faults were tried.
    """
    if proof is None or proof.faults is None:
        raise RecordError("a proof without faults", "proof.faults", "one made with `--faults`")
    web = read_web(job, plan.wiring)
    numbered = list(enumerate(proof.faults, start=1))
    groups = []
    for worst, head, means in WORST:
        rows = [_row(web, n, f) for n, f in numbered if f.worst == worst]
        groups.append({"worst": worst, "head": head, "means": means, "rows": rows})
    quiet = [named(web, f.fault) for f in proof.faults if f.worst == "none"]
    return {
        **head_data("Failure modes", web, plan, proof, paper),
        "verdict": proof.verdict,
        "states": f"{proof.states:,}",
        "total": len(proof.faults),
        "counts": _counts(proof.faults),
        "unfinished": unfinished(proof),
        "unfinished_faults": [told(named(web, f.fault)) for f in proof.faults if not _known(f)],
        "unnoticed": [
            told(named(web, f.fault))
            for f in proof.faults
            if f.worst == "hazard" and not f.noticed and _known(f)
        ],
        "groups": groups,
        "pairs": [_pair(web, p) for p in proof.pairs or []],
        "pairs_said": _bound(proof),
        "quiet": _gathered(quiet),
        "modes": [{"mode": mode, "means": means} for mode, means in MODES],
        "assumes": [in_words(job, a) for a in proof.assumes[1:]],
    }


def _pair(web: Web, pair: PairResult) -> dict[str, Any]:
    return {
        "faults": [told(named(web, fault)) for fault in pair.faults],
        "effects": effects(pair.breaks),
        "line": pair.trace or "",
    }


def _bound(proof: ProofReport) -> str:
    """How far two faults at once were looked at."""
    bound = proof.pairs_bound
    if proof.pairs is None or bound is None:
        return "two faults at once were not looked at"
    return (
        f"of two faults at once {bound.looked_at} of {bound.pairs} pairs were looked at, made of "
        f"the {bound.unnoticed} faults that nobody notices and that are no hazard alone"
    )


def _known(fault: FaultResult) -> bool:
    """Whether its search finished: what it does, and who would notice, is known."""
    return NOT_FINISHED not in fault.breaks


def _counts(faults: list[FaultResult]) -> list[dict[str, Any]]:
    out = []
    for worst, head, _ in (*WORST, ("none", "No effect", "")):
        some = [f for f in faults if f.worst == worst]
        noticed = sum(f.noticed for f in some)
        out.append({"head": head, "worst": worst, "all": len(some), "noticed": noticed})
    return out


def _row(web: Web, number: int, fault: FaultResult) -> dict[str, Any]:
    return {
        **named(web, fault.fault),
        "number": number,
        "effects": effects(fault.breaks, hanging(web, fault.fault)),
        "noticed": fault.noticed,
        "known": _known(fault),
        "caught_by": [article(web.job, c) for c in fault.caught_by],
        "line": fault.trace or "",
    }


def _gathered(quiet: list[dict[str, Any]]) -> list[dict[str, str]]:
    """Faults without effect, a line for each thing with its modes."""
    by_thing: dict[str, list[str]] = {}
    for one in quiet:
        by_thing.setdefault(one["thing"], []).append(one["mode"])
    return [{"thing": thing, "modes": ", ".join(modes)} for thing, modes in by_thing.items()]
