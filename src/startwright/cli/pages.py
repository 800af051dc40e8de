"""The answers as a person reads them on a terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from startwright.cli.show import say, table, verdict
from startwright.records import Plan, ProofReport, RuleResult, SizeReport, WholeJob
from startwright.records.reports import FaultResult, PairResult, PairsBound
from startwright.sheets.effects import NOT_FINISHED, unfinished

if TYPE_CHECKING:
    from startwright.identify import IdentifyReport, ImmobilizerVerdict, WireVerdict
    from startwright.plan import NoPlan, Planned
    from startwright.prove.shrink import Shrunk
    from startwright.prove.why import Why
    from startwright.records.lines import Point
    from startwright.size.why import SizeWhy

RANK = {"hazard": 0, "damage": 1, "works": 2, "none": 3}


def no_plan(answer: NoPlan) -> None:
    """Why there is none, and what would open a way."""
    verdict("no plan", f" for {answer.job}", well=False)
    say(*(f"- {reason}" for reason in answer.reasons))
    if answer.resolve:
        say("What would open a way:")
    for one in answer.resolve:
        cost = f" (about {one.cost:.2f} at the stock's prices)" if one.cost is not None else ""
        say(f"- {one.do}{cost}")


def plan(job: WholeJob, answer: Plan, size: SizeReport | None, proof: ProofReport | None) -> None:
    """The plan: verdicts, warnings, needs that are not met, parts, settings, runs, cost."""
    from startwright.sheets.build import joints
    from startwright.sheets.ends import read_web

    proven = proof is not None and proof.verdict == "proven"
    verdict("plan", f" for {job.id}: {_verdicts(size, proof)}", well=proven)
    for warning in answer.warnings:
        say(f"! {warning}", style="yellow")
    for need in answer.needs:
        if not need.met:
            say(f"not met ({need.strength}): {need.need}, because {need.because}", style="yellow")
    table(
        ("part", "article", "place"),
        [(p.id, p.of, p.place or "") for p in answer.wiring.parts],
        "Parts",
    )
    table(
        ("setting", "value", "how"),
        [
            (id, value, setting.how or "" if (setting := job.unit.setting(id)) else "")
            for id, value in answer.wiring.settings.items()
        ],
        "Settings",
    )
    for circuit in answer.wiring.cuts:
        say(f"cut {circuit}: it has a source side and a load side")
    runs = {run.id: run for run in answer.wiring.runs}
    web = read_web(job, answer.wiring)
    rows: list[tuple[object, ...]] = []
    for group in joints(web):
        for row in group["rows"]:
            run = runs[row["id"]]
            end = [run.from_, run.to]
            ends = " → ".join(end)
            rows.append(
                (
                    len(rows) + 1,
                    run.id,
                    ends,
                    run.size_mm2 or "",
                    run.colour or "",
                    run.length_m or "",
                    row["place"],
                )
            )
    table(
        ("", "run", "from → to", "mm²", "colour", "m", "place"),
        rows,
        "Runs, in the order in which the hand gets to them: grounds, senses, works, feeds last",
        ("{}", "{}", "{}", "{} mm²", "{}", "{} m", "{}"),
    )
    cost = (
        f"{answer.cost:.2f} at the stock's prices"
        if answer.cost
        else "without a price in the stock"
    )
    say(f"parts and wire {cost}, work {answer.minutes:.0f} minutes")


def _verdicts(size: SizeReport | None, proof: ProofReport | None) -> str:
    said = [f"it {size.verdict}" if size else "not sized"]
    said.append(f"{proof.verdict}, {proof.states} states" if proof else "not proven")
    return ", ".join(said)


def alternatives(answer: Planned) -> None:
    """The next best plans, with what each would gain and lose."""
    for n, other in enumerate(answer.alternatives, start=1):
        say(f"alternative {n}:")
        say(*(f"  {way}" for way in other.differs))
        say(*(f"  gains: {gain}" for gain in other.gains))
        say(*(f"  loses: {loss}" for loss in other.loses))


def size(report: SizeReport) -> None:
    """What does not hold first, then every run, fuse and contact."""
    verdict(report.verdict, "", well=report.verdict == "holds")
    say(*(f"- {line}" for line in report.worst), style="red")
    for rows, title in (
        (report.runs, "Runs"),
        (report.fuses, "Fuses"),
        (report.contacts, "Contacts and leads"),
    ):
        table(
            ("", "id", "says"),
            [("" if row.get("holds", True) else "✗", row["id"], row["says"]) for row in rows],
            title,
        )
    for part in (report.starting, report.parked):
        say(str(part.get("says", "")))
        say(*(f"! {c}" for c in part.get("cautions", [])), style="yellow")
    say(*(f"({note})" for note in report.notes), style="dim")


def size_why(unfolded: SizeWhy) -> None:
    """One row of `size` unfolded: each number with formula, publication and table rows."""
    verdict(unfolded.id, f": {unfolded.says}", well=unfolded.holds)
    for number in unfolded.numbers:
        say(f"{number.name}: {number.value}", style="bold")
        say(f"  {number.formula}", f"  source: {number.source}")
        say(*(f"  row: {row}" for row in number.table))
    rests(unfolded.inputs, "What went in")


def single(answer: dict[str, Any]) -> None:
    """One wire and one fuse for one load."""
    say(answer["says"], f"after {answer['source']}")


def proof(report: ProofReport) -> None:
    """The verdict, breaches first, then what was proven, and what it assumes."""
    verdict(
        report.verdict,
        f": {report.states} states in {report.seconds:.2f} s",
        well={"proven": True, "breached": False}.get(report.verdict),
    )
    if open_ends := unfinished(report):
        say(f"! {open_ends}", style="yellow")
    broken = [rule for rule in report.rules if rule.holds is False]
    for rule in sorted(broken, key=lambda r: RANK[r.kind]):
        say(f"✗ {rule.rule} ({rule.kind})", style="bold red")
        say(f"  {rule.says}")
        if rule.trace:
            say(f"  {rule.trace}")
        if rule.runs:
            say(f"  runs: {', '.join(rule.runs)}")
    others = [rule for rule in report.rules if rule.holds is not False]
    others.sort(key=lambda rule: (rule.holds is None, RANK[rule.kind]))
    table(("", "rule", "kind", "says"), [(_held(r), r.rule, r.kind, r.says) for r in others])
    if report.faults is not None:
        faults(report)
    say("It assumes:", *(f"- {line}" for line in report.assumes))


def _held(rule: RuleResult) -> str:
    return "–" if rule.holds is None else "✓"


def faults(report: ProofReport) -> None:
    """The single faults, worst first."""
    found = sorted(report.faults or [], key=lambda f: (RANK[f.worst], f.noticed))
    table(
        ("fault", "worst", "breaks", "noticed", "caught by", "trace"),
        [
            (
                f.fault,
                f.worst,
                ", ".join(f.breaks),
                _noticed(f),
                ", ".join(f.caught_by),
                f.trace or "",
            )
            for f in found
            if f.worst != "none"
        ],
        "Single faults (IEC 60812), worst first",
        ("{}", "{}", "breaks {}", "noticed: {}", "caught by {}", "{}"),
    )
    harmless = sum(f.worst == "none" for f in found)
    say(f"{harmless} of {len(found)} single faults do nothing")
    if report.pairs is not None and report.pairs_bound is not None:
        pairs(report.pairs, report.pairs_bound)


def _noticed(fault: FaultResult) -> str:
    if NOT_FINISHED in fault.breaks:
        return "not known"
    return "yes" if fault.noticed else "no"


def pairs(found: list[PairResult], bound: PairsBound) -> None:
    """The pairs of faults that are a hazard together, and how far they were looked at."""
    table(
        ("one fault", "another", "breaks", "trace"),
        [(*p.faults, ", ".join(p.breaks), p.trace or "") for p in found],
        "Pairs that nobody notices one by one, and that are a hazard together",
        ("{}", "and {}", "breaks {}", "{}"),
    )
    say(f"{bound.looked_at} of {bound.pairs} pairs of {bound.unnoticed} unnoticed faults looked at")


def why(unfolded: Why, moments: list[dict[str, Any]]) -> None:
    """One rule unfolded: what it asks, what tries it, the record lines it rests on, its trace."""
    from startwright.records.reports import UNDECIDED

    rule = unfolded.result
    none = "not decided" if rule.says == UNDECIDED else "not applicable"
    held = {True: "holds", False: "breached", None: none}[rule.holds]
    verdict(rule.rule, f" ({rule.kind}): {held}", well=rule.holds)
    say(unfolded.sentence)
    if rule.says != unfolded.sentence:
        say(rule.says)
    if rule.source:
        say(f"source: {rule.source}")
    say("it came to the test" if rule.exercised else "it never came to the test")
    for twin in unfolded.twins:
        say(f"- {twin.says}: {twin.line or 'never reached'}")
    for points, title in (
        (unfolded.rests, "What it asks of the unit"),
        (unfolded.way, "On the way"),
    ):
        rests(points, title)
    if rule.holds is False:
        if unfolded.cures:
            tried = f"{unfolded.tried} single change{'s' if unfolded.tried != 1 else ''} tried"
            say(f"Would have prevented it, each proven ({tried}):", style="bold")
        for cure in unfolded.cures:
            but = f", but then {', '.join(cure.but)} breaks" if cure.but else ""
            say(f"- {cure.do}{but}")
            say(f"    {cure.where}", style="dim")
        if not unfolded.cures:
            say(f"none of {unfolded.tried} single changes that were tried prevents it")
    if rule.trace:
        say(f"trace: {rule.trace}")
    timeline(moments)


def shrunk(found: Shrunk, runs: int) -> None:
    """The fewest runs that still break a rule, and the line that shows it."""
    from startwright.records.write import to_yaml

    rule, left = found.result, len(found.wiring.runs)
    less = "" if found.minimal else "; stopped, so it may be fewer"
    verdict(rule.rule, f" ({rule.kind}): still broken by {left} of {runs} runs{less}", well=False)
    say(rule.says)
    if rule.trace:
        say(f"trace: {rule.trace}")
    if found.minimal:
        say(f"none of them can be left out alone ({found.tests} wirings looked at)")
    say(f"not needed: {', '.join(found.left_out) or 'no run'}")
    say(*to_yaml(found.wiring).splitlines())


def rests(points: Iterable[Point], title: str) -> None:
    """What an answer rests on, with the record line of each unbroken; what is missing is marked."""
    points = list(points)
    if points:
        say(f"{title}:", style="bold")
    for point in points:
        mark = "✗" if point.missing else "-"
        say(f"{mark} {point.what}: {point.says}", style="red" if point.missing else None)
        say(f"    {point.where}", style="dim")


def timeline(moments: list[dict[str, Any]]) -> None:
    """A played line, moment by moment."""
    table(
        ("s", "what", "leads on"),
        [(m["at_s"], m["what"], ", ".join(m["on"])) for m in moments],
        labels=("{} s", "{}", "leads on: {}"),
    )


def played(answer: dict[str, Any]) -> None:
    """A played line and whether what must follow did."""
    word = "holds" if answer["holds"] else "does not hold"
    verdict(word, f": {answer['line']}", well=answer["holds"])
    for expect in answer["expects"]:
        say(f"{'✓' if expect['met'] else '✗'} {expect['expect']}")
    say(*(f"! {what}" for what in (*answer["flaws"], *answer["shorts"])), style="yellow")
    timeline(answer["moments"])


def _what(wire: WireVerdict) -> str:
    if wire.leave_alone:
        return "leave alone"
    return wire.function or "not known yet"


def identified(report: IdentifyReport) -> None:
    """Wires to leave alone first, then the others, then what to measure next."""
    wires = sorted(report.wires, key=lambda w: not w.leave_alone)
    table(
        ("wire", "function", "active", "sure", "rivals", "notes"),
        [
            (
                w.wire,
                _what(w),
                w.active or "",
                f"{w.probability:.0%}" if w.function else "",
                ", ".join(f"{r.function} {r.probability:.0%}" for r in w.rivals[:2]),
                "; ".join(n for n in w.notes if n != "not known yet"),
            )
            for w in wires
        ],
        labels=("{}", "{}", "active at {}", "{} sure", "or {}", "{}"),
    )
    for check in report.next_checks:
        if check.caution:
            say(f"! {check.caution}", style="yellow")
        do = ", ".join(check.do)
        say(f"next: {do}; measure {check.wire} ({check.meter}); expected {check.expected}")
    for tach in report.tach:
        if tach.is_tach and tach.pulses_per_rev is not None:
            say(f"tach on {tach.wire}: {tach.pulses_per_rev:g} pulses a revolution")
        say(f"({tach.wire}: {tach.why})", style="dim")
    say(*(f"({note})" for note in report.notes), style="dim")


def immobilizer(verdict: ImmobilizerVerdict) -> None:
    """Fitted or not, what spoke for it, and what to look at next."""
    fitted: dict[bool | None, str] = {
        True: "an immobilizer is fitted",
        False: "no immobilizer is fitted",
        None: "not known yet whether an immobilizer is fitted",
    }
    say(fitted[verdict.fitted], style="bold")
    table(
        ("kind", "sure"),
        [(k.replace("_", " "), f"{p:.0%}") for k, p in verdict.probabilities.items()],
    )
    say(*(f"- {line}" for line in verdict.evidence))
    for look in verdict.next_look:
        say(f"next: {look.look} (--saw {look.asks}=…)")
