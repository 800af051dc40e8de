"""Read a recording, whatever instrument wrote it: told by its first bytes, not by its name."""

from __future__ import annotations

from pathlib import Path

from startwright.records.errors import RecordError
from startwright.records.recordings.delimited import read_delimited
from startwright.records.recordings.model import Recording
from startwright.records.recordings.sigrok import read_sigrok
from startwright.records.recordings.vcd import read_vcd
from startwright.records.recordings.wav import read_wav

LARGEST_bytes = 2_000_000_000


def read_recording(
    path: str | Path, *, rate_hz: float | None = None, full_scale_V: float | None = None
) -> Recording:
    """Read a CSV, VCD, sigrok session or WAV file.

    Parameters
    ----------
    path : str or Path
        The file; its kind is told by its content.
    rate_hz : float, optional
        Samples per second, for a table that counts samples and does not say its rate.
    full_scale_V : float, optional
        Volts at full scale, for WAV files; 1 V if not given.

    Raises
    ------
    RecordError
        The file cannot be read or is broken: what, where, what would be right.
    """
    path = Path(path)
    where = path.name
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(4096)
    except OSError as error:
        raise RecordError(
            f"cannot be opened ({error.strerror or error})", where, "a recording that can be read"
        ) from error
    if size == 0:
        raise RecordError("the file is empty", where, "a CSV, VCD, sigrok session or WAV file")
    if size > LARGEST_bytes:
        raise RecordError(f"{size / 1e6:.0f} MB", where, f"at most {LARGEST_bytes / 1e6:.0f} MB")
    if head.startswith(b"PK\x03\x04"):
        return read_sigrok(path)
    if head.startswith((b"RIFF", b"RF64")):
        return read_wav(path, full_scale_V=full_scale_V)
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"$"):
        return read_vcd(path)
    return read_delimited(path, rate_hz=rate_hz)
