"""What broken rules mean at the car, in sentences for someone who was never told of rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from startwright.records import ProofReport

NOT_FINISHED = "not finished"
"""Stands among what a fault breaks where its search did not finish."""

EFFECTS: dict[str, str] = {
    "crank-only-when-safe": "The starter can turn with the hood open or the lever out of park.",
    "no-crank-into-running": "The starter can be driven into a running engine.",
    "brake-ends": "The brake pedal no longer ends a remote start.",
    "hood-ends": "An open hood no longer ends a remote start.",
    "leaving-park-ends": "The engine goes on when the lever leaves park.",
    "start-ends": "Ignition or starter stays fed when the unit is idle, or a start has no end.",
    "key-has-last-word": "The key no longer has the last word over the engine.",
    "locks-on-command": "A door lock moves though nobody asked, or both ways at once.",
    "start-through-interlock": "The starter is fed past the car's own park/neutral switch.",
    "immobilizer-only-while-starting": "The immobilizer stays satisfied while the car is parked.",
    "no-short": "Battery meets ground without a load: a fuse has to open.",
    "within-limits": "A lead, contact, fuse or wire carries more than it may.",
    "hands-off": "An airbag, high-voltage or data wire is touched.",
    "coils-suppressed": "A coil kicks back into the lead that drives it.",
    "settles": "A relay chatters, or what follows depends on which of two is quicker.",
    "car-unchanged": "{} no longer works as in the factory car, also with the unit at rest.",
    "only-what-is-called": "{} works along though nothing calls it.",
    "as-under-the-key": "During a start a circuit is not as it is under the key.",
    "can-start": "A command no longer starts the engine.",
    "runs": "The engine does not run on by itself.",
    "can-stop": "A command no longer stops the engine.",
    "locks": "The remote no longer locks.",
    "unlocks-driver": "The remote no longer unlocks the driver's door.",
    "unlocks-all": "The remote no longer unlocks.",
    "opens-trunk": "The remote no longer opens the trunk.",
    "flashes": "The lights no longer flash.",
    "sounds": "The horn no longer sounds.",
    "panics": "The panic press does nothing.",
    "heats-seat": "The seat heater is not switched on.",
    "defogs": "The rear defogger is not switched on.",
    "cuts-starter": "The starter is no longer cut while armed.",
    "shows-armed": "Nothing shows that the unit is armed.",
    "can-be-tried": "Part of what has to be safe can no longer be tried.",
    NOT_FINISHED: "Not known: its search did not finish. Take it for a hazard.",
}
"""What a broken rule means at the car, in a sentence; `{}` is what hangs on the failed thing."""

IMPLIED: dict[str, frozenset[str]] = {
    "can-start": frozenset({"runs", "can-stop", "heats-seat", "defogs", "as-under-the-key"}),
    "locks-on-command": frozenset({"car-unchanged", "only-what-is-called"}),
    "no-short": frozenset({"within-limits", "only-what-is-called"}),
    "car-unchanged": frozenset({"only-what-is-called", "as-under-the-key"}),
}
"""What need not be said any more once the first is said."""

ENDS: dict[str, str] = {
    "brake-ends": "the brake",
    "hood-ends": "an open hood",
    "leaving-park-ends": "the lever",
    "start-ends": "its own time",
}
"""What ends a start; several that fail at once are said in one sentence."""


def effects(breaks: list[str], at: str = "a circuit of the car") -> list[str]:
    """What broken rules mean at the car, in sentences, without what follows from another.

    Parameters
    ----------
    breaks : list of str
        Slugs of rules, the worst first.
    at : str
        What hangs on the thing that failed.

    >>> effects(["brake-ends", "can-start", "runs"])
    ['The brake pedal no longer ends a remote start.', 'A command no longer starts the engine.']
    >>> effects(["brake-ends", "start-ends"])
    ['Neither the brake nor its own time ends a start.']
    """
    implied = {rule for first in breaks for rule in IMPLIED.get(first, ())}
    ends = [rule for rule in breaks if rule in ENDS]
    out: dict[str, None] = {}
    for rule in breaks:
        if rule in implied:
            continue
        if rule in ENDS and len(ends) > 1:
            named = [ENDS[r] for r in ends]
            out[f"Neither {', '.join(named[:-1])} nor {named[-1]} ends a start."] = None
        else:
            says = EFFECTS.get(rule, f"The rule {rule} is broken.").format(at)
            out[says[0].upper() + says[1:]] = None
    return list(out)


def not_finished(proof: ProofReport) -> tuple[int, int]:
    """How many single faults and how many pairs a proof tried without an end.

    Pairs past the bound are none of them: they were never begun, and the bound is told.
    """
    faults = sum(NOT_FINISHED in f.breaks for f in proof.faults or [])
    return faults, sum(NOT_FINISHED in p.breaks for p in proof.pairs or [])


def unfinished(proof: ProofReport) -> str:
    """What faults were not finished, in a sentence; '' where all were, or none was tried."""
    faults, pairs = not_finished(proof)
    tried = len(proof.faults or [])
    looked_at = proof.pairs_bound.looked_at if proof.pairs_bound else pairs
    said = [f"{faults} of {tried} single faults"] if faults else []
    said += [f"{pairs} of {looked_at} pairs of faults"] if pairs else []
    if not said:
        return ""
    was = "was" if faults + pairs == 1 else "were"
    them = "it" if faults + pairs == 1 else "each"
    return f"{' and '.join(said)} {was} not finished: take {them} for a hazard."
