"""Which circuits may hang on one lead."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan.cars import ALWAYS, hand, key_fed

from startwright.plan.borrow import alike
from startwright.plan.joins import floats, may_join, move_together, share_lead
from startwright.plan.outputs import outputs_of
from startwright.records import Unit
from startwright.records.vehicle import Circuit
from startwright.records.words import KEY_POSITIONS


def c(data: dict) -> Circuit:
    return Circuit.model_validate(data)


IGN_1 = c(key_fed("ign_1", "ignition", ["run", "start"], load_A=9))
IGN_2 = c(key_fed("ign_2", "ignition", ["run"], load_A=9))
IGN_3 = c(key_fed("ign_3", "ignition", ["start", "run"], load_A=9))
ACC_1 = c(key_fed("acc_1", "accessory", ["accessory", "run"], load_A=9))
START = c(key_fed("s", "starter", ["start"], load_A=9, interlock="none"))
LEFT = c(hand("l", "parking_light", "battery", 2, side="left"))
RIGHT = c(hand("r", "parking_light", "battery", 2, side="right"))
LOW = c(hand("g", "parking_light", "ground", 0.2, side="left"))


def test_joined_only_where_live_in_the_same_positions():
    assert may_join(IGN_1, IGN_3)
    assert not may_join(IGN_1, IGN_2)
    assert not may_join(IGN_2, ACC_1)
    assert not may_join(IGN_1, LEFT)


def test_sides_are_kept_apart_and_levels_differ():
    assert not may_join(LEFT, RIGHT)
    assert may_join(LEFT, LEFT)
    assert move_together(LEFT, LOW)
    assert not may_join(LEFT, LOW)


def test_starters_behind_different_interlocks_are_kept_apart():
    other = c(key_fed("t", "starter", ["start"], load_A=3, interlock="downstream"))
    assert not may_join(START, other)
    assert floats(other)
    assert not floats(START)


def test_a_coil_beside_a_straight_circuit_works_with_it_always():
    assert share_lead("direct", IGN_1, "relay", IGN_3)
    assert not share_lead("direct", ACC_1, "relay", IGN_2)  # closed in accessory by the key
    assert share_lead("relay", ACC_1, "relay", IGN_2)
    assert share_lead("diode", LEFT, "diode", RIGHT)
    assert not share_lead("direct", LEFT, "diode", RIGHT)
    assert not share_lead("direct", IGN_1, "pin", None)  # the key alone would wake the interface


@settings(derandomize=True, deadline=None, max_examples=200)
@given(
    st.lists(st.sets(st.sampled_from(KEY_POSITIONS), min_size=1), min_size=2, max_size=2),
)
def test_never_joined_where_one_would_feed_the_other(lives):
    a, b = (
        c(key_fed(n, "ignition", sorted(live), load_A=5))
        for n, live in zip("ab", lives, strict=True)
    )
    fed_by_other = any((p in lives[0]) != (p in lives[1]) for p in KEY_POSITIONS)
    assert may_join(a, b) == (not fed_by_other)
    assert share_lead("direct", a, "direct", b) == (not fed_by_other)


@pytest.fixture(scope="module")
def box() -> Unit:
    from plan.cars import unit

    return Unit.model_validate(unit())


def _alike(box: Unit, circuit: Circuit, by: Circuit, source: Circuit, coil: str, feed: str,
           resting: bool) -> bool:  # fmt: skip
    outs = {o.lead: o for o in outputs_of(box)}
    return alike(box, circuit, outs[coil], by, outs[feed], source, resting)


def test_a_borrowing_relay_holds_only_where_both_stand_alike(box):
    assert _alike(box, IGN_2, ACC_1, IGN_1, "acc", "ign", False)
    assert _alike(box, IGN_2, START, IGN_1, "start", "ign", True)
    # the starter opens it, but in accessory the two differ
    assert not _alike(box, ACC_1, START, IGN_1, "start", "ign", True)
    # closed by ignition, it would feed ign_2 in start
    assert not _alike(box, IGN_2, IGN_1, ACC_1, "ign", "acc", True)


def test_borrowing_agrees_with_walking_every_state_by_hand(box):
    """Against a little machine of its own: every key position with every step, wires and all."""
    every = [
        c(key_fed(f"x{n}", "ignition", list(live), load_A=5))
        for n in (1, 2)
        for live in combinations(ALWAYS[2:], n)
    ]
    serving = {"ign": IGN_1, "acc": ACC_1, "start": START}
    tried = 0
    for circuit in every:
        for coil, by in serving.items():
            for feed, source in serving.items():
                if coil == feed:
                    continue
                for resting in (False, True):
                    tried += 1
                    said = _alike(box, circuit, by, source, coil, feed, resting)
                    assert not said or _walk(box, circuit, by, source, coil, feed, resting)
    assert tried > 50


def _walk(box, circuit, by, source, coil, feed, resting) -> bool:
    outs = {o.lead: o.does for o in outputs_of(box)}
    for key in KEY_POSITIONS:
        for drives in [set(), *(set(s.drives) for s in box.sequence)]:
            idle = not drives
            at = {
                "c": key in circuit.live,
                "by": key in by.live or outs[coil] in drives,
                "s": key in source.live or outs[feed] in drives,
            }
            before = dict(at)
            if at["by"] != resting:
                at["c"] = at["s"] = at["c"] or at["s"]
            if idle and (at["c"], at["s"]) != (before["c"], before["s"]):
                return False
            if at["s"] and not before["s"]:
                return False
    return True
