"""A played line on the page: stepped through on the loom, and its volts over the seconds."""

import json
import re

import pytest
from playwright.sync_api import expect
from web.test_access import axe

from startwright.prove import prove
from startwright.prove.timeline import timeline
from startwright.prove.usual import NAMES, usual_line
from startwright.records import Wiring
from startwright.records.reports import Timeline
from startwright.web import bestiary
from startwright.web.trace import asked

BREACH = "/dangers/open-hood/trace?rule=crank-only-when-safe"
SIGNS = {"battery": "+", "ground": "−", "between": "·", "open": "·", "broken": "✕"}


def opened_trace(opened, address, **kind):
    page = opened(address, **kind)
    expect(page.locator("[data-trace][data-ready]")).to_have_count(1)
    return page


def told(page):
    return page.locator("[data-says]").inner_text()


def classes(page, slot, run):
    return page.locator(f"#{slot}-run-{run}").get_attribute("class").split()


# ---- the loom, step by step ---------------------------------------------------------------------


def test_every_step_shows_each_run_as_the_network_has_it(opened):
    page = opened_trace(opened, BREACH)
    job, wiring = bestiary.beast("open-hood")
    rule = next(r for r in prove(job, wiring).rules if r.rule == "crank-only-when-safe")
    found = timeline(job, wiring, rule.trace)
    slider = page.locator("[data-step]")
    slider.focus()
    for k, moment in enumerate(found.moments):
        assert slider.input_value() == str(k + 1)
        assert f"{k + 1} of {len(found.moments)}" in told(page)
        assert moment.what in told(page)
        for run in found.runs:
            now = classes(page, "breach", run.id)
            assert f"at-{run.levels[k]}" in now, (k, run.id)
            assert sum(c.startswith("at-") for c in now) == 1
            moved = k > 0 and run.levels[k] != run.levels[k - 1]
            assert ("is-moved" in now) == moved
            assert ("guilty" in now) == (run.id in rule.runs)
        page.keyboard.press("ArrowRight")
    assert rule.runs
    assert len({tuple(r.levels) for r in found.runs}) > 2


def test_a_breach_is_walked_by_the_keys_alone(opened):
    page = opened_trace(opened, BREACH, width=360, height=800)
    page.locator("[data-roll]").focus()
    page.keyboard.press("Shift+Tab")  # a step's keys, none skipped: the last, on, then the slider
    expect(page.locator('[data-go="last"]')).to_be_focused()
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Shift+Tab")
    slider = page.locator("[data-step]")
    expect(slider).to_be_focused()
    page.keyboard.press("End")
    assert "4 of 4" in told(page)
    assert "hood open" in told(page)
    page.keyboard.press("ArrowRight")
    assert "4 of 4" in told(page)
    page.keyboard.press("ArrowLeft")
    assert "3 of 4" in told(page)
    page.keyboard.press("Home")
    assert "1 of 4" in told(page)
    assert slider.get_attribute("aria-valuetext").startswith("1 of 4, 0 s")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # the button: a step on
    assert "2 of 4" in told(page)
    page.keyboard.press("End")
    assert "4 of 4" in told(page)
    expect(page.locator('[data-go="on"]')).to_have_attribute("aria-disabled", "true")


def test_colour_is_not_the_only_sign(opened):
    page = opened_trace(opened, BREACH)
    page.locator("[data-step]").focus()
    page.keyboard.press("End")
    job, wiring = bestiary.beast("open-hood")
    found = timeline(job, wiring, page.locator(".way-there code").inner_text())
    for run in found.runs:
        words = page.locator(f"#breach-run-{run.id} text").all_text_contents()
        mark = "! " if run.id == "r_start" else ""
        level = run.levels[-1]
        assert f"{mark}{run.id} {SIGNS[level]}" in words
        if run.volts_V[-1] is not None:
            assert f"{mark}{run.id} {run.volts_V[-1]:.1f} V" in words
    dashes = {
        level: page.evaluate(
            "l => getComputedStyle(document.querySelector(`.is-trace .run.at-${l} .halo`))"
            ".strokeDasharray",
            level,
        )
        for level in ("battery", "ground", "open")
    }
    assert len(set(dashes.values())) == 3, dashes
    assert page.locator(".guilt").count() == 1


