"""The world of one wiring as data: variables that feed back, free ones, and total tables.

What is state and what is free follows from what the tables of *this* wiring depend on: a
surrounding is state where a coil, an input, the engine or the unit's life depends on it, or where a
rule watches it move (key, gear, hood, brake); every other one is free and quantified in the tables.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any, TypeVar

import numpy as np

from startwright.car.build import Car, Coil, Input
from startwright.car.circuits import terminals_of
from startwright.car.control_unit import Reads
from startwright.car.hybrid import TURNS, is_hybrid
from startwright.car.key_resistor import key_line
from startwright.car.start_control import BUTTON, MODE, MODES, OWN, as_key, by_button, pressed
from startwright.prove.joined import without_load
from startwright.prove.kept import Kept, kept
from startwright.prove.tables import (
    RAIL_V,
    Array,
    Columns,
    Table,
    Tabulated,
    arity,
    combine,
    constant,
    either,
    every,
)
from startwright.records.vehicle import Circuit
from startwright.records.words import KEY_POSITIONS

T = TypeVar("T")
ENGINE = ("stopped", "turning", "running", "coasting", "resting")
STOPPED, TURNING, RUNNING, COASTING, RESTING = range(5)
POWER_OF = np.array([0, 1, 2, 0, 0], dtype=np.int32)
RUNS_IN = np.array([0, 0, 1, 0, 0], dtype=np.int32)
WATCHED = ("key", "gear", "hood", "brake")
HOLD = 2
"""In a coil's or an input's table: it stays as it was."""

_DERIVED = ("power", "engine")


@dataclass(frozen=True)
class Variable:
    """One variable of the state."""

    name: str
    size: int


class Model:
    """Everything the reaction and the rules look up, built once for a wiring.

    Parameters
    ----------
    car : Car
        The wired car and the factory car, with held rails.
    like : Model, optional
        That of the same car and wiring without a fault, or without a part more: what it does not
        touch is taken over.
    """

    def __init__(self, car: Car, like: Model | None = None) -> None:
        self.car = car
        self.unit = car.unit
        grown = like is not None and like.car.wiring is not car.wiring
        self.kept: Kept = Kept(like.kept if like else None, grown=grown)
        self.wired: Tabulated = Tabulated(
            car.network, car.held_at, self.kept, "wired", like.wired if like else None
        )
        self.factory: Tabulated = (
            like.factory if like else Tabulated(car.factory, car.factory_held_at)
        )
        self.trail: list[dict[str, Array]] | None = None
        """Where a list is put here, every row that is looked up is appended."""
        self.moments: dict[tuple[object, ...], tuple[Any, list[dict[str, Array]]]] = {}
        """What clocked runs worked before, with the rows that were looked up for it."""
        self.known: Callable[[dict[str, Array], int], tuple[dict[str, Array], bool] | None] = (
            lambda columns, event: None
        )
        """What follows in one state, where a search has worked it (`Steps.known`)."""
        self.starts = self.unit.starts
        self.presses = self.unit.presses
        self.start_code = {s: k for k, s in enumerate(self.starts)}
        self.press_code = {p: k for k, p in enumerate(self.presses)}

    # ---- tables that feed back ------------------------------------------------------------

    @cached_property
    def coils(self) -> dict[str, Table]:
        """For each relay 0 lets go, 1 pulls in, 2 stays as it was."""
        return {
            coil.part: self.kept.of(("coil", coil), partial(self._coil, coil))
            for coil in self.car.coils
        }

    def _coil(self, coil: Coil) -> Table:
        volts = self.wired.across(coil.a, coil.b)
        size = np.abs(volts.data)
        data = np.where(size >= coil.pull_in_V, 1, np.where(size <= coil.drop_out_V, 0, HOLD))
        return Table(volts.over, data.astype(np.int8)).needed()

    @kept
    def inputs(self) -> dict[str, tuple[Input, Table]]:
        """For each connected level input that the unit acts on: 0 inactive, 1 active, 2 stays."""
        asked = {g.input for g in self.unit.record.guards}
        if "ignition_on" in self.unit.record.refuses or self.unit.record.ending is not None:
            asked.add("ignition")
        if self.unit.signal == "charge_lamp":
            asked.add("charge_lamp")
        if any("wait_over" in (s.until, s.or_until) for s in self.unit.steps):
            asked.add("wait_to_start")
        if "service" in self.unit.record.refuses:
            asked.add("service")
        out = {}
        for inp in self.car.inputs:
            if inp.how == "level" and inp.senses in asked:
                volts = self.wired.volts(inp.node)
                if inp.active == "battery":
                    on, off = volts.data >= inp.on_V, volts.data <= inp.off_V
                else:
                    on, off = volts.data <= inp.on_V, volts.data >= inp.off_V
                data = np.where(on, 1, np.where(off, 0, HOLD)).astype(np.int8)
                table = Table(volts.over, data)
                if not inp.pulled:
                    floats = self.wired.floats(inp.node)
                    table = combine(lambda t, f: np.where(f, HOLD, t), table, floats)
                out[inp.lead] = (inp, table.needed())
        return out

    @property
    def hears_tach(self) -> bool:
        """Whether a tach input hears the engine: it reads active while the engine runs."""
        return not self.car.tach_lost and any(i.how == "tach" for i in self.car.inputs)

    @property
    def comes_and_goes(self) -> bool:
        """Whether it is state that a hybrid's engine turns: where the unit listens to its tach."""
        listens = self.unit.signal == "tach" or self.hears_tach
        return is_hybrid(self.car.job.vehicle) and listens

    @kept
    def turns(self) -> Table:
        """Whether the starter is fed and the interlock lets it through."""
        if is_hybrid(self.car.job.vehicle) and not self.car.motors:
            return self._asked_by_button()
        tables = []
        for motor in self.car.motors:
            across = self.wired.across(motor.hot, motor.cold)
            rail = Table(("power", "battery"), RAIL_V)
            tables.append(combine(lambda v, r: v > 0.6 * r, across, rail).needed())
        return either(tables).needed()

    def _asked_by_button(self) -> Table:
        """Whether a hybrid without a starter circuit is asked to become ready, out of gear."""
        start = KEY_POSITIONS.index("start")
        keys = range(len(KEY_POSITIONS))
        button = by_button(self.car.job.vehicle)
        asked = Table(("key",), np.array([k == start and button for k in keys]))
        if self.car.imitates:
            modes = [[as_key(m, k) == start for k in keys] for m in range(len(MODES))]
            asked = Table((MODE, "key"), np.array(modes))
        still = Table(("gear",), np.arange(arity("gear")) < 2)
        return combine(np.logical_and, asked, still).needed()

    @kept
    def ignition(self) -> Table:
        """Whether every ignition circuit that is live in both run and start is fed."""
        circuits = self.car.job.vehicle.of("ignition")
        both = [c for c in circuits if c.live and {"run", "start"} <= set(c.live)]
        chosen = both or circuits
        if not chosen:
            return constant(False)
        return every(self.acts(c)[0][1] for c in chosen).needed()

    @kept
    def ignition_seen(self) -> Table:
        """Whether an ignition lead of the unit stands at its level with the unit's outputs open."""
        tables = []
        for lead in self.unit.out_leads:
            if self.unit.does(lead) == "ignition" and lead.id in self.unit.wired:
                level = self.wired.level(self.car.number[f"unit.{lead.id}"])
                active = 1 if self.unit.level(lead) == "battery" else 0
                table = Table(level.over, level.data == active)
                tables.append(self.opened(table, mode=False))
        return either(tables).needed()

    @cached_property
    def alive(self) -> Table:
        """Whether the unit has its logic feed and its ground.

        A ground through a lamp or a coil is none, though a light draw leaves it near ground.
        """
        if self.car.alive is not None:
            return constant(self.car.alive)
        grounds = [d.id for d in self.unit.record.leads if d.way == "ground"]
        wired = [g for g in grounds if g in self.unit.wired] or grounds
        at = self.car.number[f"unit.{wired[0]}"]
        logic = self.wired.level(self.car.number[f"unit.{self.unit.record.logic_from}"])
        ground = self.wired.level(at)
        bare = without_load(self.wired, at)
        alive = combine(lambda a, g: (a == 1) & (g == 0), logic, ground)
        return combine(np.logical_and, alive, bare).needed()

    @kept
    def interface_on(self) -> dict[str, Table]:
        """For each interface whether it is enabled: every pin that enables it at its level.

        The line of a key with a resistor counts as one while it is satisfied by what is fitted.
        """
        out = {}
        for fit in self.car.interfaces:
            pins = fit.enabling or tuple(p for p in fit.pins if p.kind == "battery")
            tables = []
            for pin in pins:
                level = self.wired.level(self.car.number[pin.terminal])
                want = 1 if pin.level == "battery" else 0
                tables.append(Table(level.over, (level.data == want) & pin.connected))
            out[fit.part] = every(tables).needed() if tables else constant(False)
        line = key_line(self.car.job.vehicle)
        if line is not None:
            _, wired, factory = self.acts(line)[0]
            out[line.id] = combine(lambda w, f: w & ~f, wired, factory).needed()
        return out

    @kept
    def lives(self) -> dict[str, Table]:
        """For each interface whether it has its supply, and every signal that wakes it."""
        out = {}
        for fit in self.car.interfaces:
            tables = []
            for pin in fit.pins:
                level = self.wired.level(self.car.number[pin.terminal])
                if pin.kind in ("battery", "ground", "signal"):
                    want = 1 if pin.level == "battery" else 0
                    tables.append(Table(level.over, (level.data == want) & pin.connected))
            out[fit.part] = every(tables).needed() if tables else constant(True)
        return out

    @cached_property
    def tach_lives(self) -> Table:
        """Whether what gives the tach can: a wire of the car always, an interface while it lives.

        It hangs on what is joined, not on levels alone, so it is never taken over.
        """
        givers = self.car.tach_from
        return either([self.lives[g] for g in givers]).needed() if givers else constant(True)

    @kept
    def immobilizer(self) -> Table:
        """Whether the car lets its engine start: by the key in the lock, or what stands in."""
        kind = self.car.job.vehicle.immobilizer.kind
        if kind == "none":
            return constant(True)
        line = key_line(self.car.job.vehicle)
        in_lock = Table(("key",), np.arange(arity("key")) > 0)
        tables = [in_lock if line is None else self.acts(line)[0][1]]
        for fit in self.car.interfaces:
            if not fit.complete or not ({kind, "immobilizer", "any"} & fit.serves):
                continue
            tables.append(every([self.interface_on[fit.part], self.lives[fit.part]]))
        return either(tables).needed()

    # ---- circuits -------------------------------------------------------------------------

    def acts(self, circuit: Circuit) -> list[tuple[str, Table, Table]]:
        """For each thing a circuit does: function, whether it does it wired, and factory."""
        return self.kept.of(("acts", circuit.id), lambda: self._acts(circuit))

    def _acts(self, circuit: Circuit) -> list[tuple[str, Table, Table]]:
        out = []
        for act in self.car.acts:
            if act.circuit != circuit.id:
                continue
            wired = self.wired.between(self.car.load_node(circuit), act.low, act.high)
            node = self.car.factory_number[terminals_of(circuit, False)[1]]
            factory = self.factory.between(node, act.low, act.high)
            out.append((act.function, wired, factory))
        return out

    @cached_property
    def outs(self) -> dict[str, Array]:
        """For each connected output whether it is driven, by start and press code."""
        out = {}
        drives = [self.unit.drives(s) for s in self.starts]
        pulsed = [self.unit.pulsed(p) for p in self.presses]
        for lead in self.unit.out_leads:
            does = self.unit.does(lead)
            row = np.array([does in d for d in drives])
            column = np.array([does in p for p in pulsed])
            out[lead.id] = row[:, None] | column[None, :]
        return out

    def opened(self, table: Table, mode: bool = True) -> Table:
        """The table with all outputs open; coils are then those that stay (`coil_o.*`).

        With `mode` an imitated button was never pressed either.
        """
        if mode:
            table = table.at(MODE, OWN)
        for name in table.over:
            if name.startswith("out."):
                table = table.at(name, 0)
        names = {n: f"coil_o.{n[5:]}" for n in table.over if n.startswith("coil.")}
        return table.renamed(names).needed()

    # ---- an imitated button ---------------------------------------------------------------

    @kept
    def button(self) -> dict[str, Table]:
        """What the car's start control sees without the driver's hand: its line, and the brake.

        Empty where the unit presses no button.
        """
        if not self.car.imitates:
            return {}
        vehicle = self.car.job.vehicle
        line = [wired for c in vehicle.of("start_button") for _, wired, _ in self.acts(c)]
        brake = [wired for c in vehicle.of("brake") for _, wired, _ in self.acts(c)]
        return {
            "line": either(line).at("start_button", 0).needed(),
            "brake": either(brake).needed(),
        }

    @cached_property
    def presses_button(self) -> Array:
        """The mode after a press by mode, key, engine, brake, valid key."""
        shape = (len(MODES), len(KEY_POSITIONS), 2, 2, 2)
        table = np.empty(shape, dtype=np.int32)
        for index in np.ndindex(shape):
            mode, key, *seen = index
            table[index] = pressed(mode, key, *(bool(x) for x in seen))
        return table

    # ---- variables ------------------------------------------------------------------------

    @cached_property
    def feedback(self) -> tuple[Table, ...]:
        """Every table whose value the next moment depends on."""
        return (
            *self.coils.values(),
            *(t for _, t in self.inputs.values()),
            self.turns,
            self.ignition,
            self.ignition_seen,
            self.alive,
            self.immobilizer,
            self.tach_lives,
            *self.button.values(),
        )

    @cached_property
    def surroundings(self) -> tuple[str, ...]:
        """The surroundings that are state."""
        used = {v for t in self.feedback for v in t.over if "." not in v and v not in _DERIVED}
        if self.service_inside:
            used.add("service")
        return (*WATCHED, *sorted(used - set(WATCHED)))

    @cached_property
    def service_inside(self) -> bool:
        """Whether service is a state of the unit itself, no lead being there to sense it."""
        leads = self.unit.record.leads
        return "service" in self.unit.record.refuses and not any(
            d.senses == "service" for d in leads
        )

    @cached_property
    def free(self) -> tuple[str, ...]:
        """The surroundings that never feed back."""
        controls = {*self.car.network.controls(), *self.car.factory.controls(), "battery"}
        named = {v for v in controls if "." not in v and v not in _DERIVED}
        return tuple(sorted(named - set(self.surroundings)))

    @cached_property
    def variables(self) -> tuple[Variable, ...]:
        """The variables of the state, in packing order."""
        return (
            *(Variable(name, arity(name)) for name in self.surroundings),
            Variable("motion", len(ENGINE)),
            Variable("start", len(self.starts)),
            Variable("press", len(self.presses)),
            *(Variable(f"coil.{name}", 2) for name in self.coils),
            *(Variable(f"in.{name}", 2) for name in self.inputs),
            *((Variable(MODE, len(MODES)), Variable(BUTTON, 2)) if self.car.imitates else ()),
            *((Variable(TURNS, 2),) if self.comes_and_goes else ()),
        )

    # ---- looking up -----------------------------------------------------------------------

    def worked(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        """What follows from one state, worked once; the rows it looked up count every time."""
        if key not in self.moments:
            trail, self.trail = self.trail, []
            try:
                self.moments[key] = make(), self.trail
            finally:
                self.trail = trail
        value, looked = self.moments[key]
        if self.trail is not None:
            self.trail += looked
        return value  # type: ignore[no-any-return]

    def derive(self, columns: Columns, used: Iterable[str] | None = None) -> dict[str, Array]:
        """State columns with what follows from them: power, engine, outputs."""
        if self.trail is not None:
            self.trail.append(dict(columns))
        out = dict(columns)
        out["power"] = POWER_OF[columns["motion"]]
        out["engine"] = RUNS_IN[columns["motion"]]
        at = columns["start"] * len(self.presses) + columns["press"]
        for name, table in self._driven.items():
            if used is None or name in used:
                out[name] = table[at]
        return out

    @cached_property
    def _driven(self) -> dict[str, Array]:
        """The outputs as control variables, by start and press code in one row."""
        return {f"out.{lead}": table.ravel().astype(np.int32) for lead, table in self.outs.items()}

    @cached_property
    def moves(self) -> Array:
        """The unit's next start code by start code, event and reads (packed in five bits)."""
        table = np.empty((len(self.starts), 4, 32), dtype=np.int32)
        events = ("none", "start", "stop", "time")
        for s, start in enumerate(self.starts):
            for e, event in enumerate(events):
                for r in range(32):
                    reads = Reads(*(bool(r >> k & 1) for k in range(5)))
                    table[s, e, r] = self.start_code[self.unit.move(start, reads, event)]  # type: ignore[arg-type]
        return table
