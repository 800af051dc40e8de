"""Whether anyone would notice a fault by itself: what shows, and what a computer alone sees.

A lamp that stays lit, a dead circuit, a blown fuse show. A wire that only tells a computer that all
is well goes on telling it so: nobody sees that the lever is never out of park, the hood never open,
the clutch never up, or that the car now starts with any key. (Common practice, no source.)
"""

from __future__ import annotations

import numpy as np

from startwright.prove.explore import Explored
from startwright.prove.mark import Mark
from startwright.prove.observe import Observer
from startwright.prove.search import Watcher
from startwright.prove.tables import Table, combine, constant, either
from startwright.records.vehicle import Circuit

BY_CIRCUIT = {"car-unchanged": "changed", "only-what-is-called": "uncalled"}
"""What breaks one of these shows where the circuit concerned does; with the mark it looks at."""
ALL_IS_WELL = {"park_neutral": True, "clutch": True, "hood": False, "immobilizer": True}
"""Circuits that only a computer looks at, and how each stands where it lets the engine start."""


def shows(watcher: Watcher, explored: Explored, broken: set[str]) -> bool:
    """Whether what a fault breaks shows by itself.

    Parameters
    ----------
    watcher : Watcher
        That looked at what is reached with the fault.
    explored : Explored
        What is reached.
    broken : set of str
        The rules that break with it and did not before.
    """
    if "no-short" in broken and watcher.ever(explored, _by_day(watcher)):
        return True
    for slug, name in BY_CIRCUIT.items():
        if slug in broken:
            mark = watcher.marks[name]
            seen = showing(watcher.marks.observer, mark)
            if seen is mark or watcher.ever(explored, seen):
                return True
    return False


def _by_day(watcher: Watcher) -> Mark:
    """A short with the hood shut: a fuse blows, or a wire smokes, in daily use.

    One that is there with the hood open alone comes when somebody stands before the engine.
    """
    short = watcher.marks["short"]
    shut = Table(("hood",), np.array([True, False]))
    parts = [(p.label, combine(np.logical_and, p.full, shut), p.when) for p in short.parts]
    return Mark(watcher.model, parts)


def showing(observer: Observer, mark: Mark) -> Mark:
    """The reasons of a mark that show by themselves; the mark itself where all of them do."""
    circuits = {c.id: c for c in observer.vehicle.circuits}
    lost = {
        p.label: _says_otherwise(observer, circuits[p.label])
        for p in mark.parts
        if circuits[p.label].function in ALL_IS_WELL
    }
    if not lost:
        return mark
    return Mark(
        observer.model,
        [
            (p.label, combine(np.logical_and, p.full, lost.get(p.label, constant(True))), p.when)
            for p in mark.parts
        ],
    )


def _says_otherwise(observer: Observer, circuit: Circuit) -> Table:
    """Whether a circuit no longer says that all is well where the factory car's does.

    One whose work is on no record is taken to show.
    """
    acts = observer.model.acts(circuit)
    if not acts:
        return constant(True)
    well = ALL_IS_WELL[circuit.function]
    return either(combine(lambda w, f: (w != well) & (f == well), w, f) for _, w, f in acts)
