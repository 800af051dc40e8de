"""What the page says can be read at the car: letters large enough, nothing squeezed or covered."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from startwright import sheets, web

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1440, "height": 900}
SIZES = pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])


def job(opened, id="two-starters", **size):
    page = opened(f"/job/{id}", **size)
    expect(page.locator("#stamp")).not_to_be_empty()
    page.evaluate("document.querySelectorAll('.part > details').forEach(d => d.open = true)")
    return page


def letters_px(page, drawing):
    """The smallest letters of a drawing, as they come out on the screen."""
    return page.locator(drawing).first.evaluate(
        """svg => Math.min(...[...svg.querySelectorAll('text')].map(
             t => parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a))"""
    )


@SIZES
def test_a_large_loom_rolls_rather_than_shrinks_beyond_reading(opened, size):
    page = job(opened, **size)
    assert letters_px(page, "#where .loom-roll > svg") >= 9.5
    page.goto(page.url.split("/job/")[0] + "/job/two-starters/trace?usual=start")
    assert letters_px(page, ".is-trace .loom-roll > svg") >= 9.5


def test_a_picked_run_rolls_into_sight_where_it_ends_in_the_car(opened):
    page = job(opened, **PHONE)
    roll = page.locator("#where .loom-roll")
    run = page.locator("#where .row [data-pick]").last
    run.click()
    wire = page.locator(f"#run-{run.inner_text().strip()}")
    expect(wire).to_have_class("run is-picked")
    boxes = [text.bounding_box() for text in wire.locator("text").all()]
    box = max(boxes, key=lambda b: b["x"] + b["width"])
    seen = roll.bounding_box()
    assert seen["x"] <= box["x"]
    assert box["x"] + box["width"] <= seen["x"] + seen["width"]


def test_the_loom_of_a_phone_begins_at_the_unit(opened):
    page = job(opened, **PHONE)
    roll = page.locator("#where .loom-roll")
    seen, unit = roll.bounding_box(), page.locator("#where .loom .unit").bounding_box()
    assert seen["height"] <= PHONE["height"]
    assert unit["y"] >= seen["y"]
    assert unit["y"] + unit["height"] <= seen["y"] + seen["height"]
    for run in (page.locator("#where .row [data-pick]").nth(n) for n in (0, -1)):
        run.click()
        wire = page.locator(f"#run-{run.inner_text().strip()}")
        boxes = [text.bounding_box() for text in wire.locator("text").all()]
        box = max(boxes, key=lambda b: b["x"] + b["width"])
        seen = roll.bounding_box()
        assert seen["y"] <= box["y"]
        assert box["y"] + box["height"] <= seen["y"] + seen["height"]


def test_a_rule_on_a_phone_takes_the_width_there_is(opened):
    page = job(opened, **PHONE)
    for rule in page.locator("#safe .rules > li").all()[:12]:
        wide = rule.bounding_box()["width"]
        for part in ("b", ":scope > small"):
            assert rule.locator(part).first.bounding_box()["width"] > 0.6 * wide


def test_a_table_that_is_rolled_keeps_the_name_of_the_row(opened):
    page = job(opened, **PHONE)
    table = page.get_by_role("region", name="Wires", exact=True)
    name = table.locator("tbody th").first
    before = name.bounding_box()["x"]
    table.evaluate("t => t.scrollLeft = 200")
    assert table.evaluate("t => t.scrollLeft") == 200
    assert abs(name.bounding_box()["x"] - before) < 1


def test_the_share_of_the_drop_is_of_the_volts_that_are_named(opened):
    page = opened("/size?load_A=10&length_m=3&max_drop_percent=3")
    lost = page.locator("#answer dd").first.inner_text()
    volts, share, system = (float(w) for w in re.findall(r"[\d.]+", lost))
    assert share == pytest.approx(100 * volts / system, abs=0.1)
    expect(page.locator("#answer .plain").first).to_contain_text(f"3 % of {system:g} V")


def test_the_line_for_good_is_named_beside_it_and_inside_the_picture(opened):
    """The words' place as drawn, by listening to the canvas."""
    for amps in (10, 60):
        page = opened("/size", **PHONE)
        page.add_init_script(
            """const say = CanvasRenderingContext2D.prototype.fillText;
            CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
              if (text.endsWith("for good")) {
                const wide = this.measureText(text).width;
                window.named = this.textAlign === "right" ? [x - wide, x] : [x, x + wide];
                window.align = this.textAlign;
                window.wide = this.canvas.width;
              }
              return say.apply(this, arguments);
            };"""
        )
        page.goto(page.url + f"?load_A={amps}&length_m=1")
        expect(page.locator("[data-picture][data-drawn]")).to_have_count(1)
        left, right = page.evaluate("window.named")
        assert page.evaluate("window.align") in ("left", "right")
        assert left >= 0
        assert right <= page.evaluate("window.wide")


def test_words_of_the_records_are_set_as_such(client):
    said = client.get("/job/manual").text
    assert "<code>manual_gearbox</code>" in said
    assert "`" not in said


def test_the_gallery_begins_with_a_way_to_each_danger(opened):
    page = opened("/dangers", **PHONE)
    ways = page.get_by_role("navigation", name="The dangers").get_by_role("link")
    assert ways.count() == page.locator(".beast").count()
    ways.last.click()
    expect(page.locator(".beast").last).to_be_in_viewport()


