"""The JSON API: the same answers, one shape for every error, whatever comes."""

import json
import string

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from startwright.example import path
from startwright.records import Plan, ProofReport, SizeReport
from startwright.records.read import read_job

SHAPE = {
    "type": "object",
    "required": ["error"],
    "additionalProperties": False,
    "properties": {
        "error": {
            "type": "object",
            "required": ["what", "where", "expected"],
            "additionalProperties": False,
            "properties": {
                k: {"type": "string", "minLength": 1} for k in ("what", "where", "expected")
            },
        }
    },
}


def refused(response, status=None):
    assert response.status_code == status if status else response.status_code >= 400
    assert response.headers["content-type"].startswith("application/json")
    jsonschema.validate(response.json(), SHAPE)
    return response.json()["error"]


def test_the_jobs(client):
    jobs = client.get("/api/jobs").json()["jobs"]
    ids = [j["id"] for j in jobs if "id" in j]
    assert {"plain", "manual", "two-starters"} <= set(ids)
    torn = next(j for j in jobs if j["file"] == "torn.yaml")
    jsonschema.validate({"error": torn["error"]}, SHAPE)


def test_a_job_is_the_record(client):
    assert client.get("/api/jobs/plain").json() == json.loads(
        read_job(path() / "jobs" / "plain.yaml").model_dump_json(by_alias=True)
    )


def test_plan_size_and_proof_are_records(client):
    plan = Plan.model_validate(client.get("/api/jobs/plain/plan").json())
    assert plan.wiring.runs
    assert SizeReport.model_validate(client.get("/api/jobs/plain/size").json()).verdict == "holds"
    proof = ProofReport.model_validate(client.get("/api/jobs/plain/prove").json())
    assert proof.verdict == "proven"


def test_no_plan_is_an_answer_and_asking_on_is_an_error(client):
    answer = client.get("/api/jobs/manual/plan")
    assert answer.status_code == 200
    assert answer.json()["format"] == "startwright/no-plan/1"
    assert answer.json()["reasons"]
    for question in ("size", "prove", "play?line=command%20start"):
        error = refused(client.get(f"/api/jobs/manual/{question}"), 422)
        assert error["what"].startswith("there is no plan")


def test_a_wiring_of_your_own_is_judged(client):
    text = (path() / "wirings" / "plain-without-hood.yaml").read_text()
    answer = client.post("/api/jobs/plain/prove", content=text)
    assert answer.status_code == 200
    proof = ProofReport.model_validate(answer.json())
    assert proof.verdict == "breached"
    broken = [r for r in proof.rules if r.holds is False]
    assert "hood-ends" in [r.rule for r in broken]
    assert client.post("/api/jobs/plain/size", content=text).status_code == 200


def test_a_plan_is_taken_as_a_wiring(client):
    plan = client.get("/api/jobs/plain/plan").json()
    answer = client.post("/api/jobs/plain/prove", content=json.dumps(plan))
    assert answer.json()["verdict"] == "proven"


def test_a_scenario_is_played(client):
    line = "command start; wait 3 s; hood open -> ignition off, starter off"
    answer = client.get("/api/jobs/plain/play", params={"line": line}).json()
    assert answer["holds"] is True
    assert [e["met"] for e in answer["expects"]] == [True, True]
    at = [m["at_s"] for m in answer["moments"]]
    assert at == sorted(at)
    assert at[-1] >= 3.0
    missed = client.get("/api/jobs/plain/play", params={"line": "command start -> starter on"})
    assert missed.json()["holds"] is False
    refused(client.get("/api/jobs/plain/play", params={"line": "bonnet open"}), 422)


@pytest.mark.parametrize(
    ("method", "address", "status"),
    [
        ("GET", "/api/jobs/nowhere", 404),
        ("GET", "/api/jobs/torn/plan", 422),
        ("GET", "/api/nothing", 404),
        ("DELETE", "/api/jobs/plain", 405),
        ("GET", "/api/jobs/plain/play", 422),
        ("GET", "/api/jobs/plain/plan?wait_s=soon", 422),
        ("GET", "/api/jobs/plain/plan?wait_s=1e9", 422),
    ],
)
def test_errors_have_one_shape(client, method, address, status):
    refused(client.request(method, address), status)


@pytest.mark.parametrize(
    "body",
    [
        "",
        "[]",
        "{",
        "format: startwright/wiring/1",
        "format: startwright/job/1\nid: x",
        "format: startwright/wiring/1\nruns: [{id: r1, from: unit.feed_1, to: vehicle.nowhere}]",
        b"\xff\xfe\x00",
        "a: &a [*a]",
    ],
)
def test_a_wiring_that_cannot_be_used_is_refused(client, body):
    for question in ("size", "prove"):
        refused(client.post(f"/api/jobs/plain/{question}", content=body), 422)


def test_pages_show_errors_in_the_same_words(client):
    page = client.get("/job/nowhere")
    assert page.status_code == 404
    for part in client.get("/api/jobs/nowhere").json()["error"].values():
        assert part.replace("'", "&#39;") in page.text


def test_the_description_is_there(client):
    described = client.get("/api/openapi.json").json()
    assert "/api/jobs/{id}/prove" in described["paths"]
    assert all(p.startswith("/api/") for p in described["paths"])


WORDS = st.sampled_from(["jobs", "plain", "plan", "size", "prove", "play", "..", "%00", "%2e%2e"])
LOOSE = st.text(string.printable + "äß→·%", max_size=20)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    steps=st.lists(WORDS | LOOSE, max_size=4),
    query=st.dictionaries(st.sampled_from(["line", "wait_s", "faults"]), LOOSE, max_size=2),
    method=st.sampled_from(["GET", "POST", "PUT", "HEAD"]),
    body=st.binary(max_size=40),
)
def test_whatever_comes_the_answer_is_an_answer(client, steps, query, method, body):
    from urllib.parse import quote

    address = "/api/" + "/".join(quote(s, safe="%") for s in steps)
    response = client.request(method, address, params=query, content=body)
    assert response.status_code < 500
    if response.status_code >= 400 and method != "HEAD":
        refused(response)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    line=st.lists(
        st.sampled_from(
            ["command start", "hood open", "wait 1 s", "key run", "brake press", "shift drive", "·"]
        )
        | LOOSE,
        max_size=4,
    ).map(" · ".join)
)
def test_any_line_is_played_or_refused(client, line):
    response = client.get("/api/jobs/plain/play", params={"line": line})
    assert response.status_code in (200, 422)
    if response.status_code == 422:
        refused(response)
