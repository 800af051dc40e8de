"""The failure-mode sheet: what each single fault does at the car, the worst first.

The modes and the heads of the table are those of IEC 60812: item, failure mode, effect, how it is
detected, what provides against it. Severity is the kind of the worst rule that breaks; there is no
risk number, for how often a part fails is not known here.
"""

from __future__ import annotations

from typing import Any

from startwright.records import FaultResult, Plan, ProofReport, RecordError, WholeJob
from startwright.sheets.build import terminal_words
from startwright.sheets.ends import Web, read_web
from startwright.sheets.head import check_given, head_data
from startwright.sheets.labels import part_title, said
from startwright.sheets.typeset import Paper, pdf
from startwright.sheets.wires import swatch

EFFECTS: dict[str, str] = {
    "crank-only-when-safe": "The starter can turn with the hood open or the lever out of park.",
    "no-crank-into-running": "The starter can be driven into a running engine.",
    "brake-ends": "The brake pedal no longer ends a remote start.",
    "hood-ends": "An open hood no longer ends a remote start.",
    "leaving-park-ends": "The engine goes on when the lever leaves park.",
    "start-ends": "Ignition or starter stays fed when the unit is idle, or a start has no end.",
    "key-has-last-word": "The key no longer has the last word over the engine.",
    "locks-on-command": "A door lock moves though nobody asked, or both ways at once.",
    "start-through-interlock": "The starter is fed past the car's own park switch.",
    "immobilizer-only-while-starting": "The immobilizer stays satisfied while the car is parked.",
    "no-short": "Battery meets ground without a load: a fuse has to open.",
    "within-limits": "A lead, contact, fuse or wire carries more than it may.",
    "hands-off": "An airbag, high-voltage or data wire is touched.",
    "coils-suppressed": "A coil kicks back into the lead that drives it.",
    "settles": "A relay chatters, or what follows depends on which of two is quicker.",
    "car-unchanged": "{} no longer works as in the factory car, also with the unit at rest.",
    "only-what-is-called": "{} works along though nothing calls it.",
    "as-under-the-key": "During a start a circuit is not as it is under the key.",
    "can-start": "A command no longer starts the engine.",
    "runs": "The engine does not run on by itself.",
    "can-stop": "A command no longer stops the engine.",
    "locks": "The remote no longer locks.",
    "unlocks-driver": "The remote no longer unlocks the driver's door.",
    "unlocks-all": "The remote no longer unlocks.",
    "opens-trunk": "The remote no longer opens the trunk.",
    "flashes": "The lights no longer flash.",
    "sounds": "The horn no longer sounds.",
    "panics": "The panic press does nothing.",
    "heats-seat": "The seat heater is not switched on.",
    "defogs": "The rear defogger is not switched on.",
    "cuts-starter": "The starter is no longer cut while armed.",
    "shows-armed": "Nothing shows that the unit is armed.",
    "can-be-tried": "Part of what has to be safe can no longer be tried.",
    "not finished": "Not known: its search did not finish. Take it for a hazard.",
}
"""What a broken rule means at the car, in a sentence; `{}` is what hangs on the failed thing."""

IMPLIED: dict[str, frozenset[str]] = {
    "can-start": frozenset({"runs", "can-stop", "heats-seat", "defogs", "as-under-the-key"}),
    "locks-on-command": frozenset({"car-unchanged", "only-what-is-called"}),
    "no-short": frozenset({"within-limits", "only-what-is-called"}),
    "car-unchanged": frozenset({"only-what-is-called", "as-under-the-key"}),
}
"""What need not be said any more once the first is said."""

ENDS: dict[str, str] = {
    "brake-ends": "the brake",
    "hood-ends": "an open hood",
    "leaving-park-ends": "the lever",
    "start-ends": "its own time",
}
"""What ends a start; several that fail at once are said in one sentence."""

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
        "quiet": _gathered(quiet),
        "modes": [{"mode": mode, "means": means} for mode, means in MODES],
        "assumes": list(proof.assumes[1:]) if proof.assumes else [],
    }


def effects(breaks: list[str], at: str = "A circuit of the car") -> list[str]:
    """What broken rules mean at the car, in sentences, without what follows from another.

    Parameters
    ----------
    breaks : list of str
        Slugs of rules, the worst first.
    at : str
        What hangs on the thing that failed.

    >>> effects(["brake-ends", "can-start", "runs"])
    ['The brake pedal no longer ends a remote start.', 'A command no longer starts the engine.']
    >>> effects(["brake-ends", "start-ends"])
    ['Neither the brake nor its own time ends a start.']
    """
    implied = {rule for first in breaks for rule in IMPLIED.get(first, ())}
    ends = [rule for rule in breaks if rule in ENDS]
    out: dict[str, None] = {}
    for rule in breaks:
        if rule in implied:
            continue
        if rule in ENDS and len(ends) > 1:
            named = [ENDS[r] for r in ends]
            out[f"Neither {', '.join(named[:-1])} nor {named[-1]} ends a start."] = None
        else:
            out[EFFECTS.get(rule, f"The rule {rule} is broken.").format(at)] = None
    return list(out)


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
