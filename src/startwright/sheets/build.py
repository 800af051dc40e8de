"""The order of work: on the bench, then at the car, joint by joint."""

from __future__ import annotations

from typing import Any

from startwright.records import Plan, Run, SizeReport
from startwright.sheets.ends import Web
from startwright.sheets.labels import amount, part_title, said, size_words
from startwright.sheets.naming import in_words, names
from startwright.sheets.wires import place_order, swatch

ORDER = ("ground", "sense", "work", "feed")
"""Grounds first, then what only listens, then what works something, the feeds last."""

ORDER_WORDS = {
    "ground": "Grounds, on bare metal",
    "sense": "What the unit listens to",
    "work": "What the unit works",
    "feed": "Feeds, with their fuses out",
}


def terminal_words(web: Web, terminal: str) -> str:
    """A terminal as it stands on the sheet."""
    owner, _, rest = terminal.partition(".")
    if owner == "unit":
        lead = web.job.unit.lead(rest)
        where = " ".join(w for w in (lead.plug, lead.pin) if w)
        return f"unit {rest}" + (f" ({where})" if where else "")
    if owner == "ground":
        return f"ground, {said(rest)}"
    if owner == "vehicle":
        id, _, side = rest.partition(".")
        return names(web.job.vehicle)[id] + (f", {side} side" if side else "")
    return f"{owner} {rest}"


def kind_of(web: Web, run: Run) -> str:
    """Which of the four groups of joints a run belongs to."""
    circuits = [t.split(".")[1] for t in run.ends if t.startswith("vehicle.")]
    leads = [web.job.unit.lead(t.split(".")[1]) for t in run.ends if t.startswith("unit.")]
    if any(lead.way == "feed" for lead in leads) or any(
        web.job.vehicle.circuit(c).function == "battery" for c in circuits
    ):
        return "feed"
    if any(t.startswith("ground.") for t in run.ends):
        return "ground"
    if any(lead.way == "in" for lead in leads):
        return "sense"
    return "work"


def runs_table(web: Web, plan: Plan, size: SizeReport | None) -> list[dict[str, Any]]:
    """Every run: what to cut, how its ends are joined, what it carries, and why it is there."""
    said_of = {r.of: r.says for r in plan.reasons}
    sized = {str(row.get("id")): row for row in size.runs} if size else {}
    out = []
    for run in web.wiring.runs:
        row = sized.get(run.id, {})
        carries = ""
        if row.get("amps_A") is not None:
            carries = f"{row['amps_A']:.2g} A"
            if row.get("drop_V") is not None:
                carries += f", {1000 * row['drop_V']:.0f} mV"
        joints = [said(j) for j in run.joints]
        if len(joints) == 1:
            joints = joints * 2
        out.append(
            {
                "id": run.id,
                "wire": swatch(run.colour),
                "size": size_words(run.size_mm2) if run.size_mm2 else "size not known",
                "length": f"{amount(run.length_m)} m" if run.length_m else "to measure",
                "from": terminal_words(web, run.from_),
                "to": terminal_words(web, run.to),
                "joint_from": joints[0] if joints else "as the fitter sees fit",
                "joint_to": joints[1] if joints else "",
                "carries": carries,
                "holds": row.get("holds"),
                "why": in_words(web.job, run.why or said_of.get(run.id, "")),
            }
        )
    return out


def parts_list(web: Web, plan: Plan) -> list[dict[str, Any]]:
    """The parts: what each is, where it sits, which run goes to which pin, and why it is there."""
    said_of = {r.of: r.says for r in plan.reasons}
    out = []
    for fitted in web.wiring.parts:
        record = web.parts[fitted.id]
        title, _ = part_title(web, fitted.id)
        item = web.items.get(fitted.id)
        pins = [
            {"pin": pin, "runs": ", ".join(run for run, _ in ends)}
            for pin, ends in (item.pins.items() if item else ())
        ]
        out.append(
            {
                "id": fitted.id,
                "title": title,
                "article": record.name or record.id,
                "place": fitted.place or (item.place if item else ""),
                "pins": pins,
                "why": in_words(web.job, said_of.get(fitted.id, "")),
                "suppressed": record.suppressed,
            }
        )
    return out


def settings_list(web: Web, plan: Plan) -> list[dict[str, str]]:
    """What to set in the unit and how; settings left at their default are said to be so."""
    said_of = {r.of: r.says for r in plan.reasons}
    out = []
    for id, value in web.settings.items():
        setting = web.job.unit.setting(id)
        if setting is None:
            continue
        shown = amount(value) if isinstance(value, float | int) else said(str(value))
        unit = getattr(setting.values, "unit", None)
        meaning = ""
        if isinstance(setting.values, dict):
            meaning = setting.values.get(str(value)) or ""
        out.append(
            {
                "id": id,
                "asks": setting.asks or said(id),
                "value": f"{shown} {unit}" if unit else shown,
                "meaning": meaning,
                "how": setting.how or "as the unit's own guide says",
                "default": "left as it comes" if value == setting.default else "",
                "why": in_words(web.job, said_of.get(f"setting.{id}", "")),
            }
        )
    return out


def joints(web: Web) -> list[dict[str, Any]]:
    """The joints at the car in order: group by group, and in each from place to place."""
    rank = {place: k for k, place in enumerate(place_order(web))}

    def where(run: Run) -> tuple[int, str]:
        places = [p for e in ((run.id, 1), (run.id, 0)) if (p := web.place(e)) is not None]
        place = max(places, key=lambda p: rank[p]) if places else web.tree.root
        return rank[place], place

    out = []
    numbered = 0
    for kind in ORDER:
        rows = []
        for run in sorted(
            (r for r in web.wiring.runs if kind_of(web, r) == kind),
            key=lambda r: (where(r)[0], list(web.runs).index(r.id)),
        ):
            numbered += 1
            joint = " – ".join(said(j) for j in run.joints)
            rows.append(
                {
                    "number": numbered,
                    "id": run.id,
                    "wire": swatch(run.colour),
                    "from": terminal_words(web, run.from_),
                    "to": terminal_words(web, run.to),
                    "joint": joint or "",
                    "place": where(run)[1],
                }
            )
        if rows:
            out.append({"kind": kind, "head": ORDER_WORDS[kind], "rows": rows})
    return out


def unused_leads(web: Web) -> list[str]:
    """Leads of the unit that nothing is joined to: to be insulated one by one."""
    return [lead.id for lead in web.job.unit.leads if lead.id not in web.leads]
