"""Recordings: handed in, looked at, drawn beside their verdicts."""

import io
import re
import shutil

import httpx2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from identify.drawn import Drawn, actions
from playwright.sync_api import expect
from starlette.testclient import TestClient

from startwright.example import path
from startwright.records.read import read
from startwright.web import create_app
from startwright.web.curves import thinned

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
    lanes = page.locator(".lane.is-key")
    assert lanes.all_inner_texts() == ["out", "off", "accessory", "run", "accessory", "off"]
    before = page.locator(".curve canvas").first.screenshot()
    page.get_by_role("button", name="Closer").click()
    expect(lanes).to_have_count(4)
    assert page.locator(".curve canvas").first.screenshot() != before
    page.locator(".curve .u-over").first.hover(position={"x": 100, "y": 20})
    expect(page.locator("[data-at]")).to_contain_text(" s · key ")
    page.get_by_role("button", name="All", exact=True).click()
    expect(lanes).to_have_count(6)


def test_the_curves_are_read_by_the_keyboard(opened, looked_at):
    page = opened(looked_at)
    expect(page.locator("[data-drawn]")).to_be_attached()
    hand = page.get_by_role("slider", name="Read the curves at")
    hand.focus()
    for _ in range(3):
        page.keyboard.press("PageUp")
    assert float(hand.get_attribute("aria-valuetext").split()[0]) > 1
    seen = {}
    for _ in range(12):
        page.keyboard.press("PageUp")
        state = hand.get_attribute("aria-valuetext").partition(" · ")[2]
        seen[state] = page.locator("[data-now]").all_inner_texts()
    run = [float(v.split()[0]) for v in seen["key run"]]
    assert run[0] > 12
    assert run[1] > 12
    assert abs(run[2]) < 0.3
    assert abs(float(seen["key off"][1].split()[0])) < 0.3
    page.keyboard.press("+")
    assert page.locator(".lane.is-key").count() < 6


@pytest.fixture
def looked_at(base):
    """A recording handed in to the app that the browser sees."""
    answer = httpx2.post(f"{base}/which-wire", files=files(recording()), follow_redirects=True)
    assert answer.status_code == 200
    return answer.url.path


def lying(client, name):
    answer = client.post("/which-wire", params={"lying": name})
    assert answer.status_code == 200
    key = str(answer.url.path).split("/")[-1]
    client.app.state.answers.recordings.get(key).wait(30)
    return f"/which-wire/{key}"


def test_a_page_that_waited_is_loaded_anew(client, looked):
    client.app.state.answers.recordings.get(looked.split("/")[-1]).wait(30)
    answer = client.get(looked, headers={"hx-request": "true"})
    assert answer.headers["hx-refresh"] == "true"


def test_the_shop_offers_its_recordings(client):
    page = client.get("/which-wire").text
    for name in ("pindle-key-cycle.csv", "quill-without-notes.csv", "sarrow-logic.vcd"):
        assert f">{name}<" in page
    assert "-wires.csv<" not in page


def test_what_rules_a_function_out_stands_beside_its_curve(client):
    page = client.get(lying(client, "pindle-key-cycle.csv")).text
    assert 'class="curve-why">falls to 0 V while cranking: not the main ignition<' in page
    assert "leave the data line alone" in page
    # what is true of four wires is said once
    assert page.count("check that it carries a test load") == 1


def test_key_positions_are_proposed_and_confirmed(client):
    address = lying(client, "quill-without-notes.csv")
    page = client.get(address).text
    assert "Were these the key positions?" in page
    rows = re.findall(
        r'name="time_s"[^>]*value="([^"]*)".*?name="action"[^>]*value="([^"]*)"', page
    )
    given = [(at, what) for at, what in rows if at]
    assert [what for _, what in given] == [
        "key accessory", "key run", "key start", "engine starts", "key run", "key off",
    ]  # fmt: skip
    # the person adds what the curves could not show
    given = [("2,0", "key insert"), *given]
    form = {"time_s": [at for at, _ in given], "action": [what for _, what in given]}
    answer = client.post(f"{address}/actions", data=form)
    assert answer.status_code == 200
    again = str(answer.url.path)
    assert again != address
    client.app.state.answers.recordings.get(again.split("/")[-1]).wait(30)
    page = client.get(again).text
    assert "Were these the key positions?" not in page
    assert 'value="key off"' in page
    looked = client.app.state.answers.recordings.get(again.split("/")[-1]).result
    assert looked.confirmed
    assert not any(a.proposed for a in looked.report.actions)


