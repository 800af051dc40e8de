"""WAV files, as sound cards and some scopes write them: PCM of 8 to 32 bits, or floats.

Chunks and formats by the RIFF/WAVE specification (Multimedia Programming Interface and Data
Specifications 1.0, 1991; WAVE_FORMAT_EXTENSIBLE as later published with it).
"""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import numpy.typing as npt

from startwright.records.errors import RecordError
from startwright.records.recordings.model import Recording, checked

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_OPEN = 0xFFFFFFFF
"""A size that was left open."""


def read_wav(path: Path, *, full_scale_V: float | None = None) -> Recording:
    """Read a WAV file; channels are called ``ch1``, ``ch2``, ….

    Parameters
    ----------
    path : Path
        The file.
    full_scale_V : float, optional
        Volts at full scale. Without it whole-number samples are given from -1 to 1 V and floats as
        they are, and a note says so.

    Raises
    ------
    RecordError
        Not a WAV file, a compressed one, or one cut short before its samples.
    """
    where = path.name
    data = path.read_bytes()
    if len(data) < 12 or data[8:12] != b"WAVE":
        raise RecordError("a RIFF file that is no WAVE", where, "a WAV file")
    form: bytes | None = None
    samples: memoryview | None = None
    long_size: int | None = None
    cut_short = False
    at = 12
    while at + 8 <= len(data):
        name, size = data[at : at + 4], struct.unpack_from("<I", data, at + 4)[0]
        start = at + 8
        if name == b"fmt ":
            form = data[start : start + size]
        elif name == b"ds64" and len(data) >= start + 16:
            long_size = struct.unpack_from("<Q", data, start + 8)[0]
        elif name == b"data":
            if size == _OPEN and long_size is not None:
                size = long_size
            elif size == 0 and struct.unpack_from("<I", data, 4)[0] in (0, _OPEN):
                size = _OPEN  # a recorder that never came back to write the sizes
            cut_short = start + size > len(data)
            samples = memoryview(data)[start : min(start + size, len(data))]
        at = start + size
        if size % 2 and data[at : at + 4] not in (b"fmt ", b"data"):
            at += 1  # chunks begin at even places, though not every writer pads
    if form is None or len(form) < 16:
        raise RecordError("no `fmt ` chunk", where, "a WAV file")
    if samples is None or len(samples) == 0:
        raise RecordError("no samples", where, "a `data` chunk with samples")
    kind, channels, rate, _, block, bits = struct.unpack_from("<HHIIHH", form)
    if kind == _EXTENSIBLE and len(form) >= 26:
        kind = struct.unpack_from("<H", form, 24)[0]
    if channels == 0 or rate == 0 or block != channels * bits // 8:
        raise RecordError(
            f"{channels} channels, {rate} samples a second, {bits} bits, {block} bytes a sample",
            f"{where} `fmt ` chunk",
            "channels × bits ÷ 8 bytes a sample, of 8, 16, 24 or 32 bits",
        )
    usable = samples[: len(samples) // block * block]
    flat = _values(usable, kind, bits, where)
    volts = np.ascontiguousarray(flat.reshape(-1, channels))
    notes: list[str] = []
    if cut_short:
        notes.append(f"the file ends before its samples do: {len(volts)} samples are there")
    if full_scale_V is not None:
        volts *= np.float32(full_scale_V)
    elif kind == _PCM:
        notes.append("full scale taken as 1 V: say what full scale is in volts")
    time_s = np.arange(len(volts), dtype=np.float64) / rate
    names = [f"ch{i}" for i in range(1, channels + 1)]
    return checked(where, time_s, volts, names, notes=tuple(notes))


def _values(raw: memoryview, kind: int, bits: int, where: str) -> npt.NDArray[np.float32]:
    if kind == _FLOAT and bits in (32, 64):
        return np.frombuffer(raw, dtype=f"<f{bits // 8}").astype(np.float32)
    if kind == _PCM and bits == 8:
        return (np.frombuffer(raw, dtype=np.uint8).astype(np.float32) - 128.0) / 128.0
    if kind == _PCM and bits in (16, 32):
        values = np.frombuffer(raw, dtype=f"<i{bits // 8}").astype(np.float32)
        return values / np.float32(2.0 ** (bits - 1))
    if kind == _PCM and bits == 24:
        three = np.frombuffer(raw, dtype=np.uint8).reshape(-1, 3).astype(np.int32)
        values24 = three[:, 0] | (three[:, 1] << 8) | (three[:, 2] << 16)
        values24 = np.where(values24 >= 1 << 23, values24 - (1 << 24), values24)
        return values24.astype(np.float32) / np.float32(2.0**23)
    raise RecordError(
        f"format {kind} with {bits} bits", where, "plain PCM of 8, 16, 24 or 32 bits, or floats"
    )
