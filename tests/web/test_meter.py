"""At the car with a meter: checks one at a time, values kept, the record written."""

import re
import shutil

import pytest
from playwright.sync_api import expect
from starlette.testclient import TestClient
from web.test_access import axe

from startwright.example import path
from startwright.identify import WireVerdict
from startwright.identify.report import Rival
from startwright.records import Meter, Reading, RecordError
from startwright.records.read import read
from startwright.records.recordings import WirePlace, read_wires
from startwright.web import create_app, meter_checks, meter_say
from startwright.web.meter_bench import add_wire, bench_of, keep, take_back

CAR = "ostrel-pindle"
VOLTS = {"key off": 12.5, "key accessory": 12.4, "key run": 12.3, "key start": 10.1}


def truth(wire, during, lamp):
    """What a meter shows on the Pindle as it is, not as its manual has it."""
    key = next((d.split()[1] for d in during if d.startswith("key ")), "off")
    running = "engine starts" in during
    key = "run" if running else key
    worked = {d.split()[0] for d in during}
    live = {
        "batt_1": True,
        "ign_1": key in ("run", "start"),
        "acc_1": key == "run",  # the manual has these two the wrong way round
        "ign_2": key in ("accessory", "run"),
        "starter_1": key == "start",
        "brake": "brake" in worked,
        "park_lamps": "parking_light" in worked,  # the manual says to ground
        "hood": "hood" not in worked,
        "lock_all": "lock" not in worked,
        "unlock_all": "unlock" not in worked,
        "park_neutral": "shift" in worked,
    }[wire]
    pulled = wire in ("hood", "lock_all", "unlock_all", "park_neutral")
    if lamp:
        return 12.0 if live and not pulled else 0.0
    rail = 14.1 if running else VOLTS.get(f"key {key}", 12.5)
    return round(rail - 0.05, 2) if live else 0.02


REALLY = {
    "batt_1": "battery", "ign_1": "ignition", "acc_1": "ignition", "ign_2": "accessory",
    "starter_1": "starter", "brake": "brake", "park_lamps": "parking_light", "hood": "hood",
    "lock_all": "lock", "unlock_all": "unlock", "park_neutral": "park_neutral",
}  # fmt: skip


