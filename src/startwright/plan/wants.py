"""What each want of the customer needs beside a start: locks, lights, horn, trunk, comfort, cut."""

from __future__ import annotations

from collections.abc import Callable

from startwright.plan.demand import Book, Demand
from startwright.plan.outputs import pulse_sets
from startwright.records.unit import Pulse
from startwright.records.vehicle import Circuit


def lights(book: Book, must: bool, because: str) -> None:
    """Demand the parking lights, each side for itself."""
    lights = book.vehicle.of("parking_light")
    for id, group in by_side("parking_light", lights):
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


def by_side(function: str, circuits: list[Circuit]) -> list[tuple[str, list[Circuit]]]:
    """Circuits that do the same, grouped: each side for itself, the rest together."""
    groups: dict[str, list[Circuit]] = {}
    for c in circuits:
        groups.setdefault(f"{function}-{c.side}" if c.side else function, []).append(c)
    return list(groups.items())


def worked(
    book: Book, function: str, because: str, commands: tuple[str, ...], *, must: bool = True
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
    moving = [c for c in circuits if c.style in ("reversing", "vacuum")]
    moving = [c for c in moving if c.function == function] or moving
    groups = (
        [(f"{function}-{c.id}", [c]) for c in moving] if moving else by_side(function, circuits)
    )
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


def _lock_unlock(book: Book) -> None:
    worked(book, "lock", "the customer locks with the transmitter", ("lock",))
    worked(book, "unlock", "the customer unlocks with the transmitter", ("unlock", "unlock_again"))
    moving = [c for c in book.vehicle.of("driver_unlock") if c.style == "reversing"]
    if moving and any("driver_unlock" in p.drives for p in book.unit.commands.unlock):
        worked(book, "driver_unlock", "the driver's door has a motor wire of its own", ("unlock",))


def _driver_first(book: Book) -> None:
    commands = book.unit.commands
    first = {f for p in commands.unlock for f in p.drives}
    again = {f for p in commands.unlock_again for f in p.drives}
    worked(book, "lock", "doors that the transmitter opens one by one it must lock", ("lock",))
    own = book.vehicle.of("driver_unlock")
    twice = [c for c in book.vehicle.of("unlock") if c.presses >= 2]
    why = "the first press is to open the driver's door alone, the second the others"
    if own and "driver_unlock" in first and "unlock" not in first and "unlock" in again:
        worked(book, "driver_unlock", why, ("unlock",))
        worked(book, "unlock", why, ("unlock_again",))
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


def _trunk(book: Book) -> None:
    worked(book, "trunk_release", "the customer opens the trunk with the transmitter", ("trunk",))


def _flash(book: Book) -> None:
    pulses = [*book.unit.commands.lock, *book.unit.commands.unlock]
    if not any("parking_light" in p.drives for p in pulses):
        book.refuse(
            f"The unit {book.unit.id} flashes no lights on lock or unlock.",
            "another unit whose lock or unlock command drives parking_light",
        )
    lights(book, must=True, because="the lights are to flash when the car is locked or unlocked")


def _chirp(book: Book) -> None:
    worked(
        book,
        "horn",
        "the horn is to sound when the car is locked",
        ("lock", "lock_again", "unlock", "unlock_again"),
    )


def _panic(book: Book) -> None:
    worked(book, "horn", "the horn is to sound on the panic command", ("panic",))
    if any("parking_light" in p.drives for p in book.unit.commands.panic):
        lights(book, must=False, because="the lights are to flash on the panic command")


def _heated(function: str, what: str) -> Callable[[Book], None]:
    def wanted(book: Book) -> None:
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
        for id, group in by_side(function, circuits):
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


def _starter_cut(book: Book) -> None:
    starters = book.vehicle.of("starter")
    if not starters:
        book.refuse("There is no starter circuit on record to cut.", "find and enter it")
    for c in starters:
        book.add(
            Demand(
                f"cut-{c.id}",
                "cut",
                f"{c.id} cut while the unit is armed",
                "the key is not to crank the engine while the car stands armed"
                + (
                    "; but the car's own control is, when the unit presses the button"
                    if book.imitated
                    else ""
                ),
                circuits=(c.id,),
                drives=("armed_signal",),
                by_car=book.imitated,
            )
        )


def _armed_output(book: Book) -> None:
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


def nothing(book: Book) -> None:
    """A want that needs nothing beside the start itself."""
    return None


WANTED: dict[str, Callable[[Book], None]] = {
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
