"""What the page says can be read at the car: letters large enough, nothing squeezed or covered."""

import pytest
from playwright.sync_api import expect

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
    box = wire.locator("text").last.bounding_box()
    seen = roll.bounding_box()
    assert seen["x"] <= box["x"]
    assert box["x"] + box["width"] <= seen["x"] + seen["width"]


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
