"""Recordings: handed in, looked at, drawn beside their verdicts."""

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from playwright.sync_api import expect

from startwright.web.which_wire import thinned

ACTIONS = """time_s,action
2,key insert
4,key accessory
6,key run
8,brake press
10,brake release
12,key accessory
14,key off
"""
WIRES = "wire,place,plug,pin,colour\nch1,steering column,ignition switch,1,RD\n"


def recording(rate_hz=200, end_s=16.0):
    """Three wires under a hand-made key cycle: always live, live in run, live with the pedal."""
    rng = np.random.default_rng(7)
    t = np.arange(0, end_s, 1 / rate_hz)
    always = np.full_like(t, 12.6)
    run = np.where((t >= 6) & (t < 12), 12.4, 0.02)
    pedal = np.where((t >= 8) & (t < 10), 12.3, 0.03)
    volts = np.column_stack([always, run, pedal]) + rng.normal(0, 0.03, (len(t), 3))
    out = io.StringIO()
    np.savetxt(
        out,
        np.column_stack([t, volts]),
        delimiter=",",
        fmt="%.4f",
        header="time_s,ch1,ch2,ch3",
        comments="",
    )
    return out.getvalue()


def files(text):
    return {
        "recording": ("cycle.csv", text),
        "actions": ("actions.csv", ACTIONS),
        "wires": ("wires.csv", WIRES),
    }


@pytest.fixture(scope="module")
def looked(client):
    answer = client.post("/which-wire", files=files(recording()))
    assert answer.status_code == 200
    return str(answer.url.path)


def test_verdicts_stand_beside_the_curves(client, looked):
    client.app.state.answers.recordings.get(looked.split("/")[-1]).wait(30)
    page = client.get(looked).text
    for wire in ("ch1", "ch2", "ch3"):
        assert f"<code>{wire}</code>" in page
    assert page.count("data-wire=") == 3
    assert "steering column, ignition switch, pin 1" in page
    assert "key run" in page


def test_samples_are_what_was_recorded(client, looked):
    client.app.state.answers.recordings.get(looked.split("/")[-1]).wait(30)
    body = client.get(f"{looked}/samples").content
    n, w = np.frombuffer(body, "<u4", 2)
    assert (n, w) == (3200, 3)
    assert len(body) == 8 + 8 * n + 4 * n * w
    time_s = np.frombuffer(body, "<f8", n, 8)
    volts = np.frombuffer(body, "<f4", n * w, 8 + 8 * n).reshape(w, n)
    assert time_s[-1] == pytest.approx(15.995)
    assert volts[1, (time_s > 6.1) & (time_s < 11.9)].min() > 12
    part = client.get(f"{looked}/samples", params={"start_s": 8, "end_s": 9}).content
    assert np.frombuffer(part, "<f8", np.frombuffer(part, "<u4", 1)[0], 8).min() >= 7.99


def test_what_cannot_be_read_says_so(client):
    for text, what in (("nothing,at\nall,here\n", "422"), ("", "422")):
        answer = client.post("/which-wire", files={"recording": ("torn.csv", text)})
        assert str(answer.status_code) == what
        assert "Expected" in answer.text
    missing = client.post("/which-wire", data={})
    assert missing.status_code == 422
    assert "no recording was handed in" in missing.text
    assert client.get("/which-wire/0123").status_code == 422
    assert client.post("/which-wire?lying=../../etc/passwd").status_code == 422


def test_a_name_is_never_a_way(client, tmp_path):
    name = "../../../../" + str(tmp_path / "out.csv")
    answer = client.post("/which-wire", files={"recording": (name, recording())})
    assert answer.status_code == 200
    assert not (tmp_path / "out.csv").exists()


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    n=st.integers(2, 4000),
    w=st.integers(1, 4),
    most=st.integers(8, 500),
    seed=st.integers(0, 99),
)
def test_thinning_keeps_every_peak(n, w, most, seed):
    rng = np.random.default_rng(seed)
    time_s = np.cumsum(rng.uniform(0.001, 0.1, n))
    volts = rng.normal(6, 6, (n, w)).astype(np.float32)
    thin_s, thin = thinned(time_s, volts, most)
    assert len(thin_s) == len(thin) <= max(most, n if n <= most else 0) + 1
    assert (np.diff(thin_s) > 0).all()
    if n <= most:
        assert (thin == volts).all()
        return
    whole = n // (-(-2 * n // most)) * (-(-2 * n // most))
    for i in range(w):
        assert thin[:, i].min() <= volts[:whole, i].min()
        assert thin[:, i].max() >= volts[:whole, i].max()
        assert np.isin(thin[:, i], volts[:, i]).all()


def test_the_curves_are_drawn_and_looked_into(opened):
    page = opened("/which-wire")
    for name, (file, text) in files(recording()).items():
        page.locator(f"#{name}").set_input_files(
            {"name": file, "mimeType": "text/csv", "buffer": text.encode()}
        )
    page.get_by_role("button", name="Look at it").click()
    expect(page.locator("[data-drawn]")).to_be_attached()
    assert page.locator(".curve canvas").count() == 3
    before = page.locator(".curve canvas").first.screenshot()
    page.get_by_role("button", name="Closer").click()
    page.wait_for_timeout(200)
    assert page.locator(".curve canvas").first.screenshot() != before
    page.locator(".curve .u-over").first.hover(position={"x": 100, "y": 20})
    expect(page.locator("[data-now]").first).to_contain_text(" V at ")
    page.get_by_role("button", name="All", exact=True).click()
