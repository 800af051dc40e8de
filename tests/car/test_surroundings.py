"""Whatever a hand can work is told in the words that a scenario line reads."""

import pytest

from startwright.car.surroundings import values
from startwright.prove.choices import action
from startwright.records.scenario import parse_action

OPERATED = (
    *("brake", "clutch", "hood", "parking_brake", "door", "driver_door", "trunk", "wait_lamp"),
    *("parking_light", "horn", "dome_light", "lock", "unlock", "driver_unlock", "trunk_release"),
    *("alarm_arm", "alarm_disarm", "seat_heater", "rear_defogger", "start_button", "service"),
    *("battery", "key", "gear"),
)


@pytest.mark.parametrize("name", OPERATED)
@pytest.mark.parametrize("side", ["", "_left", "_right"])
def test_every_change_of_a_surrounding_can_be_said(name: str, side: str) -> None:
    if side and name in ("key", "gear", "battery"):
        return
    many = len(values(name))
    for old in range(many):
        for new in range(many):
            if old != new:
                words = action(name + side, old, new)
                assert str(parse_action(words)) == words
