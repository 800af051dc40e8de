"""What the rules look at: which circuits the unit feeds, which differ from the factory car."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property, partial
from math import inf

import numpy as np

from startwright.car.circuits import is_feed, terminals_of
from startwright.car.control_unit import ControlUnit, Press, Start
from startwright.car.hybrid import is_hybrid
from startwright.car.key_resistor import key_line
from startwright.car.start_control import MODE, MODES, OFF, OWN, START, as_key
from startwright.car.terminals import led_away
from startwright.prove import currents
from startwright.prove.kept import Kept, kept
from startwright.prove.mark import Mark
from startwright.prove.model import Model
from startwright.prove.tables import Array, Table, Tabulated, combine, constant, either
from startwright.records.vehicle import Circuit
from startwright.records.words import KEY_POSITIONS

CALLS: dict[str, frozenset[str]] = {
    "unlock": frozenset({"unlock", "driver_unlock", "alarm_disarm"}),
    "driver_unlock": frozenset({"driver_unlock", "unlock", "alarm_disarm"}),
    "lock": frozenset({"lock", "alarm_arm"}),
    "ignition": frozenset({"ignition"}),
    "ignition_signal": frozenset({"ignition", "key_line"}),
    "running_signal": frozenset({"running_signal", "key_line"}),
    "starter_signal": frozenset({"starter"}),
}
"""Which functions of circuits a driven function calls; `key_line` is that of a resistor key."""
BY_HAND = frozenset({"parking_light", "horn", "dome_light", "rear_defogger", "seat_heater"})
"""What a driver turns on by hand, and no call is leave to take away from him."""
BRIEF_S = 15.0
"""What is over after so long is held to what things carry for a moment: the longest crank, s."""


def brief_pulse(unit: ControlUnit, press: Press) -> bool:
    """Whether what a button left under way is over in `BRIEF_S`, or rests as long as it works.

    Pulses one after another have no rest between them that would count.
    """
    if not press.command:
        return False
    pulses = unit.pulses[press.command]
    once_s, again_s = 0.0, 0.0
    for at, pulse in enumerate(pulses):
        time_s = unit.pulse_s(press._replace(at=at, on=True)) or 0.0
        if pulse.repeat_s:
            again_s = max(again_s, time_s)
        else:
            once_s += time_s
    return max(once_s, again_s) <= BRIEF_S


class Observer:
    """Builds the marks of a model."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.vehicle = model.car.job.vehicle
        self.kept: Kept = model.kept
        model.kept.networks["bare"] = lambda: self._unpulled
        model.kept.within["bare"] = "wired"

    # ---- fed by the unit ------------------------------------------------------------------

    def fed(self, *functions: str) -> Mark:
        """The unit feeds a circuit that does one of these functions.

        A press that asks a hybrid without a starter circuit to become ready is its start signal.
        """
        parts: list[tuple[str, Table, Array | None]] = [
            (c.id, table, None)
            for c in self.vehicle.circuits
            for function, table in self._feds(c)
            if function in functions
        ]
        by_press = self.model.car.imitates and is_hybrid(self.vehicle)
        if by_press and "starter" in functions and not self.vehicle.of("starter"):
            asked = Table((MODE,), np.arange(len(MODES)) == START)
            parts += [(c.id, asked, None) for c in self.vehicle.of("start_button")]
        return Mark(self.model, parts)

    def _feds(self, circuit: Circuit) -> list[tuple[str, Table]]:
        """For each thing a circuit does whether the unit makes it do so."""
        return self.model.kept.of(
            ("feds", circuit.id),
            lambda: [(f, self._fed(wired, ours)) for f, wired, ours in self.model.acts(circuit)],
        )

    def _fed(self, wired: Table, factory: Table) -> Table:
        opened = self.model.opened(wired)
        return combine(lambda w, o, f: w & ~(o & f), wired, opened, factory)

    def active(self, *functions: str) -> Mark:
        """A circuit that does one of these functions does it now."""
        return Mark(
            self.model,
            [
                (c.id, wired, None)
                for c in self.vehicle.circuits
                for function, wired, _ in self.model.acts(c)
                if function in functions
            ],
        )

    # ---- beside the factory car -----------------------------------------------------------

    @cached_property
    def _unpulled(self) -> Tabulated:
        network = self.model.car.network
        bare = tuple(r for r in network.resistors if not r.name.startswith(("pull.", "coil.")))
        held_at = self.model.car.held_at
        return Tabulated(replace(network, resistors=bare), held_at, self.model.kept, "bare")

    def in_mode(self, factory: Table) -> Table:
        """The factory car as it stands in the mode that an imitated button has brought it to."""
        if not self.model.car.imitates or "key" not in factory.over:
            return factory
        axis = factory.over.index("key")
        data = [factory.data]
        for mode in range(1, len(MODES)):
            there = np.take(factory.data, [as_key(mode, 0)], axis=axis)
            data.append(np.broadcast_to(there, factory.data.shape))
        return Table((MODE, *factory.over), np.stack(data))

    def _differs(self, circuit: Circuit, in_mode: bool = False) -> Table:
        """Whether a circuit stands otherwise than in the factory car, source or load side.

        Where the factory circuit floats, a level that only an input's pull resistor or a relay's
        coil gives it is no difference, unless it makes the circuit act. With `in_mode` the factory
        car is taken in the mode the car is in.
        """
        car = self.model.car
        # a mode is no key in the lock: what measures the key sees the key alone
        in_mode = in_mode and circuit.function != "immobilizer"
        factory = self.model.factory.level(car.factory_number[terminals_of(circuit, False)[1]])
        if in_mode:
            factory = self.in_mode(factory)
        if bool((factory.data == 2).all()) and self._joined_to_another(circuit):
            return constant(True)
        out: Table | None = None
        for node in dict.fromkeys((car.load_node(circuit), car.source_node(circuit))):
            wired = self.model.wired.level(node)
            if bool((factory.data == 2).any()):
                bare = self._unpulled.level(node)
                side = combine(
                    lambda f, w, u: ((f != 2) & (w != f)) | ((f == 2) & (u != 2)),
                    factory,
                    wired,
                    bare,
                )
            else:
                side = combine(lambda f, w: w != f, factory, wired)
            out = side if out is None else combine(np.logical_or, out, side)
        for _, wired, ours in self.model.acts(circuit):
            other = combine(np.logical_xor, wired, self.in_mode(ours) if in_mode else ours)
            out = other if out is None else combine(np.logical_or, out, other)
        assert out is not None
        return out.needed()

    def _joined_to_another(self, circuit: Circuit) -> bool:
        """Whether a circuit that our records leave floating meets another one, or a coil.

        Pulses or a code do not get past the coil of a relay, though it moves no level; nor do they
        stay on a wire that a diode, a resistor, a switch or a contact leads away from.
        """
        car = self.model.car
        joined = self.kept.own("led away", lambda: led_away(car.wiring, car.parts, car.joined))
        own = terminals_of(circuit, circuit.id in car.wiring.cuts)
        return any(
            (name.startswith("vehicle.") and name not in own) or self._is_coil(name)
            for terminal in own
            for name in joined.members(terminal)
        )

    def _is_coil(self, terminal: str) -> bool:
        part, _, pin = terminal.partition(".")
        parts = self.model.car.parts
        return part in parts and parts[part].kind == "relay" and pin in ("85", "86")

    @cached_property
    def _compared(self) -> list[Circuit]:
        """Every circuit but feeds and grounds that are whole, which hang on their rail for good."""
        cuts = self.model.car.wiring.cuts
        return [
            c
            for c in self.vehicle.circuits
            if (c.function != "ground" and not is_feed(c)) or c.id in cuts
        ]

    @kept
    def differences(self) -> dict[str, Table]:
        """For each circuit whether it stands otherwise than in the factory car."""
        return {c.id: self._difference(c) for c in self._compared}

    def _difference(self, circuit: Circuit) -> Table:
        return self.kept.of(("differs", circuit.id), partial(self._differs, circuit))

    @kept
    def differences_in_mode(self) -> dict[str, Table]:
        """The same beside the factory car in the mode that an imitated button has made."""
        if not self.model.car.imitates:
            return self.differences
        return {c.id: self._difference_in_mode(c) for c in self._compared}

    def _difference_in_mode(self, circuit: Circuit) -> Table:
        make = partial(self._differs, circuit, in_mode=True)
        return self.kept.of(("differs in mode", circuit.id), make)

    @kept
    def all_open(self) -> Array:
        """By start and press code: all connected outputs are open."""
        open_ = np.ones((len(self.model.starts), len(self.model.presses)), dtype=bool)
        for table in self.model.outs.values():
            open_ &= ~table
        return open_

    def changed(self) -> Mark:
        """With all outputs open, a circuit stands otherwise than in the factory car.

        A car that an imitated press has left on is otherwise; one that it has turned off is what
        the driver's next press makes of it (`key-has-last-word` looks at the engine).
        """
        if not self.model.car.imitates:
            return Mark(self.model, [(c, t, self.all_open) for c, t in self.differences.items()])
        idle = np.array([s.mode == "idle" for s in self.model.starts])[:, None]
        parts: list[tuple[str, Table, Array | None]] = []
        for circuit in self._compared:
            left_on = self.kept.of(("left on", circuit.id), partial(self._left_on, circuit))
            parts.append((circuit.id, left_on, self.all_open & idle))
        parts += [(c, t, self.all_open) for c, t in self.differences_in_mode.items()]
        return Mark(self.model, parts)

    def _left_on(self, circuit: Circuit) -> Table:
        on = Table((MODE,), ~np.isin(np.arange(len(MODES)), (OWN, OFF)))
        return combine(np.logical_and, self._difference(circuit), on)

    def called(self, functions: Iterable[str], circuit: Circuit | None = None) -> Array:
        """By start and press code: a step or command drives one of these functions.

        The press that ends a start may hide the brake from the car's start control: with the brake
        seen and the engine stalled it would crank.
        """
        wanted = frozenset(functions)
        if circuit is not None and circuit == key_line(self.vehicle):
            wanted |= {"key_line"}
        return self.kept.of(
            ("called", wanted, circuit.id if circuit else ""), lambda: self._called(wanted, circuit)
        )

    def _called(self, wanted: frozenset[str], circuit: Circuit | None) -> Array:
        unit = self.model.unit
        by_start = np.array([bool(wanted & _calls(unit.drives(s))) for s in self.model.starts])
        by_press = np.array([bool(wanted & _calls(unit.pulsed(p))) for p in self.model.presses])
        for s, start in enumerate(self.model.starts):
            if start.mode == "step" and circuit is not None:
                by_start[s] |= self._as_the_key(circuit, unit.steps[start.step].like)
            if start.mode == "ending" and "brake" in wanted:
                by_start[s] |= self.model.car.imitates
        return np.asarray(by_start[:, None] | by_press[None, :])

    def _as_the_key(self, circuit: Circuit, like: str) -> bool:
        """Whether a step like that key position has the circuit stand at its level anyway.

        A key in the lock is no part of what a step is like: `key_sense` must be driven.
        """
        if circuit.live is None or circuit.function == "key_sense":
            return False
        return like in circuit.live or (like == "start" and bool(circuit.may_hold_in_crank))

    def uncalled(self) -> Mark:
        """With an output driven, a circuit that nothing calls differs from the factory car.

        In its steps the unit may keep the key from the starter, lest it meets a running engine, and
        so it may while armed.
        """
        parts: list[tuple[str, Table, Array | None]] = []
        for c in self._compared:
            differs = self.differences_in_mode[c.id]
            when = ~self.called((c.function, *c.also), c) & ~self.all_open
            if c.function == "starter":
                in_step = np.array([s.mode == "step" for s in self.model.starts])[:, None]
                keeps = self.called(("armed_signal",)) | in_step
                livened = self.kept.of(("livened", c.id), partial(self._livened, c))
                parts.append((c.id, livened, when & keeps))
                when = when & ~keeps
            elif c.key_fed or c.function in BY_HAND:
                taken = self.kept.of(("taken", c.id), partial(self._taken, c))
                parts.append((c.id, taken, ~self.all_open))
            parts.append((c.id, differs, when))
        return Mark(self.model, parts)

    def _taken(self, circuit: Circuit) -> Table:
        """Whether a circuit is dead where the factory car feeds it: no call is leave for that."""
        (_, wired, ours), *_ = self.model.acts(circuit)
        return combine(lambda w, f: f & ~w, wired, self.in_mode(ours))

    def _livened(self, circuit: Circuit) -> Table:
        """Whether either side of a circuit is live where the factory car leaves it dead."""
        car = self.model.car
        nodes = dict.fromkeys((car.load_node(circuit), car.source_node(circuit)))
        acts = [a for a in car.acts if a.circuit == circuit.id]
        live = [self.model.wired.between(n, a.low, a.high) for n in nodes for a in acts]
        ours = either(f for _, _, f in self.model.acts(circuit))
        if self.model.car.imitates:
            ours = self.in_mode(ours)
        return combine(lambda w, f: w & ~f, either(live), ours)

    def moved_uncalled(self) -> Mark:
        """The unit works a lock that no command or step drives."""
        parts: list[tuple[str, Table, Array | None]] = []
        for c in self.vehicle.circuits:
            for function, table in self._feds(c):
                if function in ("lock", "unlock", "driver_unlock"):
                    parts.append((c.id, table, ~self.called((function,))))
        return Mark(self.model, parts)

    def _driven_by_unit(self, circuit: Circuit) -> bool:
        """Whether a connected output of the unit works circuits of this function."""
        unit = self.model.unit
        return any(unit.does(d) == circuit.function and d.id in unit.wired for d in unit.out_leads)

    def unlike(self, position: str) -> Mark:
        """A key-fed circuit stands otherwise than with the key at `position`."""
        parts: list[tuple[str, Table, Array | None]] = []
        for c in self.vehicle.circuits:
            if c.key_fed and c.function != "key_sense" and not is_feed(c):
                make = partial(self._unlike, c, position)
                parts += [(c.id, t, None) for t in self.kept.of(("unlike", c.id, position), make)]
        return Mark(self.model, parts)

    def _unlike(self, circuit: Circuit, position: str) -> list[Table]:
        hold = bool(circuit.may_hold_in_crank) and position == "start"
        dead = bool(circuit.leave_dead) or self._cranks_without(circuit)

        def other(w: Array, u: Array) -> Array:
            wrong = np.not_equal(w, u)
            if hold:
                wrong = wrong & ~w
            if dead:
                wrong = wrong & w
            return wrong

        out = []
        for _, wired, factory in self.model.acts(circuit):
            under = self.in_mode(factory).at("key", KEY_POSITIONS.index(position))
            wrong = combine(other, wired, under)
            if self.model.car.imitates and not self._driven_by_unit(circuit):
                gone = Table((MODE,), np.arange(len(MODES)) != OWN)
                wrong = combine(np.logical_and, wrong, gone)
            out.append(wrong)
        return out

    def _cranks_without(self, circuit: Circuit) -> bool:
        """Whether a starter circuit past the car's interlock may stay dead: another one cranks."""
        return circuit.interlock == "upstream" and any(
            c.interlock != "upstream" and not c.leave_dead for c in self.vehicle.of("starter")
        )

    def dead_under_key(self) -> Mark:
        """An ignition circuit that is live in run is dead."""
        parts: list[tuple[str, Table, Array | None]] = []
        for c in self.vehicle.of("ignition"):
            if c.live and "run" in c.live:
                tables = self.kept.of(("dead", c.id), partial(self._dead, c))
                parts += [(c.id, t, None) for t in tables]
        return Mark(self.model, parts)

    def _dead(self, circuit: Circuit) -> list[Table]:
        acts = self.model.acts(circuit)
        return [Table(wired.over, ~wired.data.astype(bool)) for _, wired, _ in acts]

    # ---- interfaces, past the interlock -----------------------------------------------------

    def interface_on(self) -> Mark:
        """An immobilizer interface is enabled."""
        return Mark(
            self.model,
            [
                (fit.part, self.model.interface_on[fit.part], None)
                for fit in self.model.car.interfaces
                if fit.for_the_key
            ]
            + [
                (c.id, self.model.interface_on[c.id], None)
                for c in self.vehicle.of("immobilizer")
                if c.id in self.model.interface_on
            ],
        )

    def fed_past_interlock(self) -> Mark:
        """The unit feeds a starter circuit on the far side of the car's park/neutral switch.

        What the car's own start control feeds goes through its switch.
        """
        parts: list[tuple[str, Table, Array | None]] = []
        for c in self.vehicle.of("starter"):
            if c.interlock != "upstream":
                continue
            tables = self.kept.of(("past", c.id), partial(self._past_interlock, c))
            parts += [(c.id, t, None) for t in tables]
        return Mark(self.model, parts)

    def _past_interlock(self, circuit: Circuit) -> list[Table]:
        feds = [table for _, table in self._feds(circuit)]
        if not self.model.car.imitates:
            return feds
        differs = self._difference_in_mode(circuit)
        return [combine(np.logical_and, table, differs) for table in feds]

    # ---- shorts and overloads ---------------------------------------------------------------

    def short(self) -> Mark:
        """A path without a load joins battery and ground."""
        return Mark(
            self.model,
            [
                (_named(solved.island.network.names), table, None)
                for solved, table in currents.shorts(self.model.wired)
            ],
        )

    @kept
    def briefly(self) -> Array:
        """By start and press code: the state lasts no longer than a crank or a short pulse.

        In a step that lasts longer a short pulse counts as long, for it comes on top.
        """
        unit = self.model.unit
        lasting = self._lasting_s
        by_start = np.array(
            [
                lasting[s.step] <= BRIEF_S
                if s.mode == "step"
                else 0.0 < (unit.time_s(s) or 0.0) <= BRIEF_S
                for s in self.model.starts
            ]
        )
        by_press = np.array([brief_pulse(unit, p) for p in self.model.presses])
        idle = np.array([s.mode == "idle" for s in self.model.starts])
        return np.asarray(by_start[:, None] | (idle[:, None] & by_press[None, :]))

    @property
    def _lasting_s(self) -> list[float]:
        """For each step how long it and the short ones before and after it last together, s.

        What carries too much in one of several short steps in a row may do so in all of them.
        Cranks stand alone; a step that a lamp can hold on has no end.
        """
        unit = self.model.unit
        lamp = any(i.senses == "wait_to_start" and i.how == "level" for i in self.model.car.inputs)
        out: list[float] = []
        row: list[int] = []
        for k, step in enumerate(unit.steps):
            time_s = step.for_s if step.for_s is not None else step.at_most_s
            held = lamp and step.for_s is not None and step.or_until == "wait_over"
            out.append(inf if time_s is None or held else time_s)
            row = [*row, k] if out[k] <= BRIEF_S and step.like != "start" else []
            together = sum(unit.time_s(Start("step", at)) or 0.0 for at in row)
            for at in row:
                out[at] = max(out[at], together)
        return out

    def overloaded(self) -> tuple[Mark, list[tuple[currents.Feed, list[Table]]]]:
        """Something carries more than it may; and the feeds whose draws must be added up."""
        parts: list[tuple[str, Table, Array | None]] = []
        for over in currents.overloads(self.model.car, self.model.wired):
            _, long, brief = self.kept.once(("over", id(over)), partial(_exceeded, over))
            parts.append((over.name, long, ~self.briefly))
            parts.append((over.name, brief, self.briefly))
        feeds = [
            (feed, [t.most_over(self.model.free).needed() for t in feed.draws])
            for feed in currents.feeds(self.model.car, self.model.wired)
        ]
        return Mark(self.model, parts), feeds


def _exceeded(over: currents.Overload) -> tuple[currents.Overload, Table, Table]:
    """Where something carries more than it may for long, and for a moment."""
    amps = over.amps
    return (
        over,
        Table(amps.over, amps.data > over.long_A * currents.SPARE),
        Table(amps.over, amps.data > over.short_A * currents.SPARE),
    )


def _calls(drives: frozenset[str]) -> frozenset[str]:
    return frozenset[str]().union(*(CALLS.get(f, frozenset({f})) for f in drives))


def _named(names: tuple[str, ...]) -> str:
    seen = [n for n in names if not n.startswith("rail.") and "#" not in n]
    return ", ".join(seen[:4])
