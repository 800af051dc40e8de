"""Words, schemas, reading and writing files."""

from startwright.records.errors import RecordError
from startwright.records.job import Job, WholeJob
from startwright.records.readings import Meter, Reading, Readings
from startwright.records.reports import FaultResult, ProofReport, RuleResult, SizeReport
from startwright.records.stock import Part, Stock
from startwright.records.unit import Lead, Setting, Step, Unit
from startwright.records.vehicle import Circuit, Vehicle
from startwright.records.wiring import Check, Fitted, Need, Plan, Reason, Run, Wiring

__all__ = [
    "Check",
    "Circuit",
    "FaultResult",
    "Fitted",
    "Job",
    "Lead",
    "Meter",
    "Need",
    "Part",
    "Plan",
    "ProofReport",
    "Reading",
    "Readings",
    "Reason",
    "RecordError",
    "RuleResult",
    "Run",
    "Setting",
    "SizeReport",
    "Step",
    "Stock",
    "Unit",
    "Vehicle",
    "WholeJob",
    "Wiring",
]
