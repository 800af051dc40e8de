"""What is wired counts, not what it is called: a wiring that the planner would not think of."""

from prove.base import Case
from prove.sound_wired import hood_on_the_input_for_doors

from startwright.prove import prove


def test_a_hood_seen_by_a_quick_input_of_another_name_is_proven() -> None:
    case = hood_on_the_input_for_doors()
    assert prove(case.job(), case.wiring()).verdict == "proven"
    case.without("r_hood")
    broken = {r.rule for r in prove(case.job(), case.wiring()).rules if r.holds is False}
    assert "hood-ends" in broken


def test_a_wire_is_no_load_however_long_and_thin_it_is() -> None:
    """The horn's lead stands at battery and meets ground over fifty metres and a switch."""
    case = Case().without("horn")
    case.size_mm2 = None
    case.lead("horn", active="battery", limit_A=None)
    case.parts["S1"] = "svc"
    case.run("r_horn", "unit.horn", "S1.a")
    case.run("s2", "S1.b", "ground.body")
    wiring = case.wiring()
    long = [r.model_copy(update={"length_m": 50}) if r.id == "r_horn" else r for r in wiring.runs]
    rules = prove(case.job(), wiring.model_copy(update={"runs": long})).rules
    assert next(r for r in rules if r.rule == "no-short").holds is False
