"""A value of a record can be pointed at: file, line and path, whatever file it came from."""

from __future__ import annotations

from pathlib import Path

import pytest

from startwright.example import path as shop
from startwright.records.lines import Lines
from startwright.records.read import parse_wiring_or_plan, read_job, read_text, read_wiring
from startwright.records.wiring import Plan
from startwright.records.write import write

WIRING = shop() / "wirings" / "plain.yaml"
JOB = shop() / "jobs" / "plain.yaml"


def _line_with(file: Path, words: str) -> int:
    (found,) = [n for n, text in enumerate(file.read_text().splitlines(), 1) if words in text]
    return found


def test_every_run_is_found_where_it_is_written() -> None:
    lines = Lines()
    wiring = read_wiring(WIRING, lines=lines)
    for n, run in enumerate(wiring.runs):
        at = _line_with(WIRING, f"id: {run.id},")
        assert lines.run(wiring, run.id) == f"{WIRING}:{at} runs[{n}]"
    assert lines.part(wiring, "F2") == f"{WIRING}:{_line_with(WIRING, 'id: F2,')} parts[1]"


def test_what_a_job_names_has_its_own_file() -> None:
    lines = Lines(below=shop())
    job = read_job(JOB, lines=lines)
    unit = shop() / "units" / "fernlight-3.yaml"
    hood = [lead.id for lead in job.unit.leads].index("hood_in")
    at = _line_with(unit, "id: hood_in,")
    assert lines.lead(job, "hood_in") == f"units/fernlight-3.yaml:{at} leads[{hood}]"
    assert lines.circuit(job, "starter_1").startswith("vehicles/corvane-tello.yaml:")
    assert lines.article(job, "fuse-30").startswith("stock/shelf.yaml:")
    assert lines.guard(job, "hood") == (
        "units/fernlight-3.yaml: no `guards`, so the package's default"
    )


def test_records_within_a_job_stand_in_the_job() -> None:
    file = shop() / "bestiary" / "open-hood.job.yaml"
    lines = Lines()
    job = read_job(file, lines=lines)
    text = file.read_text().splitlines()
    where = lines.lead(job, "hood_in")
    assert where.endswith("unit.leads[5]")
    line = int(where.removeprefix(f"{file}:").split()[0])
    assert "hood_in" in text[line - 1]
    crank = [s.step for s in job.unit.sequence].index("crank")
    assert lines.step(job, "crank").endswith(f"unit.sequence[{crank}]")


def test_the_wiring_of_a_plan_in_json(tmp_path: Path) -> None:
    wiring = read_wiring(WIRING)
    file = tmp_path / "plan.json"
    write(file, Plan(format="startwright/plan/1", job="plain", wiring=wiring))
    lines = Lines()
    plan = parse_wiring_or_plan(read_text(file), str(file), lines=lines)
    assert isinstance(plan, Plan)
    where = lines.run(plan.wiring, "r8")
    line = int(where.removeprefix(f"{file}:").split()[0])
    assert where.endswith("wiring.runs[7]")
    assert '"id": "r8"' in "".join(file.read_text().splitlines()[line - 1 : line + 1])


def test_what_came_from_no_file_has_its_path_alone() -> None:
    wiring = read_wiring(WIRING)
    assert Lines().run(wiring, "r8") == "wiring runs[7]"
    assert Lines().run(wiring, "no-such") == "wiring runs"


@pytest.mark.parametrize(("id", "ends"), [("engine_sense", "settings.engine_sense"), ("x", "")])
def test_settings(id: str, ends: str) -> None:
    lines = Lines()
    job = read_job(JOB, lines=lines)
    wiring = read_wiring(WIRING, lines=lines)
    where = lines.setting(job, wiring, id)
    assert where.startswith(str(WIRING if ends else shop() / "units"))
    bare = wiring.model_copy(update={"settings": {}})
    if ends:
        assert lines.setting(job, bare, id).endswith("engine_signal")
