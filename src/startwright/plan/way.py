"""A way: one complete manner of meeting one need, with everything it takes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from startwright.physics.fuse import CONTINUOUS_SHARE
from startwright.plan.answer import Mend
from startwright.plan.outputs import Output, outputs_of
from startwright.records.job import WholeJob
from startwright.records.stock import Part
from startwright.records.vehicle import Circuit

TAP_MINUTES = 6.0
"""Baring, joining and insulating one wire of the car (common practice, no source)."""
BENCH_MINUTES = 2.0
"""One joint at the bench (common practice, no source)."""
PART_MINUTES = 4.0
"""Mounting one part (common practice, no source)."""
CUT_MINUTES = 5.0
"""Cutting a circuit of the car in two and making both ends good (common practice, no source)."""
SETTING_MINUTES = 1.0
"""Choosing one setting of the unit (common practice, no source)."""
FUSE_SHARE = CONTINUOUS_SHARE
"""Largest continuous load as a share of a fuse's rating at 25 C (fuse makers' practice)."""

SMALL = "@small"
"""Terminal: behind the fuse of the small feed, which supplies coils and sensed levels."""
GROUND = "@ground"
"""Terminal: a ground point."""


@dataclass(frozen=True)
class Link:
    """One run to be: its ends, the amps it carries, what fuse stands before it, and why.

    An end is a terminal, ``@<role>.<pin>`` of a part of the way, `SMALL` or `GROUND`. `guard` is
    the role of the fuse, ``small``, ``feed:<lead>`` or ``car``.
    """

    a: str
    b: str
    amps: float
    guard: str
    why: str


@dataclass(frozen=True)
class Use:
    """How a way uses an output: the amps it takes and how it hangs on the lead."""

    output: Output
    amps: float
    shape: str


@dataclass(frozen=True)
class Way:
    """One manner of meeting the need `demand`.

    `parts` are (role, article) pairs; `battery` is the battery circuit it draws `battery_A` from
    by itself, `small_A` what it draws from the small feed (None where it needs none).
    """

    demand: str
    shape: str
    says: str
    uses: tuple[Use, ...] = ()
    inputs: tuple[str, ...] = ()
    circuit: Circuit | None = None
    settings: tuple[tuple[str, str], ...] = ()
    parts: tuple[tuple[str, Part], ...] = ()
    battery: str | None = None
    battery_A: float = 0.0
    small_A: float | None = None
    relies: tuple[str, ...] = ()
    cuts: tuple[str, ...] = ()
    links: tuple[Link, ...] = ()
    minutes: float = 0.0
    by_tach: bool = False
    with_part: tuple[str, str] | None = None
    """Another need and the article with which it must be met for this way to hold."""
    beside: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Leads, and circuits of which one must be joined straight to it for this way to hold."""

    @property
    def key(self) -> str:
        """The way in one line, the same in every plan."""
        leads = "+".join([*(f"{u.output.lead}={u.output.does}" for u in self.uses), *self.inputs])
        circuit = self.circuit.id if self.circuit else "-"
        parts = "+".join(p.id for _, p in self.parts) or "-"
        battery = self.battery or "-"
        levels = "".join(u.output.level[0] for u in self.uses)
        return f"{self.demand}|{leads}{levels}|{self.shape}|{circuit}|{parts}|{battery}"

    @property
    def kin(self) -> str:
        """The way without the articles and the battery wire it takes: what a fitter calls it."""
        leads = "+".join([*(f"{u.output.lead}={u.output.does}" for u in self.uses), *self.inputs])
        circuit = self.circuit.id if self.circuit else "-"
        kinds = "+".join(p.kind for _, p in self.parts) or "-"
        return f"{self.demand}|{leads}|{self.shape}|{circuit}|{kinds}"

    @property
    def all_settings(self) -> tuple[tuple[str, str], ...]:
        """Every setting it stands on, those of its outputs too."""
        out = dict(self.settings)
        for use in self.uses:
            out.update(use.output.settings)
        return tuple(sorted(out.items()))

    @property
    def cents(self) -> int:
        """Price of its parts in hundredths."""
        return sum(round(p.price * 100) for _, p in self.parts)


@dataclass
class Found:
    """Ways that were found, and for each need what was looked at and why it will not do."""

    ways: list[Way] = field(default_factory=list)
    rejected: dict[str, list[str]] = field(default_factory=dict)
    wishes: dict[str, list[str]] = field(default_factory=dict)

    def reject(self, demand: str, why: str) -> None:
        """Note why something will not do; each reason once."""
        listed = self.rejected.setdefault(demand, [])
        if why not in listed:
            listed.append(why)

    def wish(self, demand: str, what: str) -> None:
        """Note what thing to add would open a way."""
        listed = self.wishes.setdefault(demand, [])
        if what not in listed:
            listed.append(what)


@dataclass(frozen=True)
class Bench:
    """What the search for ways works on: the job, its outputs, the parts it may take."""

    job: WholeJob
    outputs: tuple[Output, ...]
    parts: tuple[Part, ...]
    mend: Mend

    def of(self, kind: str) -> list[Part]:
        """The parts of a kind that may be taken, in the order of the shelf."""
        return [p for p in self.parts if p.kind == kind]

    def reachable(self, circuit: Circuit) -> bool:
        """Whether the circuit's place is one the job allows."""
        allowed = self.job.places_allowed
        return allowed is None or circuit.place is None or circuit.place in allowed

    @property
    def batteries(self) -> list[Circuit]:
        """Battery circuits that stand at battery in every key position and may be reached."""
        return [
            c
            for c in self.job.vehicle.of("battery")
            if (not c.key_fed or len(c.live or ()) == 5)
            and c.active_level == "battery"
            and self.reachable(c)
        ]


def bench_of(job: WholeJob, mend: Mend, extra: tuple[Part, ...] = ()) -> Bench:
    """The bench of a job; `extra` are parts that are wished for and not on the shelf."""
    parts = (*(p for p in job.stock.parts if p.count > 0), *extra)
    return Bench(job, outputs_of(job.unit), parts, mend)


def minutes_of(links: Iterable[Link], parts: int, settings: int, cuts: int = 0) -> float:
    """How long a way takes: its taps, bench joints, parts, settings and cuts."""
    total = parts * PART_MINUTES + settings * SETTING_MINUTES + cuts * CUT_MINUTES
    for link in links:
        for end in (link.a, link.b):
            total += TAP_MINUTES if end.startswith("vehicle.") else BENCH_MINUTES
    return total
