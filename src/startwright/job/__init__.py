"""The loops, as pure functions: plan, size, prove, mend; and what changed between two plans."""

from startwright.job.changed import Changed, changed
from startwright.job.loop import Outcome, Try, work

__all__ = ["Changed", "Outcome", "Try", "changed", "work"]
