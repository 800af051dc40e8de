"""Parts that are not on the shelf and that a shop can buy: what might open a way.

Ratings and prices are those of ordinary parts (common practice, no source); prices are in the money
of the example shop and serve only to say which addition is the cheaper.
"""

from __future__ import annotations

from startwright.plan.demand import Needs
from startwright.records.job import WholeJob
from startwright.records.stock import Part
from startwright.records.words import WORKED

_FUSES_A = (1.0, 3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0)
_RELAY = Part(id="wished-relay", kind="relay", name="12 V relay, 40 A contact, suppressed coil",
              coil_ohm=90, contact_A=40, pull_in_V=7.0, drop_out_V=1.5, suppressed=True,
              price=5.0)  # fmt: skip
_DIODES = (
    Part(id="wished-diode-3", kind="diode", name="diode for 3 A", forward_A=3, reverse_V=400,
         price=0.3),
    Part(id="wished-diode-6", kind="diode", name="diode for 6 A", forward_A=6, reverse_V=400,
         price=0.6),
)  # fmt: skip


def wishes_of(job: WholeJob, needs: Needs) -> tuple[Part, ...]:
    """The parts to try adding for a job that has no plan.

    Parameters
    ----------
    job : WholeJob
        Its vehicle says which switches, resistors and interfaces could matter.
    needs : Needs
        What is wanted.
    """
    out: list[Part] = [_RELAY, *_DIODES]
    out += [
        Part(id=f"wished-fuse-{a:g}".replace(".", "_"), kind="fuse",
             name=f"fuse of {a:g} A with its holder", rating_A=a, price=2.0 + a / 100)
        for a in _FUSES_A
    ]  # fmt: skip
    for d in needs.demands:
        lever_or_lamp = d.sense in ("park_neutral", "wait_to_start")
        if d.kind == "sensed" and d.sense in WORKED and not lever_or_lamp:
            for at in ("open", "closed"):
                out.append(
                    Part.model_validate(
                        {"id": f"wished-{d.sense}-switch-{at}".replace("_", "-"), "kind": "switch",
                         "name": f"{d.sense.replace('_', ' ')} switch, {at} at rest",
                         "operated_by": d.sense, "contact_at_rest": at, "price": 3.0}
                    )
                )  # fmt: skip
        if d.kind == "interface":
            out.append(
                Part(
                    id="wished-interface", kind="interface", serves=[d.sense],
                    name=f"interface for the {d.sense.replace('_', ' ')} of this vehicle",
                    needs={"power": "battery", "earth": "ground", "wake": "running_signal"},
                    pins={"power": "battery", "earth": "ground", "wake": "running_signal"},
                    limit_A=0.5, price=40.0,
                )
            )  # fmt: skip
    out += _resistors(job)
    return tuple(out)


def _resistors(job: WholeJob) -> list[Part]:
    out: list[Part] = []
    key_ohm = job.vehicle.immobilizer.key_ohm
    if key_ohm is not None and job.vehicle.immobilizer.kind == "resistor_key":
        out.append(_resistor(key_ohm))
    for c in job.vehicle.circuits:
        steps = c.steps_ohm
        if steps is None:
            continue
        for name in ("lock", "unlock", "driver_unlock", "trunk_release"):
            ohm = getattr(steps, name)
            if ohm:
                beside = 1 / (1 / ohm - 1 / steps.rest) if steps.rest > ohm else ohm
                out.append(_resistor(beside))
    return out


def _resistor(ohm: float) -> Part:
    value = max(round(ohm), 1)
    return Part(id=f"wished-{value}-ohm", kind="resistor", name=f"resistor of {value} ohm",
                ohm=value, watt=0.5, price=0.1)  # fmt: skip


__all__ = ["wishes_of"]
