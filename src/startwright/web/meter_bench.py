"""A car at the meter: which wires are to be known, what was read so far, and where it is kept.

Values are kept as they are entered, in the shop's ``readings/ID.yaml`` (`startwright/readings/1`),
wires that the record does not have in ``readings/ID-wires.csv``; `startwright identify` reads both.
"""

from __future__ import annotations

import csv
import io
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from startwright.identify import KEEP_OFF, before_probing, keeper
from startwright.records import Circuit, RecordError, Vehicle, WholeJob
from startwright.records.read import read
from startwright.records.readings import Reading, Readings
from startwright.records.recordings import WirePlace, read_wires
from startwright.records.write import write, write_text
from startwright.web.folder import ENDINGS

_LOCK = threading.Lock()
"""One value is written at a time."""


@dataclass(frozen=True)
class Wire:
    """One wire that can be probed, or must not be: `keep_off` says why then."""

    name: str
    place: WirePlace
    circuit: Circuit | None
    needed: str
    keep_off: str

    @property
    def claimed(self) -> str | None:
        """The function that the record gives it."""
        return self.circuit.function if self.circuit is not None else None

    @property
    def how(self) -> str:
        """How the record knows it: measured, manual, told, guessed, or nothing."""
        known = self.circuit.known if self.circuit is not None else None
        return known.how if known is not None else ""

    @property
    def where(self) -> str:
        """Place, plug and pin in the order of the hand."""
        pin = f"pin {self.place.pin}" if self.place.pin else None
        return " → ".join(p for p in (self.place.place, self.place.plug, pin) if p)


@dataclass(frozen=True)
class Bench:
    """One car with its wires and what was read of them."""

    vehicle: Vehicle
    path: Path
    wires: tuple[Wire, ...]
    readings: tuple[Reading, ...]
    jobs: tuple[str, ...]

    def wire(self, name: str) -> Wire:
        """The wire of that name.

        Raises
        ------
        RecordError
            There is none.
        """
        for wire in self.wires:
            if wire.name == name:
                return wire
        known = ", ".join(w.name for w in self.wires[:12]) or "a wire of this car"
        raise RecordError(f"no wire is called {name[:64]!r}", "wire", f"one of: {known}")

    @property
    def places(self) -> dict[str, WirePlace]:
        """Where every wire is."""
        return {w.name: w.place for w in self.wires}

    @property
    def probed(self) -> list[Wire]:
        """The wires that may be probed."""
        return [w for w in self.wires if not w.keep_off]

    @property
    def wanted(self) -> list[Wire]:
        """What is to be known: what a job needs and no meter has seen, and what was added."""
        told = [w for w in self.probed if w.how != "measured"]
        needed = [w for w in told if w.needed or w.circuit is None]
        return needed if any(w.needed for w in self.wires) else told


def vehicle_files(folder: Path) -> dict[str, Path]:
    """The vehicle files of a shop by the name of the file."""
    vehicles = folder / "vehicles"
    if not vehicles.is_dir():
        return {}
    return {p.name: p for p in sorted(vehicles.iterdir()) if p.suffix in ENDINGS and p.is_file()}


def vehicles(folder: Path) -> tuple[list[tuple[Vehicle, Path]], list[RecordError]]:
    """Every vehicle of a shop with its file, and what is wrong with files that cannot be read."""
    found: list[tuple[Vehicle, Path]] = []
    wrong: list[RecordError] = []
    for path in vehicle_files(folder).values():
        try:
            found.append((_vehicle(path), path))
        except RecordError as error:
            wrong.append(error)
    return found, wrong


def _vehicle(path: Path) -> Vehicle:
    """The vehicle of a file, read anew when the file changes."""
    seen = path.stat()
    return _as_it_was(path, seen.st_mtime_ns, seen.st_size)


@lru_cache(maxsize=512)
def _as_it_was(path: Path, mtime_ns: int, size: int) -> Vehicle:
    record = read(path, "vehicle")
    assert isinstance(record, Vehicle)
    return record


def vehicle_of(folder: Path, id: str) -> tuple[Vehicle, Path]:
    """The vehicle of that id and its file.

    Raises
    ------
    RecordError
        There is none that can be read.
    """
    for ending in ENDINGS:
        path = vehicle_files(folder).get(f"{id}{ending}")
        if path is not None and (vehicle := _vehicle(path)).id == id:
            return vehicle, path
    found, wrong = vehicles(folder)
    for vehicle, path in found:
        if vehicle.id == id:
            return vehicle, path
    if wrong:
        raise wrong[0]
    known = ", ".join(v.id for v, _ in found[:12]) or "a vehicle file in vehicles/"
    raise RecordError(f"no vehicle is called {id[:64]!r}", "vehicles/", f"one of: {known}")