@pytest.fixture
def bench_shop(tmp_path):
    folder = tmp_path / "shop"
    shutil.copytree(path(), folder, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    return folder


@pytest.fixture
def own(bench_shop):
    with TestClient(create_app(bench_shop), raise_server_exceptions=False) as client:
        yield client


def enter(client, wire, do, volts, seen, **more):
    form = {"wire": wire, "do": do, "volts": volts, "seen": seen} | more
    return client.post(f"/meter/{CAR}/value", data=form)


def readings(shop):
    return read(shop / "readings" / f"{CAR}.yaml", "readings").readings


@pytest.fixture(scope="module")
def walked(tmp_path_factory):
    """A fitter who does what the page says until it has nothing more to say."""
    shop = tmp_path_factory.mktemp("walk") / "shop"
    shutil.copytree(path(), shop, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    steps = []
    while len(steps) < 70:
        bench = bench_of(shop, CAR, [])
        report = meter_checks.report_of(bench)
        checks = meter_checks.ranked(bench, report)
        if not checks:
            break
        step = meter_checks.step_of(bench, report, checks[0])
        steps.append(step)
        if step.refused:
            break
        value = Reading(
            wire=step.wire.name,
            volts_V=truth(step.wire.name, step.do, step.lamp),
            during=step.do,
            meter=Meter(kind="lamp" if step.lamp else "digital"),
        )
        assert keep(shop, bench, value, len(bench.readings))
    return shop, steps


def test_a_car_is_known_by_doing_what_the_page_says(walked):
    shop, steps = walked
    assert not any(s.refused for s in steps)
    report = meter_checks.report_of(bench_of(shop, CAR, []))
    named = {v.wire: v.function for v in report.wires if v.function}
    assert named.items() <= REALLY.items()
    assert len(named) >= 10
    # eleven wires and the eighteen actions of the list would be 198 values
    assert len(steps) < 60


def test_every_check_says_what_it_needs_to(walked):
    _, steps = walked
    for step in steps:
        assert step.words
        assert step.wire.where
        assert step.candidates
        if "key start" in step.do or "engine starts" in step.do:
            assert "engine turns" in step.cautions[0]["head"]
        if step.wire.place.place == "steering column":
            assert any(c["kind"] == "airbag" for c in step.cautions)
        if step.wire.place.place == "driver's kick panel":
            assert any(c["kind"] == "data" for c in step.cautions)


def test_what_the_meter_found_goes_into_the_record(walked):
    shop, _ = walked
    before = (shop / "vehicles" / f"{CAR}.yaml").read_bytes()
    with TestClient(create_app(shop), raise_server_exceptions=False) as client:
        page = client.get(f"/meter/{CAR}/record").text
        assert "the manual said <b>accessory</b>" in page
        mark = re.search(r'name="mark" value="(\w+)"', page)[1]
        wires = re.findall(r'name="wire" value="([^"]+)" checked', page)
        assert "acc_1" in wires
        answer = client.post(f"/meter/{CAR}/record", data={"mark": mark, "wire": wires, "by": "M."})
        assert answer.status_code == 200, answer.text
        assert "where the record said something else" in answer.text.lower()
    record = read(shop / "vehicles" / f"{CAR}.yaml", "vehicle")
    assert record.circuit("acc_1").function == "ignition"
    assert record.circuit("acc_1").live == ["run"]
    assert record.circuit("acc_1").known.how == "measured"
    assert any("readings/" in line for line in record.circuit("acc_1").known.evidence)
    assert record.circuit("body_data").known is None, "no meter was there"
    assert [p.read_bytes() for p in (shop / "vehicles" / "before").iterdir()] == [before]
    (shop / "vehicles" / f"{CAR}.yaml").write_bytes(before)


def test_values_are_kept_once_and_can_be_corrected(own, bench_shop):
    assert enter(own, "ign_1", "key run", "12,4", 0).status_code == 200
    assert [(r.volts_V, r.during) for r in readings(bench_shop)] == [(12.4, ["key run"])]
    assert readings(bench_shop)[0].plug == "ignition switch, black 6-way"
    # sent twice, kept once
    enter(own, "ign_1", "key run", "12,4", 0)
    assert len(readings(bench_shop)) == 1
    page = enter(own, "ign_1", "", "0.02", 1).text
    assert "0.02 V · key off" in page
    enter(own, "ign_1", "key run", "1.24", 2, at=0)
    assert [r.volts_V for r in readings(bench_shop)] == [1.24, 0.02]
    own.post(f"/meter/{CAR}/take-back", data={"at": 0, "seen": 2})
    assert [r.volts_V for r in readings(bench_shop)] == [0.02]
    # an old page takes nothing back
    own.post(f"/meter/{CAR}/take-back", data={"at": 0, "seen": 2})
    assert len(readings(bench_shop)) == 1


@pytest.mark.parametrize(
    ("volts", "what"),
    [("", "no value"), ("twelve", "twelve"), ("400", "above 60 V"), ("nan", "nan")],
)
def test_a_value_that_is_none_says_so_and_keeps_the_check(own, bench_shop, volts, what):
    answer = enter(own, "brake", "brake press", volts, 0)
    assert answer.status_code == 422
    assert what in answer.text.lower() or what in answer.text
    assert "Hold the brake pedal down" in answer.text
    assert not (bench_shop / "readings").exists()


def test_no_probe_goes_where_none_may(own, bench_shop):
    for wire in ("airbag_coil", "body_data"):
        page = own.get(f"/meter/{CAR}", params={"wire": wire}).text
        assert "No probe here." in page
        assert 'name="volts"' not in page
        assert enter(own, wire, "", "2.5", 0).status_code == 422
    assert not (bench_shop / "readings").exists()


def test_a_lamp_is_warned_of_before_it_is_touched(own, bench_shop):
    lamp = {"wire": "ign_1", "lamp": "1"}
    page = own.get(f"/meter/{CAR}", params=lamp).text
    assert "the digital meter first" in page
    assert "It lights" not in page
    assert enter(own, "ign_1", "", "12", 0, lamp="true").status_code == 422
    for k, (do, volts) in enumerate([("key run", "12.3"), ("", "0"), ("key start", "10.1")]):
        enter(own, "ign_1", do, volts, k)
    page = own.get(f"/meter/{CAR}", params=lamp).text
    assert "It lights" in page
    assert "Airbag here" in page
    enter(own, "ign_1", "key run", "12", 3, lamp="true")
    assert readings(bench_shop)[-1].meter.kind == "lamp"


def test_a_lamp_is_refused_where_data_is_likely():
    wire = meter_checks.Wire("w", WirePlace("w", "kick panel"), None, "", "")
    rivals = [Rival(function="data", probability=0.1), Rival(function="hood", probability=0.8)]
    verdict = WireVerdict(wire="w", function=None, active=None, probability=0.8, rivals=rivals)
    assert "10 %" in meter_checks.refused(wire, verdict, lamp=True)
    assert meter_checks.refused(wire, verdict, lamp=False) == ""
    quiet = verdict.model_copy(update={"rivals": rivals[1:]})
    assert meter_checks.refused(wire, quiet, lamp=True) == ""
    alone = verdict.model_copy(update={"leave_alone": True, "notes": ["leave alone: traffic"]})
    assert meter_checks.refused(wire, alone, lamp=False) == "leave alone: traffic"


def test_the_record_is_weighed_with_the_meter_and_never_instead_of_it(bench_shop):
    hood = bench_of(bench_shop, CAR, []).wire("hood")

    def verdict(probability, *more):
        mine = Rival(function="hood", active="ground", probability=probability)
        return WireVerdict(
            wire="hood", function=None, active=None, probability=probability, rivals=[mine, *more]
        )

    assert meter_checks.borne_out(hood, verdict(0.80)).function == "hood"
    # Bayes: odds of 4 to 1 by the meter, 10 to 1 by the manual
    assert meter_checks.borne_out(hood, verdict(0.80)).probability == pytest.approx(
        40 / 41, abs=1e-4
    )
    assert meter_checks.borne_out(hood, verdict(0.55)).function is None
    # 0.62 and ten to one make 0.942
    assert meter_checks.borne_out(hood, verdict(0.62)).function is None
    data = Rival(function="data", probability=0.03)
    assert meter_checks.borne_out(hood, verdict(0.80, data)).function is None
    door = verdict(0.80).model_copy(
        update={"rivals": [Rival(function="door", active="ground", probability=0.8)]}
    )
    assert meter_checks.borne_out(hood, door).function is None


def test_a_wire_that_the_record_does_not_have(own, bench_shop):
    form = {"place": "steering column", "plug": "grey 4-way", "pin": "2", "colour": "gn/ye"}
    page = own.post(f"/meter/{CAR}/wire", data=form).text
    assert "Green with yellow" in page or "green with yellow" in page
    kept = read_wires(bench_shop / "readings" / f"{CAR}-wires.csv")
    assert kept["grey 4-way pin 2 GN/YE"].colour == "GN/YE"
    assert own.post(f"/meter/{CAR}/wire", data=form).status_code == 422
    assert own.post(f"/meter/{CAR}/wire", data={"colour": "mauve"}).status_code == 422
    # the pin of a data line is one, whatever it is called
    pin = {"plug": "body computer, natural 20-way", "pin": "17", "wire": "mine"}
    bench = bench_of(bench_shop, CAR, [])
    with pytest.raises(RecordError, match="17"):
        add_wire(
            bench_shop, bench, WirePlace("mine", "driver's kick panel", pin["plug"], pin["pin"])
        )
    add_wire(bench_shop, bench, WirePlace("mine", None, pin["plug"], pin["pin"]))
    assert "data line" in bench_of(bench_shop, CAR, []).wire("mine").keep_off
    add_wire(bench_shop, bench, WirePlace("seat", "under the seat", "yellow 2-way"))
    assert "yellow" in bench_of(bench_shop, CAR, []).wire("seat").keep_off


def test_what_a_job_needs_comes_first(client):
    app = client.app
    jobs = [f.whole for f in app.state.folder.jobs() if f.whole]
    bench = bench_of(app.state.folder.path, "aldmere-quill", jobs)
    assert set(bench.jobs) == {"two-starters", "two-starters-small-unit"}
    assert bench.wire("starter_2").needed
    assert [w.name for w in bench.wanted] == ["trunk_release"], "the rest is measured"
    bench = bench_of(app.state.folder.path, CAR, jobs)
    assert "cranked in gear" in bench.wire("park_neutral").needed
    assert {w.name for w in bench.wanted} == set(REALLY)


def test_readings_that_cannot_be_read_are_an_error_and_stay(own, bench_shop):
    (bench_shop / "readings").mkdir()
    file = bench_shop / "readings" / f"{CAR}.yaml"
    file.write_text("format: startwright/readings/1\nreadings: [{wire: a}]\n")
    torn = file.read_text()
    assert own.get(f"/meter/{CAR}").status_code == 422
    assert enter(own, "brake", "", "12", 0).status_code == 422
    assert file.read_text() == torn
    assert own.get("/meter").status_code == 200
    assert own.get("/meter/nobody").status_code == 422


def test_take_back_and_keep_hold_their_place(bench_shop):
    bench = bench_of(bench_shop, CAR, [])
    value = Reading(wire="brake", volts_V=12.0)
    assert keep(bench_shop, bench, value, 0)
    assert not keep(bench_shop, bench, value, 0)
    with pytest.raises(RecordError, match="no value number 9"):
        keep(bench_shop, bench, value, 1, at=8)
    assert not take_back(bench_shop, bench, 5, 1)
    assert take_back(bench_shop, bench, 0, 1)


def test_volts_and_words():
    assert meter_say.shown("battery voltage", ["key start"]) == "stays up, about 10 V"
    assert meter_say.shown("battery voltage", ["engine starts"]) == "about 14 V"
    assert meter_say.shown("0 V or battery voltage", []) == "0 V or about 12 V"
    assert meter_say.percent(0.9996) == "99 %"
    assert meter_say.percent(0.004) == "under 1 %"
    assert [meter_say.sure_words(p) for p in (0.99, 0.92, 0.4, 0.01)] == [
        "as good as certain",
        "very likely",
        "possible",
        "hardly",
    ]


@pytest.fixture
def cleared(served):
    """The shop that the browser sees, without readings before and after."""
    folder = served[1].state.folder.path / "readings"
    shutil.rmtree(folder, ignore_errors=True)
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


def test_a_value_goes_in_by_the_pad(opened, cleared):
    page = opened(f"/meter/{CAR}?wire=brake&do=brake+press#now", width=360, height=740)
    for key in ("1", "2", "Point", "9", "Rub out the last digit", "4"):
        page.get_by_role("button", name=key, exact=True).click()
    expect(page.locator("#volts")).to_have_value("12.4")
    page.get_by_role("button", name="Enter").click()
    expect(page.locator(".came")).to_contain_text("12.4 V · brake press")
    # the next check stands on the same screen, with what it shows
    expect(page.locator(".step-do")).to_be_in_viewport()
    expect(page.locator(".step-colour")).to_be_in_viewport()
    expect(page.get_by_role("button", name="Enter")).to_be_in_viewport()
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator(".came")).to_have_count(0)
    assert read(cleared / f"{CAR}.yaml", "readings").readings == []


def test_the_whole_goes_by_the_keyboard(opened, cleared):
    page = opened(f"/meter/{CAR}?wire=brake&do=brake+press")
    expect(page.locator("#volts")).to_be_focused()
    page.keyboard.type("12.4")
    page.keyboard.press("Enter")
    expect(page.locator(".came")).to_contain_text("12.4 V · brake press")
    expect(page.locator("#volts")).to_be_focused()


def test_without_scripts_a_value_goes_in(opened, cleared):
    page = opened(f"/meter/{CAR}?wire=brake&do=brake+press", script=False)
    expect(page.locator("[data-keys]")).to_be_hidden()
    page.locator("#volts").fill("12.4")
    page.get_by_role("button", name="Enter").click()
    expect(page.locator(".came")).to_contain_text("12.4 V · brake press")


@pytest.mark.parametrize(
    ("width", "height", "scheme"),
    [(360, 740, "light"), (1440, 900, "dark"), (3840, 2160, "light")],
)
def test_nothing_is_in_the_way_of_anyone(opened, cleared, width, height, scheme):
    page = opened(f"/meter/{CAR}?wire=brake&do=brake+press", width, height, scheme)
    page.locator("#volts").fill("12.4")
    page.get_by_role("button", name="Enter").click()
    expect(page.locator(".came")).to_be_visible()
    for address in ("", "?wire=body_data", "?at=0", "/record"):
        page.goto(page.url.split(f"/{CAR}")[0] + f"/{CAR}{address}")
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        if width < 3840:
            assert axe(page) == [], address
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, f"{address} is {wide} px too wide"
    if width == 360:
        page.goto(page.url.split("/meter")[0] + "/meter")
        assert axe(page) == []


@pytest.mark.parametrize(
    ("name", "width", "height", "scheme"),
    [
        ("pindle-key-cycle.csv", 1440, 900, "light"),
        ("quill-without-notes.csv", 360, 740, "dark"),
    ],
)
def test_a_recording_is_in_nobodys_way(opened, width, height, scheme, name):
    page = opened("/which-wire", width, height, scheme)
    page.get_by_role("button", name=name).click()
    expect(page.locator("[data-drawn]")).to_be_attached()
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert axe(page) == []
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, f"{wide} px too wide"
    page.goto(page.url.split("#")[0] + "/record")
    assert axe(page) == []


def test_a_job_leads_to_the_meter(client, app):
    job = app.state.folder.job("unmeasured")
    app.state.answers.work(job).wait(60)
    page = client.get("/job/unmeasured").text
    assert "still to measure" in page
    assert f'href="/meter/{CAR}"' in page
    assert "for the job unmeasured" in client.get(f"/meter/{CAR}").text
    assert f'href="/meter/{CAR}"' not in client.get("/job/plain").text
