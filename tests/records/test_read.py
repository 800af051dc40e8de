"""Reading records: what is understood, and how everything else is refused."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from startwright.example import path as shop
from startwright.records import Job, RecordError, Unit, Vehicle, Wiring
from startwright.records.marked import MOST_BYTES
from startwright.records.read import (
    KINDS,
    parse,
    parse_job,
    parse_wiring,
    read,
    read_job,
    read_plan,
    read_wiring,
)

FILES = sorted(p for p in shop().rglob("*.yaml") if p.name != "bestiary.yaml")
CAR = (shop() / "vehicles" / "corvane-tello.yaml").read_text()
UNIT = (shop() / "units" / "fernlight-12.yaml").read_text()


@pytest.mark.parametrize("file", FILES, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_every_example_is_read(file: Path) -> None:
    record = read(file)
    kind = re.search(r"^format: startwright/([a-z]+)/1$", file.read_text(), re.M)
    assert kind is not None
    assert type(record) is KINDS[kind[1]]


def test_yaml_1_2_words() -> None:
    car = parse(
        "format: startwright/vehicle/1\nid: x\ngearbox: cvt\ntrim: yes\nmake: NO\n"
        "notes: 2026-03-02\ncircuits:\n"
        "- {id: c, function: accessory, live: [off, run], pin: 05, plug: 7, leave_dead: no,"
        " may_hold_in_crank: yes, known: {how: told, date: 2026-03-02, by: no}}\n",
        "x.yaml",
    )
    assert isinstance(car, Vehicle)
    assert (car.trim, car.make) == ("yes", "NO")
    circuit = car.circuits[0]
    assert circuit.live == ["off", "run"]
    assert circuit.pin == "05"
    assert circuit.plug == "7"
    assert circuit.leave_dead is False
    assert circuit.may_hold_in_crank is True
    assert car.notes == "2026-03-02"
    assert circuit.known is not None
    assert circuit.known.date is not None
    assert circuit.known.date.isoformat() == "2026-03-02"
    assert circuit.known.by == "no"


@pytest.mark.parametrize(
    "change",
    [
        lambda t: "\ufeff" + t,
        lambda t: t.replace("\n", "\r\n"),
        lambda t: t.replace("model: Tello", "model: Тélló 车 🚗"),
    ],
    ids=["bom", "crlf", "unicode"],
)
def test_any_text_file(tmp_path: Path, change) -> None:
    file = tmp_path / "car.yaml"
    file.write_bytes(change(CAR).encode())
    assert read(file, "vehicle").circuits == parse(CAR, "x").circuits


def test_utf_16_with_its_mark(tmp_path: Path) -> None:
    file = tmp_path / "car.yaml"
    file.write_bytes(CAR.encode("utf-16"))
    assert read(file) == parse(CAR, "x")


def _refusal(text: str, name: str = "car.yaml", kind: str | None = None) -> RecordError:
    with pytest.raises(RecordError) as error:
        parse(text, name, kind)
    return error.value


def _line(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


CHANGES = [
    # what stands there, what is put there, where below the line, what was found, what is right
    (
        "load_A: 11.0",
        "load_mA: 11000",
        "circuits[2].load_mA",
        "in milliamperes",
        "`load_A`, in amp",
    ),
    ("load_A: 11.0", "load: 11", "circuits[2].load", "without its unit", "`load_A`, in amperes"),
    ("load_A: 11.0", "load_A: 11 A", "circuits[2].load_A", "the text '11 A'", "a bare number"),
    ("load_A: 11.0", "load_A: '11'", "circuits[2].load_A", "the text '11'", "a bare number"),
    ("load_A: 11.0", "load_A: 11,5", "circuits[2].5", "unknown key `5`", "one of id"),
    ("load_A: 11.0", "load_A: true", "circuits[2].load_A", "`true` where", "a number"),
    ("load_A: 11.0", "load_A: [1]", "circuits[2].load_A", "a list of 1", "a number"),
    ("load_A: 11.0", "load_A: .nan", "circuits[2].load_A", ".nan", "a number"),
    ("load_A: 11.0", "load_A: 1e999", "circuits[2].load_A", "1e999", "can be held"),
    ("load_A: 11.0", "load_A: -1", "circuits[2].load_A", "-1", "0 or more"),
    ("load_A: 11.0", "load_A: 2e6", "circuits[2].load_A", "2000000", "or less"),
    ("fuse_A: 40", "fuse_A: 0", "circuits[0].fuse_A", "0", "more than 0"),
    (
        "colour: RD/BN",
        "color: RD/BN",
        "circuits[0].color",
        "unknown key `color`",
        "`colour`: insul",
    ),
    ("colour: RD/BN", "colour: red", "circuits[0].colour", "the colour 'red'", "IEC 60757"),
    (
        "function: brake",
        "function: break",
        "circuits[6].function",
        "'break'",
        "'brake', or another",
    ),
    ("gearbox: automatic", "gearbox: auto", "gearbox", "'auto'", "automatic, cvt, manual"),
    ("years: [2009, 2013]", "years: 2009", "years", "2009", "a list of two"),
    ("live: [run, start]", "live: run", "circuits[2].live", "'run'", "a list"),
    ("live: [run, start]", "live: [run, go]", "circuits[2].live[1]", "'go'", "out, off, access"),
    ("date: 2026-03-02", "date: soon", "immobilizer.evidence[0].date", "'soon'", "2026-03-02"),
    (
        "rest: open, active: battery, ",
        "",
        "circuits[6]",
        "no `active` on a brake",
        "the level when",
    ),
    ("id: ign_1", "id: batt_2", "circuits[2]", "two circuits called 'batt_2'", "each id once"),
    ("id: ign_1", "id: Ign 1", "circuits[2].id", "'Ign 1'", "lower-case letters"),
    ("rest: open, active: battery", "rest: open, active: open", "circuits[6]", "both open", "two"),
    ("length_m: 0.7", "length_ft: 2", "places[0].length_ft", "in feet", "`length_m`, in metres"),
    ("length_m: 0.7, ", "", "places[0]", "no `length_m`", "along the usual way"),
    ("start: key\n", "start: key\nstart: key\n", "", "the key `start` twice", "each key once"),
    ("start: key\n", "start: !!str key\n", "start", "the tag", "no tags"),
    ("start: key\n", "start: &a [*a]\n", "start[0]", "inside itself", "written out"),
    ("start: key\n", "start: *b\n", "start", "nothing is called", "an anchor"),
    ("start: key\n", "start: key\n\t- x\n", "", "no YAML", "a YAML text"),
]


@pytest.mark.parametrize(("old", "new", "path", "what", "expected"), CHANGES, ids=lambda v: v[:24])
def test_a_wrong_value(old: str, new: str, path: str, what: str, expected: str) -> None:
    text = CAR.replace(old, new, 1)
    assert text != CAR
    refusal = _refusal(text)
    line = _line(CAR, old)
    if not path:  # the second key, the stray tab stand below
        line += new.count("\n") - 1
    assert refusal.where == f"car.yaml:{line} {path}".rstrip()
    assert what in refusal.what
    assert expected in refusal.expected


def test_a_missing_key_at_the_top() -> None:
    refusal = _refusal(CAR.replace("gearbox: automatic\n", ""))
    assert refusal.what == "no `gearbox`"
    assert refusal.expected == "`gearbox`: `automatic`, `cvt` or `manual`"


def test_the_first_error_is_said_and_the_others_are_kept() -> None:
    text = CAR.replace("fuse_A: 40", "fuse_A: 0").replace("gearbox: automatic", "gearbox: x")
    refusal = _refusal(text)
    assert "gearbox" in refusal.where
    assert [other.where.split()[-1] for other in refusal.others] == [
        "circuits[0].fuse_A",
        "circuits[1].fuse_A",
    ]


def test_lines_in_json() -> None:
    data = json.loads(json.dumps(parse(CAR, "x").model_dump(mode="json", exclude_unset=True)))
    data["circuits"][2]["load_A"] = "much"
    text = json.dumps(data, indent=1)
    refusal = _refusal(text, "car.json")
    assert refusal.where == f"car.json:{_line(text, 'much')} circuits[2].load_A"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ('{"format": "startwright/unit/1", "format": 1}', "the key `format` twice"),
        ('{"format": NaN}', "NaN"),
        ('{"format": -Infinity}', "-Infinity"),
        ('{"format": 1e999}', "1e999"),
        ('{"format": ' + "9" * 5000 + "}", "5000 digits"),
        ('{"format": "startwright/unit/1",', "no JSON"),
        ("[" * 900 + "]" * 900, "nested"),
        ("[" * 100_000, "nested"),
        ("[]", "no keys and values"),
    ],
    ids=lambda v: v[:20],
)
def test_broken_json(text: str, what: str) -> None:
    assert what in _refusal(text, "x.json").what


LAUGHS = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
    f"{c}: &{c} [{','.join([f'*{b}'] * 9)}]\n" for b, c in zip("abcdefgh", "bcdefghi", strict=True)
)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "nothing in it"),
        ("# only a remark\n", "nothing in it"),
        ("- a\n", "no keys and values"),
        ("hello", "no keys and values"),
        ("id: x\n", "no `format`"),
        ("format: startwright/vehicle/2\n", "version 2"),
        ("format: startwright/car/1\n", "the format 'startwright/car/1'"),
        ("format: 3\n", "the format 3"),
        ("format: [x]\n", "the format ['x']"),
        ("format: startwright/vehicle/1\n---\nb: 1\n", "a second document"),
        (LAUGHS, "more than"),
        ("a: &a x\nb: [" + ",".join(["*a"] * 101) + "]\n", "aliases"),
        ("[" * 40 + "]" * 40, "nested"),
        ("- " * 50 + "x", "nested"),
        ("[" * 100_000, "nested"),
        ("? [a]\n: b\n", "as a key"),
        ("&a a: 1\n? *a\n: 2\n", "twice"),
        ("x: \x00\n", "no YAML"),
        ("{" * 20, "as a key"),
        ("x" * (MOST_BYTES + 1), "more than 2048 KiB"),
    ],
    ids=lambda v: v[:20],
)
def test_broken_yaml(text: str, what: str) -> None:
    assert what in _refusal(text, "x.yaml").what


def test_a_kind_that_is_not_the_one_wanted() -> None:
    refusal = _refusal(UNIT, "u.yaml", "vehicle")
    assert refusal.what == "a unit record"
    assert refusal.where == "u.yaml:2 format"
    assert refusal.expected == "`format: startwright/vehicle/1`"


@pytest.mark.parametrize(
    ("old", "new", "path", "what"),
    [
        ("limit_A: {battery: 10, ground: 0.5}", "limit_A: {batery: 10}", "limit_A.batery", "'bat"),
        ("limit_A: {battery: 10, ground: 0.5}", "limit_A: {battery: x}", "limit_A.battery", "'x'"),
        ("limit_A: {battery: 10, ground: 0.5}", "limit_A: x", "limit_A", "'x'"),
        ("logic_from: feed_1", "logic_from: fed_1", "logic_from", "fed_1"),
        ("chosen_by: out_a_does, ", "", "leads[7]", "without `chosen_by`"),
        ("chosen_by: out_a_does", "chosen_by: nobody", "leads[7]", "'nobody'"),
        ("default: off", "default: of", "settings[0].default", "`default: of`"),
        ("default: 1200", "default: 1201", "settings[4].default", "`default: 1201`"),
    ],
)
def test_a_wrong_unit(old: str, new: str, path: str, what: str) -> None:
    refusal = _refusal(UNIT.replace(old, new, 1), "u.yaml")
    assert what in refusal.what
    assert path in refusal.where


@pytest.mark.parametrize(
    "name", ["missing.yaml", ".", "x\x00y", "no/such/folder/x.yaml", "plain.yml"]
)
def test_no_such_file(name: str) -> None:
    with pytest.raises(RecordError) as error:
        read(shop() / "wirings" / name)
    assert (name if name != "." else "wirings") in error.value.where
    if name == "plain.yml":
        assert "plain.yaml" in error.value.expected


def test_a_pipe_does_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    with pytest.raises(RecordError, match="no ordinary file"):
        read(tmp_path / "pipe.yaml")


@pytest.mark.parametrize(
    ("raw", "what"),
    [
        (b"\x89PNG\r\n\x1a\n\x00", "no UTF-8"),
        (b"a: \x00", "a zero byte"),
        (b"a\n" * (MOST_BYTES // 2 + 1), "more than 2048 KiB"),
    ],
)
def test_no_text(tmp_path: Path, raw: bytes, what: str) -> None:
    (tmp_path / "x.yaml").write_bytes(raw)
    with pytest.raises(RecordError) as error:
        read(tmp_path / "x.yaml")
    assert what in error.value.what


# -- jobs -----------------------------------------------------------------------------------------


def _job(vehicle: str = "corvane-tello", unit: str = "fernlight-3") -> str:
    return (
        f"format: startwright/job/1\nid: j\nvehicle: {vehicle}\nunit: {unit}\n"
        "stock: shelf\nwants: [remote_start]\n"
    )


@pytest.mark.parametrize("job", sorted((shop() / "jobs").glob("*.yaml")), ids=lambda p: p.stem)
def test_every_example_job_is_whole(job: Path) -> None:
    whole = read_job(job)
    assert whole.id == job.stem
    assert isinstance(whole.vehicle, Vehicle)
    assert isinstance(whole.unit, Unit)
    assert whole.stock.id == "shelf"


def test_ids_are_found_in_the_shop(tmp_path: Path) -> None:
    file = tmp_path / "j.yaml"
    file.write_text(_job())
    assert read_job(file, shop()).vehicle.id == "corvane-tello"
    with pytest.raises(RecordError, match="no vehicle called"):
        read_job(file)


def test_an_id_is_found_whatever_its_file_is_called(tmp_path: Path) -> None:
    for kind in ("vehicles", "units", "stock"):
        (tmp_path / kind).mkdir()
        for n, file in enumerate((shop() / kind).glob("*.yaml")):
            (tmp_path / kind / f"{n}.yml").write_text(file.read_text())
    (tmp_path / "j.yaml").write_text(_job("pennick-sarrow", "fernlight-12"))
    assert read_job(tmp_path / "j.yaml").unit.id == "fernlight-12"


def test_a_file_named_like_an_id_that_holds_another(tmp_path: Path) -> None:
    for kind in ("vehicles", "units", "stock"):
        (tmp_path / kind).mkdir()
    (tmp_path / "vehicles" / "corvane-tello.yaml").write_text(CAR.replace("tello", "tella"))
    (tmp_path / "j.yaml").write_text(_job())
    with pytest.raises(RecordError, match="no vehicle called 'corvane-tello'"):
        read_job(tmp_path / "j.yaml")


def test_a_near_miss_of_an_id_is_named(tmp_path: Path) -> None:
    (tmp_path / "j.yaml").write_text(_job("corvane-telo"))
    with pytest.raises(RecordError) as error:
        read_job(tmp_path / "j.yaml", shop())
    assert "such as corvane-tello" in error.value.expected


def _indented(text: str) -> str:
    return "\n" + "".join(f"  {line}\n" for line in text.splitlines())


def test_records_within_the_job(tmp_path: Path) -> None:
    (tmp_path / "j.yaml").write_text(_job(_indented(CAR)))
    assert read_job(tmp_path / "j.yaml", shop()).vehicle == parse(CAR, "x")


def test_an_error_within_the_job_has_its_own_line() -> None:
    text = _job(_indented(CAR.replace("load_A: 11.0", "load_mA: 11")))
    with pytest.raises(RecordError) as error:
        parse_job(text, "j.yaml", lambda kind, reference: parse(CAR, "x"))
    line = _line(text, "load_mA")
    assert error.value.where == f"j.yaml:{line} vehicle.circuits[2].load_mA"


def test_a_reference_that_is_neither() -> None:
    assert "`unit` as int" in _refusal(_job(unit="7"), "j.yaml").what


def test_an_unread_job_keeps_its_references() -> None:
    job = read(shop() / "jobs" / "plain.yaml", "job")
    assert isinstance(job, Job)
    assert job.vehicle == "../vehicles/corvane-tello.yaml"


# -- readings -------------------------------------------------------------------------------------


def test_readings_with_and_without_a_head() -> None:
    listed = "- {wire: w1, volts_V: 12.4, during: [key run], pin: 07}\n"
    whole = f"format: startwright/readings/1\nreadings:\n{listed}"
    record = parse(whole, "r.yaml")
    assert parse(listed, "r.yaml", "readings") == record
    refusal = _refusal('[{"wire": "w1"},\n {"wire": 2, "volts_V": "x"}]', "r.json", "readings")
    assert refusal.where == "r.json:1 readings[0]"
    assert refusal.others[0].where == "r.json:2 readings[1].volts_V"
    broken = _refusal(listed + "- {wire: w2,\n   volts_mV: 1}\n", "r.yaml", "readings")
    assert broken.where == "r.yaml:3 readings[1].volts_mV"
    assert _refusal(listed, "r.yaml").what == "no keys and values"


# -- wirings and plans ----------------------------------------------------------------------------


def _plan() -> str:
    wiring = (shop() / "wirings" / "plain.yaml").read_text()
    return f"format: startwright/plan/1\njob: plain\nwiring:{_indented(wiring)}cost: 12.5\n"


def test_a_plan_does_for_a_wiring(tmp_path: Path) -> None:
    (tmp_path / "p.yaml").write_text(_plan())
    wiring = read_wiring(shop() / "wirings" / "plain.yaml")
    assert isinstance(wiring, Wiring)
    assert read_wiring(tmp_path / "p.yaml") == wiring
    assert read_plan(tmp_path / "p.yaml").wiring == wiring


def test_a_car_is_no_wiring() -> None:
    with pytest.raises(RecordError) as error:
        parse_wiring(CAR, "car.yaml")
    assert error.value.what == "a vehicle record"
    assert error.value.expected == "a wiring or a plan"


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("to: F1.a", "to: vehicle batt", "the terminal 'vehicle batt'"),
        ("to: F1.a", "to: vehicle.batt_1", "a run from vehicle.batt_1 to itself"),
        ("id: r2", "id: r1", "two runs called 'r1'"),
        ("id: F1,", "id: unit,", "a part called 'unit'"),
        ("id: r2", "id: F1", "a run called 'F1' as a part is"),
        ("id: F1,", "id: rail,", "a part called 'rail'"),
        ("id: F1,", "id: out,", "a part called 'out'"),
        ("joints: [solder", "joints: [glue", "'glue'"),
        ("from: vehicle.batt_1", "form: vehicle.batt_1", "the unknown key `form`"),
    ],
)
def test_a_wrong_wiring(old: str, new: str, what: str) -> None:
    text = (shop() / "wirings" / "plain.yaml").read_text().replace(old, new, 1)
    assert what in _refusal(text, "w.yaml").what


# -- anything at all ------------------------------------------------------------------------------


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.binary(max_size=200), st.sampled_from(["x.yaml", "x.json", "x"]))
@example(b"\xff\xfe\x00", "x.yaml")
@example(b"%YAML 9.9\n---\n", "x.yaml")
@example(b"a: !<tag:x> 1", "x.yaml")
@example(b"a: \xed\xa0\x80", "x.yaml")
def test_any_bytes_are_a_record_or_a_record_error(tmp_path_factory, raw: bytes, name: str) -> None:
    file = tmp_path_factory.getbasetemp() / name
    file.write_bytes(raw)
    with pytest.raises(RecordError) as error:
        read(file)
    assert all(error.value.as_json()["error"].values())


@settings(max_examples=250, derandomize=True, deadline=None)
@given(st.data())
def test_a_damaged_example_is_a_record_or_a_record_error(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from([file.read_text() for file in FILES]))
    at = data.draw(st.integers(0, len(text) - 1))
    length = data.draw(st.integers(0, 12))
    piece = data.draw(st.text(st.sampled_from(list("{}[]:,-#&*!|>'\"%@` \n\tax0.~é")), max_size=6))
    try:
        record = parse(text[:at] + piece + text[at + length :], "x.yaml")
    except RecordError as refusal:
        record, said = None, refusal.as_json()["error"]
    assert record is not None or all(said.values())
