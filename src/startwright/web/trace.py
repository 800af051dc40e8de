"""A played line on the page: stepped through on the loom, and its volts over the seconds."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from startwright.records import ProofReport, RecordError, RuleResult, WholeJob, Wiring
from startwright.web import bestiary
from startwright.web.page import folder_of, render
from startwright.web.pages import answered
from startwright.web.playing import Shown, shown

router = APIRouter(include_in_schema=False)

LONGEST = 2000
"""Letters of a line in an address."""
SLOTS = ("try", "safe", "breach", "fault")


@router.get("/job/{id}/play")
def play(request: Request, id: str, line: str) -> Response:
    """Play one scenario line."""
    whole = folder_of(request).job(id)
    sheet = answered(request, whole)
    assert sheet.plan is not None
    return _answer(request, whole.id, asked(whole, sheet.plan.wiring, None, line=line))


@router.get("/job/{id}/trace")
def trace(
    request: Request,
    id: str,
    line: str = "",
    usual: str = "",
    rule: str = "",
    slot: str = "try",
    battery: str = "",
) -> Response:
    """Step through a line, one of the usual lines, or the way to a rule's breach."""
    whole = folder_of(request).job(id)
    sheet = answered(request, whole)
    assert sheet.plan is not None
    seen = asked(
        whole,
        sheet.plan.wiring,
        sheet.proof,
        line=line,
        usual=usual,
        rule=rule,
        slot=slot,
        battery=battery,
    )
    return _answer(request, whole.id, seen)


@router.get("/dangers/{name}/trace")
def danger(
    request: Request, name: str, rule: str = "", line: str = "", slot: str = "", battery: str = ""
) -> Response:
    """Step through what one of the gallery's wirings does."""
    job, wiring = bestiary.beast(name)
    proof = bestiary.proof_of(request, name)
    seen = asked(
        job,
        wiring,
        proof,
        line=line,
        rule=rule,
        slot=slot or "breach",
        battery=battery,
        base=f"/dangers/{name}/trace",
    )
    if _within(request):
        return render(request, "trace.html", {"seen": seen})
    context = {"seen": seen, "room": "dangers", "back": f"/dangers/{name}", "of": name}
    return render(request, "trace_page.html", context)


def asked(
    job: WholeJob,
    wiring: Wiring,
    proof: ProofReport | None,
    *,
    line: str = "",
    usual: str = "",
    rule: str = "",
    slot: str = "try",
    battery: str = "",
    base: str = "",
) -> Shown:
    """What was asked to be played.

    Raises
    ------
    RecordError
        For a rule without a way to show, a temperature that is none, or a place that is none.
    """
    if not slot.replace("-", "").isalnum() or len(slot) > 64:
        raise RecordError(f"the place {slot[:40]!r}", "slot", f"one of {', '.join(SLOTS)}")
    base = base or f"/job/{job.id}/trace"
    query = {"rule": rule} if rule else {"usual": usual} if usual else {"line": line[:LONGEST]}
    asked = [*query.items(), ("slot", slot)]
    battery_C = degrees(battery)
    if rule:
        broken = _rule(proof, rule)
        return shown(
            job,
            wiring,
            broken.trace or "",
            slot,
            base=base,
            asked=asked,
            title=f"The way to {broken.rule}" if broken.holds is False else broken.rule,
            says=broken.says,
            guilty=broken.runs if broken.holds is False else (),
            breach=broken.holds is False and broken.kind != "works",
            battery_C=battery_C,
        )
    title = ""
    if usual:
        from startwright.prove.usual import usual_line

        found = usual_line(job, wiring, usual, "usual")
        line, title = found.line, found.title
    return shown(
        job, wiring, line[:LONGEST], slot, base=base, asked=asked, title=title, battery_C=battery_C
    )


def degrees(text: str) -> float | None:
    """What was typed as the battery's temperature; None for nothing.

    Raises
    ------
    RecordError
        It is no number.
    """
    if not text.strip():
        return None
    try:
        return float(text)
    except ValueError:
        raise RecordError(
            f"{text[:40]!r}", "battery", "degrees Celsius, such as -18; or nothing"
        ) from None


def _rule(proof: ProofReport | None, slug: str) -> RuleResult:
    for rule in proof.rules if proof is not None else []:
        if rule.rule == slug and rule.trace:
            return rule
    ways = [r.rule for r in proof.rules if r.trace] if proof is not None else []
    raise RecordError(
        f"no way to step through for {slug[:60]!r}", "rule", f"one of {', '.join(ways) or 'none'}"
    )


def _within(request: Request) -> bool:
    return "hx-request" in request.headers


def _answer(request: Request, job: str, seen: Shown) -> Response:
    if _within(request):
        return render(request, "trace.html", {"seen": seen})
    context = {"seen": seen, "room": "job", "back": f"/job/{job}", "of": job}
    return render(request, "trace_page.html", context)
