"""Every terminal a wiring names must exist; what is joined for good is found here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from startwright.car.circuits import BATTERY, GROUND
from startwright.car.fitted import node_of
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.stock import Part
from startwright.records.wiring import Wiring


def parts_of(job: WholeJob, wiring: Wiring) -> dict[str, Part]:
    """The article behind every part in the wiring.

    Raises
    ------
    RecordError
        For a part that is not on the shelf.
    """
    out: dict[str, Part] = {}
    shelf = {p.id: p for p in job.stock.parts}
    for k, fitted in enumerate(wiring.parts):
        if fitted.of not in shelf:
            raise RecordError(
                f"no part {fitted.of!r} is on the shelf {job.stock.id!r}",
                f"parts[{k}].of",
                f"one of {', '.join(sorted(shelf)[:12])}",
            )
        out[fitted.id] = shelf[fitted.of]
    return out


def check_terminals(job: WholeJob, wiring: Wiring) -> None:
    """Refuse a wiring that names a terminal, a cut or a setting that is not there.

    Raises
    ------
    RecordError
        With the run and the terminal concerned, and what would be right.
    """
    parts = parts_of(job, wiring)
    circuits = {c.id for c in job.vehicle.circuits}
    leads = {lead.id for lead in job.unit.leads}
    for k, cut in enumerate(wiring.cuts):
        if cut not in circuits:
            raise RecordError(
                f"no circuit {cut!r} in vehicle {job.vehicle.id!r}", f"cuts[{k}]", _some(circuits)
            )
    for k, run in enumerate(wiring.runs):
        for key, terminal in (("from", run.from_), ("to", run.to)):
            where = f"runs[{k}].{key} ({run.id})"
            owner, _, rest = terminal.partition(".")
            if owner == "ground":
                continue
            if owner == "unit":
                if rest not in leads:
                    raise RecordError(f"unit has no lead {rest!r}", where, _some(leads))
            elif owner == "vehicle":
                circuit, _, side = rest.partition(".")
                if circuit not in circuits:
                    raise RecordError(f"vehicle has no circuit {circuit!r}", where, _some(circuits))
                if side and circuit not in wiring.cuts:
                    raise RecordError(
                        f"circuit {circuit!r} is not cut", where, f"vehicle.{circuit}, or a cut"
                    )
                if not side and circuit in wiring.cuts:
                    raise RecordError(
                        f"circuit {circuit!r} is cut in two",
                        where,
                        f"vehicle.{circuit}.source or vehicle.{circuit}.load",
                    )
            elif owner not in parts:
                raise RecordError(f"no part {owner!r} in the wiring", where, _some(parts))
            elif rest not in parts[owner].pin_names:
                raise RecordError(
                    f"part {owner!r} has no pin {rest!r}", where, _some(parts[owner].pin_names)
                )
    for name, value in wiring.settings.items():
        setting = job.unit.setting(name)
        if setting is None:
            known = [s.id for s in job.unit.settings]
            if job.unit.engine_signal is not None:
                known.append(job.unit.engine_signal.by)
            raise RecordError(
                f"unit {job.unit.id!r} has no setting {name!r}", f"settings.{name}", _some(known)
            )
        if not setting.allows(value):
            raise RecordError(
                f"setting {name!r} cannot be {value!r}", f"settings.{name}", str(setting.values)
            )
    _check_levels(job, wiring)


def _check_levels(job: WholeJob, wiring: Wiring) -> None:
    """Refuse a joined output whose level is set to what is no level: who knows what it drives."""
    chosen = job.unit.chosen(dict(wiring.settings))
    met = {end for run in wiring.runs for end in run.ends}
    for lead in job.unit.leads:
        if lead.active_by is None or f"unit.{lead.id}" not in met:
            continue
        if chosen[lead.active_by] not in ("battery", "ground"):
            raise RecordError(
                f"lead {lead.id!r} works at {chosen[lead.active_by]!r} by the setting "
                f"{lead.active_by!r}, which is no level",
                f"settings.{lead.active_by}",
                "battery or ground",
            )


def _some(names: Iterable[str]) -> str:
    listed = sorted(names)
    return "one of " + ", ".join(listed[:20]) + (" …" if len(listed) > 20 else "")


class Joined:
    """Which terminals hang together for good, through the given kinds of links (union-find)."""

    def __init__(self, links: Iterable[tuple[str, str]]) -> None:
        self._parent: dict[str, str] = {}
        for a, b in links:
            self._parent[self._root(a)] = self._root(b)

    def _root(self, name: str) -> str:
        self._parent.setdefault(name, name)
        while self._parent[name] != name:
            self._parent[name] = self._parent[self._parent[name]]
            name = self._parent[name]
        return name

    def together(self, a: str, b: str) -> bool:
        """Whether two terminals are joined."""
        return self._root(a) == self._root(b)

    def members(self, a: str) -> list[str]:
        """Every terminal joined to `a`."""
        root = self._root(a)
        return [name for name in list(self._parent) if self._root(name) == root]


def led_away(wiring: Wiring, parts: Mapping[str, Part], joined: Joined) -> Joined:
    """What hangs together by anything that is fitted but the coils of relays, rails left out.

    Both throws of a relay count, and a switch however it stands. `joined` says what lies on a rail.
    """
    links = [(node_of(r.from_), node_of(r.to)) for r in wiring.runs]
    for name, part in parts.items():
        if part.kind == "relay":
            links += [(f"{name}.30", f"{name}.{pin}") for pin in ("87", "87a")]
        elif part.kind == "diode":
            links.append((f"{name}.anode", f"{name}.cathode"))
        elif part.kind in ("fuse", "switch", "resistor"):
            links.append((f"{name}.a", f"{name}.b"))

    def on_a_rail(end: str) -> bool:
        return joined.together(end, BATTERY) or joined.together(end, GROUND)

    return Joined(link for link in links if not any(map(on_a_rail, link)))
