"""One line, played on a wiring, as the page draws it: the loom step by step, volts over seconds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from startwright.records import RecordError, Run, WholeJob, Wiring
from startwright.records.reports import Timeline, TimelineMoment, TimelineTrace
from startwright.records.scenario import Action, parse_scenario
from startwright.sheets.naming import in_words, names

LEVEL_WORDS = {
    "battery": "at battery",
    "ground": "at ground",
    "between": "in between",
    "open": "floats",
    "broken": "broken",
}
"""How a run stands, in the words of the drawing."""
TITLES = {
    "start": "A start",
    "failed-start": "A start that fails",
    "takeover": "The driver takes over",
    "brake-stop": "The brake stops it",
}
"""The usual lines that a job's page offers (`startwright.prove.usual`)."""
MOST_STEPS = 400
"""Steps that the page draws and lists; a longer line is told in full as JSON."""


@dataclass
class Shown:
    """A line on the page: what became of it, or why it could not be played.

    `slot` is where on the page it stands; names in the drawing begin with it. `base` is the
    address that plays it, with `asked` as its query.
    """

    line: str
    slot: str
    base: str = ""
    asked: tuple[tuple[str, str], ...] = ()
    title: str = ""
    says: str = ""
    error: RecordError | None = None
    found: Timeline | None = None
    guilty: tuple[str, ...] = ()
    breach: bool = False
    loom: str = ""
    names: dict[str, str] = field(default_factory=dict)
    circuits: dict[str, str] = field(default_factory=dict)

    @property
    def cut(self) -> bool:
        """Whether it has more steps than are drawn."""
        return self.found is not None and len(self.found.moments) > MOST_STEPS

    @property
    def moments(self) -> list[TimelineMoment]:
        """The steps that are drawn."""
        return self.found.moments[:MOST_STEPS] if self.found is not None else []

    @property
    def moving(self) -> list[TimelineTrace]:
        """The rail and the circuits that change, to be drawn first."""
        assert self.found is not None
        return [t for t in self.found.traces if t.kind in ("rail", "circuit") and t.moves]

    @property
    def inner(self) -> list[TimelineTrace]:
        """The unit's leads and the coils that change."""
        assert self.found is not None
        return [t for t in self.found.traces if t.kind in ("lead", "coil") and t.moves]

    @property
    def still(self) -> list[tuple[str, str]]:
        """The circuits that stand as they stood, and how."""
        assert self.found is not None
        return [
            (self.called(t), LEVEL_WORDS[t.levels[0]])
            for t in self.found.traces
            if t.kind == "circuit" and not t.moves
        ]

    def called(self, trace: TimelineTrace) -> str:
        """What a trace is of; a wire of the car by the name it has everywhere on the page."""
        return self.circuits.get(trace.id, trace.name) if trace.kind == "circuit" else trace.name

    def drawn_as(self, trace: TimelineTrace) -> str:
        """A trace in words, for who cannot see it."""
        said: list[str] = []
        last = ""
        for moment, volts, level in zip(self.moments, trace.volts_V, trace.levels, strict=False):
            now = f"{level} {volts_words(volts)}"
            if now != last and len(said) < 40:
                said.append(f"{volts_words(volts)} from {moment.time_s:g} s")
            last = now
        return f"{self.called(trace)} over time: {', '.join(said)}"

    def data(self) -> dict[str, Any]:
        """What the page's script needs."""
        assert self.found is not None
        found, n = self.found, len(self.moments)
        return {
            "slot": self.slot,
            "ends": found.moments[n - 1].time_s if self.cut else found.ends_s,
            "moments": [
                {
                    "at": m.time_s,
                    "what": m.what,
                    "by": m.by,
                    "stands": m.stands,
                    "driven": m.driven,
                }
                for m in self.moments
            ],
            "steps": [
                {"step": step_words(s.step, s.tries), "from": s.from_s, "to": s.to_s}
                for s in found.steps
            ],
            "runs": {
                r.id: {
                    "name": self.names.get(r.id, r.id),
                    "levels": r.levels[:n],
                    "volts": [volts_words(v) for v in r.volts_V[:n]],
                }
                for r in found.runs
            },
            "coils": {
                t.id: [level == "pulled in" for level in t.levels[:n]]
                for t in found.traces
                if t.kind == "coil"
            },
            "guilty": list(self.guilty),
            "words": LEVEL_WORDS,
            "traces": [{"volts": t.volts_V[:n]} for t in (*self.moving, *self.inner)],
        }


def volts_words(volts_V: float | None) -> str:
    """Volts as a meter shows them.

    >>> volts_words(8.97), volts_words(0.004), volts_words(None)
    ('9.0 V', '0.0 V', 'nothing')
    """
    if volts_V is None:
        return "nothing"
    return f"{0.0 if abs(volts_V) < 0.05 else volts_V:.1f} V"


def step_words(step: str, tries: int) -> str:
    """A step of the unit, and which try it is after the first.

    >>> step_words("crank", 1), step_words("crank", 2), step_words("idle", 0)
    ('crank', 'crank, try 2', 'idle')
    """
    return f"{step}, try {tries}" if tries > 1 else step


def shown(
    job: WholeJob,
    wiring: Wiring,
    line: str,
    slot: str = "try",
    *,
    base: str = "",
    asked: Iterable[tuple[str, str]] = (),
    title: str = "",
    says: str = "",
    guilty: Iterable[str] = (),
    breach: bool = False,
    battery_C: float | None = None,
) -> Shown:
    """Play a line for the page; what a breach's line expects is what must not be."""
    from startwright.prove.timeline import timeline
    from startwright.web.page import drawn

    out = Shown(line, slot, base, tuple(asked), title, in_words(job, says), breach=breach)
    try:
        out.found = timeline(job, wiring, line, battery_C=battery_C)
    except RecordError as error:
        out.error = error
        return out
    out.line = out.found.line
    out.guilty = tuple(dict.fromkeys([*guilty, *_faulted(out.line, wiring)]))
    out.circuits = names(job.vehicle)
    out.names = {run.id: f"{run.id} {said}" for run in wiring.runs if (said := _leads_to(job, run))}
    out.loom = drawn(job, wiring, set(out.guilty), apart=slot)
    return out


def _leads_to(job: WholeJob, run: Run) -> str:
    """What a run is joined to in the car, else in the unit; nothing between two parts."""
    for end in run.ends:
        owner, _, rest = end.partition(".")
        if owner == "vehicle":
            return names(job.vehicle)[rest.partition(".")[0]]
    for end in run.ends:
        owner, _, rest = end.partition(".")
        if owner in ("unit", "ground"):
            return "ground" if owner == "ground" else rest
    return ""


def _faulted(line: str, wiring: Wiring) -> list[str]:
    """The runs that a line breaks itself."""
    known = {run.id for run in wiring.runs}
    return [
        thing
        for a in parse_scenario(line).actions
        if isinstance(a, Action) and a.what == "fault" and (thing := a.to.split()[0]) in known
    ]
