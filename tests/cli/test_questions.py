"""The questions on the invented shop, with the real engines."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from startwright.example import path as shop
from startwright.records import Stock
from startwright.records.read import parse, read, read_plan
from startwright.records.schema import shipped

# -- plan -----------------------------------------------------------------------------------------


def test_a_plan_is_made_sized_proven_and_drawn(startwright, tmp_path: Path) -> None:
    """The way through: each verb takes what the one before it put out."""
    job = shop() / "jobs" / "plain.yaml"
    made = startwright("plan", job, "--json")
    assert made.status == 0
    jsonschema.validate(made.json, shipped("plan"))
    file = tmp_path / "plan.json"
    file.write_text(made.out)
    sized = startwright("size", file, "--job", job, "--json")
    assert (sized.status, sized.json["verdict"]) == (0, "holds")
    jsonschema.validate(sized.json, shipped("size"))
    proven = startwright("prove", file, "--job", job, "--json")
    assert (proven.status, proven.json["verdict"]) == (0, "proven")
    jsonschema.validate(proven.json, shipped("proof"))
    drawn = startwright("sheets", file, "--job", job, "--out", tmp_path / "out", "--json")
    assert (drawn.status, drawn.json["proof"]) == (0, "proven")
    assert [Path(f).name for f in drawn.json["files"]] == ["loom.svg", "bench.pdf"]
    assert (tmp_path / "out" / "bench.pdf").read_bytes()[:5] == b"%PDF-"


def test_the_written_plan_is_the_printed_one(startwright, tmp_path: Path) -> None:
    file = tmp_path / "plan.yaml"
    made = startwright("plan", "jobs/two-starters.yaml", "--out", file, "--json")
    assert made.status == 0
    assert read_plan(file) == parse(made.out, "x.json", "plan")


def test_the_same_plan_every_time(startwright, planned) -> None:
    again = startwright("plan", "jobs/transponder.yaml", "--json")
    assert {**again.json, "status": again.status} == planned("transponder")


def test_a_plan_for_people(startwright, planned) -> None:
    made = startwright("plan", "jobs/two-starters-small-unit.yaml")
    assert made.status == 0
    first, *lines = made.out.splitlines()
    assert first.startswith("plan for two-starters-small-unit: it holds, proven, ")
    wiring = planned("two-starters-small-unit")["wiring"]
    rows = [line.split() for line in lines if "→" in line and "from" not in line]
    assert sorted(row[1] for row in rows) == sorted(run["id"] for run in wiring["runs"])
    assert [int(row[0]) for row in rows] == list(range(1, len(rows) + 1))
    text = "\n".join(lines)
    assert text.index("ground.") < text.index("unit.brake_in") < text.index("unit.start ")
    assert text.index("unit.start ") < text.rindex("unit.feed_1")
    assert all(part["id"] in text for part in wiring["parts"])


def test_alternatives(startwright, tmp_path: Path) -> None:
    file = tmp_path / "plan.json"
    made = startwright(
        "plan", "jobs/two-starters.yaml", "--alternatives", 2, "--out", file, "--json"
    )
    assert made.status == 0
    told = made.json["alternatives"]
    assert 1 <= len(told) <= 2
    assert all(one["differs"] for one in told)
    assert json.loads(file.read_text()) == made.json
    sized = startwright("size", file, "--job", "jobs/two-starters.yaml", "--json")
    assert sized.json["verdict"] == "holds"


def test_a_job_that_is_refused(startwright) -> None:
    refused = startwright("plan", "jobs/manual.yaml", "--json")
    assert refused.status == 1
    assert refused.json["format"] == "startwright/no-plan/1"
    assert any("manual" in reason for reason in refused.json["reasons"])
    assert refused.json["resolve"]
    people = startwright("plan", "jobs/manual.yaml")
    assert people.status == 1
    assert people.out.startswith("no plan for manual\n- ")
    assert "What would open a way:" in people.out


def test_nothing_is_written_for_a_refused_job(startwright, tmp_path: Path) -> None:
    startwright("plan", "jobs/manual.yaml", "--out", tmp_path / "plan.yaml")
    assert list(tmp_path.iterdir()) == []


# -- size -----------------------------------------------------------------------------------------


def test_a_wire_too_thin(startwright, tmp_path: Path, plain) -> None:
    thin = tmp_path / "thin.yaml"
    text = plain[0].read_text()
    assert "id: r8, from: unit.start, to: vehicle.starter_1, size_mm2: 2.5" in text
    thin.write_text(
        text.replace("vehicle.starter_1, size_mm2: 2.5", "vehicle.starter_1, size_mm2: 0.35")
    )
    sized = startwright("size", thin, *plain[1:], "--json")
    assert (sized.status, sized.json["verdict"]) == (1, "fails")
    people = startwright("size", thin, *plain[1:])
    assert people.status == 1
    assert people.out.startswith("fails\n- ")
    assert people.out.index("r8") < people.out.index("r14")


def test_sizing_says_what_it_was_asked(startwright, plain) -> None:
    cold = startwright("size", *plain, "--battery", -30, "--json")
    warm = startwright("size", *plain, "--battery", 20, "--json")
    assert cold.json["starting"]["battery_C"] == -30
    assert cold.json["starting"]["battery_V"] < warm.json["starting"]["battery_V"]


def test_why_a_number(startwright, plain) -> None:
    asked = startwright("size", *plain, "--why", "r6")
    assert asked.status == 0
    assert "IEC 60228:2004, Table 3, class 5: 2.5 mm², 7.98 Ω/km" in asked.out
    told = startwright("size", *plain, "--why", "r6", "--json").json
    assert (told["id"], told["size_mm2"]) == ("r6", 2.5)
    (run,) = [p for p in told["why"]["inputs"] if p["what"] == "run r6"]
    assert run["where"].endswith("wirings/plain.yaml:13 runs[5]")
    assert run["where"] in " ".join(asked.out.split())
    assert startwright("size", *plain, "--why", "r99", "--json").status == 2


ONE_WIRE = (
    "4 mm² (10 AWG), decided by drop: 0.25 V lost, 34 °C, fuse 20 A\n"
    "after 33 CFR 183.425 Table 5; IEC 60228; ABYC E-11; fuse makers' practice (75 %)\n"
)


def test_one_load_on_one_wire(startwright) -> None:
    asked = startwright("size", "--load", 12, "--length", 4)
    assert (asked.status, asked.out, asked.err) == (0, ONE_WIRE, "")
    answer = startwright("size", "--load", 12, "--length", 4, "--no-fuse", "--json").json
    assert answer["size_mm2"] == 4.0
    assert answer["fuse_A"] is None


@pytest.mark.parametrize(
    "arguments",
    [
        ("--load", 12),
        ("--length", 4),
        ("--load", 12, "--length", 4, "wirings/plain.yaml"),
        (),
        ("wirings/plain.yaml",),
        ("--load", -1, "--length", 4),
        ("--load", "nan", "--length", 4),
        ("--load", "much", "--length", 4),
    ],
)
def test_half_a_question(startwright, arguments) -> None:
    asked = startwright("size", *arguments, "--json")
    assert asked.status == 2
    assert set(asked.json) == {"error"}
    assert all(asked.json["error"].values())


# -- prove ----------------------------------------------------------------------------------------


def test_a_sound_wiring(startwright, plain) -> None:
    asked = startwright("prove", *plain, "--json")
    assert asked.status == 0
    jsonschema.validate(asked.json, shipped("proof"))
    assert asked.json["verdict"] == "proven"
    assert all(rule["holds"] is not False for rule in asked.json["rules"])


def test_a_breach_is_said_first(startwright, hoodless) -> None:
    asked = startwright("prove", *hoodless)
    assert asked.status == 1
    lines = asked.out.splitlines()
    assert lines[0].startswith("breached: ")
    assert lines[1] == "✗ crank-only-when-safe (hazard)"
    assert "hood open → starter on" in asked.out
    assert asked.out.index("✗ hood-ends") < asked.out.index("✓   brake-ends")


def test_a_breach_replays(startwright, hoodless, plain) -> None:
    """The line that a breach prints breaks nothing where the wiring is sound."""
    told = startwright("prove", *hoodless, "--json")
    broken = [rule for rule in told.json["rules"] if rule["holds"] is False]
    assert {rule["rule"] for rule in broken} == {"crank-only-when-safe", "hood-ends"}
    for rule in broken:
        assert startwright("prove", *hoodless, "--play", rule["trace"]).status == 0
        assert startwright("prove", *plain, "--play", rule["trace"]).status == 1


PLAYED = """\
holds: command start · wait 3 s · hood open → ignition off, unit idle
✓ ignition off
✓ unit idle
"""


def test_a_line_is_played(startwright, plain) -> None:
    line = "command start; wait 3 s; hood open -> ignition off, unit idle"
    asked = startwright("prove", *plain, "--play", line)
    assert asked.status == 0
    assert asked.out.startswith(PLAYED)
    told = startwright("prove", *plain, "--play", line, "--json").json
    assert told["holds"] is True
    assert [moment["at_s"] for moment in told["moments"]] == [0, 0, 1, 3, 3]
    assert "start" in told["moments"][3]["on"]
    assert told["moments"][-1]["on"] == []
    wrong = startwright("prove", *plain, "--play", "command start · wait 3 s → ignition off")
    assert wrong.status == 1
    assert wrong.out.startswith("does not hold: ")


@pytest.mark.parametrize("line", ["hood opn", "", "trunk open → starter off", "key run → moon on"])
def test_a_line_that_cannot_be_played(startwright, plain, line: str) -> None:
    asked = startwright("prove", *plain, "--play", line, "--json")
    assert asked.status == 2
    assert asked.json["error"]["expected"]


def test_why(startwright, hoodless) -> None:
    asked = startwright("prove", *hoodless, "--why", "hood-ends")
    assert asked.status == 1
    assert asked.out.startswith("hood-ends (hazard): breached\n")
    assert "source: common practice, no source\n" in asked.out
    assert "hood open" in asked.out.splitlines()[-1]
    told = startwright("prove", *hoodless, "--why", "hood-ends", "--json").json
    assert told["rule"] == "hood-ends"
    assert told["moments"][-1]["what"] == "hood open"
    (missing,) = [p for p in told["why"]["rests_on"] if p["missing"]]
    file, _, line = missing["where"].split()[0].rpartition(":")
    assert "hood_in" in Path(file).read_text().splitlines()[int(line) - 1]
    assert missing["where"] in " ".join(asked.out.split())
    cure = told["why"]["would_have_prevented"][0]
    assert cure["do"] == "join lead hood_in to circuit hood"
    assert cure["do"] in asked.out


def test_a_breached_wiring_shrinks(startwright, hoodless, plain, tmp_path: Path) -> None:
    file = tmp_path / "small.yaml"
    asked = startwright("prove", *hoodless, "--shrink", "hood-ends", "--out", file)
    assert asked.status == 1
    assert asked.out.startswith("hood-ends (hazard): still broken by 5 of 15 runs\n")
    assert "trace: command start · wait 1 s · hood open → ignition on\n" in asked.out
    told = startwright("prove", file, "--job", hoodless[2], "--json")
    assert "hood-ends" in {r["rule"] for r in told.json["rules"] if r["holds"] is False}
    worst = startwright("prove", file, "--job", hoodless[2], "--shrink", "worst", "--json").json
    assert (worst["rule"], worst["runs"], worst["left_out"]) == ("brake-ends", 5, [])
    assert worst["wiring"]["runs"] == told_runs(file)
    sound = startwright("prove", *plain, "--shrink", "worst", "--json")
    assert sound.status == 2
    assert startwright("prove", *plain, "--out", file, "--json").status == 2


def told_runs(file: Path) -> list[dict[str, object]]:
    from startwright.records.read import read_wiring
    from startwright.records.write import to_plain

    return to_plain(read_wiring(file))["runs"]


def test_why_a_rule_that_is_none(startwright, plain) -> None:
    asked = startwright("prove", *plain, "--why", "hood-end", "--json")
    assert asked.status == 2
    assert asked.json["error"]["expected"].startswith("hood-ends, or another of: ")


def test_too_many_states_is_a_verdict_of_its_own(startwright, plain) -> None:
    asked = startwright("prove", *plain, "--most-states", 10, "--json")
    assert asked.status == 3
    assert asked.json["verdict"] == "not finished"


def test_the_model_for_spin(startwright, plain, tmp_path: Path) -> None:
    file = tmp_path / "model.pml"
    asked = startwright("prove", *plain, "--export", file, "--json")
    assert (asked.status, asked.json["verdict"]) == (0, "proven")
    assert "active proctype" in file.read_text()
    nowhere = startwright("prove", *plain, "--export", tmp_path / "no" / "model.pml", "--json")
    assert nowhere.status == 2


def test_single_faults(startwright) -> None:
    wiring, job = (f"bestiary/nothing-wrong.{kind}.yaml" for kind in ("wiring", "job"))
    asked = startwright("prove", wiring, "--job", job, "--faults", "--json")
    assert asked.status == 0, "a sound wiring stays proven, whatever a fault would do"
    jsonschema.validate(asked.json, shipped("proof"))
    rank = ["hazard", "damage", "works", "none"]
    worst = [rank.index(fault["worst"]) for fault in asked.json["faults"]]
    assert worst == sorted(worst)
    faults = {fault["fault"]: fault for fault in asked.json["faults"]}
    assert "hood-ends" in faults["r_hood open"]["breaks"]
    assert faults["r_hood open"]["worst"] == "hazard"
    people = startwright("prove", wiring, "--job", job, "--faults")
    assert people.out.index("r_hood open") < people.out.index("r_start open")
    assert f"of {len(worst)} single faults do nothing" in people.out
    assert startwright("prove", wiring, "--job", job, "--json").json["faults"] is None


# -- sheets ---------------------------------------------------------------------------------------


def test_sheets_of_a_breached_wiring_are_printed_and_say_so(
    startwright, hoodless, tmp_path: Path
) -> None:
    asked = startwright("sheets", *hoodless, "--out", tmp_path, "--json")
    assert asked.status == 1
    assert asked.json["proof"] == "breached"
    assert (tmp_path / "loom.svg").read_text().startswith("<")


def test_the_failure_mode_sheet(startwright, tmp_path: Path) -> None:
    wiring, job = (f"bestiary/nothing-wrong.{kind}.yaml" for kind in ("wiring", "job"))
    asked = startwright("sheets", wiring, "--job", job, "--out", tmp_path, "--faults", "--json")
    assert [Path(f).name for f in asked.json["files"]][-1] == "failure-modes.pdf"
    assert (tmp_path / "failure-modes.pdf").read_bytes()[:5] == b"%PDF-"


def test_no_sheets_on_paper_that_is_none(startwright, plain, tmp_path: Path) -> None:
    asked = startwright("sheets", *plain, "--out", tmp_path, "--paper", "a3", "--json")
    assert asked.status == 2
    assert list(tmp_path.iterdir()) == []


# -- what is wrong with the input -----------------------------------------------------------------


@pytest.mark.parametrize("verb", ["size", "prove", "sheets"])
def test_a_run_to_nowhere(startwright, plain, tmp_path: Path, verb: str) -> None:
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text(plain[0].read_text().replace("unit.hood_in", "unit.bonnet_in"))
    asked = startwright(verb, wrong, *plain[1:], "--json")
    assert asked.status == 2
    assert "bonnet_in" in json.dumps(asked.json["error"])


def test_every_example_job_has_an_answer(planned) -> None:
    jobs = sorted((shop() / "jobs").glob("*.yaml"))
    assert {job.stem: planned(job.stem)["status"] for job in jobs} == {
        "manual": 1,
        "plain": 0,
        "push-button": 0,
        "transponder": 0,
        "two-starters": 0,
        "two-starters-small-unit": 0,
        "unmeasured": 0,
        "vacuum": 0,
    }


def test_the_example_shows_what_it_is_for(planned) -> None:
    """A flexible output, a relay, an interface: each job shows its own."""
    stock = read(shop() / "stock" / "shelf.yaml", "stock")
    assert isinstance(stock, Stock)

    def kinds(job: str) -> set[str]:
        return {stock.part(part["of"]).kind for part in planned(job)["wiring"].get("parts", ())}

    assert "relay" in kinds("two-starters-small-unit")
    assert "relay" not in kinds("two-starters")
    assert "interface" in kinds("transponder")
    assert {"relay", "diode", "interface"} <= kinds("push-button")
    assert {"relay", "resistor"} <= kinds("vacuum")
    assert {"relay", "interface"}.isdisjoint(kinds("plain"))
