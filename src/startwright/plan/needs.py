"""What the wants require on this vehicle, each with its reason; and what stops the plan."""

from __future__ import annotations

from startwright.car.circuits import is_feed
from startwright.plan.demand import Book, Demand, Needs
from startwright.plan.outputs import pulse_sets
from startwright.plan.press import How, imitate, refusals
from startwright.plan.refusals import cranks_without, refusals_of
from startwright.plan.wants import WANTED, lights, nothing
from startwright.records.job import WholeJob
from startwright.records.vehicle import Circuit


def needs_of(job: WholeJob, how: How = "fed") -> Needs:
    """The needs of a job, in the order in which they are thought of.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit, stock and wants.
    how : str
        ``fed`` (the circuits of the key) or ``imitated`` (foot and press of a push-button car).

    Returns
    -------
    Needs
        With every refusal: a plan is only possible where there is none.
    """
    book = Book(job, imitated=how == "imitated")
    _supply(book)
    if "remote_start" in job.wants:
        book.refusals += refusals_of(job, how)
        if how == "imitated":
            book.refusals += refusals(job)
            imitate(book)
        else:
            _key_circuits(book)
        _guards(book)
        _engine_signal(book)
        _start_extras(book)
    for want in job.wants:
        WANTED.get(want, nothing)(book)
    return Needs(tuple(book.demands), tuple(book.refusals), tuple(book.left), tuple(book.warnings))


def _supply(book: Book) -> None:
    unit = book.unit
    book.add(
        Demand(
            f"feed-{unit.logic_from}",
            "feed",
            f"battery feed for {unit.logic_from}",
            "the unit itself runs from this lead",
            lead=unit.logic_from,
        )
    )
    grounds = [lead.id for lead in unit.leads if lead.way == "ground"]
    if not grounds:
        book.refuse(
            f"The unit {unit.id} has no ground lead on record, so it cannot run.",
            "enter its ground lead in the unit's record",
        )
    for ground in grounds:
        book.add(
            Demand(
                f"ground-{ground}",
                "ground",
                f"ground for {ground}",
                "without its ground the unit is dead, and everything it works with it",
                lead=ground,
            )
        )
    if not book.vehicle.of("battery"):
        book.refuse(
            "No battery circuit is on record for this vehicle, so nothing can be fed.",
            "find and measure a battery wire (live in every key position) and enter it",
        )


def _key_circuits(book: Book) -> None:
    """Every key-fed circuit that is live in a position some step is like (`world.md`)."""
    likes = {s.like for s in book.unit.sequence}
    seen_run = False
    for c in book.vehicle.circuits:
        if not c.key_fed or is_feed(c):
            continue
        positions = [p for p in c.live or () if p in likes]
        if c.function == "key_sense":
            book.left.append(
                (c.id, "tells the car that a key is in the lock; a start leaves it aside")
            )
            continue
        if c.leave_dead:
            said = c.leave_dead if isinstance(c.leave_dead, str) else ""
            why = said or (
                "is better left dead without a key in the lock (power windows: 49 CFR 571.118)"
            )
            book.left.append((c.id, why))
            continue
        if cranks_without(book.vehicle, c):
            book.left.append(
                (c.id, "lies past the car's own park/neutral switch (49 CFR 571.102 S3.1.3)")
            )
            book.warnings.append(
                f"{c.id} stays dead, for it lies past the park/neutral switch: make sure that the "
                "car cranks without it."
            )
            continue
        if not positions:
            book.left.append((c.id, "is live in no key position that the unit's steps are like"))
            continue
        seen_run = seen_run or c.function == "ignition"
        book.add(
            Demand(
                f"feed-{c.id}",
                "fed",
                f"{c.id} fed as the key does it",
                _as_key(c),
                circuits=(c.id,),
            )
        )
    if "ignition_on" in book.unit.refuses and seen_run:
        book.add(
            Demand(
                "ignition-seen",
                "seen",
                "an ignition lead of the unit straight on an ignition circuit",
                "the unit refuses a start when the key is already on, and it reads that at its "
                "own ignition leads; behind a relay or diode it would be blind and crank into a "
                "running engine",
            )
        )


def _as_key(c: Circuit) -> str:
    live = " and ".join(c.live or ())
    drops = ""
    if "run" in (c.live or ()) and "start" not in (c.live or ()):
        drops = (
            "; it may be held while cranking"
            if c.may_hold_in_crank
            else "; it drops out while cranking, and must do so here"
        )
        if isinstance(c.may_hold_in_crank, str):
            drops += f" ({c.may_hold_in_crank})"
    return f"under the key it is live in {live}{drops}"


