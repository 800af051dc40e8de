"""The customer's sheet: what was fitted, how it is used, what must never be done with it."""

from __future__ import annotations

from startwright.car.hybrid import is_hybrid
from startwright.records import Plan, ProofReport, SizeReport, WholeJob
from startwright.records.unit import Pulse
from startwright.sheets.build import terminal_words
from startwright.sheets.ends import Web, read_web
from startwright.sheets.head import check_given, head_data
from startwright.sheets.labels import amount, circuit_name, function_words
from startwright.sheets.typeset import Paper, pdf

DOES = {
    "lock": "the doors lock",
    "unlock": "the doors unlock",
    "driver_unlock": "the driver's door unlocks",
    "trunk_release": "the trunk opens",
    "parking_light": "the lights flash",
    "horn": "the horn sounds",
    "alarm_arm": "the car's alarm is armed",
    "alarm_disarm": "the car's alarm is disarmed",
    "dome_light": "the inside light goes on",
    "seat_heater": "the seat heater goes on",
    "rear_defogger": "the rear defogger goes on",
}
PRESSES = {
    "lock": "Lock",
    "lock_again": "Lock, pressed again",
    "unlock": "Unlock",
    "unlock_again": "Unlock, pressed again",
    "trunk": "Trunk",
    "panic": "Panic",
}

NEVER: tuple[tuple[str, str], ...] = (
    (
        "Never in a garage, open or shut, or beside an open window",
        "The exhaust holds carbon monoxide. It has no smell, gives no warning and kills. A car "
        "that can be started from the kitchen can be started by a child, or by a pocket.",
    ),
    (
        "Leave it in park with the parking brake set",
        "Every time. On a slope turn the wheels to the kerb as well.",
    ),
    (
        "Nobody and no animal stays in the car alone",
        "A running engine heats and cools, and windows and levers can work.",
    ),
    (
        "Before anyone opens the hood or works on the car: service on",
        "Put the unit in service as shown below and keep the transmitters away. Tell every "
        "workshop, car wash and parking attendant that the car can start by itself.",
    ),
    (
        "Keep the transmitters from children",
        "A car left running unattended is forbidden in some places, and some insurers ask about "
        "it: local law comes before this sheet.",
    ),
)

HYBRID = (
    "A hybrid that is ready makes no sound",
    "It can move, and its engine starts by itself, a minute or an hour later. Go by its ready "
    "lamp, not by the ear, and switch it off before you leave it.",
)


def customer_pdf(
    job: WholeJob,
    plan: Plan,
    size: SizeReport | None,
    proof: ProofReport | None,
    *,
    paper: Paper = "a4",
) -> bytes:
    """The sheet that goes to the customer with the car, as PDF.

    Parameters
    ----------
    job, plan, size, proof
        As `bench.bench_pdf` takes them; stamped in the same way where it is not proven.
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
    web = read_web(job, plan.wiring)
    data = head_data("Customer's sheet", web, plan, proof, paper)
    data |= {
        "text_pt": 9.5,
        "never": [{"head": head, "says": says} for head, says in never(job)],
        "presses": presses(web),
        "start": start_words(web),
        "service": service_words(web, proof),
        "fuses": fuses(web),
        "touched": touched(web),
        "parked": str(size.parked.get("says", "")) if size else "",
        "assumes": list(proof.assumes) if proof else [],
    }
    return pdf("customer.typ", data)


def never(job: WholeJob) -> list[tuple[str, str]]:
    """What must never be done with the car: the heading and what it says."""
    garage, *rest = NEVER
    return [garage, HYBRID, *rest] if is_hybrid(job.vehicle) else [garage, *rest]


def worked(web: Web) -> set[str]:
    """What the unit's leads that are joined in this wiring work, by setting."""
    out: set[str] = set()
    for id in web.leads:
        lead = web.job.unit.lead(id)
        if lead.way != "out":
            continue
        chosen = web.settings.get(lead.chosen_by or "")
        out |= {str(chosen)} if chosen is not None else set(lead.does)
    return out


def presses(web: Web) -> list[dict[str, str]]:
    """What each press of the transmitter does, as far as it is wired."""
    wired = worked(web)
    out = []
    for name, label in PRESSES.items():
        pulses: list[Pulse] = getattr(web.job.unit.commands, name)
        does: list[str] = []
        for pulse in pulses:
            for drive in pulse.drives:
                if drive in wired and (word := DOES.get(drive)):
                    more = f" for up to {amount(pulse.repeat_s)} s" if pulse.repeat_s else ""
                    does.append(word + more)
        if does:
            out.append({"press": label, "does": ", ".join(dict.fromkeys(does))})
    return out