def test_a_relay_is_seen_and_heard_to_pull_in(opened):
    page = opened_trace(opened, "/job/two-starters-small-unit/trace?usual=start")
    data = json.loads(page.locator("[data-trace-of]").text_content())
    (relay,) = data["coils"]
    pulled = data["coils"][relay]
    assert set(pulled) == {True, False}
    box = page.locator(f"#try-part-{relay}")
    page.locator("[data-step]").focus()
    for k, on in enumerate(pulled):
        assert ("is-pulled" in box.get_attribute("class").split()) == on
        if k and on != pulled[k - 1]:
            assert f"{relay} {'pulls in' if on else 'lets go'}" in told(page)
        page.keyboard.press("ArrowRight")


def test_what_is_told_is_read_out_once_and_whole(opened):
    page = opened_trace(opened, "/job/plain/trace?usual=start")
    says = page.locator("[data-says]")
    assert says.get_attribute("aria-live") == "polite"
    assert says.get_attribute("aria-atomic") == "true"
    page.locator('[data-go="on"]').click()
    page.locator('[data-go="on"]').click()
    text = told(page)
    assert "3 of 5" in text
    assert "the unit in step settle" in text
    assert re.search(r"Now at battery: r\d+ accessory 1, r\d+ ignition 1\.", text)


@pytest.mark.parametrize("calm", [True, False])
def test_motion_is_left_out_where_it_is_not_wanted(browser, base, calm):
    context = browser.new_context(reduced_motion="reduce" if calm else "no-preference")
    page = context.new_page()
    page.goto(base + "/job/plain/trace?usual=start")
    expect(page.locator("[data-trace][data-ready]")).to_have_count(1)
    page.locator('[data-go="on"]').click()
    expect(page.locator(".run.is-moved")).not_to_have_count(0)
    name = page.evaluate(
        "getComputedStyle(document.querySelector('.run.is-moved .halo')).animationName"
    )
    assert (name == "none") == calm
    context.close()


def test_on_a_phone_what_changes_comes_into_sight(opened):
    page = opened_trace(opened, "/job/plain/trace?usual=brake-stop", width=360, height=800)
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= 360
    page.locator("[data-step]").focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
        seen = page.evaluate(
            """() => {
              const roll = document.querySelector('[data-roll]').getBoundingClientRect();
              return [...document.querySelectorAll('.run.is-moved')].some((run) => {
                return [...run.querySelectorAll('text')].some((text) => {
                  const box = text.getBoundingClientRect();
                  return box.right > roll.left + 20 && box.left < roll.right - 20
                    && box.bottom <= roll.bottom && box.top >= roll.top;
                });
              });
            }"""
        )
        assert seen
    bar = page.locator("[data-stepper]").bounding_box()
    assert bar["width"] <= 360
    for button in page.locator("[data-go]").all():
        box = button.bounding_box()
        assert min(box["width"], box["height"]) >= 24  # WCAG 2.2 target size


def test_a_wire_that_the_line_breaks_is_marked(opened):
    page = opened(
        "/job/plain?line=command+start+%C2%B7+wait+5+s+%C2%B7+fault+r9+open+%C2%B7+wait+1+s"
    )
    expect(page.locator("#try-trace [data-trace][data-ready]")).to_have_count(1)
    page.locator("#try-trace [data-step]").focus()
    page.keyboard.press("End")
    assert "guilty" in classes(page, "try", "r9")
    assert "Takes part: r9" in told(page)


# ---- volts over the seconds ---------------------------------------------------------------------


def plan_of(client, id="plain"):
    return Wiring.model_validate(client.get(f"/api/jobs/{id}/plan").json()["wiring"])


