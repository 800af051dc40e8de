"""sigrok session files: a zip of a metadata file and chunks of samples.

The layout is that of the format page "File format: sigrok/v2" of the sigrok project: ``version``
holds ``2``, ``metadata`` is an INI file, logic samples lie in ``<capturefile>-1…n`` as
``unitsize`` little-endian bytes each, one bit a probe; every analog channel in ``analog-1-<n>-1…``
as 32-bit little-endian floats. Chunks are taken in the order of their number.
"""

from __future__ import annotations

import configparser
import re
import zipfile
import zlib
from pathlib import Path

import numpy as np
import numpy.typing as npt

from startwright.records.errors import RecordError
from startwright.records.recordings.model import Recording, checked

LOGIC_HIGH_V = 12.0
"""What a logic one stands for; a logic probe tells only that the level lay above its threshold."""

LARGEST_bytes = 4_000_000_000
_RATE = re.compile(r"^\s*(\d+\.?\d*)\s*(|k|M|G)Hz\s*$|^\s*(\d+\.?\d*)\s*$")


def samplerate_hz(text: str) -> float | None:
    """A sample rate as sigrok writes it (``10 kHz``, ``200000``) in hertz; None if it is none."""
    found = _RATE.match(text)
    if not found:
        return None
    value = float(found.group(1) or found.group(3))
    value *= {"k": 1e3, "M": 1e6, "G": 1e9}.get(found.group(2) or "", 1.0)
    return value if value > 0 else None


def _joined(archive: zipfile.ZipFile, stem: str, where: str) -> bytearray:
    """All chunks of a stem, by number; a stem without a number is one chunk."""
    pattern = re.compile(re.escape(stem) + r"(?:-([0-9]+))?$")
    chunks = []
    for name in archive.namelist():
        found = pattern.match(name)
        if found:
            chunks.append((int(found.group(1) or 0), name))
    chunks.sort()
    numbers = [number for number, _ in chunks]
    if not numbers:
        raise RecordError("no samples", f"{where} {stem}", f"a file {stem}-1 in the session")
    missing = next((n for n, is_ in enumerate(numbers, start=numbers[0]) if n != is_), None)
    if numbers[0] > 1 or missing is not None:
        lost = 1 if numbers[0] > 1 else missing
        raise RecordError(
            f"samples {stem}-{lost} are missing or there twice",
            f"{where} {stem}",
            "every piece once, numbered from 1 without a gap",
        )
    data = bytearray()
    for _, name in chunks:
        data += archive.read(name)
    return data


def _channels(device: dict[str, str], kind: str, where: str) -> list[tuple[int, str]]:
    """Number and name of each `probeN` or `analogN`, by number."""
    pattern = re.compile(kind + r"([0-9]{1,6})$")
    found = sorted((int(m.group(1)), n) for k, n in device.items() if (m := pattern.match(k)))
    if found and found[0][0] < 1:
        raise RecordError(f"{kind}0", f"{where} metadata", "channels counted from 1")
    return found


def read_sigrok(path: Path) -> Recording:
    """Read a session file, logic and analog channels together.

    Logic ones are given as 12 V and the wires named in ``logic``, since the file does not say
    what the probe's threshold was.

    Raises
    ------
    RecordError
        Not a session, no sample rate, no channels, a damaged archive.
    """
    where = path.name
    try:
        with zipfile.ZipFile(path) as archive:
            return _read(archive, where)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError) as error:
        raise RecordError(
            f"the archive is damaged ({error})", where, "a whole sigrok session file"
        ) from error


def _metadata(archive: zipfile.ZipFile, where: str) -> dict[str, str]:
    names = set(archive.namelist())
    if "metadata" not in names or "version" not in names:
        raise RecordError(
            "a zip file without `version` and `metadata`", where, "a sigrok session file"
        )
    if sum(item.file_size for item in archive.infolist()) > LARGEST_bytes:
        raise RecordError("more than 4 GB unpacked", where, "a shorter recording")
    version = archive.read("version").decode("ascii", "replace").strip()
    if version not in ("1", "2"):
        raise RecordError(f"version {version!r}", f"{where} version", "version 2")
    parser = configparser.ConfigParser(interpolation=None, strict=False)
    try:
        parser.read_string(archive.read("metadata").decode("utf-8", "replace"))
    except configparser.Error as error:
        raise RecordError(
            "metadata that cannot be read", f"{where} metadata", "sections of key = value"
        ) from error
    devices = [s for s in parser.sections() if s.startswith("device")]
    if not devices:
        raise RecordError("no device", f"{where} metadata", "a section [device 1]")
    return dict(parser[devices[0]])


def _read(archive: zipfile.ZipFile, where: str) -> Recording:
    device = _metadata(archive, where)
    rate = samplerate_hz(device.get("samplerate", ""))
    if rate is None:
        raise RecordError(
            f"sample rate {device.get('samplerate', 'missing')!r}",
            f"{where} metadata samplerate",
            "a rate such as `10 kHz`",
        )
    names: list[str] = []
    columns: list[npt.NDArray[np.float32]] = []
    logic: list[str] = []
    probes = _channels(device, "probe", where)
    if probes and "capturefile" in device:
        said = device.get("unitsize", str(-(-probes[-1][0] // 8)))
        unitsize = int(said) if said.isdecimal() else 0
        if not 1 <= unitsize <= 8:
            raise RecordError(f"unitsize {said!r}", f"{where} metadata", "1 to 8 bytes")
        raw = _joined(archive, device["capturefile"], where)
        if len(raw) % unitsize:
            raise RecordError(
                f"{len(raw)} bytes of logic samples", where, f"whole samples of {unitsize} bytes"
            )
        data = np.frombuffer(raw, dtype=np.uint8).reshape(-1, unitsize)
        for number, name in probes:
            byte, bit = divmod(number - 1, 8)
            if byte >= unitsize:
                raise RecordError(
                    f"probe {number} lies beyond the samples", f"{where} metadata", "a larger unit"
                )
            columns.append(((data[:, byte] >> bit) & 1).astype(np.float32) * LOGIC_HIGH_V)
            names.append(name)
            logic.append(name)
    for number, name in _channels(device, "analog", where):
        raw = _joined(archive, f"analog-1-{number}", where)
        if len(raw) % 4:
            raise RecordError(f"{len(raw)} bytes of {name!r}", where, "whole samples of 4 bytes")
        columns.append(np.frombuffer(raw, dtype="<f4").astype(np.float32))
        names.append(name)
    if not columns:
        raise RecordError("no channel", f"{where} metadata", "at least one probe or analog channel")
    lengths = {len(c) for c in columns}
    shortest = min(lengths)
    notes = []
    if logic:
        notes.append("logic channels: a one is given as 12 V, the true level is not known")
    if len(lengths) > 1:
        notes.append(f"channels of different length, cut to {shortest} samples")
    volts = np.empty((shortest, len(columns)), dtype=np.float32)
    for i, column in enumerate(columns):
        volts[:, i] = column[:shortest]
    time_s = np.arange(shortest, dtype=np.float64) / rate
    return checked(where, time_s, volts, names, logic=tuple(logic), notes=tuple(notes))
