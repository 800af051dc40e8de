"""Will it hold: wires, fuses, contacts, starting and parked, on the electrical model."""

from startwright.size.report import size
from startwright.size.single import curves, single

__all__ = ["curves", "single", "size"]
