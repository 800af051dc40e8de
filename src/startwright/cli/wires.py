"""What `identify` is given: a recording, or readings; told by the ending of the file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from startwright.records.errors import RecordError

if TYPE_CHECKING:
    from startwright.identify import IdentifyReport, ImmobilizerVerdict


def identified(
    file: Path,
    actions: Path | None,
    wires: Path | None,
    *,
    rate_hz: float | None,
    diesel: bool | None,
    speeds: Path | None = None,
) -> IdentifyReport:
    """Read what there is and ask which wire is which.

    Raises
    ------
    RecordError
        For a file that cannot be read, or actions beside readings.
    """
    from startwright.identify import identify, identify_readings
    from startwright.records.recordings import (
        read_actions,
        read_recording,
        read_speeds,
        read_wires,
    )

    places = read_wires(wires) if wires is not None else None
    if file.suffix.lower() not in (".yaml", ".yml", ".json"):
        recording = read_recording(file, rate_hz=rate_hz)
        done = read_actions(actions) if actions is not None else None
        rpm = read_speeds(speeds) if speeds is not None else None
        return identify(recording, done, places, diesel=diesel, rpm=rpm)
    if speeds is not None:
        raise RecordError("engine speed beside readings", "--rpm", "a recording")
    if actions is not None:
        raise RecordError(
            "actions beside readings", "--actions", "readings, which say what was held `during`"
        )
    from startwright.records import Readings
    from startwright.records.read import read

    readings = read(file, "readings")
    assert isinstance(readings, Readings)
    return identify_readings(readings, places, diesel=diesel)


def immobilizer(saw: list[str], sisters: list[str]) -> ImmobilizerVerdict:
    """Weigh what was seen of an immobilizer, each as ``what=answer``.

    Raises
    ------
    RecordError
        Where nothing was seen, or something that is no evidence.
    """
    from startwright.identify import QUESTIONS, weigh_immobilizer

    if not saw and not sisters:
        raise RecordError(
            "neither a file nor anything seen",
            "identify",
            "a recording, readings, or --saw with one of " + ", ".join(QUESTIONS),
        )
    pairs = [text.partition("=") for text in saw]
    return weigh_immobilizer({what.strip(): answer.strip() for what, _, answer in pairs}, sisters)