def test_the_strips_read_what_the_timeline_has(opened, app, client):
    page = opened_trace(opened, "/job/plain/trace?usual=start")
    job = app.state.folder.job("plain")
    wiring = plan_of(client)
    found = timeline(job, wiring, usual_line(job, wiring, "start").line)
    moving = [t for t in found.traces if t.kind in ("rail", "circuit") and t.moves]
    strips = page.locator(".strips > .strip-list > .strip-line")
    expect(strips).to_have_count(len(moving))
    expect(page.locator("[data-strip][data-drawn] canvas")).to_have_count(len(moving))
    page.locator("[data-step]").focus()
    for k in range(len(found.moments)):
        for n, trace in enumerate(moving):
            assert strips.nth(n).locator("[data-now]").inner_text() == f"{trace.volts_V[k]:.2f} V"
            assert strips.nth(n).inner_text().startswith(trace.name.capitalize())
        page.keyboard.press("ArrowRight")


def over(page, n=0):
    return page.locator(".strip-line .u-over").nth(n)


def test_a_pointer_reads_volts_and_a_press_goes_to_the_step(opened):
    page = opened_trace(opened, "/job/plain/trace?usual=start")
    plot = over(page)
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    scale = box["width"] / (7 * 1.04)  # 7 s and a lead of 4 % before it
    at = lambda s: (box["x"] + scale * (s + 0.28), box["y"] + 30)  # noqa: E731
    now = page.locator(".strip-line [data-now]").first
    for second, volts in ((2.0, "12.60 V"), (3.4, "9.00 V"), (6.0, "14.40 V")):
        page.mouse.move(*at(second))
        expect(now).to_have_text(volts)
    page.mouse.click(*at(3.4))
    assert "engine turning" in told(page)
    page.mouse.move(5, 5)
    expect(now).to_have_text("9.00 V")


def test_a_closer_look_by_button_and_by_drag(opened):
    page = opened_trace(opened, "/job/plain/trace?usual=start")
    plot = over(page)
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    left = (box["x"] + 3, box["y"] + 30)
    now = page.locator(".strip-line [data-now]").first
    page.get_by_role("button", name="Closer").click()
    page.get_by_role("button", name="Closer").click()
    page.get_by_role("button", name="Later →").click()
    page.mouse.move(*left)
    expect(now).to_have_text("9.00 V")  # 3 s and some now stand where 0 s stood
    page.get_by_role("button", name="All").click()
    page.mouse.move(left[0] + 5, left[1])
    expect(now).to_have_text("12.60 V")
    scale = box["width"] / (7 * 1.04)
    page.mouse.move(box["x"] + scale * 5.48, box["y"] + 30)
    page.mouse.down()
    page.mouse.move(box["x"] + scale * 6.98, box["y"] + 30, steps=4)
    page.mouse.up()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 30)
    expect(now).to_have_text("14.40 V")  # not the 9.00 V that stood there before
    assert "1 of 5" in told(page)  # a drag is no press


def test_leads_and_coils_are_drawn_when_they_are_opened(opened):
    page = opened_trace(opened, "/job/two-starters-small-unit/trace?usual=failed-start")
    more = page.locator(".strip-more")
    more.locator("summary").click()
    expect(more.locator("[data-drawn] canvas").first).to_be_visible()
    assert more.get_by_text("Coil of K1").count() == 1
    assert (
        page.locator(".strip-plot")
        .first.get_attribute("aria-label")
        .startswith("battery rail over time: 12.6 V from 0 s, 9.0 V from 3 s, 12.6 V from 7 s")
    )


def test_the_cold_changes_the_sag(opened):
    page = opened_trace(opened, "/job/plain/trace?usual=start")
    page.get_by_label("While it cranks").select_option("-30")
    expect(page.locator(".strips .note").last).to_contain_text("At -30 °C")
    expect(page.locator("[data-trace][data-ready]")).to_have_count(1)
    data = json.loads(page.locator("[data-trace-of]").text_content())
    assert min(data["traces"][0]["volts"]) < 8.9
    assert page.get_by_label("While it cranks").input_value() == "-30"


# ---- on the job's own page ----------------------------------------------------------------------


def test_the_job_shows_its_seconds_where_it_says_that_it_is_safe(opened):
    page = opened("/job/plain")
    expect(page.locator("#stamp")).not_to_be_empty()
    page.locator("#safe > details > summary").click()
    section = page.locator("#safe-trace")
    section.scroll_into_view_if_needed()
    expect(section.locator("h4").first).to_have_text("A start")
    for title in ("A start that fails", "The driver takes over", "The brake stops it"):
        page.get_by_role("link", name=title, exact=True).click()
        expect(section.locator("h4").first).to_have_text(title)
        expect(section.locator("[data-trace][data-ready] canvas").first).to_be_visible()
        assert section.locator(".rules .is-bad").count() == 0


