"""How the unit knows that the engine runs, and what each way other than the tach costs."""

import pytest
from prove.base import Case

from startwright.prove import play, prove


def told(case: Case) -> str:
    return " ".join(prove(case.job(), case.wiring()).assumes)


def by(signal: str) -> Case:
    case = Case().without("r_tach")
    case.settings = {"engine_sense": signal}
    return case


def test_the_tach_costs_nothing() -> None:
    assert "the unit tells" not in told(Case())
    assert "cannot tell" not in told(Case())


@pytest.mark.parametrize(("signal", "cost"), [("volts", "charger"), ("timed", "1200 s")])
def test_every_other_way_says_what_it_costs(signal: str, cost: str) -> None:
    assert cost in told(by(signal))


def test_by_time_a_stall_is_not_noticed_as_the_cost_says() -> None:
    case = by("timed")
    line = "command start · wait 4 s · engine starts · wait 10 s · engine stalls · wait 600 s"
    _, met = play(case.job(), case.wiring(), f"{line} → ignition on")
    assert met == [True]
    hears = Case()
    _, met = play(hears.job(), hears.wiring(), f"{line} → ignition on")
    assert met == [False]
