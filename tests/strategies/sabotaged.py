"""A sound job with one thing done wrong, and the rules of which one must break."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

from hypothesis import strategies as st

from startwright.records import Wiring
from strategies.sound import Sound, sound_jobs


@dataclasses.dataclass(frozen=True)
class Sabotaged(Sound):
    """A job and a wiring with one thing done wrong, and the rules of which one must break."""

    sabotage: str
    breaks: frozenset[str]


Runs = dict[str, tuple[str, str]]
Change = Callable[[Runs], None]


def _leave_out(id: str) -> Change:
    return lambda runs: runs.pop(id) and None


def _swap(a: str, b: str) -> Change:
    def change(runs: Runs) -> None:
        runs[a], runs[b] = (runs[a][0], runs[b][1]), (runs[b][0], runs[a][1])

    return change


def _to(id: str, frm: str, to: str) -> Change:
    return lambda runs: runs.update({id: (frm, to)})


SABOTAGES: dict[str, tuple[Change, frozenset[str]]] = {
    "the hood wire left out": (
        _leave_out("hood"),
        frozenset({"hood-ends", "crank-only-when-safe"}),
    ),
    "the brake wire left out": (_leave_out("brake"), frozenset({"brake-ends"})),
    "the hood input taken to the horn": (
        _to("hood", "vehicle.horn", "unit.hood_in"),
        frozenset({"hood-ends", "crank-only-when-safe"}),
    ),
    "the park input on a ground point": (
        _to("park", "unit.park_in", "ground.brace"),
        frozenset({"leaving-park-ends", "crank-only-when-safe"}),
    ),
    "the hood and park inputs crossed": (
        _swap("hood", "park"),
        frozenset({"hood-ends", "leaving-park-ends", "crank-only-when-safe", "can-start"}),
    ),
    "the ignition and starter leads crossed": (
        _swap("ign", "start"),
        frozenset({"no-crank-into-running", "as-under-the-key", "only-what-is-called"}),
    ),
    "the ignition lead bridged to the starter": (
        _to("bridge", "vehicle.ign_1", "vehicle.starter_1"),
        frozenset({"car-unchanged", "no-crank-into-running", "only-what-is-called"}),
    ),
    "the accessory bridged to the ignition": (
        _to("bridge", "vehicle.acc_1", "vehicle.ign_1"),
        frozenset({"car-unchanged", "only-what-is-called", "as-under-the-key"}),
    ),
    "the lock and unlock leads crossed": (
        _swap("lock", "unlock"),
        frozenset({"locks-on-command", "locks", "unlocks-all", "unlocks-driver"}),
    ),
    "a lead tapped into the airbag": (
        _to("tap", "unit.horn", "vehicle.airbag"),
        frozenset({"hands-off"}),
    ),
    "a feed taken to ground": (
        _to("feed_2_b", "F2.b", "ground.brace"),
        frozenset({"no-short", "within-limits"}),
    ),
    "the unit's ground left out": (_leave_out("earth"), frozenset({"can-start", "can-be-tried"})),
    "the starter lead left out": (_leave_out("start"), frozenset({"can-start", "runs"})),
    "the horn lead left out": (_leave_out("horn"), frozenset({"sounds", "can-be-tried"})),
}
"""What a hand does wrong, and the rules of which at least one must break."""


@st.composite
def sabotaged_jobs(draw: st.DrawFn) -> Sabotaged:
    """A sound job with one thing done wrong."""
    sound = draw(sound_jobs())
    sabotage = draw(st.sampled_from(sorted(SABOTAGES)))
    return sabotage_job(sound, sabotage)


def sabotage_job(sound: Sound, sabotage: str) -> Sabotaged:
    """The job with one of `SABOTAGES` done to its wiring."""
    change, breaks = SABOTAGES[sabotage]
    runs = {run.id: run.ends for run in sound.wiring.runs}
    change(runs)
    wiring = sound.wiring.model_dump(by_alias=True, exclude_unset=True)
    known = {run["id"]: run for run in wiring["runs"]}
    fresh = {"size_mm2": 1.0, "length_m": 0.5}
    wiring["runs"] = [
        {**known.get(id, fresh), "id": id, "from": a, "to": b} for id, (a, b) in runs.items()
    ]
    return Sabotaged(sound.job, Wiring.model_validate(wiring), sabotage, breaks)
