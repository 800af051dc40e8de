"""Recordings in every shape that scopes and loggers write, and broken ones."""

from __future__ import annotations

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
        '#0\nb110 !\nb1 "\n#1\nb1 !\n#2\nb1x1 !\nb0 "\n#3\nbz !\n#4\nb0101 !\n#5'
    )
    recording = read_recording(path)
    assert list(recording.names) == [*names, "one"]
    assert recording.logic == recording.names
    assert (recording.volts / 12).T.tolist() == [
        [1, 0, 1, 1, 1, 1],
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
