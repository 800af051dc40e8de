"""A battery wire that is live with the key alone is fed by a plan as the key does it."""

from startwright.example import path
from startwright.plan import Planned, plan
from startwright.prove import prove
from startwright.records.read import read_job
from startwright.records.vehicle import Circuit


def test_a_battery_wire_that_the_key_switches_is_planned_and_proven() -> None:
    job = read_job(path() / "jobs" / "plain.yaml")
    record = {"id": "kept", "function": "battery", "live": ["accessory", "run", "start"]}
    kept = Circuit.model_validate({**record, "load_A": 3})
    vehicle = job.vehicle.model_copy(update={"circuits": [*job.vehicle.circuits, kept]})
    job = job.model_copy(update={"vehicle": vehicle})
    made = plan(job)
    assert isinstance(made, Planned)
    assert prove(job, made.wiring).verdict == "proven"