def _runs_at_most_s(web: Web) -> float | None:
    for setting in web.job.unit.settings:
        if setting.sets == "run.at_most_s":
            value = web.settings.get(setting.id)
            return float(value) if isinstance(value, int | float) else None
    return next((s.at_most_s for s in web.job.unit.sequence if s.step == "run"), None)


def start_words(web: Web) -> list[str]:
    """How the remote start begins, goes on and ends, in sentences; empty where none is wired."""
    if "remote_start" not in web.job.wants or "starter" not in worked(web):
        return []
    unit = web.job.unit
    sensed = {unit.lead(id).senses for id in web.leads if unit.lead(id).way == "in"}
    must = []
    for guard in unit.guards:
        if guard.input in sensed:
            must.append(
                {
                    "hood": "the hood shut",
                    "brake": "no foot on the brake",
                    "park_neutral": "the lever in park",
                    "parking_brake": "the parking brake set",
                    "door": "the doors shut",
                    "driver_door": "the driver's door shut",
                }.get(guard.input, f"{function_words(guard.input)} {guard.reads}")
            )
    out = [f"Start: with {', '.join(must)} the engine starts." if must else "Start: it starts."]
    out.append(f"It tries at most {unit.tries} time{'s' if unit.tries != 1 else ''}.")
    longest = _runs_at_most_s(web)
    if longest:
        out.append(f"It stops by itself after {amount(longest / 60)} minutes, or by Stop.")
    if "hood" in sensed:
        out.append("Opening the hood stops it at once.")
    if "brake" in sensed:
        out.append(
            "To drive off: key in, turn it to run, then press the brake. "
            "The brake without the key stops the engine at once."
        )
    return out


def service_words(web: Web, proof: ProofReport | None) -> list[str]:
    """How the unit is put out of work: by a service switch, and by its fuse.

    That the car is as it was is said only where that was proven (rule `car-unchanged`).
    """
    out = []
    for fitted in web.wiring.parts:
        part = web.parts[fitted.id]
        if part.kind == "switch" and part.operated_by == "service":
            place = fitted.place or web.items[fitted.id].place
            out.append(f"Service switch {fitted.id} at: {place}. On means: no start.")
    logic = web.job.unit.lead(web.job.unit.logic_from)
    rating = f" ({amount(logic.fuse_A)} A)" if logic.fuse_A else ""
    unchanged = proof is not None and any(
        r.rule == "car-unchanged" and r.holds for r in proof.rules
    )
    tail = " and the car works as before it was fitted" if unchanged else ""
    out.append(f"The fuse of lead {logic.id}{rating} out means: the unit is dead{tail}.")
    return out


def fuses(web: Web) -> list[dict[str, str]]:
    """Every fuse that was added: its rating and where it sits."""
    out = []
    for id in web.leads:
        lead = web.job.unit.lead(id)
        if lead.way == "feed" and lead.fuse_A:
            out.append(
                {"what": f"in the unit's lead {id}", "rating": f"{amount(lead.fuse_A)} A",
                 "place": web.tree.root}
            )  # fmt: skip
    for fitted in web.wiring.parts:
        part = web.parts[fitted.id]
        if part.kind == "fuse" and fitted.id in web.items:
            out.append(
                {"what": fitted.id, "rating": f"{amount(part.rating_A or 0)} A",
                 "place": fitted.place or web.items[fitted.id].place}
            )  # fmt: skip
    return out


def touched(web: Web) -> list[dict[str, str]]:
    """The car's wires that something was joined to, for the next workshop."""
    out: dict[str, dict[str, str]] = {}
    for run in web.wiring.runs:
        for terminal, other in (run.ends, run.ends[::-1]):
            if not terminal.startswith("vehicle."):
                continue
            circuit = web.job.vehicle.circuit(terminal.split(".")[1])
            row = out.setdefault(
                circuit.id,
                {
                    "name": circuit_name(circuit),
                    "where": ", ".join(
                        w
                        for w in (
                            circuit.place or "",
                            circuit.plug or "",
                            f"pin {circuit.pin}" if circuit.pin else "",
                            circuit.colour or "",
                        )
                        if w
                    ),
                    "to": "",
                },
            )
            to = f"{run.id} to {terminal_words(web, other)}"
            row["to"] = f"{row['to']}; {to}" if row["to"] else to
    return list(out.values())
