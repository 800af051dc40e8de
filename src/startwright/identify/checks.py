"""What can be operated for a check, and how long it takes."""

from __future__ import annotations

PROBE_s = 8.0
"""Finding a pin, back-probing it, reading the value (common practice, no source)."""

CHECKS: dict[tuple[str, ...], float] = {
    (): 0.0,
    ("key accessory",): 3.0,
    ("key run",): 3.0,
    ("key start",): 10.0,
    ("key run", "engine starts"): 15.0,
    ("key remove",): 4.0,
    ("brake press",): 3.0,
    ("key run", "brake press"): 5.0,
    ("driver_door open",): 5.0,
    ("hood open",): 12.0,
    ("trunk open",): 12.0,
    ("parking_light on",): 3.0,
    ("horn press",): 3.0,
    ("lock press",): 4.0,
    ("unlock press",): 4.0,
    ("key run", "brake press", "shift drive"): 8.0,
    ("key run", "engine starts", "seat_heater on"): 18.0,
    ("key run", "engine starts", "rear_defogger on"): 18.0,
}
"""Everything sensible that can be worked, and the seconds that it takes besides probing."""

TEST_LOAD_s = 25.0

FIXED_LIST: tuple[tuple[str, ...], ...] = tuple(CHECKS)
"""A fixed checklist to compare with: every action, in this order, on every wire."""
