"""Terminal numbers, relays: resistance, contact, pull-in, suppression."""

from __future__ import annotations

import pytest
from outside.published import agree, starting, table

from startwright.physics import relay
from startwright.reference.workmanship import asked, terminal

CONTACTS = table("contacts")
PLAIN = {"a", "and", "its", "or", "to", "of", "from", "the", "in", "out", "unit", "through", "side"}


def words(text: str) -> set[str]:
    return {w.strip("()/,.;").lower() for w in text.replace("-", " ").split()} - PLAIN


@pytest.mark.parametrize(
    ("number", "meaning"),
    [(n, m) for r in starting("contacts", "d.din72552.") for n, m in r["value"].items()],
)
def test_terminal_numbers(number, meaning):
    """Our words say at least half of what the standard's do."""
    want, got = words(meaning), words(terminal(number))
    assert len(want & got) * 2 >= len(want), (want, got)


def test_unknown_terminals_are_refused():
    with pytest.raises(ValueError, match="DIN 72552"):
        terminal("99")


def test_coil_resistance_and_current():
    row = CONTACTS["d.relay.coil_r"]
    (low_mA, high_mA), (low_ohm, high_ohm) = row["value"]
    volts = row["inputs"]["supply_v"]
    assert low_mA <= 1000 * relay.coil_A(high_ohm, volts, 20) <= high_mA
    assert low_mA <= 1000 * relay.coil_A(low_ohm, volts, 20) <= high_mA


def test_resting_contact_carries_less():
    closed, opened = CONTACTS["d.relay.contact"]["value"]
    assert relay.contact_limit_A(opened, "87") == opened
    assert relay.contact_limit_A(opened, "87a") == closed


def test_tabs_and_coil_polarity():
    agree(CONTACTS["d.relay.tabs"], asked("relay_tab_width"))
    row = CONTACTS["d.relay.pol"]
    assert "positive" in terminal(row["inputs"]["positive"])
    assert "negative" in terminal(row["inputs"]["negative"])


def test_a_makers_relay():
    ohm, watt, pull_in, _, release_ms = CONTACTS["d.relay.pickup"]["value"]
    assert 12 * relay.coil_A(ohm, 12, 20) == pytest.approx(watt, rel=0.02)
    assert relay.pull_in_at_V(pull_in, 20) == pull_in
    bare = relay.release_ms(12, ohm, 2.0, "none")
    assert bare < release_ms


def test_resistor_across_the_coil():
    row = CONTACTS["d.relay.res_supp"]
    i, (parallel, peak, opening_ms) = row["inputs"], row["value"]
    rel = row["tolerance"]["rel"]
    both = i["r_coil"] * i["r_supp"] / (i["r_coil"] + i["r_supp"])
    assert both == pytest.approx(parallel, rel=rel)
    got = relay.suppressed_peak_V(i["supply_v"], i["r_coil"], "resistor", i["r_supp"])
    assert got == pytest.approx(peak, rel=rel)
    time = relay.release_ms(i["supply_v"], i["r_coil"], 3.0, "resistor", i["r_supp"])
    assert time == pytest.approx(opening_ms, rel=rel)


def test_diode_across_the_coil():
    row = CONTACTS["d.relay.diode_supp"]
    i, (clamp, opening_ms) = row["inputs"], row["value"]
    assert relay.suppressed_peak_V(i["supply_v"], i["r_coil"], "diode") == clamp
    time = relay.release_ms(i["supply_v"], i["r_coil"], 3.0, "diode")
    assert time == pytest.approx(opening_ms, rel=row["tolerance"]["rel"])


def test_a_zener_beside_the_diode_lets_go_sooner():
    slow = relay.release_ms(12, 120, 3.0, "diode")
    assert relay.release_ms(12, 120, 3.0, "zener", 24) < slow / 1.5
