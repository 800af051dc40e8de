"""The cautions and warnings that a plan carries."""

from __future__ import annotations

from startwright.plan.choose import Choice
from startwright.records.job import WholeJob


def cautions(job: WholeJob, choice: Choice) -> list[str]:
    """What the fitter and the customer must be told about this choice.

    Parameters
    ----------
    job : WholeJob
        Vehicle, unit and wants.
    choice : Choice
        The ways chosen.
    """
    out: list[str] = []
    v = job.vehicle
    if not choice.proven:
        out.append("This is the best plan found, not proven to be the best: there are very many.")
    relied = dict.fromkeys(c for w in choice.ways for c in w.relies)
    for c in relied:
        known = v.circuit(c).known
        if known is None or known.how in ("told", "guessed"):
            how = known.how if known is not None else "not said how it is known"
            out.append(
                f"{c} is only {how}: measure it before you rely on it."
                if known is not None
                else f"{c}: {how}; measure it before you rely on it."
            )
    for w in choice.ways:
        if w.circuit is not None and w.circuit.key_fed and w.circuit.load_A is None and w.uses:
            out.append(f"{w.circuit.id} states no load: measure its current with a clamp meter.")
        if w.demand == "engine-signal" and not w.by_tach:
            out.append(
                f"The unit knows {w.says} that the engine runs: slower than by tach. Try a cold "
                "start and a hot one, and listen for the starter letting go."
            )
        if w.shape == "interface":
            out.append(
                "The interface stands in for a key: it must answer only while the unit starts and "
                "runs the engine; leave no valid key in the car (49 CFR 571.114)."
            )
        if w.shape == "key":
            out.append(
                "The resistor stands in for a key while the unit starts and runs the engine; leave "
                "no valid key in the car (49 CFR 571.114). A few milliamps flow: take a relay "
                "whose contacts are made for that, or listen for starts that fail after a year."
            )
        if w.shape == "foot":
            out.append(
                "Tell the customer: the first press on the brake or the button turns a remote "
                "start off; the driver then starts it himself, with his key."
            )
        if w.cuts:
            out.append(f"{', '.join(w.cuts)} is cut: leave enough wire to join it again.")
    if any(c.function in ("srs", "high_voltage") for c in v.circuits):
        out.append("Keep away from airbag and high-voltage wires: do not probe, move or join them.")
    if "remote_start" in job.wants:
        if job.vehicle.start == "push_button":
            out.append(
                "A key that lies in the car or near it is found by the car: try a start, a brake "
                "stop and a drive off with the key at hand, and again with it out of reach."
            )
        out.append(
            "Tell the customer in writing: never start it in a garage, open or shut (carbon "
            "monoxide); leave it in park with the parking brake on."
        )
        if any(c.function == "starter" and c.interlock in (None, "none") for c in v.circuits):
            out.append(
                "The car itself does not stop the starter in gear: the unit's park/neutral input "
                "alone does. Try a start in every gear with the wheels chocked, brake held."
            )
    return out