@pytest.mark.parametrize(
    ("time_s", "action", "what"),
    [
        ("3", "fly away", "no action"),
        ("soon", "key run", "no time"),
        ("", "", "no action was given"),
    ],
)
def test_actions_that_are_none_say_so(client, time_s, action, what):
    address = lying(client, "quill-without-notes.csv")
    answer = client.post(f"{address}/actions", data={"time_s": [time_s], "action": [action]})
    assert answer.status_code == 422
    assert what in answer.text
    assert "Expected" in answer.text


@pytest.fixture
def own_shop(tmp_path):
    """A shop to write into, and the app over it."""
    shop = tmp_path / "shop"
    shutil.copytree(path(), shop, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    with TestClient(create_app(shop), raise_server_exceptions=False) as client:
        yield shop, client


def test_what_was_found_goes_into_the_record(own_shop):
    shop, client = own_shop
    file = shop / "vehicles" / "ostrel-pindle.yaml"
    before = file.read_bytes()
    address = lying(client, "pindle-key-cycle.csv")
    page = client.get(f"{address}/record").text
    assert "Ostrel Pindle" in page
    assert "the manual said <b>accessory</b>" in page
    assert "measured <b>ignition</b>" in page
    assert "the manual said <b>GN/WH</b>" in page
    assert "measured <b>GN/RD</b>" in page
    assert file.read_bytes() == before, "looking must not write"
    mark = re.search(r'name="mark" value="(\w+)"', page)[1]
    wires = re.findall(r'name="wire" value="([^"]+)" checked', page)
    assert len(wires) == 9
    to = f"{address}/record?vehicle=ostrel-pindle"
    chosen = [w for w in wires if w != "A4"]
    answer = client.post(to, data={"mark": mark, "wire": chosen, "by": "J."})
    assert answer.status_code == 200, answer.text
    record = read(file, "vehicle")
    brake, accessory = record.circuit("brake"), record.circuit("acc_1")
    assert (brake.colour, brake.known.how, brake.known.by) == ("GN/RD", "measured", "J.")
    assert any("recordings/pindle-key-cycle.csv" in line for line in brake.known.evidence)
    assert accessory.function == "ignition"
    assert accessory.live == ["run"], "where it was live as an accessory is no matter now"
    assert record.circuit("ign_2").known.how == "manual", "A4 was not chosen"
    assert record.circuit("lock_all").known.how == "told"
    kept = list((shop / "vehicles" / "before").iterdir())
    assert [k.read_bytes() for k in kept] == [before]
    # the same page sent again knows an old record
    again = client.post(to, data={"mark": mark, "wire": chosen})
    assert again.status_code == 422
    assert "changed since" in again.text
    assert read(file, "vehicle") == record


def test_a_recording_that_was_handed_in_is_kept_with_the_record(own_shop):
    shop, client = own_shop
    there = shop / "recordings"
    sent = {
        kind: (f"pindle-key-cycle{end}.csv", (there / f"pindle-key-cycle{end}.csv").read_bytes())
        for kind, end in (("recording", ""), ("actions", "-actions"), ("wires", "-wires"))
    }
    # another recording of that name lies in the shop
    (there / "pindle-key-cycle.csv").write_text("time_s,a\n0,1\n1,2\n")
    answer = client.post("/which-wire", files=sent)
    address = str(answer.url.path)
    page = client.get(f"{address}/record").text
    mark = re.search(r'name="mark" value="(\w+)"', page)[1]
    to = f"{address}/record?vehicle=ostrel-pindle"
    assert client.post(to, data={"mark": mark, "wire": ["B2"]}).status_code == 200
    assert (there / "pindle-key-cycle.csv").read_text().startswith("time_s,a")
    assert (there / "pindle-key-cycle-2.csv").read_bytes() == sent["recording"][1]
    assert (there / "pindle-key-cycle-2-actions.csv").read_bytes() == sent["actions"][1]
    known = read(shop / "vehicles" / "ostrel-pindle.yaml", "vehicle").circuit("brake").known
    assert any("pindle-key-cycle-2.csv" in line for line in known.evidence)


def test_what_the_record_keeps_off_is_kept_off(own_shop):
    shop, client = own_shop
    page = client.get(lying(client, "sarrow-logic.vcd")).text
    # a logic probe sees nothing on the pin that the record has as a data line
    assert "Leave alone: the record has it as a data line" in page
    assert "<code>pin_2</code>" not in page[page.index("What to measure next") :]
    # and whatever a recording makes of an airbag wire, it does not get into the record
    sent = {
        "recording": ("odd.csv", recording()),
        "actions": ("a.csv", ACTIONS),
        "wires": ("w.csv", 'wire,plug,pin\nch3,"body computer, black 40-way",2\n'),
    }
    address = str(client.post("/which-wire", files=sent).url.path)
    page = client.get(f"{address}/record?vehicle=pennick-sarrow").text
    assert 'value="ch3"' not in page
    assert "the record has it as a data line" in page
    assert read(shop / "vehicles" / "pennick-sarrow.yaml", "vehicle").circuit("body_data")


def engine_files():
    """An engine that starts, its tach line of two pulses a revolution, and its speed."""
    drawn = Drawn(2000).key_wires()
    t = drawn.t
    rpm = np.where((t > 9.02) & (t < 10.25), 200.0, 0.0)
    rpm = np.where((t > 10.25) & (t < 20.1), 820.0 + 500.0 * np.exp(-(t - 10.25)), rpm)
    turns = np.cumsum(rpm / 60) / 2000
    low = (turns * 2 % 1.0 < 0.4) & (rpm > 0)
    drawn.level("tach", np.where(drawn.during((4.0, 20.0)), np.where(low, 0.2, drawn.rail), 0.0))
    made = drawn.recording()
    out = io.StringIO()
    head = ",".join(["time_s", *made.names])
    table = np.column_stack([made.time_s, made.volts])
    np.savetxt(out, table, delimiter=",", fmt="%.4f", header=head, comments="")
    done = "".join(f"{one.time_s:g},{one.action}\n" for one in actions())
    rows = "".join(f"{s:.2f},{820 + 500 * np.exp(-(s - 10.25)):.0f}\n" for s in range(11, 20))
    return {
        "recording": ("engine.csv", out.getvalue()),
        "actions": ("actions.csv", f"time_s,action\n{done}"),
        "speeds": ("speeds.csv", f"time_s,rpm\n{rows}"),
    }


def waited(client, answer):
    """The page of a recording, once it was read."""
    key = str(answer.url).rpartition("/")[2]
    assert client.app.state.answers.recordings.get(key).wait(60)
    return client.get(f"/which-wire/{key}")


def test_the_engine_speed_gives_the_pulses_a_revolution(client):
    sent = engine_files()
    with_speed = waited(client, client.post("/which-wire", files=sent, data={"engine": "petrol"}))
    assert "2 pulses a revolution" in with_speed.text
    key = str(with_speed.url).rpartition("/")[2]
    rows = [line.split(",") for line in sent["actions"][1].splitlines()[1:]]
    again = client.post(
        f"/which-wire/{key}/actions",
        data={"time_s": [at for at, _ in rows], "action": [what for _, what in rows]},
    )
    assert "2 pulses a revolution" in waited(client, again).text
    sent.pop("speeds")
    without = waited(client, client.post("/which-wire", files=sent))
    assert "Tach" in without.text
    assert "pulses a revolution" not in without.text


@pytest.mark.parametrize(
    ("sent", "data", "says"),
    [
        ({"speeds": ("s.csv", "when,fast\n1,2\n")}, {}, "the columns time_s and rpm"),
        ({}, {"engine": "steam"}, "petrol, diesel or nothing"),
    ],
)
def test_a_wrong_speed_or_engine_says_so(client, sent, data, says):
    answer = client.post("/which-wire", files=engine_files() | sent, data=data)
    assert answer.status_code == 422
    assert says in answer.text