def test_cranking_volts_have_one_decimal_each(client, app):
    from startwright.records import SizeReport
    from startwright.web import figures

    shop = client.get("/api/jobs/plain/size?wait_s=60").json()
    table = figures.cold(SizeReport.model_validate(shop), app.state.folder.job("plain"))
    cells = [cell for row in table.rows for cell in row.cells]
    assert cells
    assert all(re.fullmatch(r"\d+\.\d V|–", cell) for cell in cells)
    assert table.heads == ["Battery at", "Battery", "Unit", "starter 1"]


@pytest.mark.parametrize(
    ("address", "bar", "stops"),
    [("/job/plain", ".job .strip", 120), ("/meter/ostrel-pindle", ".pad", 34)],
)
def test_what_has_the_focus_is_not_behind_the_bar_of_a_phone(opened, address, bar, stops):
    """WCAG 2.2, 2.4.11."""
    page = opened(address, **PHONE)
    if "job" in address:
        expect(page.locator("#stamp")).not_to_be_empty()
        page.evaluate("document.querySelectorAll('.part > details').forEach(d => d.open = true)")
    seen = 0
    for _ in range(stops):
        page.keyboard.press("Tab")
        covered = page.evaluate(
            """bar => {
              const at = document.activeElement, over = document.querySelector(bar);
              if (at === document.body || over.contains(at) || at.closest('svg')) return null;
              const box = at.getBoundingClientRect(), lid = over.getBoundingClientRect();
              return box.top >= lid.top && box.bottom <= lid.bottom;
            }""",
            bar,
        )
        seen += covered is not None
        assert not covered, page.evaluate("document.activeElement.outerHTML.slice(0, 120)")
    assert seen > stops // 3


def test_the_slip_of_a_touched_run_ends_above_the_bar_of_a_phone(opened):
    page = job(opened, **PHONE)
    page.locator("#where .row [data-pick]").nth(2).click()
    page.locator("#where .loom-roll").evaluate("e => e.scrollIntoView({block: 'start'})")
    slip = page.locator("[data-slip]").bounding_box()
    assert slip["y"] + slip["height"] <= page.locator("#strip").bounding_box()["y"]
    expect(page.locator("[data-slip] .slip-why").first).to_have_text(re.compile(r"^[A-Z].*\.$"))


def test_what_a_breach_unfolds_stays_within_a_phone(opened):
    page = opened("/dangers", **PHONE)
    beast = page.locator("#deaf-pedal")
    beast.scroll_into_view_if_needed()
    beast.get_by_text("Why, and what would have prevented it").first.click()
    beast.get_by_text("The fewest runs that still break it").first.click()
    beast.get_by_role("link", name="Step through it on the loom").first.click()
    expect(beast.locator(".breach .is-trace")).to_have_count(1)
    expect(beast.locator(".is-trace")).to_have_count(2)
    expect(beast.get_by_text("What put it to the test").first).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    for text in beast.locator("p, dd, li, code").all():
        box = text.bounding_box()
        if box and not text.evaluate("e => e.closest('.scroll, .loom-roll, .unseen') !== null"):
            assert box["x"] + box["width"] <= PHONE["width"], text.inner_text()


LISTEN = """
window.said = [];
const say = CanvasRenderingContext2D.prototype.fillText;
CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
  const wide = this.measureText(text).width;
  window.said.push([text, this.textAlign === "left" ? x + wide : x, this.canvas.width]);
  return say.apply(this, arguments);
};
"""


def test_what_happens_late_in_a_line_is_named_in_full(opened):
    page = opened("/", **PHONE)
    page.add_init_script(LISTEN)
    line = "command start · wait 7 s · brake press"
    page.goto(page.url + f"job/plain/trace?line={line}")
    expect(page.locator("[data-strip][data-drawn]").first).to_be_visible()
    said = {text: (ends, wide) for text, ends, wide in page.evaluate("window.said")}
    ends, wide = said["brake press"]
    assert ends <= wide
    assert "command start" in said


SECOND_WORDS = ("hand brake", "handbrake", "bonnet", "gear lever", "tachometer", "earth wire")


def test_pages_and_sheets_have_one_word_for_one_thing():
    for folder, kinds in ((web, "templates/**/*.html"), (sheets, "templates/*.typ")):
        for file in Path(folder.__file__).parent.glob(kinds):
            said = file.read_text("utf-8").lower()
            assert [word for word in SECOND_WORDS if word in said] == [], file.name


@pytest.mark.parametrize("sheet", ["bench", "customer", "failure-modes"])
def test_each_sheet_comes_on_either_paper_and_on_no_other(client, sheet):
    for paper in ("a4", "letter"):
        answer = client.get(f"/job/plain/{sheet}.pdf?paper={paper}")
        assert answer.status_code == 200
        assert answer.content[:5] == b"%PDF-"
        assert f"plain-{sheet}.pdf" in answer.headers["content-disposition"]
    wrong = client.get(f"/job/plain/{sheet}.pdf?paper=a3")
    assert wrong.status_code == 422
    assert "a4 or letter" in wrong.text


def test_the_build_part_leads_to_the_sheets_of_bench_and_customer(opened):
    page = job(opened, "plain", **PHONE)
    for sheet in ("Bench sheet", "Customer's sheet"):
        for paper in ("A4", "Letter"):
            way = page.locator("#build").get_by_role("link", name=f"{sheet}, {paper}")
            assert page.request.get(page.url.split("/job/")[0] + way.get_attribute("href")).ok


def test_nothing_carries_so_much_of_a_dash(client):
    for name in ("plain", "two-starters-small-unit", "transponder"):
        assert " of –" not in client.get(f"/job/{name}").text
        client.get(f"/api/jobs/{name}/size?wait_s=60")
        assert " of –" not in client.get(f"/job/{name}").text
