"""A job as one sheet of paper: its parts, each with its answer in one line, and what to do next."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from startwright.records import Plan, ProofReport, RuleResult, SizeReport, WholeJob
from startwright.sheets.ends import Web, read_web
from startwright.sheets.head import wanted
from startwright.web import figures, say
from startwright.web.desk import Task
from startwright.web.page import worst_first
from startwright.web.rows import Row, Slip, Stop, slips, stops

State = Literal["ok", "todo", "bad", "wait", "plain"]
SLUGS = ("car", "wanted", "where", "hold", "safe", "build", "at-the-car", "try")


@dataclass
class Part:
    """One part of the sheet."""

    slug: str
    title: str
    answer: str
    state: State
    open: bool = False


@dataclass
class Next:
    """The one thing to do next: a button."""

    label: str
    href: str
    post: bool = False


@dataclass
class Sheet:
    """Everything the page shows of one job."""

    job: WholeJob
    task: Task
    parts: list[Part]
    next: Next
    stamp: str
    stamp_state: State
    plan: Plan | None = None
    size: SizeReport | None = None
    proof: ProofReport | None = None
    refusal: Any = None
    web: Web | None = None
    stops: list[Stop] = field(default_factory=list)
    slips: list[Slip] = field(default_factory=list)

    def part(self, slug: str) -> Part:
        """The part of that slug; `KeyError` where there is none."""
        for part in self.parts:
            if part.slug == slug:
                return part
        raise KeyError(slug)

    @property
    def breaches(self) -> list[RuleResult]:
        """The rules that do not hold, hazards first."""
        return worst_first(self.proof) if self.proof is not None else []

    @property
    def to_measure(self) -> list[Row]:
        """The joined wires that nobody has measured yet."""
        return [r for s in self.stops for r in s.rows if not r.said["sure"]]

    @property
    def reserve(self) -> str:
        """What a proof of this wiring does not know of the car itself; empty where it does."""
        if self.stamp != "proven" or not self.to_measure:
            return ""
        return f"as recorded; {count(len(self.to_measure), 'wire')} not measured yet"


def count(n: int, one: str, many: str | None = None) -> str:
    """A number with its noun: ``1 relay``, ``17 runs``."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def build(job: WholeJob, task: Task) -> Sheet:
    """The sheet as far as it is filled at this moment."""
    task = task.now()
    found = task.result if task.state == "done" else task.partial
    plan: Plan | None = found.get("plan")
    size: SizeReport | None = found.get("size")
    proof: ProofReport | None = found.get("proof")
    refusal = found.get("refusal")
    sheet = Sheet(
        job=job,
        task=task,
        parts=[],
        next=Next("", ""),
        stamp="",
        stamp_state="wait",
        plan=plan,
        size=size,
        proof=proof,
        refusal=refusal,
    )
    if plan is not None:
        web = read_web(job, plan.wiring)
        sheet.web = web
        sheet.stops = stops(web, plan, size)
        sheet.slips = slips(web, plan, size)
    sheet.parts = [
        _car(job),
        _wanted(job),
        _where(sheet),
        _hold(sheet),
        _safe(sheet),
        _build(sheet),
        _at_the_car(sheet),
        _try(sheet),
    ]
    sheet.next = _next(sheet)
    sheet.stamp, sheet.stamp_state = _stamp(sheet)
    return sheet


def _waiting(sheet: Sheet) -> tuple[str, State]:
    if sheet.task.busy:
        return "working", "wait"
    if sheet.refusal is not None:
        return "no plan to ask about", "plain"
    if sheet.task.state == "failed":
        return "not answered: the work broke off", "bad"
    return "not answered: stopped", "todo"


def _car(job: WholeJob) -> Part:
    unknown = job.vehicle.immobilizer.kind == "unknown"
    return Part("car", "The car", say.vehicle_line(job.vehicle), "todo" if unknown else "ok")


def _wanted(job: WholeJob) -> Part:
    wants = wanted(job)
    return Part("wanted", "What is wanted", wants or "nothing yet", "ok" if wants else "todo")


def _where(sheet: Sheet) -> Part:
    title = "What goes where"
    if sheet.refusal is not None:
        says = "no plan" if sheet.plan is None else "no plan that holds and is safe"
        return Part("where", title, f"{says}: see why, and what would open a way", "bad", True)
    if sheet.plan is None:
        return Part("where", title, *_waiting(sheet))
    wiring = sheet.plan.wiring
    kinds = {p.id: p.kind for p in sheet.job.stock.parts}
    tally: dict[str, int] = {}
    for part in wiring.parts:
        kind = kinds.get(part.of, "part")
        tally[kind] = tally.get(kind, 0) + 1
    unmet = [n for n in sheet.plan.needs if not n.met]
    answer = ", ".join(
        [
            count(len(wiring.runs), "run"),
            *(
                count(n, kind, "switches" if kind == "switch" else None)
                for kind, n in tally.items()
            ),
            f"{count(len(unmet), 'need')} unmet" if unmet else "nothing unmet",
        ]
    )
    return Part("where", title, answer, "todo" if unmet else "ok", True)


