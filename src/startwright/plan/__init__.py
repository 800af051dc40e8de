"""What goes where: needs, ways, the choice among them, and the wiring it makes."""

from startwright.plan.answer import Alternative, Mend, NoPlan, Planned, Resolve, Score
from startwright.plan.make import plan

__all__ = ["Alternative", "Mend", "NoPlan", "Planned", "Resolve", "Score", "plan"]
