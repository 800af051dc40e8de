"""WAV files and sigrok sessions in every shape, and broken ones."""

from __future__ import annotations

import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest

from startwright.records import RecordError
from startwright.records.recordings import read_recording


def _wav(kind: int, bits: int, body: bytes, channels: int = 2, rate: int = 8000) -> bytes:
    block = channels * bits // 8
    form = struct.pack("<HHIIHH", kind, channels, rate, rate * block, block, bits)
    chunks = b"fmt " + struct.pack("<I", len(form)) + form
    chunks += b"LIST" + struct.pack("<I", 3) + b"abc\x00"
    chunks += b"data" + struct.pack("<I", len(body)) + body
    return b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks


@pytest.mark.parametrize(
    ("kind", "bits", "body"),
    [
        (1, 8, bytes([128, 64, 192, 128])),
        (1, 16, struct.pack("<4h", 0, -16384, 16384, 0)),
        (1, 24, b"\x00\x00\x00\x00\x00\xc0\x00\x00\x40\x00\x00\x00"),
        (1, 32, struct.pack("<4i", 0, -(2**30), 2**30, 0)),
        (3, 32, struct.pack("<4f", 0, -0.5, 0.5, 0)),
        (3, 64, struct.pack("<4d", 0, -0.5, 0.5, 0)),
    ],
)
def test_wav_in_every_depth(tmp_path: Path, kind: int, bits: int, body: bytes) -> None:
    path = tmp_path / "capture.wav"
    path.write_bytes(_wav(kind, bits, body))
    recording = read_recording(path)
    assert recording.rate_hz == pytest.approx(8000)
    np.testing.assert_allclose(recording.volts, [[0, -0.5], [0.5, 0]], atol=1e-6)
    assert read_recording(path, full_scale_V=20).volts[1, 0] == pytest.approx(10.0)


def _parts(*chunks: tuple[bytes, bytes], size: int | None = None, riff: bytes = b"RIFF") -> bytes:
    body = b"".join(n + struct.pack("<I", len(b)) + b + b"\0" * (len(b) % 2) for n, b in chunks)
    return riff + struct.pack("<I", 4 + len(body) if size is None else size) + b"WAVE" + body


def _form(bits: int, channels: int, kind: int = 1, rate: int = 1000) -> bytes:
    block = channels * bits // 8
    return struct.pack("<HHIIHH", kind, channels, rate, rate * block, block, bits)


GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("extensible", [False, True])
@pytest.mark.parametrize(("kind", "bits"), [(1, 8), (1, 16), (1, 24), (1, 32), (3, 32)])
def test_wav_of_one_and_of_several_channels(
    tmp_path: Path, kind: int, bits: int, extensible: bool, channels: int
) -> None:
    values = np.array([[-1, 0.5, 0], [0.25, -0.125, 0.75], [0, -0.5, 0.5]])[:, :channels]
    if kind == 3:
        body = values.astype("<f4").tobytes()
    elif bits == 8:
        body = (values * 128 + 128).astype(np.uint8).tobytes()
    else:
        whole = (values * 2.0 ** (bits - 1)).astype(np.int64).ravel()
        body = b"".join(int(n).to_bytes(bits // 8, "little", signed=True) for n in whole)
    form = _form(bits, channels, 0xFFFE if extensible else kind)
    if extensible:
        form += struct.pack("<HHIH", 22, bits, 0, kind) + GUID_TAIL
    path = tmp_path / "capture.wav"
    # the samples may be an odd number of bytes, and a chunk may follow them
    path.write_bytes(_parts((b"odd ", b"x"), (b"fmt ", form), (b"data", body), (b"LIST", b"abc")))
    recording = read_recording(path)
    assert recording.names == tuple(f"ch{i + 1}" for i in range(channels))
    assert recording.time_s == pytest.approx([0, 0.001, 0.002])
    np.testing.assert_allclose(recording.volts, values, atol=1e-6)
    assert not any("ends before" in note for note in recording.notes)


def test_wav_cut_short_or_never_closed(tmp_path: Path) -> None:
    path = tmp_path / "capture.wav"
    body = struct.pack("<6h", 0, 1, 2, 3, 4, 5)
    whole = _parts((b"fmt ", _form(16, 2)), (b"data", body))
    path.write_bytes(whole[:-3])
    recording = read_recording(path, full_scale_V=32768)
    assert recording.volts.tolist() == [[0, 1], [2, 3]]
    assert any("ends before its samples do: 2" in note for note in recording.notes)
    # sizes that a recorder never came back to write
    for size in (0, 0xFFFFFFFF):
        data = bytearray(_parts((b"fmt ", _form(16, 2)), (b"data", body), size=size))
        data[-len(body) - 4 : -len(body)] = struct.pack("<I", size)
        path.write_bytes(bytes(data))
        assert read_recording(path, full_scale_V=32768).volts.tolist() == [[0, 1], [2, 3], [4, 5]]
    path.write_bytes(whole[: -len(body)])
    with pytest.raises(RecordError, match="no samples"):
        read_recording(path)


def test_wav_of_more_than_four_gigabytes_says_its_size_elsewhere(tmp_path: Path) -> None:
    path = tmp_path / "capture.wav"
    body = struct.pack("<4h", 0, 1, 2, 3)
    long = (b"ds64", struct.pack("<QQQI", 0, len(body), 4, 0))
    data = _parts(
        long, (b"fmt ", _form(16, 1)), (b"data", body), (b"LIST", b"abcd"), size=2**32 - 1,
        riff=b"RF64",
    )  # fmt: skip
    path.write_bytes(data.replace(b"data" + struct.pack("<I", 8), b"data" + b"\xff" * 4))
    assert read_recording(path, full_scale_V=32768).volts.ravel().tolist() == [0, 1, 2, 3]


def test_wav_whose_writer_did_not_pad(tmp_path: Path) -> None:
    path = tmp_path / "capture.wav"
    data = _parts((b"LIST", b"abc"), (b"fmt ", _form(16, 1)), (b"data", b"\0\0\0\x40"))
    path.write_bytes(data.replace(b"abc\0", b"abc"))
    assert read_recording(path).volts.ravel().tolist() == [0, 0.5]


@pytest.mark.parametrize(
    ("form", "word"),
    [
        (_form(12, 2), "12 bits"),
        (_form(16, 2, kind=2), "format 2 "),
        (_form(16, 0), "0 channels"),
        (_form(16, 2, rate=0), "0 samples a second"),
        (b"\x01\0", "fmt"),
    ],
)
def test_wav_that_cannot_be_read(tmp_path: Path, form: bytes, word: str) -> None:
    path = tmp_path / "capture.wav"
    path.write_bytes(_parts((b"fmt ", form), (b"data", bytes(12))))
    with pytest.raises(RecordError, match=word) as error:
        read_recording(path)
    assert error.value.where.startswith("capture.wav")
    assert error.value.expected


def _session(path: Path, device: str, files: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("version", "2")
        archive.writestr("metadata", f"[device 1]\nsamplerate=1 kHz\n{device}")
        for name, data in files.items():
            archive.writestr(name, data)
    return path


def _floats(*values: float) -> bytes:
    return struct.pack(f"<{len(values)}f", *values)


def test_sigrok_logic_and_analog_in_many_pieces(tmp_path: Path) -> None:
    files = {f"analog-1-10-{k}": _floats(k, k + 0.5) for k in (10, 11, 2, 1, 9, 8, 3, 4, 5, 6, 7)}
    files |= {f"analog-1-11-{k}": _floats(-k, -k) for k in range(11, 0, -1)}
    files |= {"logic-1-2": b"\x01\x00" * 21, "logic-1-1": b"\x00\x01"}
    # nine probes and no unit size: two bytes a sample
    device = "capturefile=logic-1\ntotal probes=9\ntotal analog=2\nprobe1=D0\nprobe9=D8\n"
    path = _session(tmp_path / "a.sr", device + "analog10=V1\nanalog11=V2\n", files)
    recording = read_recording(path)
    assert recording.names == ("D0", "D8", "V1", "V2")
    assert recording.logic == ("D0", "D8")
    assert recording.volts[:, 0].tolist() == [0.0] + [12.0] * 21
    assert recording.volts[:, 1].tolist() == [12.0] + [0.0] * 21
    assert recording.volts[:, 2].tolist() == [k + h for k in range(1, 12) for h in (0, 0.5)]
    assert recording.volts[:, 3].tolist() == [-k for k in range(1, 12) for _ in (0, 1)]


def test_sigrok_of_one_kind_only(tmp_path: Path) -> None:
    files = {
        "analog-1-1-1": _floats(1, 2),
        "analog-1-1-2": _floats(3),
        "analog-1-2-1": _floats(4, 5),
    }
    found = read_recording(_session(tmp_path / "a.sr", "analog1=A\nanalog2=B\n", files))
    assert found.logic == ()
    assert found.volts.tolist() == [[1, 4], [2, 5]]
    assert any("cut to 2 samples" in note for note in found.notes)
    device = "capturefile=logic-1\nunitsize=1\nprobe1=A\nprobe8=H\n"
    found = read_recording(_session(tmp_path / "b.sr", device, {"logic-1": b"\x01\x80"}))
    assert found.volts.tolist() == [[12, 0], [0, 12]]


LOGIC = "capturefile=logic-1\nunitsize=1\nprobe1=A\n"


@pytest.mark.parametrize(
    ("device", "files", "word"),
    [
        (LOGIC, {"logic-1-1": b"ab", "logic-1-3": b"ab"}, "logic-1-2"),
        (LOGIC, {"logic-1-2": b"ab"}, "logic-1-1"),
        (LOGIC, {}, "no samples"),
        ("analog1=A\n", {"analog-1-2-1": _floats(1, 2)}, "no samples"),
        ("analog1=A\n", {"analog-1-1-1": b"abcde"}, "5 bytes"),
        ("analog1=A\n", {"analog-1-1-1": _floats(1, float("nan"))}, "no number"),
        (LOGIC + "probe9=B\n", {"logic-1-1": b"ab"}, "probe 9"),
        (LOGIC + "probe0=B\n", {"logic-1-1": b"ab"}, "probe0"),
        (LOGIC.replace("=1\n", "=many\n"), {"logic-1-1": b"ab"}, "unitsize"),
        ("", {"logic-1-1": b"ab"}, "no channel"),
        ("samplerate=1.2.3 kHz\n" + LOGIC, {"logic-1-1": b"ab"}, "sample rate"),
    ],
)
def test_sessions_that_cannot_be_read(
    tmp_path: Path, device: str, files: dict[str, bytes], word: str
) -> None:
    with pytest.raises(RecordError, match=word) as error:
        read_recording(_session(tmp_path / "a.sr", device, files))
    assert error.value.where.startswith("a.sr")
    assert error.value.expected


def test_a_session_cut_short(tmp_path: Path) -> None:
    path = _session(tmp_path / "a.sr", LOGIC, {"logic-1-1": bytes(5000)})
    path.write_bytes(path.read_bytes()[:3000])
    with pytest.raises(RecordError, match="damaged"):
        read_recording(path)


def test_sigrok_chunks_are_taken_by_number(tmp_path: Path) -> None:
    path = tmp_path / "capture.sr"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("version", "2")
        archive.writestr(
            "metadata",
            "[global]\nsigrok version=0.5.2\n[device 1]\ncapturefile=logic-1\ntotal probes=9\n"
            "samplerate=2 kHz\nprobe1=D0\nprobe9=D8\nunitsize=2\n",
        )
        for k in (10, 2, 1, 9, 3, 4, 5, 6, 7, 8):
            archive.writestr(f"logic-1-{k}", struct.pack("<H", 0x0100 if k > 9 else 0x0001))
    recording = read_recording(path)
    assert recording.names == ("D0", "D8")
    assert recording.rate_hz == pytest.approx(2000)
    assert recording.volts[:, 0].tolist() == [12.0] * 9 + [0.0]
    assert recording.volts[:, 1].tolist() == [0.0] * 9 + [12.0]


@pytest.mark.parametrize("rate", ["", "fast", "0 Hz"])
def test_a_session_without_a_rate(tmp_path: Path, rate: str) -> None:
    path = tmp_path / "capture.sr"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("version", "2")
        archive.writestr(
            "metadata", f"[device 1]\ncapturefile=logic-1\nsamplerate={rate}\nprobe1=A\n"
        )
        archive.writestr("logic-1-1", b"\x00\x01")
    with pytest.raises(RecordError, match="sample rate"):
        read_recording(path)
