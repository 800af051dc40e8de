"""What may come in, and what every answer carries."""

import pytest

from startwright.web.guard import LIMIT_BYTES, own_host


def shape(response):
    error = response.json()["error"]
    assert set(error) == {"what", "where", "expected"}
    assert all(error.values())
    return error


@pytest.mark.parametrize("address", ["/", "/api/jobs", "/nowhere", "/static/paper.css", "/api/x"])
def test_every_answer_carries_the_headers(client, address):
    headers = client.get(address).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize(
    ("host", "ours"),
    [
        ("localhost:8321", True),
        ("127.0.0.1:8321", True),
        ("[::1]:8321", True),
        ("192.168.1.20:8321", True),
        ("bench.local:8321", True),
        ("evil.example", False),
        ("localhost.evil.example", False),
        ("127.0.0.1.evil.example", False),
        ("", False),
    ],
)
def test_a_name_from_elsewhere_is_not_answered(client, host, ours):
    assert own_host(host) is ours
    response = client.get("/api/jobs", headers={"host": host})
    assert response.status_code == (200 if ours else 400)
    if not ours:
        shape(response)


def test_a_form_from_elsewhere_is_refused(client):
    for origin, status in (("http://evil.example", 403), ("null", 403), ("http://testserver", 422)):
        response = client.post("/api/jobs/plain/prove", content="", headers={"origin": origin})
        assert response.status_code == status, origin
        shape(response)


def test_too_much_is_refused(client):
    said = client.post("/api/jobs/plain/prove", content=b"x" * (LIMIT_BYTES + 1))
    assert said.status_code == 413
    assert shape(said)["expected"] == "at most 2 MB"


def test_too_much_is_refused_when_it_does_not_say_so(client):
    def drops():
        for _ in range(40):
            yield b"x" * (LIMIT_BYTES // 20)

    said = client.post("/api/jobs/plain/prove", content=drops())
    assert said.status_code == 413
    shape(said)


def test_a_long_address_is_refused(client):
    assert client.get("/api/jobs/plain/play?line=" + "x" * 9000).status_code == 414


@pytest.mark.parametrize(
    "address",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static//etc/passwd",
        "/api/jobs/..%2f..%2fetc%2fpasswd",
        "/api/jobs/%2e%2e",
        "/job/..%5c..%5cetc",
        "/job/%00",
    ],
)
def test_no_way_out_of_the_folder(client, address):
    response = client.get(address)
    assert response.status_code == 404
    assert b"root:" not in response.content
    assert b"create_app" not in response.content
