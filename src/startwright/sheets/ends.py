"""What a wiring joins: the unit, the parts and the car's wires, and the runs' ends at each."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from startwright.records import Part, RecordError, Run, WholeJob, Wiring
from startwright.sheets.tree import NOWHERE, PlaceTree, place_tree, unit_place

UNIT = "unit"
End = tuple[str, int]
"""One end of a run: the run's id, and 0 for `from` or 1 for `to`."""


@dataclass
class Item:
    """Something that runs end at, other than the unit: a part, a wire of the car, a ground point.

    `pins` maps each pin to the ends there; a wire of the car and a ground point have one pin, "".
    """

    id: str
    kind: str
    place: str
    pins: dict[str, list[End]] = field(default_factory=dict)

    @property
    def is_part(self) -> bool:
        """Whether it is drawn as a box with pins."""
        return self.kind == "part"

    @property
    def ends(self) -> list[End]:
        """All ends here, pin by pin."""
        return [end for ends in self.pins.values() for end in ends]


@dataclass
class Web:
    """A wiring as the drawing needs it.

    Attributes
    ----------
    tree : PlaceTree
        The places, grown from the unit's.
    items : dict
        Parts, wires of the car and ground points by their terminal's name.
    leads : dict
        The unit's leads that are used, with the ends at each.
    runs : dict
        The runs by id, in the order of the wiring.
    owner : dict
        For each end the item it is at; `UNIT` for the unit.
    parts : dict
        The article behind each part.
    job, wiring
        What all this was read from.
    """

    tree: PlaceTree
    items: dict[str, Item]
    leads: dict[str, list[End]]
    runs: dict[str, Run]
    owner: dict[End, str]
    parts: dict[str, Part]
    job: WholeJob
    wiring: Wiring

    @property
    def settings(self) -> dict[str, str | float]:
        """Every setting of the unit as this wiring has it."""
        return self.job.unit.chosen(self.wiring.settings)

    def place(self, end: End) -> str | None:
        """The place of an end; `None` at the unit."""
        owner = self.owner[end]
        return None if owner == UNIT else self.items[owner].place

    def other(self, end: End) -> End:
        """The other end of the same run."""
        return (end[0], 1 - end[1])

    def is_local(self, end: End) -> bool:
        """Whether the run stays within one place (and does not touch the unit)."""
        here, there = self.place(end), self.place(self.other(end))
        return here is not None and here == there

    def at(self, place: str) -> list[Item]:
        """The items of one place, in the order of the wiring."""
        return [item for item in self.items.values() if item.place == place]


def _shelf_parts(job: WholeJob, wiring: Wiring) -> dict[str, Part]:
    shelf = {part.id: part for part in job.stock.parts}
    out: dict[str, Part] = {}
    for k, fitted in enumerate(wiring.parts):
        if fitted.of not in shelf:
            raise RecordError(
                f"no part {fitted.of!r} is on the shelf {job.stock.id!r}",
                f"parts[{k}].of",
                f"one of {', '.join(sorted(shelf)[:12])}",
            )
        out[fitted.id] = shelf[fitted.of]
    return out


def _item_of(
    terminal: str, where: str, web_parts: dict[str, Part], job: WholeJob
) -> tuple[str, str]:
    """Item id and pin of a terminal; refuses what is not there."""
    owner, _, rest = terminal.partition(".")
    if owner == "unit":
        if rest not in {lead.id for lead in job.unit.leads}:
            raise RecordError(f"unit has no lead {rest!r}", where, "a lead of the unit")
        return UNIT, rest
    if owner == "vehicle":
        if rest.partition(".")[0] not in {c.id for c in job.vehicle.circuits}:
            raise RecordError(f"vehicle has no circuit {rest!r}", where, "a circuit of the vehicle")
        return terminal, ""
    if owner == "ground":
        return terminal, ""
    if owner not in web_parts:
        raise RecordError(f"no part {owner!r} in the wiring", where, "a part of the wiring")
    if rest not in web_parts[owner].pin_names:
        raise RecordError(
            f"part {owner!r} has no pin {rest!r}", where, ", ".join(web_parts[owner].pin_names)
        )
    return owner, rest


def read_web(job: WholeJob, wiring: Wiring, *, at: str | None = None) -> Web:
    """Work out what ends where.

    Parameters
    ----------
    job, wiring
        The job, and the wiring to draw.
    at : str, optional
        The place of the unit; by default `unit_place`.

    Raises
    ------
    RecordError
        For a run that goes to a terminal that is not there.
    """
    root = at or unit_place(job, wiring)
    parts = _shelf_parts(job, wiring)
    fitted = {f.id: f for f in wiring.parts}
    circuits = {c.id: c for c in job.vehicle.circuits}
    items: dict[str, Item] = {}
    leads: dict[str, list[End]] = {}
    owner: dict[End, str] = {}
    for k, run in enumerate(wiring.runs):
        for which, terminal in enumerate(run.ends):
            where = f"runs[{k}].{'to' if which else 'from'} ({run.id})"
            name, pin = _item_of(terminal, where, parts, job)
            end = (run.id, which)
            owner[end] = name
            if name == UNIT:
                leads.setdefault(pin, []).append(end)
                continue
            if name not in items:
                kind = "part" if name in parts else terminal.partition(".")[0]
                items[name] = Item(name, kind, "")
            items[name].pins.setdefault(pin, []).append(end)
    for name, item in items.items():
        if item.kind == "vehicle":
            item.place = circuits[name.split(".")[1]].place or NOWHERE
        elif item.is_part:
            item.place = fitted[name].place or ""
        elif item.kind == "ground":
            item.place = _named_after(name, job, root)
    _settle_places(items, owner, root)
    tree = place_tree(job.vehicle, root, [item.place for item in items.values()])
    runs = {run.id: run for run in wiring.runs}
    return Web(tree, items, leads, runs, owner, parts, job, wiring)


def _named_after(ground: str, job: WholeJob, root: str) -> str:
    """The place that a ground point is named after (``ground.steering_column``), if any."""
    bare = "".join(filter(str.isalnum, ground.partition(".")[2]))
    places = [root, *(p for way in job.vehicle.places for p in (way.from_, way.to))]
    return next((p for p in places if "".join(filter(str.isalnum, p)) == bare), "")


def _settle_places(items: dict[str, Item], owner: dict[End, str], root: str) -> None:
    """Give parts and ground points without a place the one most of their runs lead to."""
    for kinds in (("part",), ("part", "ground")):
        for _ in range(len(items)):
            moved = False
            for item in items.values():
                if item.place or item.kind not in kinds:
                    continue
                votes: Counter[str] = Counter()
                for run, which in item.ends:
                    there = owner[(run, 1 - which)]
                    place = root if there == UNIT else items[there].place
                    if place and place != NOWHERE:
                        votes[place] += 1 if there == UNIT else 2
                if votes:
                    top = max(votes.values())
                    item.place = next(p for p in votes if votes[p] == top)
                    moved = True
            if not moved:
                break
    for item in items.values():
        item.place = item.place or root
