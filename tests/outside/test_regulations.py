"""Rules of law and caution, and the levels of data buses, against the rows that give them."""

from __future__ import annotations

import pytest
from outside.published import agree, table

from startwright.reference.regulations import bus_level, regulation

RULES, BUSES = table("regulations"), table("buses")
PLAIN = {
    "a",
    "an",
    "the",
    "or",
    "of",
    "to",
    "in",
    "and",
    "is",
    "by",
    "its",
    "it",
    "with",
    "even",
    "any",
}

SAYS = {
    "h.102.S3.1.3": "starter-interlock",
    "h.102.S3.1.1": "neutral-between",
    "h.102.bypass": "interlock-bypass",
    "h.114.key": "key-defined",
    "h.114.S5.1.1": "key-removed",
    "h.114.S4.2.1_old": "key-locked-in-park",
    "h.118.S4a": "windows-key",
    "h.118.S4.keyoff": "windows-key-off",
    "h.108.steady": "lamps-steady",
    "h.30122": "make-inoperative",
    "h.r100.orange": "high-voltage-orange",
    "h.srs.yellow": "srs-yellow",
    "h.co.closed": "co-closed-garage",
}
NUMBERS = {
    "h.118.remote_m": ("windows-remote", "windows-remote-sight"),
    "h.118.S5": ("windows-reversal", "windows-gap-least", "windows-gap-most"),
    "h.hv.threshold": ("high-voltage-dc", "high-voltage-ac"),
    "h.r100.bond": ("high-voltage-bond",),
    "h.srs.wait": ("srs-wait",),
}


def words(text: str) -> set[str]:
    return {w.strip("();:,.").lower() for w in text.replace("-", " ").split()} - PLAIN


@pytest.mark.parametrize("id", SAYS)
def test_what_a_rule_says(id):
    """Our sentence holds at least six tenths of the row's words, and names the same document."""
    row, rule = RULES[id], regulation(SAYS[id])
    want = words(row["value"])
    assert len(want & words(rule.says)) >= 0.6 * len(want), (want, rule.says)
    number = words(row["source"])
    assert number & words(rule.where), (row["source"], rule.where)


@pytest.mark.parametrize("id", NUMBERS)
def test_the_numbers_of_a_rule(id):
    got = [regulation(slug).number for slug in NUMBERS[id]]
    value = RULES[id]["value"]
    agree({**RULES[id], "tolerance": "exact"}, got if isinstance(value, list) else got[0])


def test_carbon_monoxide_study():
    ppm, _ = RULES["h.co.2min"]["value"]
    assert regulation("co-two-minutes").number == ppm


def test_every_row_is_spoken_to():
    assert set(SAYS) | set(NUMBERS) | {"h.co.2min"} == set(RULES)


def test_what_was_not_read_is_marked():
    for id, slug in SAYS.items():
        assert regulation(slug).from_memory == (RULES[id]["verified_in"] == "from memory"), id


ONE = {
    "l.can.rec": ("can", "recessive"),
    "l.can.domH": ("can", "dominant_high"),
    "l.can.domL": ("can", "dominant_low"),
    "l.can.diff_dom": ("can", "differential_dominant"),
    "l.can.diff_rec": ("can", "differential_recessive"),
    "l.can.th_dom": ("can", "reads_dominant_above"),
    "l.can.th_rec": ("can", "reads_recessive_below"),
    "l.lin.rec": ("lin", "reads_recessive_above"),
    "l.lin.dom": ("lin", "reads_dominant_below"),
    "l.lin.nodes": ("lin", "nodes"),
}
TWO = {
    "l.can.rate": ("can", "rate"),
    "l.lscan.rec": ("can_fault_tolerant", "recessive_high_low"),
    "l.lscan.dom": ("can_fault_tolerant", "dominant_high_low"),
    "l.lscan.rate": ("can_fault_tolerant", "rate"),
    "l.lin.vsup": ("lin", "supply"),
    "l.lin.rate": ("lin", "rate"),
    "l.lin.pullup": ("lin", "pull_up_commander_responder"),
}


@pytest.mark.parametrize("id", ONE)
def test_bus_levels(id):
    agree({**BUSES[id], "tolerance": "exact"}, bus_level(*ONE[id])[1])


@pytest.mark.parametrize("id", TWO)
def test_bus_ranges(id):
    agree({**BUSES[id], "tolerance": "exact"}, bus_level(*TWO[id]))


def test_bus_termination():
    row = BUSES["l.can.term"]
    low, high = bus_level("can", "termination")
    agree(row, low)
    agree(row, high)
    agree({**row, "tolerance": "exact"}, (low + high) / 2)
    assert set(ONE) | set(TWO) | {"l.can.term"} == set(BUSES)
