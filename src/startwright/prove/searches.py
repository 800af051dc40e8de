"""What is reached with a fault, searched for several faults at once and kept for those alike."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property

from startwright.prove.explore import Explored, explore
from startwright.prove.family import Family, seeds_of_each
from startwright.prove.faulty import Faulty, seeds_in
from startwright.prove.model import Model
from startwright.prove.tables import TooLarge, same
from startwright.prove.touched import Touched

MOST_KEPT = 100_000
"""So many cores of searches are kept for faults to come, some 100 MB."""
MOST_TOGETHER = 1 << 16
"""So many cores cars may begin with that are searched at once."""
FEW = 2
"""For so many searches it does not pay to look what each reaction looks up."""


class Searches:
    """Searches faulty cars from all states that the sound one reaches.

    Parameters
    ----------
    healthy : Model
    sound : Explored
        All that the sound car reaches.
    """

    def __init__(self, healthy: Model, sound: Explored) -> None:
        self.healthy = healthy
        self.sound = sound
        self.most = max(MOST_TOGETHER // sound.steps.count, 1)
        """So many are worth being searched at once."""
        self._kind = (
            healthy.variables,
            healthy.car.tach_lost,
            tuple(sound.steps.presses.of.tolist()),
        )
        self._found: dict[bytes, Explored] = {}
        self._begun = 0

    def same_feedback(self, one: Faulty) -> bool:
        """Whether the same is reached by the same steps as in the sound car."""
        if one.kind != self._kind:
            return False
        both = zip(self.healthy.feedback, one.model.feedback, strict=True)
        return all(same(healthy, table) for healthy, table in both)

    def wants(self, one: Faulty) -> bool:
        """Whether a faulty car has to be searched."""
        return not self.same_feedback(one) and one.feeding not in self._found

    def of(self, one: Faulty) -> Explored:
        """What is reached with a fault; raises `TooLarge` where it cannot be searched."""
        if one.feeding not in self._found:
            self.search([one])
            found = self._found.get(one.feeding)
            self.forget()
        else:
            found = self._found[one.feeding]
        if found is None:
            raise TooLarge(f"what is reached with {one.fault}")
        return found

    def search(
        self, ones: Sequence[Faulty], progress: Callable[[int], bool] = lambda states: True
    ) -> bool:
        """Search faulty cars and keep what is found; False where it was stopped."""
        kinds: dict[tuple[object, ...], list[Faulty]] = {}
        for one in ones:
            kinds.setdefault(one.kind, []).append(one)
        return all(self._search(alike, progress) for alike in kinds.values())

    def forget(self) -> None:
        """Leave of what was found only so much as is kept."""
        room = MOST_KEPT
        for sign, explored in [*self._found.items()]:
            room -= explored.steps.count
            if room < 0:
                del self._found[sign]

    def _search(self, alike: Sequence[Faulty], progress: Callable[[int], bool]) -> bool:
        """Search cars of one kind at once; each alone where that is too much."""
        going = True

        def look(states: int) -> bool:
            nonlocal going
            going = progress(states)
            return going

        try:
            found = self._together(alike, look)
        except TooLarge:
            found = []
        if not going:
            return False
        if len(alike) > 1 and not (found and all(explored.finished for explored in found)):
            return all(self._search([one], progress) for one in alike)
        self._found |= {one.feeding: e for one, e in zip(alike, found, strict=False)}
        return True

    def _together(self, alike: Sequence[Faulty], progress: Callable[[int], bool]) -> list[Explored]:
        family = Family([one.model for one in alike], alike[0].presses)
        self._begun += len(alike)
        if alike[0].kind == self._kind and self._begun > FEW:
            family.take_over(self.sound, [self.touched.by(one.model) for one in alike])
        seeds = [seeds_in(self.sound, one.model) for one in alike]
        explored = explore(
            family.model, steps=family, seeds=seeds_of_each(seeds), progress=progress
        )
        return [family.part(explored, k, seeds[k]) for k in range(len(alike))]

    @cached_property
    def touched(self) -> Touched:
        """Which steps of the sound car a fault can change."""
        return Touched(self.healthy, self.sound)
