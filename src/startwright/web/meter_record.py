"""What was found, put into the vehicle record: shown first with every conflict, then written.

The record as it stood is kept in ``vehicles/before/``, so that nothing that a person wrote is lost.
"""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from startwright.identify import Applied, Conflict, WireVerdict, apply_with_reasons, keep_off
from startwright.records import RecordError, Vehicle
from startwright.records.recordings import WirePlace
from startwright.records.write import write, write_bytes
from startwright.web import meter_say, say

KEYS = {
    "function": "what it is",
    "live": "live in",
    "rest": "at rest",
    "active": "when worked",
    "colour": "colour",
    "place": "place",
    "plug": "plug",
    "pin": "pin",
    "style": "kind",
    "steps_ohm": "ohms",
}
HOW = {
    "manual": "the manual said",
    "told": "it was told",
    "guessed": "it was guessed",
    "measured": "it was measured before",
}


@dataclass(frozen=True)
class Difference:
    """One thing on which the record and the meter do not agree."""

    key: str
    said: str
    measured: str
    how: str
    kept: bool


@dataclass(frozen=True)
class Entry:
    """One wire on its way into the record."""

    verdict: WireVerdict
    says: str
    sure: str
    circuit: str
    new: bool
    differences: list[Difference]
    because: str


@dataclass(frozen=True)
class Preview:
    """What the record would become, before it does."""

    vehicle: Vehicle
    entries: list[Entry]
    mark: str

    @property
    def going(self) -> list[Entry]:
        """The wires that can be written."""
        return [e for e in self.entries if not e.because]

    @property
    def staying(self) -> list[Entry]:
        """The wires that are left out, each with its reason."""
        return [e for e in self.entries if e.because]


def _applied(
    vehicle: Vehicle,
    verdicts: Sequence[WireVerdict],
    places: Mapping[str, WirePlace],
    source: str,
    by: str,
) -> Applied:
    """The record with the verdicts in it, and beside each circuit where its evidence lies."""
    today = datetime.date.today()
    told = [v.model_copy(update={"evidence": [f"from {source}", *v.evidence]}) for v in verdicts]
    return apply_with_reasons(vehicle, told, places, date=today, by=by or None)


def preview(
    vehicle: Vehicle,
    path: Path,
    verdicts: Sequence[WireVerdict],
    places: Mapping[str, WirePlace],
    source: str,
) -> Preview:
    """What would be written, wire by wire, with every conflict."""
    applied = _applied(vehicle, verdicts, places, source, "")
    skipped = {s.wire: s.because for s in applied.skipped}
    before = {c.id for c in vehicle.circuits}
    circuits = iter(applied.written)
    entries = []
    for verdict in keep_off(vehicle, verdicts, places):
        because = skipped.get(verdict.wire, "")
        if because == "not known yet" and verdict.leave_alone:
            because = next((n for n in verdict.notes if "leave alone" in n), "to be left alone")
        circuit = "" if because else next(circuits)
        entries.append(
            Entry(
                verdict=verdict,
                says=_says(verdict),
                sure=_sure(verdict),
                circuit=circuit,
                new=bool(circuit) and circuit not in before,
                differences=[_different(c) for c in applied.conflicts if c.wire == verdict.wire],
                because=because,
            )
        )
    return Preview(vehicle, entries, _mark(path, verdicts))


def _says(verdict: WireVerdict) -> str:
    if verdict.function is None:
        return "not known yet"
    return meter_say.function_said(verdict.function, verdict.active)


def _sure(verdict: WireVerdict) -> str:
    if verdict.function is None:
        return ""
    probability = verdict.probability
    return f"{meter_say.sure_words(probability)}, {meter_say.percent(probability)}"


def _different(conflict: Conflict) -> Difference:
    said, measured = conflict.said, conflict.measured
    if conflict.key == "function":
        said, measured = say.function_words(said), say.function_words(measured)
    return Difference(
        KEYS.get(conflict.key, conflict.key),
        said,
        measured,
        HOW.get(conflict.how, "the record said"),
        conflict.kept == "said",
    )


def _mark(path: Path, verdicts: Sequence[WireVerdict]) -> str:
    """Changes when the record or what was found changes."""
    try:
        digest = hashlib.sha256(path.read_bytes())
    except OSError as error:
        raise RecordError(
            f"the record cannot be read ({error.strerror})", path.name, "a vehicle file"
        ) from error
    for verdict in verdicts:
        digest.update(verdict.model_dump_json().encode())
    return digest.hexdigest()[:32]


def put(
    vehicle: Vehicle,
    path: Path,
    verdicts: Sequence[WireVerdict],
    places: Mapping[str, WirePlace],
    source: str,
    *,
    chosen: Collection[str],
    mark: str,
    by: str,
) -> Applied:
    """Write the chosen wires into the vehicle file; the file as it was goes to ``before/``.

    Raises
    ------
    RecordError
        Nothing chosen, a record that changed since it was shown, or a file that cannot be
        written; then nothing is.
    """
    if mark != _mark(path, verdicts):
        raise RecordError(
            "the record changed since this page was shown",
            f"vehicles/{path.name}",
            "to look at the differences once more, and then to write",
        )
    taken = [v for v in verdicts if v.wire in chosen]
    applied = _applied(vehicle, taken, places, source, by)
    if not applied.written:
        raise RecordError("no wire was chosen", "wire", "at least one wire that is known")
    kept = path.parent / "before"
    try:
        kept.mkdir(exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"the record as it was cannot be kept ({error.strerror})",
            "vehicles/before/",
            "a shop folder that this app may write into",
        ) from error
    stamp = datetime.datetime.now().strftime("%Y-%m-%d-%H%M%S")
    write_bytes(kept / f"{path.stem}-{stamp}{path.suffix}", path.read_bytes())
    write(path, applied.vehicle)
    return applied