def test_a_danger_is_stepped_through_where_it_is_told(opened):
    page = opened("/dangers/deaf-pedal")
    page.get_by_role("link", name="Step through it on the loom").first.click()
    trace = page.locator("#deaf-pedal-1-trace")
    expect(trace.locator("[data-trace][data-ready]")).to_have_count(1)
    expect(trace.locator(".rules .is-bad")).to_contain_text("and must not")
    trace.locator("[data-step]").focus()
    page.keyboard.press("End")
    assert "command start" in told(page)


@pytest.mark.parametrize(
    ("address", "size"),
    [
        ("/job/plain/trace?usual=takeover", (360, 800, "light")),
        (BREACH, (1440, 900, "dark")),
    ],
)
def test_axe_finds_nothing(opened, address, size):
    width, height, scheme = size
    page = opened_trace(opened, address, width=width, height=height, scheme=scheme)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.locator("[data-step]").focus()
    page.keyboard.press("End")
    assert axe(page) == []


def test_without_a_script_every_step_is_there_in_words_and_volts(opened):
    page = opened(BREACH, script=False)
    expect(page.locator(".moments li")).to_have_count(4)
    rows = page.locator(".moments-all tbody tr")
    expect(rows).to_have_count(4)
    expect(rows.last).to_contain_text("9.00 V")
    expect(page.locator("[data-stepper]")).to_be_hidden()


# ---- asked for wrongly, and by programs ---------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("usual=never", "no line is called"),
        ("rule=start-ends", "no way to step through"),
        ("rule=moon", "no way to step through"),
        ("line=command+start&slot=%3Cb%3E", "the place"),
        ("line=command+start&battery=cold", "degrees Celsius"),
    ],
)
def test_what_cannot_be_asked_is_refused(client, query, says):
    answer = client.get(f"/job/plain/trace?{query}")
    assert answer.status_code == 422
    assert says in answer.text


def test_a_line_that_cannot_be_played_says_so_in_place(client):
    answer = client.get("/job/plain/trace?line=bonnet+open", headers={"hx-request": "true"})
    assert answer.status_code == 200
    assert "bonnet" in answer.text
    assert "data-trace" not in answer.text


@pytest.mark.parametrize("name", NAMES)
def test_the_timeline_for_programs(client, name):
    answer = client.get("/api/jobs/plain/timeline", params={"line": name})
    assert Timeline.model_validate(answer.json()).holds
    cold = {"line": name, "battery_C": -20}
    told = client.get("/api/jobs/plain/timeline", params=cold).json()
    assert told["battery_C"] == -20
    bad = client.get("/api/jobs/plain/timeline", params={"line": name, "battery_C": 400})
    assert bad.status_code == 422
    assert "-40 to 60" in bad.json()["error"]["expected"]


def test_the_way_to_every_danger_of_the_gallery_can_be_stepped_through():
    ways = 0
    for name in bestiary.beasts():
        job, wiring = bestiary.beast(name)
        proof = prove(job, wiring)
        for rule in proof.rules:
            if rule.holds is False and rule.trace:
                seen = asked(job, wiring, proof, rule=rule.rule, slot="way")
                assert seen.error is None
                if seen.breach:
                    assert all(e["met"] for e in seen.found.expects), (name, seen.line)
                assert set(seen.guilty) <= {run.id for run in wiring.runs}
                assert seen.loom.count('class="run guilty"') == len(seen.guilty)
                ways += 1
    assert ways > 25


def test_the_wires_of_the_car_have_their_names_in_the_volts_too(client):
    page = client.get("/job/two-starters/trace?usual=start").text
    heads = re.findall(r'<p class="strip-name">([^<]+?) <span', page)
    assert {"battery rail", "ignition 1", "ignition 2", "starter 1", "accessory 1"} <= set(heads)
    assert "parking light left" in heads
    assert not [h for h in heads if "(" in h]
    assert "park/neutral at ground" in page
