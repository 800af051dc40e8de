"""A recording that was handed in: taken up, read, weighed, and kept in the shop."""

from __future__ import annotations

import shutil
import tempfile
import weakref
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fastapi import UploadFile

from startwright.records import RecordError
from startwright.records.write import write_bytes
from startwright.web.desk import Task

if TYPE_CHECKING:
    from startwright.identify import IdentifyReport
    from startwright.records.recordings import Recording, WirePlace

BESIDE = ("actions", "wires", "speeds")
"""Tables beside a recording: NAME-actions.csv, NAME-wires.csv, NAME-speeds.csv."""

ENGINES = {"": None, "petrol": False, "diesel": True}


class Room:
    """A folder of its own that goes when this does."""

    def __init__(self) -> None:
        self.path = Path(tempfile.mkdtemp(prefix="startwright-"))
        weakref.finalize(self, shutil.rmtree, self.path, ignore_errors=True)


@dataclass(frozen=True)
class Looked:
    """A recording and what was made of it.

    `kept` are the files as they were handed in, by kind; `confirmed` says that the actions were
    noted, or looked over, by a person; `diesel` whether the engine has glow plugs, where said.
    """

    name: str
    recording: Recording
    report: IdentifyReport
    wires: dict[str, WirePlace]
    kept: dict[str, Path]
    room: Room
    confirmed: bool
    diesel: bool | None = None


def recordings_in(shop: Path) -> dict[str, Path]:
    """The recordings that lie in a shop, by name."""
    folder = shop / "recordings"
    if not folder.is_dir():
        return {}
    found = sorted(p for p in folder.iterdir() if p.is_file())
    beside = tuple(f"-{kind}" for kind in BESIDE)
    kinds = (".csv", ".vcd", ".sr", ".wav")
    return {p.name: p for p in found if p.suffix in kinds and not p.stem.endswith(beside)}


def received(folder: Path, file: UploadFile | None) -> Path | None:
    """A file that was sent, put into a folder; None where none was."""
    if file is None or not file.filename:
        return None
    # The name is shown and told in errors, never used as a way.
    name = "".join(c for c in Path(file.filename).name if c.isalnum() or c in "._- ")[:80]
    kept = Path(tempfile.mkdtemp(dir=folder)) / (name.strip(". ") or "recording")
    with kept.open("wb") as out:
        shutil.copyfileobj(file.file, out)
    return kept


def taken(shop: Path, name: str, folder: Path) -> dict[str, Path]:
    """A recording that lies in the shop, and the tables beside it, copied into a folder.

    Raises
    ------
    RecordError
        There is none of this name.
    """
    found = recordings_in(shop)
    if name not in found:
        known = ", ".join(found) or "a file in the folder's recordings/"
        raise RecordError(
            f"no recording is called {name[:80]!r}", "recordings/", f"one of: {known}"
        )
    kept = {"recording": found[name]}
    for kind in BESIDE:
        beside = found[name].with_name(f"{found[name].stem}-{kind}.csv")
        if beside.is_file():
            kept[kind] = beside
    return {kind: Path(shutil.copy(path, folder)) for kind, path in kept.items()}


def look(task: Task, room: Room, kept: dict[str, Path], diesel: bool | None) -> Looked:
    """Read a recording and weigh its wires."""
    from startwright.records.recordings import read_recording, read_wires

    task.say("reading the recording")
    recording = read_recording(kept["recording"])
    wires = read_wires(kept["wires"]) if "wires" in kept else {}
    task.say(f"weighing {len(recording.names)} wires")
    report = weighed(recording, kept, wires, diesel)
    name = kept["recording"].name
    return Looked(name, recording, report, wires, kept, room, "actions" in kept, diesel)


def weighed(
    recording: Recording, kept: dict[str, Path], wires: dict[str, WirePlace], diesel: bool | None
) -> IdentifyReport:
    """Which wire is which, by all the tables there are."""
    from startwright.identify import identify
    from startwright.records.recordings import read_actions, read_speeds

    actions = read_actions(kept["actions"]) if "actions" in kept else None
    rpm = read_speeds(kept["speeds"]) if "speeds" in kept else None
    return identify(recording, actions, wires, diesel=diesel, rpm=rpm)


def keep(shop: Path, looked: Looked) -> str:
    """Put a recording and its tables into the shop, and say where; what lies there stays.

    Raises
    ------
    RecordError
        The folder cannot be written into.
    """
    room = shop / "recordings"
    name = Path(looked.name)
    for number in range(1, 1000):
        stem = name.stem if number == 1 else f"{name.stem}-{number}"
        wanted = {
            room / (f"{stem}{name.suffix}" if kind == "recording" else f"{stem}-{kind}.csv"): path
            for kind, path in looked.kept.items()
        }
        if all(not p.exists() or p.read_bytes() == q.read_bytes() for p, q in wanted.items()):
            break
    try:
        room.mkdir(exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"the recording cannot be kept ({error.strerror})",
            "recordings/",
            "a shop folder that this app may write into",
        ) from error
    for there, path in wanted.items():
        if not there.exists():
            write_bytes(there, path.read_bytes())
    return f"recordings/{stem}{name.suffix}"
