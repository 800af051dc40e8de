"""Lock motors at rest, against what service manuals say of them."""

from outside.published import table
from prove.base import Case

from startwright.car.build import wire_up
from startwright.prove.tables import Tabulated


def test_reversing_lock_motors_rest_at_ground_on_both_sides() -> None:
    row = table("signals")["m.lock.rest"]
    case = Case()
    for name in ("lock", "unlock"):
        case.circuit(name, style="reversing", rest="ground", active="battery", load_A=8)
    car = wire_up(case.without("r_lock", "r_unlock").job(), case.wiring())
    factory = Tabulated(car.factory, car.factory_held_at)
    for name in ("lock", "unlock"):
        level = factory.level(car.factory_number[f"vehicle.{name}"])
        at_rest = level.data[tuple(0 for _ in level.over)]
        assert {0: "ground", 1: "battery", 2: "open"}[int(at_rest)] == row["value"]
