"""Verdicts and numbers unfolded on the page, the fewest runs, the failure-mode sheet."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect
from web.test_access import axe

from startwright.records import FaultResult

WITHIN = {"hx-request": "true"}


def text(answer) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", answer.text).split())


def test_a_rule_unfolds_to_record_lines(client, shop) -> None:
    answer = client.get("/job/plain/why/hood-ends")
    assert answer.status_code == 200
    said = text(answer)
    assert "An open hood ends what the unit feeds" in said
    assert "command start · wait 1 s · hood open" in said
    where = re.search(r"(units/\S+):(\d+) leads\[\d+\]", said)
    assert where
    lines = (shop / where[1]).read_text().splitlines()
    assert "id:" in lines[int(where[2]) - 1]


def test_a_breach_says_what_would_have_prevented_it(client) -> None:
    said = text(client.get("/dangers/open-hood/why/hood-ends"))
    assert "Not there: lead hood_in" in said
    assert "join lead hood_in to circuit hood" in said
    assert "open-hood.job.yaml:67 unit.leads[5]" in said


def test_the_fewest_runs(client) -> None:
    answer = client.get("/dangers/joined-sides/fewest/car-unchanged")
    assert "2 of 10 runs still break car-unchanged" in text(answer)
    assert 'id="joined-sides-fewest-car-unchanged-run-left"' in answer.text
    refused = client.get("/dangers/joined-sides/fewest/hood-ends")
    assert refused.status_code == 422


def test_the_fewest_runs_are_stepped_through(opened) -> None:
    page = opened("/dangers/joined-sides")
    small = page.locator("details.why", has_text="The fewest runs").first
    small.locator("summary").focus()
    page.keyboard.press("Enter")
    told = small.locator("[data-says]")
    expect(told).to_contain_text("1 of ")
    small.get_by_role("button", name="Last step").click()
    count = int(told.inner_text().split()[2])
    expect(told).to_contain_text(f"{count} of {count}")
    expect(told).to_contain_text("Takes part: left")
    assert small.locator("g.run").count() == 2
    small.locator("select").select_option("-18")
    expect(small.locator("select")).to_have_value("-18")
    expect(small.locator("[data-says]")).to_contain_text("1 of ")
    assert axe(page) == []


def test_the_fewest_runs_at_another_temperature(client) -> None:
    address = "/dangers/joined-sides/fewest/car-unchanged"
    answer = client.get(f"{address}/trace?battery=-18")
    assert answer.status_code == 200
    assert 'value="-18" selected' in answer.text
    assert "The fewest runs that break car-unchanged" in text(answer)
    assert client.get(f"{address}/trace?battery=cold").status_code == 422
    assert client.get("/dangers/joined-sides/fewest/hood-ends/trace").status_code == 422


def test_a_number_unfolds(client) -> None:
    rows = client.get("/api/jobs/plain/size").json()
    run = rows["runs"][0]["id"]
    said = text(client.get(f"/job/plain/number/{run}", headers=WITHIN))
    assert "33 CFR 183.425, Table 5: " in said
    assert f"run {run}" in said
    for row in (*rows["fuses"], *rows["contacts"]):
        assert client.get(f"/job/plain/number/{row['id']}").status_code == 200
    assert "SAE J537: 7.2 V" in text(client.get("/job/plain/number/starting"))
    assert "mA is the most" in text(client.get("/job/plain/number/parked"))
    assert client.get("/job/plain/number/nothing").status_code == 422
    parked = client.get("/api/jobs/plain/size?why=parked").json()
    assert {n["name"] for n in parked["why"]["numbers"]} >= {"while parked", "a start takes"}


def test_the_same_as_json(client, shop) -> None:
    rule = client.get("/api/jobs/plain/prove?why=hood-ends").json()
    assert rule["holds"] is True
    assert {p["what"] for p in rule["why"]["rests_on"]} >= {"guard hood", "lead hood_in"}
    run = client.get("/api/jobs/plain/size").json()["runs"][0]["id"]
    row = client.get(f"/api/jobs/plain/size?why={run}").json()
    assert row["id"] == run
    assert "ampacity" in {n["name"] for n in row["why"]["numbers"]}
    assert client.get("/api/jobs/plain/size?why=nothing").status_code == 422


def test_a_wiring_of_ones_own_is_unfolded_and_shrunk(client, shop) -> None:
    own = (shop / "wirings" / "plain-without-hood.yaml").read_text()
    told = client.post("/api/jobs/plain/prove?why=hood-ends", content=own).json()
    where = next(p["where"] for p in told["why"]["on_the_way"] if p["what"] == "run r6")
    line = int(where.removeprefix("body:").split()[0])
    assert "id: r6," in own.splitlines()[line - 1]
    small = client.post("/api/jobs/plain/shrink?rule=hood-ends", content=own).json()
    assert (small["minimal"], small["runs"]) == (True, 5)
    assert client.post("/api/jobs/plain/shrink?rule=locks", content=own).status_code == 422


@pytest.mark.parametrize(
    "address", ["/job/plain/why/nothing", "/job/nowhere/why/hood-ends", "/dangers/none/why/settles"]
)
def test_what_is_not_there(client, address: str) -> None:
    assert client.get(address).status_code in (404, 422)


def test_the_failure_mode_sheet(client, app) -> None:
    work = app.state.answers.work(app.state.folder.job("plain"))
    work.wait(60)
    job, plan = app.state.folder.job("plain"), work.result["plan"]
    faults = [FaultResult(fault="r3 open", worst="hazard", breaks=["hood-ends"])]
    proof = work.result["proof"].model_copy(update={"faults": faults})
    key = app.state.answers.faults_key(job, plan.wiring)
    app.state.answers.desk.start(key, lambda task: proof)
    answer = client.get("/job/plain/failure-modes.pdf?paper=letter")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content[:5] == b"%PDF-"
    assert client.get("/job/plain/failure-modes.pdf?paper=a3").status_code == 422


def test_it_unfolds_in_place(opened) -> None:
    page = opened("/job/plain", width=360, height=800)
    expect(page.locator("#stamp")).not_to_be_empty()
    page.evaluate("document.querySelectorAll('.part > details').forEach(d => d.open = true)")
    why = page.locator("#safe .rules > li", has_text="hood-ends").locator("details.why")
    why.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(why.get_by_text("What it asks of the unit")).to_be_visible()
    page.locator("#hold a", has_text="Why").first.click()
    expect(page.locator("#number-wires .numbers")).to_be_visible()
    page.get_by_role("link", name="Where the days come from").click()
    expect(page.locator("#number-parked .numbers")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert axe(page) == []
