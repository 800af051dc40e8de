"""The failure-mode sheet: what each single fault does at the car, the worst first.

The modes and the heads of the table are those of IEC 60812: item, failure mode, effect, how it is
detected, what provides against it. Severity is the kind of the worst rule that breaks; there is no
risk number, for how often a part fails is not known here.
"""

from __future__ import annotations

from typing import Any

from startwright.records import FaultResult, Plan, ProofReport, RecordError, WholeJob
from startwright.records.reports import PairResult
from startwright.sheets.build import terminal_words
from startwright.sheets.effects import effects
from startwright.sheets.ends import Web, read_web
from startwright.sheets.head import check_given, head_data
from startwright.sheets.labels import part_title, said
from startwright.sheets.typeset import Paper, pdf
from startwright.sheets.wires import swatch

WORST: tuple[tuple[str, str, str], ...] = (
    ("hazard", "Hazard", "someone can be run over, crushed or gassed, or the car be stolen"),
    ("damage", "Damage", "a part or the car can be spoilt, or works wrongly"),
    ("works", "Does not work", "what was wanted is missing; nothing and nobody is harmed"),
)
MODES: tuple[tuple[str, str], ...] = (
    ("open", "cut, come off or corroded; a fuse blown"),
    ("short to ground", "chafed through to the body"),
    ("short to battery", "chafed through to a live wire"),
    ("stuck open", "a contact that never makes"),
    ("stuck closed", "a contact welded, a diode or output broken through"),
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
    quiet = [_named(web, f.fault) for f in proof.faults if f.worst == "none"]
    return {
        **head_data("Failure modes", web, plan, proof, paper),
        "verdict": proof.verdict,
        "states": f"{proof.states:,}",
        "total": len(proof.faults),
        "counts": _counts(proof.faults),
        "unnoticed": [
            _told(_named(web, f.fault))
            for f in proof.faults
            if f.worst == "hazard" and not f.noticed
        ],
        "groups": groups,
        "pairs": [_pair(web, p) for p in proof.pairs or []],
        "pairs_said": _bound(proof),
        "quiet": _gathered(quiet),
        "modes": [{"mode": mode, "means": means} for mode, means in MODES],
        "assumes": list(proof.assumes[1:]) if proof.assumes else [],
    }


def _pair(web: Web, pair: PairResult) -> dict[str, Any]:
    return {
        "faults": [_told(_named(web, fault)) for fault in pair.faults],
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


def _counts(faults: list[FaultResult]) -> list[dict[str, Any]]:
    out = []
    for worst, head, _ in (*WORST, ("none", "No effect", "")):
        some = [f for f in faults if f.worst == worst]
        noticed = sum(f.noticed for f in some)
        out.append({"head": head, "worst": worst, "all": len(some), "noticed": noticed})
    return out


def _row(web: Web, number: int, fault: FaultResult) -> dict[str, Any]:
    return {
        **_named(web, fault.fault),
        "number": number,
        "effects": effects(fault.breaks, _hanging(web, fault.fault)),
        "noticed": fault.noticed,
        "caught_by": [said(c) for c in fault.caught_by],
        "line": fault.trace or "",
    }


def _named(web: Web, fault: str) -> dict[str, Any]:
    """What a fault is of: its name and mode, what it is, where it sits, its colour."""
    thing, mode = _split(fault)
    run = web.runs.get(thing)
    out: dict[str, Any] = {
        "fault": fault,
        "thing": thing,
        "mode": mode,
        "what": "",
        "place": "",
        "wire": None,
    }
    if run is not None:
        ends = [(run.id, 0), (run.id, 1)]
        places = dict.fromkeys(web.place(end) or web.tree.root for end in ends)
        out["thing"] = f"run {thing}"
        out["what"] = " → ".join(terminal_words(web, t) for t in run.ends)
        out["place"] = " to ".join(places)
        out["wire"] = swatch(run.colour)
    elif thing.startswith("unit."):
        lead = thing.removeprefix("unit.")
        out["thing"] = f"unit, lead {lead}"
        out["what"] = _does(web, lead)
        out["place"] = web.tree.root
    elif thing.startswith("vehicle."):
        circuit = thing.split(".")[1]
        known = {c.id: c for c in web.job.vehicle.circuits}
        out["thing"] = f"car, circuit {circuit}"
        if circuit in known:
            out["what"] = said(known[circuit].function)
            out["place"] = known[circuit].place or ""
    else:
        part, _, pin = thing.partition(".")
        if part in web.parts:
            title, _ = part_title(web, part)
            out["thing"] = f"{title}, pin {pin}" if pin else title
            article = web.parts[part]
            out["what"] = article.name or article.id
            item = web.items.get(part)
            out["place"] = item.place if item else ""
    out["says"] = f"{out['thing']} {mode}"
    return out


def _told(named: dict[str, Any]) -> str:
    return f"{named['says']} ({named['what']})" if named["what"] else str(named["says"])


def _hanging(web: Web, fault: str) -> str:
    """The car's circuits that are joined to the failed thing through runs and parts, in words."""
    thing, _ = _split(fault)
    run = web.runs.get(thing)
    if run is not None:
        start = {_joint(web, end) for end in run.ends}
    elif thing.startswith("unit."):
        start = {thing}
    else:
        start = {thing.partition(".")[0]}
    seen, todo = set(start), [t for t in start if t in web.parts or t.startswith("unit.")]
    while todo:
        at = todo.pop()
        for other in web.runs.values():
            ends = [_joint(web, end) for end in other.ends]
            if at not in ends:
                continue
            for end in ends:
                if end not in seen:
                    seen.add(end)
                    if end in web.parts:
                        todo.append(end)
    circuits = {t.split(".")[1] for t in seen if t.startswith("vehicle.")}
    feeds = {c.id for c in web.job.vehicle.circuits if c.function in ("battery", "ground")}
    known = [c.id for c in web.job.vehicle.circuits if c.id in circuits - feeds]
    return " or ".join(known[:3]) if known else "A circuit of the car"


def _joint(web: Web, terminal: str) -> str:
    """A terminal, or the part it is a pin of."""
    owner = terminal.partition(".")[0]
    return owner if owner in web.parts else terminal


def _split(fault: str) -> tuple[str, str]:
    """A fault's thing and mode: the longest mode that its name ends in."""
    modes = sorted((m for m, _ in MODES), key=len, reverse=True)
    for mode in modes:
        if fault.endswith(f" {mode}"):
            return fault.removesuffix(f" {mode}"), mode
    thing, _, mode = fault.partition(" ")
    return thing, mode


def _does(web: Web, id: str) -> str:
    lead = next((d for d in web.job.unit.leads if d.id == id), None)
    if lead is None:
        return ""
    if lead.way == "in":
        return f"senses {said(lead.senses or '')}"
    chosen = web.settings.get(lead.chosen_by or "")
    if chosen is None and not lead.does:
        return str(lead.way)
    return f"works {said(str(lead.does[0] if chosen is None else chosen))}"


def _gathered(quiet: list[dict[str, Any]]) -> list[dict[str, str]]:
    """Faults without effect, a line for each thing with its modes."""
    by_thing: dict[str, list[str]] = {}
    for one in quiet:
        by_thing.setdefault(one["thing"], []).append(one["mode"])
    return [{"thing": thing, "modes": ", ".join(modes)} for thing, modes in by_thing.items()]
