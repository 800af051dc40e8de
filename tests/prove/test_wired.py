"""What is wired counts, not what it is called: a wiring that the planner would not think of."""

from prove.sound_wired import hood_on_the_input_for_doors

from startwright.prove import prove


def test_a_hood_seen_by_a_quick_input_of_another_name_is_proven() -> None:
    case = hood_on_the_input_for_doors()
    assert prove(case.job(), case.wiring()).verdict == "proven"
    case.without("r_hood")
    broken = {r.rule for r in prove(case.job(), case.wiring()).rules if r.holds is False}
    assert "hood-ends" in broken
