"""The bench sheet: one job on paper, in the order the work is done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from startwright.records import Plan, ProofReport, SizeReport, WholeJob
from startwright.sheets import build, cautions
from startwright.sheets.effects import unfinished
from startwright.sheets.ends import Web, read_web
from startwright.sheets.head import check_given, head_data, wanted
from startwright.sheets.layout import lay_out
from startwright.sheets.loom import loom_svg
from startwright.sheets.measure import PAPER
from startwright.sheets.naming import in_words, names
from startwright.sheets.tryout import try_lines
from startwright.sheets.typeset import Paper, pdf
from startwright.sheets.wires import stops


def bench_pdf(
    job: WholeJob,
    plan: Plan,
    size: SizeReport | None,
    proof: ProofReport | None,
    *,
    paper: Paper = "a4",
) -> bytes:
    """The bench sheet as PDF.

    Parameters
    ----------
    job, plan
        What is to be built.
    size, proof : report or None
        The answers of ``size`` and ``prove`` for this plan's wiring. Without a proof, or with one
        that is not ``proven``, every page is stamped NOT PROVEN.
    paper : "a4" or "us-letter"

    Returns
    -------
    bytes
        Identical for identical input and version.

    Raises
    ------
    RecordError
        Where the plan is another job's, or names a terminal that is not there.
    """
    check_given(job, plan, paper)
    return pdf("bench.typ", sheet_data(job, plan, size, proof, paper))


def sheet_data(
    job: WholeJob,
    plan: Plan,
    size: SizeReport | None,
    proof: ProofReport | None,
    paper: Paper,
) -> dict[str, Any]:
    """All that the bench sheet says, as plain data for the template."""
    web = read_web(job, plan.wiring)
    drawing = lay_out(job, plan.wiring, size=PAPER)
    stop_list = stops(web, plan, size)
    return {
        **head_data("Bench sheet", web, plan, proof, paper),
        "notes": job.notes or "",
        "wants": wanted(job),
        "verdicts": _verdicts(plan, size, proof),
        "law": cautions.LAW,
        "warnings": [in_words(job, w) for w in plan.warnings],
        "needs": [
            {
                "need": in_words(job, n.need),
                "because": in_words(job, n.because),
                "strength": n.strength,
                "met": n.met,
                "by": ", ".join(n.by),
            }
            for n in sorted(plan.needs, key=lambda n: n.met)
        ],
        "loom": loom_svg(
            job, plan.wiring, style=False, size=PAPER, guilty=broken_runs(plan, proof)
        ),
        "loom_wide": drawing.width,
        "loom_high": drawing.height,
        "parts": build.parts_list(web, plan),
        "runs": build.runs_table(web, plan, size),
        "settings": build.settings_list(web, plan),
        "unused": build.unused_leads(web),
        "cuts": _cuts(web),
        "stops": stop_list,
        "measuring": cautions.MEASURING,
        "engine_turns": cautions.ENGINE_TURNS,
        "battery_off": cautions.BATTERY_OFF,
        "battery_on": cautions.BATTERY_ON,
        "joints": build.joints(web),
        "before_trying": cautions.BEFORE_TRYING,
        "tries": [
            {"line": line, "why": why, "engine": "command start" in line}
            for line, why in try_lines(job, plan.wiring)
        ],
        "proof": _proof(job, proof),
        "size": _size(job, size),
    }


def broken_runs(plan: Plan, proof: ProofReport | None) -> list[str]:
    """The runs that take part in a breach, to be marked in the drawing."""
    named = {run for r in proof.rules if r.holds is False for run in r.runs} if proof else set()
    return [run.id for run in plan.wiring.runs if run.id in named]


def _verdicts(
    plan: Plan, size: SizeReport | None, proof: ProofReport | None
) -> list[dict[str, Any]]:
    unmet = [n for n in plan.needs if not n.met]
    runs, parts = len(plan.wiring.runs), len(plan.wiring.parts)
    out = [
        {
            "asks": "What goes where",
            "good": not any(n.strength == "must" for n in unmet),
            "says": f"{runs} runs, {parts} part{'s' if parts != 1 else ''}, "
            + (f"{len(unmet)} unmet" if unmet else "nothing unmet"),
        }
    ]
    if size is None:
        out.append({"asks": "Will it hold", "good": False, "says": "not sized"})
    else:
        worst = f" in {len(size.worst)} points" if len(size.worst) > 1 else ""
        says = "holds" if size.verdict == "holds" else f"does not hold{worst}"
        out.append({"asks": "Will it hold", "good": size.verdict == "holds", "says": says})
    if proof is None:
        out.append({"asks": "Is it safe", "good": False, "says": "NOT PROVEN: never examined"})
    else:
        broken = [r for r in proof.rules if r.holds is False]
        says = {
            "proven": f"proven, {proof.states:,} states",
            "breached": f"NOT PROVEN: breached, {broken[0].says if broken else 'a rule is broken'}",
            "not finished": f"NOT PROVEN: not finished after {proof.states:,} states",
        }[proof.verdict]
        out.append({"asks": "Is it safe", "good": proof.verdict == "proven", "says": says})
    cost = f"{plan.cost:.2f} at the stock's prices" if plan.cost else "nothing with a price"
    says = f"{plan.minutes:g} minutes, parts for {cost}"
    out.append({"asks": "Work", "good": True, "says": says})
    return out


def _cuts(web: Web) -> list[str]:
    return [
        f"{names(web.job.vehicle)[id]}: cut in two; the two ends go to different runs"
        for id in web.wiring.cuts
    ]


def _proof(job: WholeJob, proof: ProofReport | None) -> dict[str, Any]:
    if proof is None:
        return {"says": "This plan was not examined. Do not build it.", "rules": [], "assumes": []}
    kinds: Sequence[str] = ("hazard", "damage", "works")
    rules = [
        {
            "kind": r.kind,
            "rule": r.rule,
            "says": in_words(job, r.says),
            "holds": r.holds,
            "trace": r.trace or "",
            "source": r.source or "",
        }
        for kind in kinds
        for r in proof.rules
        if r.kind == kind and r.holds is not None
    ]
    held = sum(1 for r in rules if r["holds"])
    says = f"{held} of {len(rules)} rules hold over {proof.states:,} states."
    if proof.verdict == "not finished":
        says += " The search did not finish: nothing is proven."
    faults = ""
    if proof.faults is not None:
        worst = [f for f in proof.faults if f.worst == "hazard"]
        faults = f"{len(proof.faults)} single faults examined, {len(worst)} of them hazards."
        faults += f" {open_ends}" if (open_ends := unfinished(proof)) else ""
    return {
        "says": says,
        "rules": rules,
        "assumes": [in_words(job, a) for a in proof.assumes],
        "faults": faults,
    }


def _size(job: WholeJob, size: SizeReport | None) -> dict[str, Any]:
    if size is None:
        return {"says": "This plan was not sized.", "worst": [], "lines": []}
    lines = [str(t["says"]) for t in (size.starting, size.parked) if t.get("says")]
    says = "Everything holds." if size.verdict == "holds" else "Something does not hold:"
    worst = [in_words(job, w) for w in size.worst]
    return {
        "says": says,
        "worst": worst,
        "lines": [in_words(job, line) for line in (*lines, *size.notes)],
    }
