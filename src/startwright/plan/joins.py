"""Which circuits may hang on one lead without one feeding the other."""

from __future__ import annotations

from startwright.car.circuits import load_ohm
from startwright.records.vehicle import Circuit


def move_together(a: Circuit, b: Circuit) -> bool:
    """Whether two circuits are active in exactly the same states of the factory car.

    Key-fed circuits: live in the same key positions, starters behind the same interlock (else one
    would float where the other does not). Operated ones: worked by the same switch
    (a circuit with a `side` has one of its own).
    """
    if a.key_fed or b.key_fed:
        alike = a.key_fed and b.key_fed and set(a.live or ()) == set(b.live or ())
        return alike and (a.interlock or "none") == (b.interlock or "none")
    special = ("reversing", "ladder", "vacuum")
    return (
        a.function == b.function
        and a.side == b.side
        and a.tells == b.tells
        and a.style not in special
        and b.style not in special
    )


def may_join(a: Circuit, b: Circuit) -> bool:
    """Whether two circuits may be joined: they move together, to the same level."""
    return move_together(a, b) and a.active_level == b.active_level


def floats(circuit: Circuit) -> bool:
    """Whether nothing holds the circuit in some state of the factory car, so that a coil would.

    A starter behind its own interlock floats out of park; an operated circuit without a load does
    so at rest.
    """
    if circuit.function == "starter":
        return circuit.interlock == "downstream"
    return load_ohm(circuit) is None


ISOLATED = frozenset({"diode", "relay", "cut", "pin"})
"""Shapes through which a circuit cannot feed the lead."""


def share_lead(shape_a: str, a: Circuit | None, shape_b: str, b: Circuit | None) -> bool:
    """Whether two ways may hang on the same lead, by how each is connected to it.

    `direct` joins the circuit to the lead; so the circuit works whatever else hangs there. Behind
    a diode or a coil the circuit cannot reach the lead. A `tap` (see `borrow`) stands on a lead
    that works its neighbour straight, and was checked against that neighbour alone: two of them
    on one lead were not checked against each other.
    """
    if "tap" in (shape_a, shape_b):
        return {shape_a, shape_b} in ({"tap", "direct"}, {"tap", "relay"})
    if shape_a == shape_b == "direct":
        return a is not None and b is not None and may_join(a, b)
    if "direct" not in (shape_a, shape_b):
        return shape_a in ISOLATED and shape_b in ISOLATED
    if {"direct", "relay"} == {shape_a, shape_b}:
        straight = a if shape_a == "direct" else b
        together = a is not None and b is not None and move_together(a, b)
        return together and straight is not None and not floats(straight)
    return False
