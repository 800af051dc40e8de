"""Writing records: nothing is lost, and a file is there whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from startwright.example import path as shop
from startwright.records import RecordError, Unit
from startwright.records.read import parse, read
from startwright.records.write import to_json, to_plain, to_yaml, write, write_text

FILES = sorted(p for p in shop().rglob("*.yaml") if p.name != "bestiary.yaml")
UNIT = shop() / "units" / "fernlight-3.yaml"


@pytest.mark.parametrize("file", FILES, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_every_example_comes_back(file: Path) -> None:
    record = read(file)
    for text, name in ((to_yaml(record), "x.yaml"), (to_json(record), "x.json")):
        again = parse(text, name)
        assert again == record
        assert to_yaml(again) == to_yaml(record)
        assert max(map(len, text.splitlines())) < 250


def test_what_was_not_given_is_not_written() -> None:
    unit = read(UNIT)
    assert isinstance(unit, Unit)
    plain = to_plain(unit)
    assert "sequence" not in plain
    assert "tries" not in plain
    assert plain["leads"][0].get("debounce_s") is None
    assert unit.tries == 3
    given = parse(UNIT.read_text() + "tries: 3\n", "u.yaml")
    assert to_plain(given)["tries"] == 3


TEXTS = (
    """off yes null 1 0x1f 1e3 2026-03-02 ~ *a &a !a @a `a | {a a,b a] ' " = << y NaN .inf é 🚗"""
)
ODD = [
    "",
    " a",
    "a ",
    "a: b",
    "a #b",
    "- a",
    "a\nb",
    "\t",
    "\u2028",
    "a\x85b",
    "\ufeff",
    "\x7f",
    "a\\n",
]


@pytest.mark.parametrize("text", [*TEXTS.split(), *ODD])
def test_any_text_comes_back(text: str) -> None:
    job = parse(
        '{"format":"startwright/job/1","id":"j","vehicle":"v","unit":"u","stock":"s","wants":[]}',
        "j.json",
    )
    job = type(job).model_validate({**to_plain(job), "notes": text, "customer": f"x {text}"})
    assert parse(to_yaml(job), "x.yaml") == job
    assert parse(to_json(job), "x.json") == job


@pytest.mark.parametrize("name", ["unit.yaml", "unit.json"])
def test_a_file_is_written(tmp_path: Path, name: str) -> None:
    unit = read(UNIT)
    write(tmp_path / name, unit)
    assert read(tmp_path / name) == unit
    assert [p.name for p in tmp_path.iterdir()] == [name]


def test_a_failed_write_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "unit.yaml"
    file.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RecordError, match="No space left"):
        write(file, read(UNIT))
    assert file.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["unit.yaml"]


def test_a_link_stays_and_what_it_names_is_written(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    link = tmp_path / "unit.yaml"
    link.symlink_to(tmp_path / "there" / "real.yaml")
    for _ in range(2):
        write(link, read(UNIT))
        assert link.is_symlink()
        assert read(tmp_path / "there" / "real.yaml") == read(UNIT)
    assert [p.name for p in (tmp_path / "there").iterdir()] == ["real.yaml"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with a name")
def test_a_pipe_is_written_into_and_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "unit.yaml"
    os.mkfifo(pipe)
    out = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_text(pipe, "whole")
        assert os.read(out, 100) == b"whole"
    finally:
        os.close(out)
    assert pipe.is_fifo()
    assert [p.name for p in tmp_path.iterdir()] == ["unit.yaml"]


@pytest.mark.parametrize("name", [".", "no/such/folder/unit.yaml", "x\x00.yaml"])
def test_where_nothing_can_be_written(tmp_path: Path, name: str) -> None:
    with pytest.raises(RecordError) as error:
        write(tmp_path / name, read(UNIT))
    assert error.value.expected
    assert list(tmp_path.iterdir()) == []
