"""What a single fault is of: what it is called, what it is, where it sits, what hangs on it."""

from __future__ import annotations

from typing import Any

from startwright.sheets.build import terminal_words
from startwright.sheets.ends import Web
from startwright.sheets.labels import circuit_name, function_words, part_title
from startwright.sheets.wires import swatch

MODES: tuple[tuple[str, str], ...] = (
    ("open", "cut, come off or corroded; a fuse blown"),
    ("short to ground", "chafed through to the body"),
    ("short to battery", "chafed through to a live wire"),
    ("stuck open", "a contact that never makes"),
    ("stuck closed", "a contact welded, a diode or output broken through"),
)


def named(web: Web, fault: str) -> dict[str, Any]:
    """What a fault is of: its name and mode, what it is, where it sits, its colour.

    Parameters
    ----------
    web : Web
        The wiring.
    fault : str
        As a report names it, such as ``r9 open`` or ``unit.start stuck closed``.

    Returns
    -------
    dict
        `fault`, `thing`, `mode`, `what`, `place` and `says` in words; `wire` its swatch, or None.
    """
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
            out["what"] = function_words(known[circuit].function)
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


def told(named: dict[str, Any]) -> str:
    """A fault on one line, with what it is of behind it."""
    return f"{named['says']} ({named['what']})" if named["what"] else str(named["says"])


def hanging(web: Web, fault: str) -> str:
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
    known = [circuit_name(c) for c in web.job.vehicle.circuits if c.id in circuits - feeds]
    return f"the {' or '.join(known[:3])} wire" if known else "a circuit of the car"


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
        return f"senses {function_words(lead.senses or '')}"
    chosen = web.settings.get(lead.chosen_by or "")
    if chosen is None and not lead.does:
        return str(lead.way)
    return f"works {function_words(str(lead.does[0] if chosen is None else chosen))}"
