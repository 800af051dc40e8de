"""Each check says what to do as one says it to a person at the car, on the page as on paper."""

import pytest

from sheets.pages import shop
from startwright.plan import measure
from startwright.records.scenario import parse_action
from startwright.sheets.doing import DO, do_line
from startwright.sheets.ends import read_web
from startwright.sheets.wires import stops


def test_whatever_a_check_can_ask_has_words_of_its_own():
    asked = {do for pair in measure._ACT.values() for do in pair}
    asked |= {f"key {word}" for word in ("off", "accessory", "run", "start", "insert", "remove")}
    assert asked <= set(DO)


@pytest.mark.parametrize("action", DO)
def test_the_words_are_of_actions_there_are(action):
    assert str(parse_action(action)) == action


def test_no_check_is_put_in_the_words_of_the_records():
    job, plan, size, _ = shop()
    rows = [row for stop in stops(read_web(job, plan.wiring), plan, size) for row in stop["rows"]]
    said = [check["do"] for row in rows for check in row["checks"]]
    assert {"Key to run", "Hold the brake pedal down", "Move the lever to park"} <= set(said)
    assert not set(said) & set(DO)
    assert do_line([]) == DO["key off"]