_GUARDED = {
    "brake": ("inactive", "pressing the brake must end a start before anyone drives off"),
    "hood": ("inactive", "hands may be in the engine bay: an open hood must stop a start"),
    "park_neutral": ("active", "the engine must never be cranked in gear"),
}
_GUARD_WHY = {
    "parking_brake": "the unit starts only with the parking brake as its record says",
    "clutch": "the unit's guard watches the clutch",
}


def _guards(book: Book) -> None:
    for guard in book.unit.guards:
        named = f"the unit guards a start by its {guard.input} input"
        why = _GUARD_WHY.get(guard.input, named)
        if guard.input in _GUARDED:
            why = _GUARDED[guard.input][1]
        has_input = any(d.senses == guard.input for d in book.unit.leads)
        if has_input or guard.reads == "active":
            _sensed(book, guard.input, why)
    for sense, (_, why) in _GUARDED.items():
        _sensed(book, sense, why)


def _sensed(book: Book, sense: str, because: str, must: bool = True) -> None:
    book.add(
        Demand(
            f"sense-{sense}",
            "sensed",
            f"{sense} sensed",
            because,
            must=must,
            circuits=tuple(c.id for c in book.vehicle.of(sense)),
            sense=sense,
            of_source=sense == "brake" and book.imitated,
        )
    )


def _engine_signal(book: Book) -> None:
    tachs = tuple(c.id for c in book.vehicle.of("tach") if c.reach == "wire")
    lamps = tuple(c.id for c in book.vehicle.of("charge_lamp"))
    book.add(
        Demand(
            "engine-signal",
            "engine",
            "a sign that the engine runs",
            "the starter must let go as soon as the engine has caught, and never engage into a "
            "running engine",
            circuits=(*tachs, *lamps),
        )
    )
    book.add(
        Demand(
            "tach",
            "tach",
            "the engine's speed read at the tach wire",
            "it is the quickest and surest sign that the engine runs",
            must=False,
            circuits=tachs,
        )
    )


def _start_extras(book: Book) -> None:
    v = book.vehicle
    lights(
        book,
        must=False,
        because="steady or flashing parking lights tell people nearby that "
        "the car has taken the command and that its engine runs",
    )
    if v.immobilizer.kind not in ("none", "unknown"):
        book.add(
            Demand(
                "immobilizer",
                "interface",
                f"an interface that stands in for the {v.immobilizer.kind.replace('_', ' ')}",
                "without a valid key in the lock the immobilizer lets no engine run; the interface "
                "answers for it only while the unit starts and runs the engine",
                sense=v.immobilizer.kind,
                by_car=book.imitated,
            )
        )
    if v.of("wait_to_start") and any(d.senses == "wait_to_start" for d in book.unit.leads):
        _sensed(
            book,
            "wait_to_start",
            "a glow plug engine is cranked when its lamp goes out",
            must=False,
        )
    if any(d.senses == "service" for d in book.unit.leads) and any(
        p.kind == "switch" and p.operated_by == "service" for p in book.job.stock.parts
    ):
        _sensed(
            book,
            "service",
            "a workshop must be able to block starts while it works on the car",
            must=False,
        )
    if v.factory_alarm.fitted:
        _factory_alarm(book)
    if v.steering_lock == "electric":
        book.warnings.append(
            "The steering lock is electric: make sure that it stays locked during a remote run "
            "and that its feed is not among the circuits fed here (49 CFR 571.114)."
        )


def _factory_alarm(book: Book) -> None:
    alarms = book.vehicle.of("alarm_disarm")
    by = book.vehicle.factory_alarm.disarm_by
    driven = any("alarm_disarm" in s.drives for s in book.unit.sequence) or any(
        "alarm_disarm" in p for p in pulse_sets(book.unit)
    )
    if alarms and driven:
        book.add(
            Demand(
                "alarm-disarm",
                "worked",
                "the factory alarm disarmed by the unit",
                "an armed factory alarm sounds, and may stop the engine, when the unit starts it",
                must=False,
                circuits=tuple(c.id for c in alarms),
                drives=("alarm_disarm",),
            )
        )
    else:
        book.warnings.append(
            "A factory alarm is fitted and the unit does not disarm it"
            + (f" (it is disarmed by: {by})" if by else "")
            + ": try a start with the alarm armed before handing over."
        )
