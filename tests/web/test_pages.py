"""The app in a browser, as a fitter would go through it."""

import re

import pytest
from playwright.sync_api import expect


def job(opened, id="plain", **kind):
    page = opened(f"/job/{id}", **kind)
    expect(page.locator("#stamp")).not_to_be_empty()
    return page


def test_from_the_jobs_to_the_proof_and_the_sheet(opened):
    page = opened("/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Jobs on the bench")
    page.get_by_role("link", name="Corvane Tello").click()
    expect(page.locator("#stamp")).to_have_text("proven")
    expect(page.locator("#where .answer")).to_contain_text("nothing unmet")
    expect(page.locator("#hold .answer")).to_contain_text("holds")
    expect(page.locator("#safe .answer")).to_contain_text("every one visited")
    page.locator("#safe summary").first.click()
    expect(page.locator("#safe .rules").first).to_contain_text("crank-only-when-safe")
    page.locator("#build summary").first.click()
    address = page.get_by_role("link", name="Bench sheet, A4").get_attribute("href")
    sheet = page.request.get(page.url.split("/job/")[0] + address)
    assert sheet.status == 200
    assert sheet.headers["content-type"] == "application/pdf"
    assert sheet.body()[:5] == b"%PDF-"
    assert len(sheet.body()) > 10_000


def test_there_is_one_thing_to_do_next(opened):
    for id in ("plain", "manual", "two-starters"):
        page = job(opened, id)
        assert page.locator("#strip").get_by_role("link").count() == 1
        page.locator("#strip").get_by_role("link").focus()


def test_a_refused_job_says_why_and_what_would_open_a_way(opened):
    page = job(opened, "manual")
    expect(page.locator("#stamp")).to_have_text("no plan")
    where = page.locator("#where")
    expect(where.locator("li").first).to_be_visible()
    expect(where).to_contain_text("manual")
    expect(where.get_by_role("heading", name="What would open a way")).to_be_visible()
    expect(page.locator("#build .answer")).to_have_text("no plan to ask about")
    page.get_by_role("link", name="See what would open a way").click()


def test_touching_a_wire_lights_its_row_and_its_slip(opened):
    page = job(opened)
    wire = page.locator("[data-loom] .run").nth(3)
    run = wire.get_attribute("id").removeprefix("run-")
    wire.dispatch_event("click")
    slip = page.locator("[data-slip]")
    expect(slip).to_be_visible()
    expect(slip.locator(".slip-head")).to_contain_text(run)
    expect(slip).to_contain_text("mm²")
    lit = page.locator(".row.is-touched, .slips .is-touched")
    assert lit.count() >= 1
    for n in range(lit.count()):
        assert run in lit.nth(n).get_attribute("data-touch").split()
    page.keyboard.press("Escape")
    expect(slip).to_be_hidden()
    expect(page.locator(".is-touched")).to_have_count(0)


def test_the_wires_can_be_walked_by_keyboard(opened):
    page = job(opened)
    stops = page.locator('[data-loom] .run[tabindex="0"]')
    expect(stops).to_have_count(1)
    stops.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(page.locator("[data-loom] .is-picked")).to_have_count(1)
    expect(page.locator("[data-slip]")).to_be_visible()
    first = page.locator("[data-slip] .slip-head").inner_text()
    page.keyboard.press("ArrowUp")
    assert page.locator("[data-slip] .slip-head").inner_text() != first
    expect(page.locator('[data-loom] .run[tabindex="0"]')).to_have_count(1)


def test_every_part_opens_from_the_keyboard(opened):
    page = job(opened)
    for slug in ("car", "wanted", "hold", "safe", "build", "at-the-car", "try"):
        summary = page.locator(f"#{slug} > details > summary")
        summary.focus()
        page.keyboard.press("Enter")
        expect(page.locator(f"#{slug} .inside")).to_be_visible()


