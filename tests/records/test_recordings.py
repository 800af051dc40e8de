"""Recordings in every shape that scopes and loggers write, and broken ones."""

from __future__ import annotations

import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest

from startwright.records import RecordError
from startwright.records.recordings import read_actions, read_recording, read_wires

TIME = np.arange(400) / 1000.0
A = np.round(6 + 6 * np.sin(TIME * 20), 3)
B = np.round(TIME * 10, 3)


def _rows(delimiter: str = ",", decimal: str = ".", first: list[str] | None = None) -> str:
    lines = []
    for i in range(len(TIME)):
        cells = [first[i] if first else f"{TIME[i]:.4f}", f"{A[i]:.3f}", f"{B[i]:.3f}"]
        lines.append(delimiter.join(c.replace(".", decimal) for c in cells))
    return "\n".join(lines) + "\n"


SHAPES = {
    "plain": "time_s,ch1,ch2\n" + _rows(),
    "semicolon": "time_s;ch1;ch2\n" + _rows(";"),
    "decimal comma": "time_s;ch1;ch2\n" + _rows(";", ","),
    "tab, decimal comma": "time_s\tch1\tch2\n" + _rows("\t", ","),
    "tab": "time_s\tch1\tch2\n" + _rows("\t"),
    "byte-order mark": "\ufefftime_s,ch1,ch2\n" + _rows(),
    "no head": _rows(),
    "units row": "Time,ch1,ch2\n(s),(V),(V)\n" + _rows(),
    "units row and blank": "Time,ch1,ch2\n(s),(V),(V)\n\n" + _rows(),
    "milliseconds": "Time (ms),ch1,ch2\n" + _rows(first=[f"{t * 1000:.1f}" for t in TIME]),
    "milliseconds in a units row": "Time,ch1,ch2\nms,V,V\n"
    + _rows(first=[f"{t * 1000:.1f}" for t in TIME]),
    "milliseconds by name": "time_ms,ch1,ch2\n" + _rows(first=[f"{t * 1000:.1f}" for t in TIME]),
    "microseconds": "t [us],ch1,ch2\n" + _rows(first=[f"{t * 1e6:.0f}" for t in TIME]),
    "volts in heads": "Time [s],ch1 (V),ch2 [V]\n" + _rows(),
    "metadata": "Model,bench logger\nSample rate: 1000 Hz\nDate,today\n\ntime_s,ch1,ch2\n"
    + _rows(),
    "comments": "# logger\n# rate 1 kHz\ntime_s,ch1,ch2\n" + _rows(),
    "counted, rate": "Sample rate: 1000 Hz\nsample,ch1,ch2\n"
    + _rows(first=[str(i) for i in range(len(TIME))]),
    "counted, kilohertz": "Sampling frequency = 1 kHz\nindex,ch1,ch2\n"
    + _rows(first=[str(i) for i in range(len(TIME))]),
    "counted, interval": "Sample Interval,0.001,s\nindex,ch1,ch2\n"
    + _rows(first=[str(i) for i in range(len(TIME))]),
    "trailing comma": "time_s,ch1,ch2,\n" + _rows().replace("\n", ",\n"),
    "quoted": 'time_s,"ch1","ch2"\n'
    + "".join(f'"{TIME[i]:.4f}","{A[i]:.3f}","{B[i]:.3f}"\n' for i in range(len(TIME))),
    "carriage returns": ("time_s,ch1,ch2\n" + _rows()).replace("\n", "\r\n"),
    "blanks": _rows("   "),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_gives_the_same_recording(tmp_path: Path, shape: str) -> None:
    path = tmp_path / "capture.csv"
    path.write_bytes(SHAPES[shape].encode("utf-8"))
    recording = read_recording(path)
    assert recording.names == ("ch1", "ch2")
    np.testing.assert_allclose(recording.time_s, TIME, atol=1e-9)
    np.testing.assert_allclose(recording.volts, np.stack([A, B], axis=1), atol=2e-6)
    assert recording.rate_hz == pytest.approx(1000.0)


def test_utf_16_and_latin_1_heads(tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    path.write_bytes(("time_s,Zündung,Bremse\n" + _rows()).encode("utf-16"))
    assert read_recording(path).names == ("Zündung", "Bremse")
    path.write_bytes(("time_s;Zündung;Bremse\n" + _rows(";", ",")).encode("latin-1"))
    assert read_recording(path).names == ("Zündung", "Bremse")


def test_millivolts_are_volts(tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    path.write_text("Time,a,b\ns,mV,V\n" + "".join(f"{i},{i * 1000},{i}\n" for i in range(5)))
    recording = read_recording(path)
    np.testing.assert_allclose(recording.volts[:, 0], np.arange(5), rtol=1e-6)
    np.testing.assert_allclose(recording.volts[:, 1], np.arange(5), rtol=1e-6)


VCD = b"$timescale 1 us $end\n"
BROKEN = {
    "empty": (b"", "empty"),
    "words": (b"this is a letter\nto nobody\n", "no table"),
    "one sample": (b"time_s,a\n0.0,1.0\n", "1 samples"),
    "a word in a row": (
        ("time_s,a\n" + "".join(f"{i},1.0\n" for i in range(40)) + "40,oops\n41,1.0\n").encode(),
        "oops",
    ),
    "a row cut short": (
        ("time_s,a,b\n" + "".join(f"{i},1.0,2.0\n" for i in range(40)) + "40,1.0").encode(),
        "2 columns",
    ),
    "an empty cell": (
        ("time_s,a,b\n0,,2\n" + "".join(f"{i},1.0,2.0\n" for i in range(1, 60))).encode(),
        "",
    ),
    "time runs back": (b"time_s,a\n0.0,1\n0.2,1\n0.1,1\n0.3,1\n", "does not rise"),
    "not a number": (b"time_s,a\n0.0,1\n0.1,nan\n0.2,1\n0.3,1\n", "no number"),
    "two of one name": (b"time_s,a,a\n0.0,1,1\n0.1,1,1\n0.2,1,1\n", "two wires"),
    "counted without a rate": (b"sample,a\n0,1\n1,1\n2,1\n3,1\n", "how fast"),
    "thousands of volts": (b"time_s,a\n0,12000\n1,12100\n2,12000\n", "12100"),
    "binary": (bytes(range(256)) * 10, ""),
    "half a zip": (b"PK\x03\x04" + b"\x00" * 40, ""),
    "a RIFF that is no WAVE": (b"RIFF\x10\x00\x00\x00AVI LIST" + b"\x00" * 20, "no WAVE"),
    "no timescale": (b"$var wire 1 ! a $end\n$enddefinitions $end\n#0\n1!\n#5\n0!\n", "$timescale"),
    "an empty cell among many": (
        ("time_s,a,b\n" + "".join(f"{i},{i},{'' if i % 3 else 2}\n" for i in range(60))).encode(),
        "empty cell",
    ),
    "a last row of time alone": (
        ("time_s,a,b\n" + "".join(f"{i},1.0,2.0\n" for i in range(40)) + "40,,\n").encode(),
        "empty cell",
    ),
    "a first row cut short": (b"time_s,a,b\n0,1\n1,1,2\n2,1,2\n3,1,2\n", "2 columns"),
    "a time that is no number": (b"time_s,a\n0.0,1\nnan,1\n0.2,1\n0.3,1\n", "no number"),
    "without end": (b"time_s,a\n0.0,1\n0.1,-inf\n0.2,1\n0.3,1\n", "no number"),
    "a bit of a real": (VCD + b"$var real 64 ! a $end\n#0\nr1 !\n#5\n1!\n", "which is a real"),
    "a real of a bit": (VCD + b"$var wire 1 ! a $end\n#0\n1!\n#5\nr1 !\n", "made of bits"),
    "more bits than it has": (VCD + b"$var wire 2 ! a $end\n#0\nb111 !\n#5\nb0 !\n", "2 bits"),
    "never known": (VCD + b"$var wire 1 ! a $end\n#0\nx!\n#5\nz!\n", "no value"),
    "a time too large": (
        VCD + b"$var wire 1 ! a $end\n#0\n1!\n#99999999999999999999\n0!\n",
        "time #999",
    ),
    "a time scale of 3": (b"$timescale 3 us $end\n#0\n", "time scale '3 us'"),
    "a vector too wide": (VCD + b"$var wire 999999999 ! a $end\n#0\n", "999999999 bits"),
    "undeclared": (b"$timescale 1 us $end\n$var wire 1 ! a $end\n#0\n1%\n#5\n0!\n", "declares"),
    "section left open": (b"$timescale 1 us\n$var wire 1 ! a\n", "ends inside"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_file_gives_one_clear_error(tmp_path: Path, case: str) -> None:
    data, word = BROKEN[case]
    path = tmp_path / "broken.csv"
    path.write_bytes(data)
    with pytest.raises(RecordError) as error:
        read_recording(path)
    assert word in error.value.what
    assert error.value.where.startswith("broken.csv")
    assert error.value.expected


def test_the_error_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "broken.csv"
    path.write_bytes(BROKEN["a word in a row"][0])
    with pytest.raises(RecordError) as error:
        read_recording(path)
    assert error.value.where == "broken.csv:42 column 2"


@pytest.mark.parametrize(
    ("case", "where"),
    [
        ("not a number", "broken.csv:3 column 2"),
        ("a time that is no number", "broken.csv:3 column 1"),
        ("an empty cell among many", "broken.csv:3 column 3"),
        ("a last row of time alone", "broken.csv:42 column 2"),
        ("a first row cut short", "broken.csv:2"),
        ("a bit of a real", "broken.csv:6"),
    ],
)
def test_the_error_names_the_cell(tmp_path: Path, case: str, where: str) -> None:
    path = tmp_path / "broken.csv"
    path.write_bytes(BROKEN[case][0])
    with pytest.raises(RecordError) as error:
        read_recording(path)
    assert error.value.where == where


def test_a_missing_file() -> None:
    with pytest.raises(RecordError, match="cannot be opened"):
        read_recording("/nowhere/at/all.csv")


def test_a_value_change_dump(tmp_path: Path) -> None:
    path = tmp_path / "capture.vcd"
    path.write_text(
        "$date today $end\n$timescale 100 us $end\n$scope module top $end\n"
        "$var wire 1 ! key $end\n$var real 64 # volts $end\n$upscope $end\n"
        "$enddefinitions $end\n#0\n$dumpvars\n0!\nr0.5 #\n$end\n"
        "#10\n1!\n#25\nr12.25 #\n#40\n0!\n#50\n"
    )
    recording = read_recording(path)
    assert recording.names == ("key", "volts")
    assert recording.logic == ("key",)
    assert recording.rate_hz == pytest.approx(1 / 500e-6)
    at = {round(float(t), 4): i for i, t in enumerate(recording.time_s)}
    assert recording.volts[at[0.0005], 0] == 0.0
    assert recording.volts[at[0.001], 0] == 12.0
    assert recording.volts[at[0.004], 0] == 0.0
    assert recording.volts[at[0.002], 1] == 0.5
    assert recording.volts[at[0.0025], 1] == 12.25


@pytest.mark.parametrize(
    ("scale", "tick_s"),
    [("1 ns", 1e-9), ("10 us", 1e-5), ("10us", 1e-5), ("100\n  us", 1e-4), ("1 ms", 1e-3)],
)
def test_every_time_scale(tmp_path: Path, scale: str, tick_s: float) -> None:
    path = tmp_path / "capture.vcd"
    path.write_text(
        f"$timescale {scale} $end $var wire 1 ! a $end $enddefinitions $end\n#100\n1!\n#104\n0!"
        "\n#106"
    )
    recording = read_recording(path)
    assert recording.time_s == pytest.approx(np.array([100, 102, 104, 106]) * tick_s)
    assert recording.volts[:, 0].tolist() == [12, 12, 0, 0]


def test_what_is_unknown_holds_the_value_before(tmp_path: Path) -> None:
    path = tmp_path / "capture.vcd"
    path.write_text(
        '$timescale 1 ms $end\n$var wire 1 ! a $end\n$var wire 1 " b $end\n'
        "$var wire 1 # never $end\n$var real 64 $ v $end\n$var wire 1 % silent $end\n"
        '#0\n$dumpvars\n1!\nx"\nz#\nr7.5 $\n$end\n#1\n0!\n#2\nz!\n1"\n'
        '#3\n$dumpoff\nx!\nx"\nx#\nbx $\n$end\n#4\n$dumpon\n1!\n0"\nrnan $\n$end\n'
        "#5\nr3 $\n#6\n"
    )
    recording = read_recording(path)
    assert recording.names == ("a", "b", "v")
    assert recording.logic == ("a", "b")
    assert recording.volts.T.tolist() == [
        [12, 0, 0, 0, 12, 12, 12],
        [12, 12, 12, 12, 0, 0, 0],
        [7.5, 7.5, 7.5, 7.5, 7.5, 3, 3],
    ]
    assert any("never, silent" in note and "left out" in note for note in recording.notes)
    assert any("a, b, v" in note and "held" in note for note in recording.notes)


@pytest.mark.parametrize(
    ("name", "names"),
    [
        ("port", ["port[2]", "port[1]", "port[0]"]),
        ("port [2:0]", ["port[2]", "port[1]", "port[0]"]),
        ("port[4:6]", ["port[4]", "port[5]", "port[6]"]),
    ],
)
def test_a_vector_is_a_wire_a_bit(tmp_path: Path, name: str, names: list[str]) -> None:
    path = tmp_path / "capture.vcd"
    path.write_text(
        f'$timescale 1 ms $end\n$var wire 3 ! {name} $end\n$var wire 1 " one $end\n'
        '#0\nb110 !\nb1 "\n#1\nb1 !\n#2\nb0x1 !\nb0 "\n#3\nbz !\n#4\nb0101 !\n#5'
    )
    recording = read_recording(path)
    assert list(recording.names) == [*names, "one"]
    assert recording.logic == recording.names
    assert (recording.volts / 12).T.tolist() == [
        [1, 0, 0, 0, 1, 1],
        [1, 0, 0, 0, 0, 0],
        [0, 1, 1, 1, 1, 1],
        [1, 1, 0, 0, 0, 0],
    ]


def test_two_variables_of_one_identifier(tmp_path: Path) -> None:
    path = tmp_path / "capture.vcd"
    path.write_text(
        "$timescale 1 ms $end\n$scope module top $end\n$var wire 1 ! a $end\n"
        "$scope module sub $end\n$var wire 1 ! a $end\n#0\n0!\n#1\n1!\n#2\n"
    )
    recording = read_recording(path)
    assert recording.names == ("a", "top.sub.a")
    assert recording.volts.tolist() == [[0, 0], [12, 12], [12, 12]]


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


def test_actions_in_order_of_time(tmp_path: Path) -> None:
    path = tmp_path / "actions.csv"
    path.write_text("time_s,action\n3.5,Key  Run\n1.25,key insert\n")
    assert [(a.time_s, a.action) for a in read_actions(path)] == [
        (1.25, "key insert"),
        (3.5, "key run"),
    ]
    path.write_text("\ufefftime_s;action\n1,25;key insert\n")
    assert read_actions(path)[0].time_s == 1.25


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "empty"),
        ("when,what\n1,key run\n", "head row"),
        ("time_s,action\nsoon,key run\n", "no time"),
        ("time_s,action\ninf,key run\n", "no time"),
        ("time_s,action\n1,\n", "no action"),
    ],
)
def test_actions_that_are_none(tmp_path: Path, text: str, word: str) -> None:
    path = tmp_path / "actions.csv"
    path.write_text(text)
    with pytest.raises(RecordError, match=word):
        read_actions(path)


def test_wires(tmp_path: Path) -> None:
    path = tmp_path / "wires.csv"
    path.write_text("wire,place,plug,pin,colour\nch1,steering column,white 8-way,5,GY/RD\nch2\n")
    wires = read_wires(path)
    assert wires["ch1"].pin == "5"
    assert wires["ch1"].colour == "GY/RD"
    assert wires["ch2"].place is None
    path.write_text("wire,place\nch1,a\nch1,b\n")
    with pytest.raises(RecordError, match="stands twice"):
        read_wires(path)


def test_rounded_times_are_laid_evenly(tmp_path: Path) -> None:
    path = tmp_path / "rounded.csv"
    rows = "".join(f"{int(k / 4) / 1000:.3f},{k % 7}\n" for k in range(80))
    path.write_text("time_s,a\n" + rows)
    found = read_recording(path)
    assert np.allclose(found.time_s, np.arange(80) / 4000)
    assert any("rounded" in note for note in found.notes)


def test_a_time_that_stands_still_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "still.csv"
    path.write_text("time_s,a\n" + "1.0,2\n" * 50)
    with pytest.raises(RecordError, match="does not rise"):
        read_recording(path)


def test_a_column_with_nothing_in_it_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "hollow.csv"
    rows = [f"{k};{k % 5},5;;{k % 3},25" for k in range(40)]
    path.write_text("time_s;a;unused;b\n" + "\n".join(rows) + "\n")
    found = read_recording(path)
    assert found.names == ("a", "b")
    assert found.volts[4].tolist() == [4.5, 1.25]
    assert any("column 3" in note for note in found.notes)
    rows[5] = "5;0,5;9,0;0,25"
    path.write_text("time_s;a;unused;b\n" + "\n".join(rows) + "\n")
    with pytest.raises(RecordError, match=r"hollow\.csv:7 column 3"):
        read_recording(path)


def test_a_last_column_with_nothing_in_it_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "hollow.csv"
    path.write_text("time_s,a,unused\n" + "".join(f"{k},{k % 5},\n" for k in range(40)))
    found = read_recording(path)
    assert found.names == ("a",)
    assert any("column 3" in note for note in found.notes)
