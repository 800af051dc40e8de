"""What the wants require on this vehicle, each with its reason; and what stops the plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from startwright.plan.outputs import pulse_sets
from startwright.plan.refusals import Refusal, refusals_of
from startwright.records.job import WholeJob
from startwright.records.unit import Pulse, Unit
from startwright.records.vehicle import Circuit, Vehicle
from startwright.records.wiring import Need

Kind = Literal[
    "fed",
    "worked",
    "sensed",
    "engine",
    "feed",
    "ground",
    "interface",
    "cut",
    "armed",
    "seen",
    "tach",
]


@dataclass(frozen=True)
class Demand:
    """A need in the form in which it can be met.

    `circuits` are ids of which any one will do; `drives` the functions of outputs that will do,
    the better ones first; `lead` a lead of the unit that must be connected.
    """

    id: str
    kind: Kind
    need: str
    because: str
    must: bool = True
    circuits: tuple[str, ...] = ()
    drives: tuple[str, ...] = ()
    sense: str = ""
    lead: str = ""

    def as_need(self, met: bool, by: list[str]) -> Need:
        """The need as the plan prints it."""
        return Need(
            id=self.id,
            need=self.need,
            because=self.because,
            strength="must" if self.must else "should",
            met=met,
            by=by,
        )


@dataclass(frozen=True)
class Needs:
    """Everything a job needs: what must be met, what stops it, what is left alone and why."""

    demands: tuple[Demand, ...]
    refusals: tuple[Refusal, ...] = ()
    left: tuple[tuple[str, str], ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass
class _Book:
    job: WholeJob
    demands: list[Demand] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    left: list[tuple[str, str]] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    @property
    def vehicle(self) -> Vehicle:
        return self.job.vehicle

    @property
    def unit(self) -> Unit:
        return self.job.unit

    def add(self, demand: Demand) -> None:
        for k, d in enumerate(self.demands):
            if d.id == demand.id:
                if demand.must and not d.must:
                    self.demands[k] = demand
                return
        self.demands.append(demand)

    def refuse(self, reason: str, resolve: str) -> None:
        self.refusals.append(Refusal(reason, resolve))


def needs_of(job: WholeJob) -> Needs:
    """The needs of a job, in the order in which they are thought of.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit, stock and wants.

    Returns
    -------
    Needs
        With every refusal: a plan is only possible where there is none.
    """
    book = _Book(job)
    _supply(book)
    if "remote_start" in job.wants:
        book.refusals += refusals_of(job)
        _key_circuits(book)
        _guards(book)
        _engine_signal(book)
        _start_extras(book)
    for want in job.wants:
        _WANTED.get(want, _nothing)(book)
    return Needs(tuple(book.demands), tuple(book.refusals), tuple(book.left), tuple(book.warnings))


def _supply(book: _Book) -> None:
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


def _key_circuits(book: _Book) -> None:
    """Every key-fed circuit that is live in a position some step is like (`world.md`)."""
    likes = {s.like for s in book.unit.sequence}
    seen_run = False
    for c in book.vehicle.circuits:
        if not c.key_fed or c.function == "battery":
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


def _guards(book: _Book) -> None:
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


def _sensed(book: _Book, sense: str, because: str, must: bool = True) -> None:
    book.add(
        Demand(
            f"sense-{sense}",
            "sensed",
            f"{sense} sensed",
            because,
            must=must,
            circuits=tuple(c.id for c in book.vehicle.of(sense)),
            sense=sense,
        )
    )


def _engine_signal(book: _Book) -> None:
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


def _start_extras(book: _Book) -> None:
    v = book.vehicle
    _lights(
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


def _factory_alarm(book: _Book) -> None:
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


def _lights(book: _Book, must: bool, because: str) -> None:
    lights = book.vehicle.of("parking_light")
    for id, group in _by_side(lights):
        book.add(
            Demand(
                id,
                "worked",
                f"parking lights worked ({', '.join(c.id for c in group)})"
                if len(group) > 1
                else f"{group[0].id} worked",
                because,
                must=must,
                circuits=tuple(c.id for c in group),
                drives=("parking_light",),
            )
        )
    if not lights and must:
        book.refuse(
            "No parking light circuit is on record, and the lights are to flash.",
            "find the parking light wire with a meter and enter it",
        )


def _by_side(circuits: list[Circuit]) -> list[tuple[str, list[Circuit]]]:
    """Circuits that do the same, grouped: each side for itself, the rest together."""
    groups: dict[str, list[Circuit]] = {}
    for c in circuits:
        groups.setdefault(f"{c.function}-{c.side}" if c.side else c.function, []).append(c)
    return list(groups.items())


def _worked(
    book: _Book, function: str, because: str, commands: tuple[str, ...], *, must: bool = True
) -> None:
    """Demand that the circuits of a function be worked by a command of the unit."""
    circuits = [c for c in book.vehicle.circuits if c.function == function or function in c.also]
    title = function.replace("_", " ")
    if not circuits:
        if must:
            book.refuse(
                f"No {title} circuit is on record for this vehicle.",
                f"find the {title} wire with a meter and enter it",
            )
        return
    pulses = [p for c in commands for p in getattr(book.unit.commands, c)]
    if not any(function in p.drives for p in pulses):
        if must:
            book.refuse(
                f"The unit {book.unit.id} works no {title} on command ({', '.join(commands)}).",
                f"another unit whose {commands[0]} command drives {function}",
            )
        return
    moving = [c for c in circuits if c.style == "reversing"]
    groups = [(f"{function}-{c.id}", [c]) for c in moving] if moving else _by_side(circuits)
    for id, group in groups:
        book.add(
            Demand(
                f"work-{id}".replace("_", "-"),
                "worked",
                f"{' or '.join(c.id for c in group)} worked",
                because,
                must=must,
                circuits=tuple(c.id for c in group),
                drives=(function,),
            )
        )


def _lock_unlock(book: _Book) -> None:
    _worked(book, "lock", "the customer locks with the transmitter", ("lock",))
    _worked(book, "unlock", "the customer unlocks with the transmitter", ("unlock", "unlock_again"))
    moving = [c for c in book.vehicle.of("driver_unlock") if c.style == "reversing"]
    if moving and any("driver_unlock" in p.drives for p in book.unit.commands.unlock):
        _worked(book, "driver_unlock", "the driver's door has a motor wire of its own", ("unlock",))


def _driver_first(book: _Book) -> None:
    commands = book.unit.commands
    first = {f for p in commands.unlock for f in p.drives}
    again = {f for p in commands.unlock_again for f in p.drives}
    _worked(book, "lock", "doors that the transmitter opens one by one it must lock", ("lock",))
    own = book.vehicle.of("driver_unlock")
    twice = [c for c in book.vehicle.of("unlock") if c.presses >= 2]
    why = "the first press is to open the driver's door alone, the second the others"
    if own and "driver_unlock" in first and "unlock" not in first and "unlock" in again:
        _worked(book, "driver_unlock", why, ("unlock",))
        _worked(book, "unlock", why, ("unlock_again",))
    elif twice and _pulses(commands.unlock, "unlock") == 1 and "unlock" in again:
        book.add(
            Demand(
                "work-unlock",
                "worked",
                f"{' or '.join(c.id for c in twice)} worked, one pulse a press",
                why,
                circuits=tuple(c.id for c in twice),
                drives=("unlock",),
            )
        )
    elif not own and not twice:
        book.refuse(
            "No circuit of this vehicle opens the driver's door alone.",
            "find the driver's unlock wire, or measure whether one unlock pulse opens the "
            "driver's door alone and a second the rest (`presses: 2`)",
        )
    else:
        book.refuse(
            f"The unit {book.unit.id} does not work the driver's door first: its unlock command "
            f"drives {', '.join(sorted(first)) or 'nothing'} and its second press "
            f"{', '.join(sorted(again)) or 'nothing'}.",
            "a unit whose unlock drives driver_unlock and whose second press drives unlock"
            if own
            else "a unit whose unlock command gives one unlock pulse a press",
        )


def _pulses(pulses: list[Pulse], function: str) -> int:
    return sum(1 for p in pulses if function in p.drives)


def _trunk(book: _Book) -> None:
    _worked(book, "trunk_release", "the customer opens the trunk with the transmitter", ("trunk",))


def _flash(book: _Book) -> None:
    pulses = [*book.unit.commands.lock, *book.unit.commands.unlock]
    if not any("parking_light" in p.drives for p in pulses):
        book.refuse(
            f"The unit {book.unit.id} flashes no lights on lock or unlock.",
            "another unit whose lock or unlock command drives parking_light",
        )
    _lights(book, must=True, because="the lights are to flash when the car is locked or unlocked")


def _chirp(book: _Book) -> None:
    _worked(
        book,
        "horn",
        "the horn is to sound when the car is locked",
        ("lock", "lock_again", "unlock", "unlock_again"),
    )


def _panic(book: _Book) -> None:
    _worked(book, "horn", "the horn is to sound on the panic command", ("panic",))
    if any("parking_light" in p.drives for p in book.unit.commands.panic):
        _lights(book, must=False, because="the lights are to flash on the panic command")


def _heated(function: str, what: str) -> Callable[[_Book], None]:
    def wanted(book: _Book) -> None:
        circuits = book.vehicle.of(function)
        if not circuits:
            book.refuse(
                f"No {function.replace('_', ' ')} circuit is on record for this vehicle.",
                f"find the wire of the {what} switch and enter it",
            )
            return
        unit = book.unit
        driven = any(function in s.drives for s in unit.sequence) or any(
            function in p for p in pulse_sets(unit)
        )
        if not driven:
            book.refuse(
                f"The unit {unit.id} never drives a {function.replace('_', ' ')}.",
                f"a unit whose sequence or commands drive {function}",
            )
            return
        for id, group in _by_side(circuits):
            book.add(
                Demand(
                    f"work-{id}".replace("_", "-"),
                    "worked",
                    f"{' or '.join(c.id for c in group)} worked",
                    f"the customer wants the {what} on after a remote start",
                    circuits=tuple(c.id for c in group),
                    drives=(function,),
                )
            )

    return wanted


def _starter_cut(book: _Book) -> None:
    starters = [c for c in book.vehicle.of("starter") if c.interlock != "upstream"]
    if not starters:
        book.refuse("There is no starter circuit on record to cut.", "find and enter it")
    for c in starters:
        book.add(
            Demand(
                f"cut-{c.id}",
                "cut",
                f"{c.id} cut while the unit is armed",
                "the key is not to crank the engine while the car stands armed",
                circuits=(c.id,),
                drives=("armed_signal",),
            )
        )


def _armed_output(book: _Book) -> None:
    arms = tuple(c.id for c in book.vehicle.of("alarm_arm"))
    book.add(
        Demand(
            "armed-output",
            "armed",
            "an output that is on while the unit is armed",
            "the customer wants something worked while the car stands armed",
            circuits=arms,
            drives=("armed_signal",),
        )
    )


def _nothing(book: _Book) -> None:
    return None


_WANTED: dict[str, Callable[[_Book], None]] = {
    "lock_unlock": _lock_unlock,
    "driver_first_unlock": _driver_first,
    "trunk_release": _trunk,
    "light_flash": _flash,
    "horn_chirp": _chirp,
    "panic": _panic,
    "seat_heat": _heated("seat_heater", "seat heater"),
    "rear_defog": _heated("rear_defogger", "rear defogger"),
    "starter_cut": _starter_cut,
    "armed_output": _armed_output,
}