def test_a_scenario_is_played(opened):
    page = job(opened)
    page.locator("#try > details > summary").click()
    page.get_by_label("What is done").fill(
        "command start; wait 3 s; hood open -> ignition off, starter off"
    )
    page.get_by_role("button", name="Play it").click()
    played = page.locator("#try-trace")
    expect(played.locator(".rules .is-ok")).to_have_count(2)
    played.locator(".moments-all > summary").click()
    moment = played.locator(".moments button").filter(has_text="engine turning").first
    moment.click()
    expect(moment).to_have_attribute("aria-current", "step")
    expect(played.locator(".run.at-battery").first).to_be_attached()


def test_a_line_that_cannot_be_read_says_so_in_place(opened):
    page = job(opened)
    page.locator("#try > details > summary").click()
    page.get_by_label("What is done").fill("bonnet open")
    page.get_by_role("button", name="Play it").click()
    expect(page.locator("#try-trace .wrong")).to_contain_text("bonnet")
    expect(page.locator("#stamp")).to_have_text("proven")


def test_a_torn_file_is_shown_with_what_is_wrong(opened):
    page = opened("/")
    card = page.locator(".card.is-bad")
    expect(card).to_contain_text("torn.yaml")
    expect(card).to_contain_text("Expected")


def test_without_scripts_everything_still_answers(opened):
    page = opened("/job/plain", script=False)
    for _ in range(40):
        if page.locator("#stamp").inner_text():
            break
        page.reload()
    expect(page.locator("#stamp")).to_have_text("proven")
    page.locator("#try > details > summary").click()
    page.get_by_label("What is done").fill("command start -> engine runs")
    page.get_by_role("button", name="Play it").click()
    expect(page.locator("#try-trace ul.rules")).to_contain_text("engine runs")


@pytest.mark.parametrize("address", ["/", "/job/two-starters", "/size", "/which-wire", "/dangers"])
def test_nothing_runs_off_the_side(opened, address):
    page = opened(address, width=360, height=800)
    if address.startswith("/job/"):
        expect(page.locator("#stamp")).not_to_be_empty()
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    for width in (360, 768, 1440, 3840):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_page_prints_with_every_part_open(opened):
    page = job(opened)
    page.emulate_media(media="print")
    for slug in ("car", "hold", "safe", "build"):
        expect(page.locator(f"#{slug} .inside")).to_be_visible()
    expect(page.locator(".top")).to_be_hidden()
    for paper in ("A4", "Letter"):
        assert page.pdf(format=paper)[:5] == b"%PDF-"


def test_the_light_is_kept(opened):
    page = opened("/")
    page.get_by_role("button", name="Bay light").click()
    page.goto(page.url)
    assert page.evaluate("document.documentElement.dataset.light") == "dark"
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(11, 15, 18)"
    expect(page.get_by_role("button", name="Daylight")).to_be_visible()


def test_the_gallery_draws_each_danger_and_proves_it(opened):
    page = opened("/dangers")
    beast = page.locator("#open-hood")
    beast.scroll_into_view_if_needed()
    expect(beast.locator(".breach").first).to_contain_text("crank-only-when-safe")
    expect(beast.locator(".way-there").first).to_contain_text("hood open → starter on")
    expect(beast.locator(".run.guilty").first).to_be_attached()
    expect(page.locator("#nothing-wrong")).to_contain_text("Proven")
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(ids) == len(set(ids))


def test_a_proof_of_wires_nobody_measured_says_so_beside_the_stamp(opened):
    page = job(opened, "unmeasured")
    stamp = page.locator("#stamp")
    expect(stamp).to_have_class("stamp is-todo")
    left = page.locator("#strip").get_by_role("link").inner_text()
    expect(stamp).to_have_text(re.compile(f"proven as recorded; {left.split()[1]} wires not meas"))
    page.goto(page.url.split("/job/")[0])
    card = page.locator(".card", has_text="unmeasured")
    expect(card.locator(".card-line.is-todo")).to_contain_text("not measured yet")
    measured = job(opened, "plain").locator("#stamp")
    expect(measured).to_have_class("stamp is-ok")
    expect(measured).to_have_text("proven")
