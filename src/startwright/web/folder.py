"""A folder of records, read only: ``jobs/``, ``vehicles/``, ``units/``, ``stock/``."""

from __future__ import annotations

import hashlib
import threading
from dataclasses import dataclass, field
from pathlib import Path

from startwright.records import RecordError, WholeJob
from startwright.records.lines import Lines
from startwright.records.read import read_job

ENDINGS = (".yaml", ".yml", ".json")


@dataclass(frozen=True)
class JobFile:
    """One file in ``jobs/``: the whole job, or what is wrong with it."""

    id: str
    name: str
    whole: WholeJob | None
    error: RecordError | None
    lines: Lines = field(default_factory=Lines)


class Folder:
    """The jobs of one folder, read anew when a file changes.

    Parameters
    ----------
    path : pathlib.Path
        The folder. Only the files in its ``jobs/`` and what they name are read; nothing is written.
    """

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()
        self._lock = threading.Lock()
        self._kept: tuple[str, list[JobFile]] | None = None

    def _paths(self) -> list[Path]:
        jobs = self.path / "jobs"
        if not jobs.is_dir():
            return []
        return sorted(p for p in jobs.iterdir() if p.suffix in ENDINGS and p.is_file())

    def _mark(self) -> str:
        """Changes when any record in the folder changes."""
        digest = hashlib.sha256()
        for kind in ("jobs", "vehicles", "units", "stock", "wirings"):
            folder = self.path / kind
            if folder.is_dir():
                for p in sorted(folder.iterdir()):
                    if p.suffix in ENDINGS:
                        s = p.stat()
                        digest.update(f"{kind}/{p.name} {s.st_mtime_ns} {s.st_size}\n".encode())
        return digest.hexdigest()

    def jobs(self) -> list[JobFile]:
        """Every job file, in the order of its name; a broken one carries its error."""
        with self._lock:
            mark = self._mark()
            if self._kept is None or self._kept[0] != mark:
                self._kept = (mark, self._read())
            return self._kept[1]

    def _read(self) -> list[JobFile]:
        found: list[JobFile] = []
        taken: dict[str, str] = {}
        for path in self._paths():
            name = path.name
            lines = Lines(below=self.path)
            try:
                whole = read_job(path, lines=lines)
            except RecordError as error:
                found.append(JobFile(path.stem, name, None, error))
                continue
            if whole.id in taken:
                twice = RecordError(
                    f"the job id {whole.id!r} stands in {taken[whole.id]} too",
                    f"jobs/{name} id",
                    "an id of its own in each job file",
                )
                found.append(JobFile(path.stem, name, None, twice))
                continue
            taken[whole.id] = name
            found.append(JobFile(whole.id, name, whole, None, lines))
        return found

    def job(self, id: str) -> WholeJob:
        """The job of that id.

        Raises
        ------
        JobUnknown
            There is no such job here.
        RecordError
            There is, and its file cannot be used.
        """
        files = self.jobs()
        for file in files:
            if file.id == id and file.whole is not None:
                return file.whole
        for file in files:
            if file.id == id and file.error is not None:
                raise file.error
        raise JobUnknown(id, [f.id for f in files])

    def lines(self, id: str) -> Lines:
        """Where the records of the job of that id stand, by file and line below the folder."""
        return next((f.lines for f in self.jobs() if f.id == id), Lines())


class JobUnknown(RecordError):
    """No job of that id lies in the folder."""

    def __init__(self, id: str, known: list[str]) -> None:
        shown = ", ".join(known[:12]) or "a job file in the folder's jobs/"
        super().__init__(f"no job is called {id[:64]!r}", "jobs/", f"one of: {shown}")
