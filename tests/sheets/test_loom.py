"""The SVG: one group for each run, true colours, the same bytes, safe with any text."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from sheets import wirings
from sheets.test_layout import clean
from startwright.records import Plan, RecordError, WholeJob, Wiring
from startwright.sheets import loom_svg
from startwright.sheets.colour import UNKNOWN
from startwright.sheets.layout import lay_out
from startwright.sheets.measure import PAPER, SCREEN
from startwright.sheets.palette import DARK, LIGHT
from startwright.sheets.strokes import stroke_px

SVG = "{http://www.w3.org/2000/svg}"


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def group(root: ET.Element, run: str) -> ET.Element:
    found = [g for g in root.iter(f"{SVG}g") if g.get("id") == f"run-{run}"]
    assert len(found) == 1
    return found[0]


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition of that name)."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    """Contrast ratio (WCAG 2.2, definition of that name)."""
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_each_run_is_a_group_with_a_title_that_tells_it() -> None:
    job, wiring = wirings.quill()
    root = parsed(loom_svg(job, wiring))
    for run in wiring.runs:
        g = group(root, run.id)
        assert g.get("tabindex") == "0"
        assert "run" in (g.get("class") or "").split()
        assert g.get("role")
    title = group(root, "r12").findtext(f"{SVG}title")
    assert title == ("r12: from K1 pin 87 to starter 2, brown, 1.5 mm² · 14 AWG, 0.2 m")
    title = group(root, "r5").findtext(f"{SVG}title") or ""
    assert "pink with white stripe" in title


def test_runs_are_drawn_in_their_insulation() -> None:
    job, wiring = wirings.quill()
    root = parsed(loom_svg(job, wiring))
    strokes = [p.get("stroke") for p in group(root, "r14").iter(f"{SVG}path")]
    assert "#008000" in strokes
    assert "#ffff00" in strokes
    none = Wiring.model_validate(
        {"format": "startwright/wiring/1", "runs": [
            {"id": "r1", "from": "unit.ign", "to": "vehicle.ign_1"}]}
    )  # fmt: skip
    unknown = group(parsed(loom_svg(job, none)), "r1")
    assert UNKNOWN in [p.get("stroke") for p in unknown.iter(f"{SVG}path")]
    assert "colour not known" in (unknown.findtext(f"{SVG}title") or "")


@pytest.mark.parametrize("size_mm2", [0.01, 0.1, 102.0, 103.5, 107.0, 113.0, 120.0, 121.0, 1e4])
def test_a_wire_of_any_size_is_drawn_and_named(size_mm2: float) -> None:
    """Metric always, AWG where there is one: 4/0 is sold as 103 mm² and measures 107."""
    job, _ = wirings.quill()
    one = Wiring.model_validate(
        {"format": "startwright/wiring/1", "runs": [
            {"id": "r1", "from": "unit.ign", "to": "vehicle.ign_1", "size_mm2": size_mm2}]}
    )  # fmt: skip
    title = group(parsed(loom_svg(job, one)), "r1").findtext(f"{SVG}title") or ""
    assert f"{size_mm2:g} mm²" in title
    assert ("AWG" in title) == (size_mm2 in (0.1, 102.0, 107.0))


def test_thicker_wire_is_drawn_thicker_but_inside_its_lane() -> None:
    widths = [stroke_px(s) for s in (0.35, 0.5, 1.0, 2.5, 4.0, 50.0)]
    assert widths == sorted(widths)
    assert widths[1] < widths[4]
    assert widths[-1] + 1.8 < min(SCREEN.pitch, PAPER.pitch)


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_every_insulation_and_word_stands_out_on_both_papers(palette: object) -> None:
    """WCAG 2.2, 1.4.3 (words 4.5:1) and 1.4.11 (the edge of a line 3:1)."""
    p = palette  # the edge carries what black on dark and white on light would lose
    assert contrast(p.edge, p.paper) >= 3  # type: ignore[attr-defined]
    for word in (p.ink, p.muted, p.guilty):  # type: ignore[attr-defined]
        assert contrast(word, p.paper) >= 4.5  # type: ignore[attr-defined]
    assert contrast(p.muted, p.panel) >= 4.5  # type: ignore[attr-defined]


def test_words_can_be_read_on_a_phone() -> None:
    job, wiring = wirings.quill()
    root = parsed(loom_svg(job, wiring))
    assert root.get("width") == root.get("viewBox", "").split()[2]
    assert min(float(t.get("font-size", "0")) for t in root.iter(f"{SVG}text")) >= 11


def test_lit_and_guilty_runs_are_marked_and_said() -> None:
    job, wiring = wirings.quill()
    root = parsed(loom_svg(job, wiring, lit=["r4"], guilty=["r3"]))
    assert "lit" in (group(root, "r4").get("class") or "").split()
    assert "guilty" in (group(root, "r3").get("class") or "").split()
    assert "live in this step" in (group(root, "r4").findtext(f"{SVG}title") or "")
    assert "breach" in (group(root, "r3").findtext(f"{SVG}title") or "")
    plain = group(root, "r5")
    assert [g.get("opacity") for g in plain.iter(f"{SVG}g") if g.get("class") == "wire"] == ["0.3"]


def test_links_lead_to_the_rows() -> None:
    job, wiring = wirings.small()
    root = parsed(loom_svg(job, wiring, links=True))
    assert [a.get("href") for a in root.iter(f"{SVG}a")] == [f"#row-{r.id}" for r in wiring.runs]


def test_an_unknown_run_to_mark_is_refused() -> None:
    job, wiring = wirings.small()
    with pytest.raises(RecordError, match="r99"):
        loom_svg(job, wiring, lit=["r99"])


@pytest.mark.parametrize(
    ("end", "said"),
    [("K9.30", "K9"), ("unit.nothing", "nothing"), ("vehicle.nothing", "nothing")],
)
def test_a_run_to_nowhere_is_refused(end: str, said: str) -> None:
    job, _ = wirings.small()
    wrong = wirings.wiring(f"r1 unit.ign {end} 1.0 RD")
    with pytest.raises(RecordError, match=said) as caught:
        loom_svg(job, wrong)
    assert "runs[0].to" in caught.value.where


@pytest.mark.parametrize("dark", [False, True])
def test_same_bytes_every_time(dark: bool) -> None:
    job, wiring = wirings.quill()
    assert loom_svg(job, wiring, dark=dark) == loom_svg(job, wiring, dark=dark)
    # read again from what was written, in another process's order of sets: still the same
    again = Wiring.model_validate_json(wiring.model_dump_json(by_alias=True))
    assert loom_svg(job, again, dark=dark) == loom_svg(job, wiring, dark=dark)


def test_dark_only_changes_colours() -> None:
    job, wiring = wirings.quill()

    def bare(svg: str) -> str:
        return re.sub(r"#[0-9a-f]{6}", "#", svg)

    assert bare(loom_svg(job, wiring)) == bare(loom_svg(job, wiring, dark=True))


def test_hostile_words_stay_words() -> None:
    job, wiring = wirings.small()
    data = job.model_dump(by_alias=True)
    evil = "</text><script>alert(1)</script>&\"'"
    data["unit"]["name"] = evil
    for circuit in data["vehicle"]["circuits"]:
        circuit["plug"] = evil
    root = parsed(loom_svg(WholeJob.model_validate(data), wiring))
    assert not list(root.iter(f"{SVG}script"))
    assert evil in [t.text for t in root.iter(f"{SVG}text")]


def test_long_and_broken_words_spoil_no_drawing() -> None:
    job, wiring = wirings.small()
    data = job.model_dump(by_alias=True)
    data["unit"]["name"] = "W" * 10_000
    for way in data["vehicle"]["places"]:
        for key in ("from", "to"):
            way[key] = way[key].replace("steering column", "x\x07\x00\n" * 2_000)
    for circuit in data["vehicle"]["circuits"]:
        circuit["plug"] = "\x1b[31m" + "plug " * 1_900
        if circuit["place"] == "steering column":
            circuit["place"] = "x\x07\x00\n" * 2_000
    nasty = WholeJob.model_validate(data)
    clean(lay_out(nasty, wiring))
    root = parsed(loom_svg(nasty, wiring))
    assert float(root.get("width", "0")) < 2500


def test_cut_circuits_have_two_ends() -> None:
    job, _ = wirings.small()
    cut = wirings.wiring(
        "r1 vehicle.starter_1.source unit.ign 2.5 RD\nr2 unit.start vehicle.starter_1.load 2.5 BN",
        cuts=["starter_1"],
    )
    texts = [t.text for t in parsed(loom_svg(job, cut)).iter(f"{SVG}text")]
    assert "starter 1, source side" in texts
    assert "starter 1, load side" in texts


def test_plans_of_the_shop_are_drawn() -> None:
    from startwright.plan import plan

    for name in ("plain", "two-starters", "transponder", "two-starters-small-unit"):
        job = wirings.job(name)
        made = plan(job)
        wiring = made.wiring if isinstance(made, Plan) else None
        assert wiring is not None
        root = parsed(loom_svg(job, wiring))
        assert len([g for g in root.iter(f"{SVG}g") if (g.get("id") or "").startswith("run-")]) == (
            len(wiring.runs)
        )


def test_the_picture_in_the_docs_is_what_this_version_draws() -> None:
    """Where this fails on purpose, write the picture anew from the wiring beside it."""
    folder = Path(__file__).parents[2] / "docs" / "pictures"
    wiring = Wiring.model_validate_json((folder / "loom.wiring.json").read_text("utf-8"))
    drawn = loom_svg(wirings.job("two-starters-small-unit"), wiring)
    assert (folder / "loom.svg").read_text("utf-8") == drawn
