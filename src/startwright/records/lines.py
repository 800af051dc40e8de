"""Where the values of records stand in their files, for every answer that points at a line."""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path as FilePath
from typing import Any, Literal

from startwright.records.job import WholeJob
from startwright.records.marked import Marked, Path, spell
from startwright.records.wiring import Wiring

Kind = Literal["job", "vehicle", "unit", "stock", "wiring"]


@dataclass(frozen=True)
class Point:
    """One thing that an answer rests on: what it is, what it says, and where it stands.

    `missing` marks what ought to be there and is not; `where` is then the line it would belong to.
    """

    what: str
    says: str
    where: str = ""
    missing: bool = False

    def as_json(self) -> dict[str, Any]:
        """The same for programs."""
        return asdict(self)


@dataclass
class Lines:
    """The files that records were read from, kept so that a value can be pointed at.

    Given to the reading functions as ``lines=``, it remembers each text they read. A value of a
    record that came from no file (a wiring that the planner made) has its path alone.

    Attributes
    ----------
    below : Path, optional
        A folder that file names are shortened by.
    """

    below: FilePath | None = None
    _texts: dict[str, tuple[Marked, Path]] = field(default_factory=dict)

    def keep(self, kind: str, marked: Marked, at: Path = ()) -> None:
        """Remember the text that a record was read from, and where in it the record begins."""
        self._texts[kind] = (marked, at)

    def copy(self) -> Lines:
        """The same texts, to which others can be added."""
        return Lines(self.below, dict(self._texts))

    def take(self, kind: str, other: Lines) -> None:
        """Remember a text that another has kept."""
        self._texts[kind] = other._texts[kind]

    def where(self, kind: Kind, *path: str | int) -> str:
        """``wirings/plain.yaml:14 runs[7]`` of a value; ``wiring runs[7]`` without a file."""
        if kind not in self._texts:
            return f"{kind} {spell(path)}".rstrip()
        marked, at = self._texts[kind]
        rest = marked.where((*at, *path)).removeprefix(marked.name)
        return self._file(marked.name) + rest

    def file(self, kind: Kind) -> str:
        """The file of a record; its kind where it came from none."""
        return self._file(self._texts[kind][0].name) if kind in self._texts else kind

    def _file(self, name: str) -> str:
        name = posixpath.normpath(name)
        return name if self.below is None else name.removeprefix(f"{self.below}/")

    # -- by name ----------------------------------------------------------------------------------

    def run(self, wiring: Wiring, id: str) -> str:
        """The line of a run."""
        return self._named("wiring", "runs", wiring.runs, id)

    def part(self, wiring: Wiring, id: str) -> str:
        """The line of a fitted part."""
        return self._named("wiring", "parts", wiring.parts, id)

    def article(self, job: WholeJob, id: str) -> str:
        """The line of an article on the shelf."""
        return self._named("stock", "parts", job.stock.parts, id)

    def circuit(self, job: WholeJob, id: str) -> str:
        """The line of a circuit of the car."""
        return self._named("vehicle", "circuits", job.vehicle.circuits, id)

    def lead(self, job: WholeJob, id: str) -> str:
        """The line of a lead of the unit."""
        return self._named("unit", "leads", job.unit.leads, id)

    def step(self, job: WholeJob, step: str) -> str:
        """The line of a step of the unit's sequence; the unit where the package's default holds."""
        names = [s.step for s in job.unit.sequence]
        return self._listed("sequence", names, step, job)

    def guard(self, job: WholeJob, input: str) -> str:
        """The line of a guard of the unit; of all guards where none has that input."""
        return self._listed("guards", [g.input for g in job.unit.guards], input, job)

    def setting(self, job: WholeJob, wiring: Wiring, id: str) -> str:
        """The line where a wiring sets something in the unit, else where the unit describes it."""
        if id in wiring.settings:
            return self.where("wiring", "settings", id)
        signal = job.unit.engine_signal
        if signal is not None and signal.by == id:
            return self.where("unit", "engine_signal")
        return self._named("unit", "settings", job.unit.settings, id)

    def _named(self, kind: Kind, key: str, entries: Sequence[Any], id: str) -> str:
        for n, entry in enumerate(entries):
            if entry.id == id:
                return self.where(kind, key, n)
        return self.where(kind, key)

    def _listed(self, key: str, names: list[str], name: str, job: WholeJob) -> str:
        if key not in job.unit.model_fields_set:
            return f"{self.file('unit')}: no `{key}`, so the package's default"
        if name in names:
            return self.where("unit", key, names.index(name))
        return self.where("unit", key)
