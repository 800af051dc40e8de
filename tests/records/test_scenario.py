"""Scenario lines: what they mean, that they come back, and how they are refused."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from startwright.records import RecordError
from startwright.records.scenario import (
    ACTIONS,
    FAULTS,
    Action,
    Expect,
    Scenario,
    Wait,
    parse_action,
    parse_scenario,
)

LINE = "command start · wait 3 s · hood open → ignition off, starter off"


def test_a_line_is_read_as_a_person_reads_it() -> None:
    assert parse_scenario(LINE) == Scenario(
        (Action("command", "start"), Wait(3.0), Action("hood", "open")),
        (Expect("ignition", "off"), Expect("starter", "off")),
    )


@pytest.mark.parametrize(
    ("typed", "line"),
    [
        (LINE, LINE),
        ("command start; wait 3s ;hood open -> ignition off ,starter off", LINE),
        ("Key Run", "key run"),
        ("→ starter off", "→ starter off"),
        ("wait 0.50 s → unit idle", "wait 0.5 s → unit idle"),
        (
            "engine starts · shift drive → engine stands",
            "engine starts · shift drive → engine stands",
        ),
        (
            "fault K1 Stuck closed · command stop → starter_1 off",
            "fault K1 stuck closed · command stop → starter_1 off",
        ),
    ],
)
def test_spellings(typed: str, line: str) -> None:
    assert str(parse_scenario(typed)) == line
    assert parse_scenario(line) == parse_scenario(typed)


@pytest.mark.parametrize(
    ("line", "what", "where", "expected"),
    [
        ("", "an empty line", "scenario", "actions such as"),
        ("   ", "an empty line", "scenario", "actions such as"),
        ("hood opn", "'hood' with 'opn'", "action 1", "'open' or 'close'"),
        ("hood", "'hood' alone", "action 1", "'open' or 'close'"),
        ("command start · hodo open", "an unknown action 'hodo open'", "action 2", "'hood'"),
        ("key out", "'key' with 'out'", "action 1", "'remove'"),
        ("wait soon", "'wait soon'", "action 1", "wait N s"),
        ("wait 0 s", "a wait of 0 s", "action 1", "more than 0"),
        ("wait 99999 s", "a wait of 99999 s", "action 1", "at most 86400 s"),
        ("key run → ", "as what must follow", "after the arrow, 1", "unit idle"),
        ("key run → starter maybe", "'starter maybe'", "after the arrow, 1", "'on' or 'off'"),
        ("key run → engine on", "'engine on'", "after the arrow, 1", "engine runs"),
        ("key run → a on → b off", "two arrows", "scenario", "one"),
        ("key run · · hood open", "an unknown action ''", "action 2", "one of"),
        ("fault r7 melted", "'fault r7 melted'", "action 1", "'short to ground'"),
        ("key run · " * 1000, "characters", "scenario", "at most"),
    ],
)
def test_refused(line: str, what: str, where: str, expected: str) -> None:
    with pytest.raises(RecordError) as error:
        parse_scenario(line)
    assert what in error.value.what
    assert where in error.value.where
    assert expected in error.value.expected


ACTION = st.one_of(
    st.sampled_from([Action(what, to) for what, tos in ACTIONS.items() for to in tos]),
    st.integers(1, 86_400_000).map(lambda ms: Wait(ms / 1000)),
    st.builds(
        lambda thing, mode: Action("fault", f"{thing} {mode}"),
        st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,12}", fullmatch=True),
        st.sampled_from(FAULTS),
    ),
)
EXPECT = st.one_of(
    st.builds(
        Expect,
        st.from_regex(r"[a-z0-9][a-z0-9_.-]{0,12}", fullmatch=True).filter(
            lambda s: s not in ("unit", "engine")
        ),
        st.sampled_from(["on", "off"]),
    ),
    st.sampled_from([Expect("engine", "runs"), Expect("engine", "stands"), Expect("unit", "idle")]),
)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.lists(ACTION, min_size=1, max_size=8), st.lists(EXPECT, max_size=4))
def test_every_line_comes_back(actions: list[Action | Wait], expects: list[Expect]) -> None:
    scenario = Scenario(tuple(actions), tuple(expects))
    line = str(scenario)
    assert parse_scenario(line) == scenario


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.text(max_size=80))
def test_any_text_is_a_scenario_or_a_record_error(text: str) -> None:
    try:
        scenario = parse_scenario(text)
    except RecordError as refusal:
        scenario, said = None, refusal.as_json()["error"]
    if scenario is None:
        assert all(said.values())
    else:
        assert parse_scenario(str(scenario)) == scenario


def test_an_action_alone() -> None:
    assert parse_action(" driver_door   open ") == Action("driver_door", "open")