def bench_of(folder: Path, id: str, jobs: Iterable[WholeJob]) -> Bench:
    """A car at the meter, from the shop's files.

    Parameters
    ----------
    folder : pathlib.Path
        The shop.
    id : str
        Of the vehicle.
    jobs : iterable of WholeJob
        Jobs of the shop: what those on this car need comes first.

    Raises
    ------
    RecordError
        No such vehicle, or readings that cannot be read.
    """
    vehicle, path = vehicle_of(folder, id)
    mine = [job for job in jobs if job.vehicle.id == vehicle.id]
    needed = _needed(mine)
    wires = [_of_record(c, needed.get(c.id, "")) for c in vehicle.circuits]
    kept = _wires_file(folder, vehicle.id)
    if kept.is_file():
        wires += [_added(vehicle, place) for place in read_wires(kept).values()]
    file = _readings_file(folder, vehicle.id)
    readings: tuple[Reading, ...] = ()
    if file.is_file():
        record = read(file, "readings")
        assert isinstance(record, Readings)
        readings = tuple(record.readings)
    names = {w.name for w in wires}
    for reading in readings:
        if reading.wire not in names:
            place = WirePlace(
                reading.wire, reading.place, reading.plug, reading.pin, reading.colour
            )
            wires.append(_added(vehicle, place))
            names.add(reading.wire)
    return Bench(vehicle, path, tuple(wires), readings, tuple(job.id for job in mine))


def _needed(jobs: Iterable[WholeJob]) -> dict[str, str]:
    """The circuits that the jobs need, each with the reason of the first that does."""
    from startwright.plan.needs import needs_of

    found: dict[str, str] = {}
    for job in jobs:
        for circuit in job.vehicle.of("battery"):
            found.setdefault(circuit.id, "the unit and everything that it works are fed from one")
        for demand in needs_of(job).demands:
            for id in demand.circuits:
                found.setdefault(id, demand.because)
    return found


def _of_record(circuit: Circuit, needed: str) -> Wire:
    place = WirePlace(circuit.id, circuit.place, circuit.plug, circuit.pin, circuit.colour)
    keep_off = KEEP_OFF.get(circuit.function, "") or before_probing(place) or ""
    return Wire(circuit.id, place, circuit, needed, keep_off)


def _added(vehicle: Vehicle, place: WirePlace) -> Wire:
    """A wire that the fitter added; one that sits on a pin to be kept off is kept off too."""
    kept = keeper(vehicle.circuits, place)
    keep_off = KEEP_OFF[kept.function] if kept is not None else before_probing(place) or ""
    return Wire(place.wire, place, None, "", keep_off)


def _readings_file(folder: Path, id: str) -> Path:
    return folder / "readings" / f"{id}.yaml"


def _wires_file(folder: Path, id: str) -> Path:
    return folder / "readings" / f"{id}-wires.csv"


def _made(folder: Path) -> None:
    """The folder for readings.

    Raises
    ------
    RecordError
        It cannot be made.
    """
    try:
        (folder / "readings").mkdir(exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"the readings cannot be kept ({error.strerror})",
            "readings/",
            "a shop folder that this app may write into",
        ) from error


def keep(folder: Path, bench: Bench, reading: Reading, seen: int, at: int | None = None) -> bool:
    """Write a value down; with `at` in place of the one that stands there.

    Returns
    -------
    bool
        False where it was written down already: `seen` is how many values the page knew of, and a
        page that is sent twice knows of too few.
    """
    with _LOCK:
        readings = _now(folder, bench.vehicle.id)
        if len(readings) != seen:
            return False
        if at is None:
            readings.append(reading)
        elif 0 <= at < len(readings):
            readings[at] = reading
        else:
            raise RecordError(f"no value number {at + 1}", "at", f"1 to {len(readings)}")
        _made(folder)
        _write(folder, bench.vehicle.id, readings)
    return True


def take_back(folder: Path, bench: Bench, at: int, seen: int) -> bool:
    """Take one value out again; False where the page was not up to date."""
    with _LOCK:
        readings = _now(folder, bench.vehicle.id)
        if len(readings) != seen or not 0 <= at < len(readings):
            return False
        del readings[at]
        _write(folder, bench.vehicle.id, readings)
    return True


def _now(folder: Path, id: str) -> list[Reading]:
    file = _readings_file(folder, id)
    if not file.is_file():
        return []
    record = read(file, "readings")
    assert isinstance(record, Readings)
    return list(record.readings)


def _write(folder: Path, id: str, readings: list[Reading]) -> None:
    record = Readings(format="startwright/readings/1", readings=readings)
    write(_readings_file(folder, id), record)


def add_wire(folder: Path, bench: Bench, place: WirePlace) -> None:
    """Write down a wire that the record does not have.

    Raises
    ------
    RecordError
        No name, a name that another wire has, or a plug and pin that another wire has.
    """
    if not place.wire.strip():
        raise RecordError("a wire without a name", "wire", "a name, such as `white plug 5`")
    for wire in bench.wires:
        if wire.name == place.wire:
            raise RecordError(
                f"two wires called {place.wire[:64]!r}", "wire", "a name that no wire has"
            )
        same = (wire.place.place, wire.place.plug, wire.place.pin)
        if place.plug and place.pin and same == (place.place, place.plug, place.pin):
            raise RecordError(
                f"pin {place.pin} of that plug is {wire.name} already", "pin", "another pin"
            )
    with _LOCK:
        _made(folder)
        kept = _wires_file(folder, bench.vehicle.id)
        there = list(read_wires(kept).values()) if kept.is_file() else []
        out = io.StringIO()
        table = csv.writer(out, lineterminator="\n")
        table.writerow(("wire", "place", "plug", "pin", "colour"))
        for one in [*there, place]:
            table.writerow(
                (one.wire, one.place or "", one.plug or "", one.pin or "", one.colour or "")
            )
        write_text(kept, out.getvalue())
