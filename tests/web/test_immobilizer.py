"""Is an immobilizer fitted: the page and its answer for programs, the terminal beside them."""

from fastapi.testclient import TestClient
from typer.testing import CliRunner

from startwright.cli.commands import app as cli
from startwright.example import path
from startwright.web.app import create_app

client = TestClient(create_app(path()), base_url="http://127.0.0.1")


def test_a_plain_metal_key_that_starts_the_car_means_none():
    said = client.get("/api/immobilizer?key=plain_metal&plain_copy_runs=yes").json()
    assert (said["kind"], said["fitted"]) == ("none", False)
    assert said["next_look"] == []
    page = client.get("/immobilizer?key=plain_metal&plain_copy_runs=yes").text
    assert "Not fitted" in page


def test_too_little_seen_is_not_known_and_says_what_to_look_at():
    page = client.get("/immobilizer?key=plastic_head").text
    assert "Not known yet" in page
    assert "What to look at next" in page


def test_a_sister_car_counts_but_does_not_decide():
    alone = client.get("/api/immobilizer?key=plastic_head").json()
    beside = client.get("/api/immobilizer?key=plastic_head&sister=transponder").json()
    assert beside["probabilities"]["transponder"] > alone["probabilities"]["transponder"]
    assert beside["kind"] == "unknown"


def test_an_answer_that_is_none_is_one_clear_error():
    for query in ("key=gold", "colour=red", "sister=magic"):
        answer = client.get(f"/immobilizer?{query}")
        assert answer.status_code == 422
        assert "one of" in answer.text.lower()


def test_the_terminal_says_the_same():
    run = CliRunner().invoke(cli, ["identify", "--saw", "key=plain_metal", "--json"])
    same = client.get("/api/immobilizer?key=plain_metal").text
    assert run.stdout.replace(" ", "").replace("\n", "") == same.replace(" ", "").replace("\n", "")
