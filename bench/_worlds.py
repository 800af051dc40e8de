"""Wirings of any size for the benches: the tests' plain car with followers in it, from records.

A follower is a relay whose coil hangs on a switched wire of the car: something that comes on with
the dome light, with the rear defogger. Its wire and its coil then feed back, so each doubles the
states.
"""

from __future__ import annotations

from prove.base import Case

from startwright.prove.steps import Steps

FOLLOWED = (
    "door",
    "driver_door",
    "trunk",
    "dome_light",
    "seat_heater",
    "rear_defogger",
    "parking_brake",
    "clutch",
)


def plain_with(followers: int) -> Case:
    """The plain car with so many followers."""
    case = Case()
    for name in FOLLOWED[:followers]:
        case.circuit(name, function=name, rest="ground", active="battery", load_A=1.0)
        case.parts[f"K_{name}"] = "relay"
        case.run(f"f_{name}_1", f"vehicle.{name}", f"K_{name}.86")
        case.run(f"f_{name}_2", f"K_{name}.85", "ground.body")
    return case


def plain_search(steps: Steps, start: int) -> int:
    """A plain Python breadth-first search, one state at a time, with all tables given to it.

    Parameters
    ----------
    steps : Steps
        All steps, worked before.
    start : int
        The number of the parked core.

    Returns
    -------
    int
        The states it reached, for wirings whose relays never race.
    """
    presses = steps.presses
    count = presses.count
    after = steps.after.tolist()
    chosen = [[after[r] for r in row if r >= 0] for row in steps.chosen.tolist()]
    place, pressed = steps.place.tolist(), steps.pressed.tolist()
    classes = presses.of.tolist()
    buttons = [(event, to.tolist()) for _, event, to in presses.moves]
    seen = {start * count}
    frontier = [start * count]
    while frontier:
        following = []
        for state in frontier:
            core, press = divmod(state, count)
            ends = [end * count + press for end in chosen[place[core][classes[press]]]]
            for event, to in buttons:
                end = to[press]
                if end >= 0:
                    ends.append(after[pressed[core][event][classes[end]]] * count + end)
            for end in ends:
                if end not in seen:
                    seen.add(end)
                    following.append(end)
        frontier = following
    return len(seen)
