"""The bench sheet, read back from the PDF it is."""

from __future__ import annotations

import hashlib
import subprocess
from pathlib import Path

import pytest
from prove import sound

from sheets.pages import in_one_line, needs_poppler, shop, text_of
from startwright.prove import play, prove
from startwright.records import Plan, RecordError, Vehicle, WholeJob
from startwright.records.write import to_plain
from startwright.sheets import bench_pdf, write_sheets
from startwright.sheets.bench import sheet_data
from startwright.sheets.build import joints
from startwright.sheets.cautions import at_place
from startwright.sheets.ends import read_web
from startwright.sheets.naming import in_words
from startwright.sheets.tryout import try_lines
from startwright.sheets.typeset import Paper


@needs_poppler
def test_everything_the_hand_needs_is_there_in_order(tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    assert proof.verdict == "proven"
    said = in_one_line(text_of(bench_pdf(job, plan, size, proof), tmp_path))
    order = [
        "Local codes and licensed practice come first",
        "The loom", "Cut and mark the runs", "Make up the parts", "Set the unit",
        "Measure every wire at the car", "Battery ground off", "Join, in this order",
        "Battery on again", "Try it, line by line", "What is proven, and what that assumes",
    ]  # fmt: skip
    found = [said.index(head) for head in order]
    assert found == sorted(found)
    for run in plan.wiring.runs:
        assert f"{run.id} " in said
    assert f"proven, {proof.states:,} states" in said
    assert "NOT PROVEN" not in said
    assert "12.6 V with the key in run" in said
    assert "measured 2026-04-14" in said
    assert "only told" in said
    assert "2.5 mm" in said
    assert "12 AWG" in said
    for line, _ in try_lines(job, plan.wiring):
        assert line in said
    for assumed in proof.assumes:
        assert in_words(job, assumed) in said


@needs_poppler
@pytest.mark.parametrize("name", ["two-starters", "two-starters-small-unit"])
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_the_cautions_of_a_place_are_on_the_page_of_its_wires(
    paper: Paper, name: str, tmp_path: Path
) -> None:
    job, plan, size, proof = shop(name)
    pages = [
        in_one_line([page])
        for page in text_of(bench_pdf(job, plan, size, proof, paper=paper), tmp_path)
    ]
    seen = 0
    for stop in sheet_data(job, plan, size, proof, paper)["stops"]:
        row = stop["rows"][0]
        first = f"{row['name']} {row['id']} {row['where'][:12]}"
        (page,) = (p for p in pages if first in p)
        for caution in stop["cautions"]:
            assert caution["head"] in page
            assert page.index(caution["head"]) < page.index(first)
            seen += 1
    assert seen > 3


@needs_poppler
def test_cautions_stand_before_what_they_warn_of(tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    said = in_one_line(text_of(bench_pdf(job, plan, size, proof), tmp_path))

    def at(words: str, after: int = 0) -> int:
        return said.index(words, after)

    measure = at("Measure every wire at the car")
    column = at("steering column the unit is here", measure)
    airbag = at("Airbag: leave it alone", measure)
    assert column < airbag < at("Rests:", column)
    assert "clock spring, yellow 4-way, pin 2, YE/BK" in said
    turns = at("The engine turns now", airbag)
    assert turns < at("Hold the key at start", turns) < turns + 140
    assert at("Battery ground off before the first wire is bared") < at("Join, in this order")
    assert at("carbon monoxide gives no warning", at("Try it")) < at("command start", at("Try it"))


@pytest.mark.parametrize("said", [{"powertrain": "hybrid"}, {"engine": {"fuel": "hybrid"}}])
def test_a_hybrid_is_warned_of_wherever_it_says_that_it_is_one(said: dict[str, object]) -> None:
    job = shop()[0]
    vehicle = Vehicle.model_validate({**to_plain(job.vehicle), **said})
    told = at_place(job.model_copy(update={"vehicle": vehicle}), "trunk")
    assert [c["kind"] for c in told] == ["high_voltage"]
    assert at_place(job, "trunk") == []


@needs_poppler
@pytest.mark.parametrize("verdict", [None, "breached", "not finished"])
def test_what_is_not_proven_is_stamped_on_each_page(verdict: str | None, tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    other = None if verdict is None else proof.model_copy(update={"verdict": verdict})
    pages = text_of(bench_pdf(job, plan, size, other), tmp_path)
    assert len(pages) > 3
    for page in pages:
        assert "do not build or fit from this sheet" in page
        assert page.replace("\n", "").count("NOT PROVEN") >= 1
    proven = bench_pdf(job, plan, size, proof)
    assert proven != bench_pdf(job, plan, size, other)


@needs_poppler
def test_the_stamp_lies_across_the_page_as_ink(tmp_path: Path) -> None:
    """Counted in a picture of the page: the stamp's pale red is there, and not on a proven one."""
    job, plan, size, proof = shop()

    def reddish(pdf: bytes, name: str) -> int:
        (tmp_path / f"{name}.pdf").write_bytes(pdf)
        subprocess.run(
            ["pdftoppm", "-r", "30", "-f", "1", "-l", "1", str(tmp_path / f"{name}.pdf"),
             str(tmp_path / name)],
            check=True, capture_output=True,
        )  # fmt: skip
        picture = next(tmp_path.glob(f"{name}-*.ppm")).read_bytes()
        header, _, rest = picture.partition(b"\n255\n")
        assert header.startswith(b"P6")
        return sum(
            1
            for k in range(0, len(rest) - 2, 3)
            if rest[k] > 200 and 150 < rest[k + 1] < 225 and rest[k] - rest[k + 1] > 25
        )

    assert reddish(bench_pdf(job, plan, size, None), "un") > 1000
    assert reddish(bench_pdf(job, plan, size, proof), "ok") < 300


def test_same_bytes_every_time_and_only_then() -> None:
    job, plan, size, proof = shop()
    first = bench_pdf(job, plan, size, proof)
    assert (
        hashlib.sha256(first).digest() == hashlib.sha256(bench_pdf(job, plan, size, proof)).digest()
    )
    letter = bench_pdf(job, plan, size, proof, paper="us-letter")
    assert letter != first
    noted = WholeJob.model_validate(job.model_dump(by_alias=True) | {"notes": "one word more"})
    assert bench_pdf(noted, plan, size, proof) != first
    assert b"CreationDate" not in first


@needs_poppler
def test_hostile_words_are_printed_and_not_run(tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    evil = '#panic("run") *bold* $x$ = Head\n#import "x.typ" @ref <label> \\ `raw` // no'
    data = job.model_dump(by_alias=True)
    data |= {"notes": evil, "customer": "#{1/0} ] ) }"}
    data["unit"]["name"] = "#[*Unit*]"
    data["vehicle"]["circuits"][2]["plug"] = "#plug *8*-way $"
    data["vehicle"]["circuits"][2]["known"]["by"] = "#let d = 1"
    nasty = WholeJob.model_validate(data)
    said = in_one_line(text_of(bench_pdf(nasty, plan, size, proof), tmp_path))
    assert '#panic("run") *bold* $x$ = Head #import "x.typ" @ref <label> \\ `raw` // no' in said
    assert "#{1/0} ] ) }" in said
    assert "#[*Unit*]" in said
    assert "#plug *8*-way $" in said
    assert "#let d = 1" in said


@needs_poppler
def test_a_bare_wiring_gets_its_checks_too(tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    bare = Plan(format="startwright/plan/1", job=job.id, wiring=plan.wiring)
    said = in_one_line(text_of(bench_pdf(job, bare, size, proof), tmp_path))
    assert "Hold the brake pedal down battery voltage (12 V and more)" in said
    assert said.count("The engine turns now") >= 5


@needs_poppler
def test_a_breach_is_told_and_its_runs_are_marked(tmp_path: Path) -> None:
    job, plan, _, _ = shop("plain")
    runs = [r for r in plan.wiring.runs if "unit.hood_in" not in r.ends]
    broken = plan.model_copy(update={"wiring": plan.wiring.model_copy(update={"runs": runs})})
    proof = prove(job, broken.wiring)
    assert proof.verdict == "breached"
    said = in_one_line(text_of(bench_pdf(job, broken, None, proof), tmp_path))
    assert "BROKEN" in said
    assert "NOT PROVEN · BREACHED" in said
    trace = next(r.trace for r in proof.rules if r.holds is False)
    assert trace in said
    drawing = write_sheets(job, broken, None, proof, tmp_path / "out")[0].read_text("utf-8")
    assert 'class="run guilty"' in drawing


@needs_poppler
def test_page_sizes(tmp_path: Path) -> None:
    job, plan, size, proof = shop("plain")
    for paper, shown in (("a4", "595.276 x 841.89"), ("us-letter", "612 x 792")):
        file = tmp_path / f"{paper}.pdf"
        file.write_bytes(bench_pdf(job, plan, size, proof, paper=paper))  # type: ignore[arg-type]
        run = subprocess.run(["pdfinfo", str(file)], capture_output=True, text=True, check=True)
        assert shown in run.stdout


@needs_poppler
def test_what_does_not_hold_is_said(tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    failing = size.model_copy(update={"verdict": "fails", "worst": ["r4: far too thin"]})
    said = in_one_line(text_of(bench_pdf(job, plan, failing, proof), tmp_path))
    assert "does not hold" in said
    assert said.count("r4: far too thin") == 2


@pytest.mark.parametrize(
    "name",
    ["plain", "two-starters", "transponder", "two-starters-small-unit", "push-button", "vacuum"],
)
def test_every_line_to_try_is_what_the_proven_wiring_does(name: str) -> None:
    """The lines are played on the clocked world: what they promise must follow."""
    job, plan, _, proof = shop(name)
    assert proof.verdict == "proven"
    lines = try_lines(job, plan.wiring)
    assert len(lines) >= 9
    for line, why in lines:
        _, met = play(job, plan.wiring, line)
        assert met, line
        assert all(met), (line, why)


@pytest.mark.parametrize("name", ["plain", "two-starters", "transponder", "push-button"])
def test_the_engine_is_expected_while_the_starter_turns(name: str) -> None:
    job, plan, _, _ = shop(name)
    line = next(x for x, why in try_lines(job, plan.wiring) if "engine starts →" in x)
    waited = line.partition(" · engine starts")[0]
    assert play(job, plan.wiring, f"{waited} · engine starts → engine runs")[1] == [True]
    early = "command start · wait 1 s · engine starts → engine runs"
    assert play(job, plan.wiring, early)[1] == [False]


@pytest.mark.parametrize("name", ["plain", "transponder", "two-starters-small-unit"])
def test_joints_go_from_grounds_to_feeds(name: str) -> None:
    job, plan, _, _ = shop(name)
    groups = joints(read_web(job, plan.wiring))
    assert [g["kind"] for g in groups] == ["ground", "sense", "work", "feed"]
    numbers = [row["number"] for g in groups for row in g["rows"]]
    assert numbers == list(range(1, len(plan.wiring.runs) + 1))
    live = {c.id for c in job.vehicle.of("battery")}
    feeds = {row["id"] for row in groups[-1]["rows"]}
    for run in plan.wiring.runs:
        touches = any(t[8:] in live for t in run.ends) or any("unit.feed" in t for t in run.ends)
        assert (run.id in feeds) == touches


def test_a_line_to_try_catches_a_wiring_without_its_hood_switch() -> None:
    job, plan, _, _ = shop("plain")
    bare = [r for r in plan.wiring.runs if "unit.hood_in" not in r.ends]
    broken = plan.wiring.model_copy(update={"runs": bare})
    lines = [line for line, _ in try_lines(job, plan.wiring)]
    assert not all(all(play(job, broken, line)[1]) for line in lines)
    # what is not wired is not promised either
    assert not any("hood" in line for line, _ in try_lines(job, broken))


def test_a_line_to_try_catches_a_service_switch_that_does_nothing() -> None:
    case = sound.service_switch()
    job, wiring = case.job(), case.wiring()
    (line,) = [line for line, _ in try_lines(job, wiring) if line.startswith("service on")]
    assert play(job, wiring, line)[1] == [True, True]
    case.run("r_s2", "S1.b", "vehicle.batt")
    assert not all(play(job, case.wiring(), line)[1])
    plain = sound.plain()
    assert not any("service" in line for line, _ in try_lines(plain.job(), plain.wiring()))


def test_sheets_are_written_whole(tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    assert [p.name for p in write_sheets(job, plan, size, proof, tmp_path / "out")] == [
        "loom.svg",
        "bench.pdf",
    ]
    made = write_sheets(job, plan, size, proof, tmp_path / "out", customer=True)
    assert [p.name for p in made] == ["loom.svg", "bench.pdf", "customer.pdf"]
    assert made[1].read_bytes() == bench_pdf(job, plan, size, proof)
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        "bench.pdf",
        "customer.pdf",
        "loom.svg",
    ]


def test_another_jobs_plan_is_refused_and_nothing_written(tmp_path: Path) -> None:
    job, plan, size, proof = shop()
    other = plan.model_copy(update={"job": "plain"})
    with pytest.raises(RecordError, match="plain"):
        write_sheets(job, other, size, proof, tmp_path / "out")
    assert not (tmp_path / "out").exists()
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordError, match="a folder"):
        write_sheets(job, plan, size, proof, tmp_path / "file")
    with pytest.raises(RecordError, match="a folder that cannot be made"):
        write_sheets(job, plan, size, proof, tmp_path / "file" / "below")
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


@needs_poppler
@pytest.mark.parametrize("name", ["plain", "two-starters", "two-starters-small-unit", "unmeasured"])
def test_the_box_to_tick_stands_on_the_page_of_its_caution(name: str, tmp_path: Path) -> None:
    pages = text_of(bench_pdf(*shop(name)), tmp_path)
    (caution,) = (p for p in pages if "before the first wire is bared" in p)
    assert "clock" in caution.split("before the first wire is bared")[1]


@needs_poppler
def test_the_sheet_talks_to_a_person_without_a_terminal(tmp_path: Path) -> None:
    said = in_one_line(text_of(bench_pdf(*shop()), tmp_path))
    assert "lock and unlock, driver's door first, lights flash" in said.replace("’", "'")
    assert " --" not in said