def _hold(sheet: Sheet) -> Part:
    title = "Will it hold"
    if sheet.size is None:
        return Part("hold", title, *_waiting(sheet))
    if sheet.size.verdict == "holds":
        tightest = figures.tightest(sheet.size)
        answer = "holds" + (f"; tightest: {tightest}" if tightest else "")
        return Part("hold", title, answer, "ok")
    worst = sheet.size.worst[0] if sheet.size.worst else "see the rows"
    more = f", and {len(sheet.size.worst) - 1} more" if len(sheet.size.worst) > 1 else ""
    return Part("hold", title, f"fails: {worst}{more}", "bad", True)


def _safe(sheet: Sheet) -> Part:
    title = "Is it safe"
    proof = sheet.proof
    if proof is None:
        return Part("safe", title, *_waiting(sheet))
    if proof.verdict == "proven":
        answer = f"proven, {count(proof.states, 'state')}, every one visited"
        return Part("safe", title, answer, "ok")
    if proof.verdict == "breached":
        broken = [r.rule for r in sheet.breaches]
        answer = f"breached: {', '.join(broken[:3])}"
        if len(broken) > 3:
            answer += f" and {len(broken) - 3} more"
        return Part("safe", title, answer, "bad", True)
    return Part("safe", title, f"not finished after {count(proof.states, 'state')}", "todo", True)


def _build(sheet: Sheet) -> Part:
    if sheet.plan is None or sheet.proof is None:
        return Part("build", "Build", *_waiting(sheet))
    if sheet.refusal is not None:
        return Part("build", "Build", "hold back: there is no plan to build", "bad")
    if sheet.proof.verdict != "proven":
        state: State = "bad" if sheet.proof.verdict == "breached" else "todo"
        return Part("build", "Build", f"hold back: {sheet.proof.verdict}", state)
    if sheet.size is not None and sheet.size.verdict != "holds":
        return Part("build", "Build", "hold back: it would not hold", "bad")
    settings = len(sheet.plan.wiring.settings)
    answer = f"{count(settings, 'setting')}, {sheet.plan.minutes:g} minutes, bench sheet to print"
    return Part("build", "Build", answer, "ok")


def _at_the_car(sheet: Sheet) -> Part:
    title = "At the car"
    if sheet.plan is None:
        return Part("at-the-car", title, *_waiting(sheet))
    left = len(sheet.to_measure)
    if left:
        answer = f"{count(left, 'wire')} still to measure"
        return Part("at-the-car", title, answer, "todo")
    checks = len(sheet.plan.checks)
    answer = "every wire is measured"
    if checks:
        answer += f", {count(checks, 'check')} before and after joining"
    return Part("at-the-car", title, answer, "ok")


def _try(sheet: Sheet) -> Part:
    if sheet.plan is None:
        return Part("try", "Try a scenario", *_waiting(sheet))
    return Part("try", "Try a scenario", "type what is done, see what follows", "plain")


def _next(sheet: Sheet) -> Next:
    base = f"/job/{sheet.job.id}"
    if sheet.task.busy:
        return Next("Stop", f"{base}/stop", post=True)
    if sheet.task.state in ("stopped", "failed"):
        return Next("Work it out again", f"{base}/again", post=True)
    if sheet.refusal is not None:
        return Next("See what would open a way", "#where")
    if sheet.breaches:
        return Next("See the breach", "#safe")
    if sheet.proof is not None and sheet.proof.verdict != "proven":
        return Next("See what is not proven", "#safe")
    if sheet.size is not None and sheet.size.verdict != "holds":
        return Next("See what does not hold", "#hold")
    left = len(sheet.to_measure)
    if left:
        return Next(f"Measure {count(left, 'wire')}", "#at-the-car")
    return Next("Print the bench sheet", f"{base}/bench.pdf")


def _stamp(sheet: Sheet) -> tuple[str, State]:
    if sheet.task.busy:
        return "", "wait"
    if sheet.refusal is not None:
        return "no plan", "bad"
    if sheet.proof is None:
        return "not proven", "todo"
    if sheet.proof.verdict == "breached":
        return "breached", "bad"
    if sheet.size is not None and sheet.size.verdict == "fails":
        return "does not hold", "bad"
    if sheet.proof.verdict == "not finished":
        return "not finished", "todo"
    return "proven", "todo" if sheet.to_measure else "ok"
