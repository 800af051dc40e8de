"""Long work on the page: it is watched, stopped, begun again, and blocks nothing."""

import threading
import time

import pytest
from playwright.sync_api import expect
from starlette.testclient import TestClient

from startwright.records import FaultResult, RecordError
from startwright.web import create_app


@pytest.fixture
def slow(shop):
    """An app whose work on the plain job waits until it is let go."""
    app = create_app(shop)
    go = threading.Event()
    with TestClient(app, raise_server_exceptions=False) as client:
        answers = app.state.answers
        job = app.state.folder.job("plain")

        def work(task):
            for states in range(3000):
                task.say(f"proving, {states:,} states so far")
                if go.wait(0.01):
                    break
            raise RecordError("it was let go", "here", "nothing")

        answers.desk.start(answers.key(job), work)
        yield client, go
        go.set()


def test_the_page_comes_at_once_and_shows_how_far_it_is(slow):
    client, _ = slow
    began = time.monotonic()
    page = client.get("/job/plain").text
    assert time.monotonic() - began < 5
    assert "states so far" in page
    assert 'action="/job/plain/stop"' in page
    assert 'hx-get="/job/plain/strip?waiting=wanted,where,hold,safe' in page
    assert client.get("/job/manual").status_code == 200
    strip = client.get("/job/plain/strip?waiting=where").text
    assert "states so far" in strip
    assert 'id="where"' not in strip


def test_it_is_stopped_and_begun_again(slow):
    client, _ = slow
    page = client.post("/job/plain/stop").text
    assert "Stopped after" in page
    assert "not proven" in page
    assert 'action="/job/plain/again"' in page
    assert client.post("/job/plain/again").status_code == 200
    for _ in range(100):
        strip = client.get("/job/plain/strip?waiting=where,safe").text
        if "Worked out in" in strip:
            break
        time.sleep(0.1)
    assert "Worked out in" in strip


def test_what_breaks_off_says_so_and_is_no_proof(slow):
    client, go = slow
    go.set()
    time.sleep(0.3)
    page = client.get("/job/plain").text
    assert "it was let go" in page
    assert "not answered: the work broke off" in page
    assert ">proven<" not in page


def test_the_api_says_that_it_is_not_there_yet(slow):
    client, _ = slow
    answer = client.get("/api/jobs/plain/prove?wait_s=0.05")
    assert answer.status_code == 202
    assert "states so far" in answer.json()["working"]


def test_single_faults_are_tried_on_request(opened, served):
    page = opened("/job/plain#safe")
    expect(page.locator("#stamp")).to_have_text("proven")
    answers = served[1].state.answers
    job = served[1].state.folder.job("plain")
    found = answers.known(job).result
    faults = [
        FaultResult(fault="r2 open", worst="hazard", breaks=["brake-ends"], noticed=False),
        FaultResult(fault="r5 open", worst="works", breaks=["flashes"], noticed=True),
        FaultResult(fault="r1 short to ground", worst="none"),
    ]
    go = threading.Event()

    def work(task):
        go.wait(30)
        return found["proof"].model_copy(update={"faults": faults})

    answers.desk.start(answers.faults_key(job, found["plan"].wiring), work)
    page.reload()
    part = page.locator("#faults")
    expect(part.get_by_role("button", name="Stop")).to_be_visible()
    go.set()
    expect(part).to_contain_text("3 faults: 1 a hazard, 0 damage, 1 does not work, 1 no effect")
    expect(part.locator(".rules .is-bad")).to_contain_text("nobody would notice")
    expect(part.locator(".rules .is-bad b")).to_contain_text("brake → unit brake_in")
    assert part.locator(".rules li").count() == 2


@pytest.mark.parametrize("left_open", [True, False])
def test_the_page_says_which_faults_were_not_finished(shop, left_open):
    app = create_app(shop)
    with TestClient(app) as client:
        answers, job = app.state.answers, app.state.folder.job("plain")
        found = answers.work(job)
        found.wait(60)
        faults = [FaultResult(fault="r5 open", worst="works", breaks=["flashes"], noticed=True)]
        faults[0].caught_by.append("hood-pin")
        if left_open:
            faults += [FaultResult(fault="r2 open", worst="hazard", breaks=["not finished"])]
        report = found.result["proof"].model_copy(update={"faults": faults})
        key = answers.faults_key(job, found.result["plan"].wiring)
        answers.desk.start(key, lambda task: report).wait(10)
        page = client.get("/job/plain/faults").text
        said = "1 of 2 single faults was not finished: take it for a hazard." in page
        assert said is left_open
        assert ("Not known: its search did not finish." in page) is left_open
        assert "nobody would notice" not in page
        assert "caught by hood pin switch" in page
