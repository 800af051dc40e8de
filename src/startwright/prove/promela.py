"""The same world as Promela: one process, one choice a step, tables as constants.

The text comes from the same data as the explorer's look-ups: variables, total tables, choices, a
fixed order of reaction. SPIN then explores it by itself and reports every rule it sees broken, so
that the exploration and the rules are checked by an independent program. One state more is counted
than here: the one before the first reaction. Where relays race SPIN also stores each moment at
which it has to choose what comes of it; it says how many those were (`waits N`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from startwright.car.hybrid import TURNS, is_hybrid
from startwright.car.start_control import BUTTON, KEY_OFF, MODE, OFF, OWN, by_button
from startwright.car.start_control import RUN as MODE_RUN
from startwright.car.start_control import START as MODE_START
from startwright.prove.choices import BY_HAND, key_moves, may_end_coasting
from startwright.prove.mark import Mark
from startwright.prove.model import RESTING, RUNNING, Model
from startwright.prove.promela_rules import STATE_RULES, breaches
from startwright.prove.promela_settle import in_c, settling, strides
from startwright.prove.promela_text import MOST_ENTRIES, member, word
from startwright.prove.promela_twins import CHOSE, TOLD
from startwright.prove.reaction import ROUNDS
from startwright.prove.tables import Array, Table, arity
from startwright.prove.view import Marks
from startwright.records.words import KEY_POSITIONS

LONGEST = 1000
"""An expression longer than this is looked up in C, for SPIN bounds the text of an inline."""
UNSETTLED = "c_code { breach(SETTLES); };"
"""Tells that car and unit together do not come to rest."""


def promela(model: Model) -> str:
    """The world of a model as a Promela text.

    Raises
    ------
    TooLarge
        Where a table is too large to be written out.

    Source: Promela as of SPIN 6 (Holzmann, The SPIN Model Checker, 2004).
    """
    return "\n".join(Writer(model).lines()) + "\n"


class Writer:
    """Writes one model."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.large: list[str] = []
        """Tables too large for an expression, as C."""
        self.unit = model.unit
        self.marks = Marks(model)
        self.coils = list(model.coils)

    # ---- names and tables -------------------------------------------------------------------

    def name(self, variable: str, opened: bool = False) -> str:
        """What stands for a variable of a table."""
        if variable.startswith("out."):
            return "0" if opened else f"OUT_{word(variable[4:])}"
        if variable.startswith("coil_o.") or (opened and variable.startswith("coil.")):
            return f"co_{word(variable.split('.', 1)[1])}"
        if variable in ("power", "engine"):
            return variable.upper()
        return word(variable)

    def index(self, table: Table, opened: bool = False) -> str:
        """The place in the flattened table."""
        text = "0"
        for variable in table.over:
            name = self.name(variable, opened)
            text = name if text == "0" else f"({text})*{arity(variable)}+{name}"
        return text

    def holds(self, table: Table, value: int = 1, opened: bool = False) -> str:
        """An expression: the table has this value now."""
        if table.data.size <= MOST_ENTRIES:
            found = np.flatnonzero(table.data.ravel() == value).tolist()
            said = member(found, self.index(table, opened), table.data.size)
            if len(said) <= LONGEST:
                return said
        return self._in_c(table, value, opened)

    def _in_c(self, table: Table, value: int, opened: bool) -> str:
        """The same as an expression in C, for a table that is too large for Promela's."""
        name = f"LARGE_{len(self.large)}"
        data = ",".join(str(int(v)) for v in (table.data.ravel() == value))
        self.large.append(f"  static const unsigned char {name}[] = {{{data}}};")
        index = " + ".join(f"{s}*({in_c(self, v, opened)})" for v, s in strides(table))
        return f"c_expr {{ {name}[{index}] }}"

    def by_codes(self, when: Array) -> str:
        """An expression over the start and press codes."""
        when = np.asarray(when)
        by_start, by_press = np.asarray(when.any(axis=1)), np.asarray(when.any(axis=0))
        all_start, all_press = np.asarray(when.all(axis=1)), np.asarray(when.all(axis=0))
        if bool((when == by_start[:, None]).all()):
            return member(np.flatnonzero(by_start).tolist(), "start", when.shape[0])
        if bool((when == (by_start[:, None] & by_press)).all()):
            left = member(np.flatnonzero(by_start).tolist(), "start", when.shape[0])
            right = member(np.flatnonzero(by_press).tolist(), "press", when.shape[1])
            return f"({left} && {right})"
        either = all_start[:, None] | all_press
        if bool((when == either).all()):
            left = member(np.flatnonzero(all_start).tolist(), "start", when.shape[0])
            right = member(np.flatnonzero(all_press).tolist(), "press", when.shape[1])
            return f"({left} || {right})"
        flat = np.flatnonzero(when.ravel()).tolist()
        return member(flat, f"start*{when.shape[1]}+press", when.size)

    def mark(self, mark: Mark) -> str:
        """An expression: the mark is set (free surroundings are already quantified)."""
        terms = []
        for part in mark.parts:
            term = self.holds(part.table)
            terms.append(term if part.when is None else f"({term} && {self.by_codes(part.when)})")
        return "(" + " || ".join(terms) + ")" if terms else "0"

    # ---- the text ---------------------------------------------------------------------------

    def lines(self) -> Iterator[str]:
        """The whole text, line by line."""
        yield f"/* {self.model.car.job.id}: one process, one choice a step, tables as constants */"
        yield "c_decl { static void breach(int n) { static char told[64];"
        yield '  if (!told[n]) { told[n] = 1; printf("breach %d\\n", n); } }'
        yield f"  static void twin(int n) {{ static char told[{TOLD}];"
        yield '  if (!told[n]) { told[n] = 1; printf("twin %d\\n", n); } }'
        yield f"#define SETTLES {STATE_RULES.index('settles')}"
        moves = self.model.moves
        yield f"  static const unsigned char MOVES[{moves.shape[0]}][4][32] = {{"
        for row in moves:
            told = ",".join("{" + ",".join(str(int(v)) for v in line) + "}" for line in row)
            yield "    {" + told + "},"
        yield "  }; }"
        if self.model.car.imitates:
            after = self.model.presses_button.ravel().tolist()
            yield f"c_decl {{ static const unsigned char PRESSED[{len(after)}] = {{"
            yield "  " + ",".join(map(str, after)) + "}; }"
            yield "byte line;"
        for variable in self.model.variables:
            yield f"byte {word(variable.name)};"
        for coil in self.coils:
            yield f"byte co_{word(coil)};"
        yield "byte phase; byte rounds; byte reads; byte event; int spot;"
        yield "int many; int pick; bit chattered;"
        yield "bit was_fs; bit was_fi; bit was_dead; bit was_idle; bit was_hood;"
        yield "byte chose; byte was_gear;"
        if self.model.car.imitates:
            yield "byte was_mode;"
        yield "byte was_motion; byte was_key; byte was_brake;"
        for name in self._kept():
            yield f"byte old_{name};"
        yield "#define POWER (motion == 1 -> 1 : (motion == 2 -> 2 : 0))"
        yield "#define ENGINE (motion == 2)"
        for lead, table in self.model.outs.items():
            yield f"#define OUT_{word(lead)} ({self.by_codes(table)} -> 1 : 0)"
        yield from settling(self)
        yield from self._reading()
        yield from self._moving()
        yield from self._reacting()
        yield from breaches(self)
        yield "active proctype world() {"
        yield "  d_step { phase = 1; go_on() }"
        yield "  do"
        yield "  :: atomic { many == 0 ->"
        yield "    d_step { remember() }"
        yield "    if"
        for when, change, event, name in self._choices():
            yield f"    :: {when} -> chose = {CHOSE.get(name, 0)};"
            yield f"       {change} event = {event} /* {name} */"
        yield "    fi;"
        yield "    d_step { phase = 1; go_on() } }"
        yield "  :: atomic { many > 0 -> c_code { waits(); };"
        yield "    select (pick : 0 .. many - 1);"
        yield "    d_step { go_on() } }"
        yield "  od"
        yield "}"
        yield "c_decl { static long waiting;"
        yield '  static void tell_waits() { printf("waits %ld\\n", waiting); }'
        yield "  static void waits() { if (!waiting++) atexit(tell_waits); }"
        yield from self.large
        yield "}"

    def _kept(self) -> list[str]:
        return [word(v.name) for v in self.model.variables if v.name not in self.model.surroundings]

    def _reading(self) -> Iterator[str]:
        yield "inline look_at_inputs() {"
        for lead, (_, table) in self.model.inputs.items():
            name = word(f"in.{lead}")
            yield f"  if :: {self.holds(table, 1)} -> {name} = 1"
            yield f"  :: {self.holds(table, 0)} -> {name} = 0 :: else fi;"
        yield "  skip"
        yield "}"

    def _reads(self) -> str:
        by_sense: dict[str, list[str]] = {}
        for lead, (inp, _) in self.model.inputs.items():
            by_sense.setdefault(inp.senses, []).append(word(f"in.{lead}"))
        sensed = {s: "(" + " || ".join(names) + ")" for s, names in by_sense.items()}
        runs = f"(motion == {RUNNING} || motion == {RESTING})"
        heard = f"({runs} && {word(TURNS)})" if self.model.comes_and_goes else runs
        if not self.model.tach_lives.constant or not self.model.tach_lives.data.flat[0]:
            heard = f"({heard} && {self.holds(self.model.tach_lives)})"
        if self.model.hears_tach:
            sensed["tach"] = heard
        guards = [
            ("" if g.reads == "active" else "!") + sensed.get(g.input, "(0)")
            for g in self.unit.record.guards
        ]
        engine = "(0)"
        if self.unit.signal == "charge_lamp":
            engine = f"({sensed.get('charge_lamp', '(0)')} || motion == {RESTING})"
        elif self.unit.signal in ("tach", "volts") and not self.model.car.tach_lost:
            engine = heard if self.unit.signal == "tach" else runs
        service = "service" if self.model.service_inside else sensed.get("service", "(0)")
        parts = (
            " && ".join(guards) or "1",
            engine,
            sensed.get("wait_to_start", "(0)"),
            f"{self.holds(self.model.ignition_seen)} || {sensed.get('ignition', '(0)')}",
            service,
        )
        return " + ".join(f"(({p}) -> {1 << k} : 0)" for k, p in enumerate(parts))

    def _moving(self) -> Iterator[str]:
        yield "inline unit_moves() {"
        yield "  settle_open();"
        yield f"  reads = {self._reads()};"
        for coil in self.coils:
            yield f"  co_{word(coil)} = 0;"
        yield "  c_code { now.start = MOVES[now.start][now.event][now.reads]; };"
        alive = self.model.alive
        if not (alive.constant and bool(alive.data.flat[0])):
            yield f"  if :: {self.holds(alive)} :: else -> start = 0; press = 0 fi;"
        yield "  reads = 0; event = 0;"
        yield "}"
        yield "inline engine_follows() {"
        turns, ignition = self.holds(self.model.turns), self.holds(self.model.ignition)
        if self.model.car.imitates:
            yield f"  line = ({self.holds(self.model.button['line'])} -> 1 : 0);"
        yield f"  if :: motion == 0 && {turns} -> motion = 1"
        yield f"  :: motion == 1 && !({turns}) -> motion = 0"
        yield f"  :: motion == 2 && !({ignition}) -> motion = 3"
        yield f"  :: motion == 4 && !({ignition}) -> motion = 0 :: else fi;"
        if self.model.car.imitates:
            yield from self._button()
        yield "}"

    def _button(self) -> Iterator[str]:
        """The car's start control, on the levels as they stood before the engine followed."""
        mode, button = word(MODE), word(BUTTON)
        brake = self.holds(self.model.button["brake"])
        valid = "1"
        if self.model.car.job.vehicle.immobilizer.kind != "none":
            valid = self.holds(self.model.immobilizer)
        bits = (
            f"(motion == {RUNNING} || motion == {RESTING})",
            f"({brake} && gear < 2)",
            valid,
        )
        spot = f"({mode})*{len(KEY_POSITIONS)}+key"
        for bit in bits:
            spot = f"({spot})*2+({bit} -> 1 : 0)"
        yield f"  if :: line && !{button} -> spot = {spot};"
        yield f"    c_code {{ now.{mode} = PRESSED[now.spot]; }}; spot = 0 :: else fi;"
        yield f"  if :: {mode} == {MODE_START} && motion == {RUNNING} -> {mode} = {MODE_RUN}"
        yield f"  :: else fi; {button} = line; line = 0;"

    def _reacting(self) -> Iterator[str]:
        kept = self._kept()
        same = " && ".join(f"old_{n} == {n}" for n in kept)
        yield "inline go_on() {"
        yield "  do :: phase == 0 -> break"
        yield "  :: phase == 1 -> " + " ".join(f"old_{n} = {n};" for n in kept) + " phase = 2"
        yield "  :: phase == 2 || phase == 4 || phase == 6 -> settle();"
        yield "    if :: many > 0 -> break :: else -> phase++ fi"
        yield "  :: phase == 3 -> look_at_inputs(); unit_moves(); phase = 4"
        yield "  :: phase == 5 -> engine_follows(); phase = 6"
        yield "  :: phase == 7 -> look_at_inputs();"
        yield f"    if :: {same} -> phase = 0"
        yield f"    :: else -> rounds++; if :: rounds < {ROUNDS} -> phase = 1"
        yield f"      :: else -> {UNSETTLED} phase = 0 fi fi"
        yield "  od;"
        yield "  if :: many == 0 -> look(); forget() :: else fi"
        yield "}"
        yield "inline remember() {"
        yield "  settle_open();"
        yield f"  was_fs = {self.mark(self.marks['fed_starter'])};"
        yield f"  was_fi = {self.mark(self.marks['fed_ignition'])};"
        yield "  was_hood = hood; was_gear = gear;"
        yield f"  was_dead = {self.mark(self.marks['dead_under_key'])};"
        yield "  was_idle = (start == 0); was_motion = motion; was_key = key; was_brake = brake;"
        if self.model.car.imitates:
            yield f"  was_mode = {word(MODE)};"
        yield "  " + " ".join(f"co_{word(c)} = 0;" for c in self.coils) + " skip"
        yield "}"
        yield "inline forget() {"
        yield "  was_fs = 0; was_fi = 0; was_dead = 0; was_idle = 0;"
        yield "  was_hood = 0; was_gear = 0; chose = 0;"
        yield "  rounds = 0; chattered = 0; " + " ".join(f"old_{n} = 0;" for n in self._kept())
        yield "  was_motion = 0; was_key = 0; was_brake = 0;"
        if self.model.car.imitates:
            yield "  was_mode = 0;"
        yield "}"

    def _choices(self) -> Iterator[tuple[str, str, int, str]]:
        """Guard, change, event and name of every choice."""
        unit, model = self.unit, self.model
        for command in ("start", "stop", *unit.buttons):
            table = [model.press_code[unit.press(p, command)] for p in model.presses]
            event = {"start": 1, "stop": 2}.get(command, 0)
            yield "1", self._press(table), event, f"command {command}"
        mechanical = any(c.interlock == "mechanical" for c in model.car.job.vehicle.of("starter"))
        start = KEY_POSITIONS.index("start")
        button = by_button(model.car.job.vehicle)
        for name in model.surroundings:
            for old, new in key_moves(model) if name == "key" else _pairs(name):
                when = f"{word(name)} == {old}"
                if button and name == "key" and new == start:
                    when += " && brake == 1"
                if model.car.imitates and name == "key" and max(old, new) > 1:
                    when += f" && {word(MODE)} == {OWN}"
                if mechanical and name == "key" and new == start:
                    when += " && gear < 2"
                if mechanical and name == "gear" and new == 2:
                    when += f" && key != {start}"
                yield when, f"{word(name)} = {new};", 0, f"set {name}"
        yield from self._engine()
        times = [unit.time_s(s) for s in model.starts]
        any_time = member([k for k, t in enumerate(times) if t is not None], "start")
        coasting = [k for k, s in enumerate(model.starts) if may_end_coasting(unit, s)]
        short = member(coasting, "start")
        yield f"(motion == 3 -> {short} : {any_time})", "", 3, "time"
        live = [k for k, p in enumerate(model.presses) if p.command]
        if live:
            for repeats in (True, False):
                table = [model.press_code[unit.pulse_over(p, repeats)] for p in model.presses]
                yield member(live, "press"), self._press(table), 0, "pulse"
        windows = [k for k, p in enumerate(model.presses) if p.again]
        if windows:
            table = [model.press_code[unit.window_over(p)] for p in model.presses]
            yield member(windows, "press"), self._press(table), 0, "window"

    def _engine(self) -> Iterator[tuple[str, str, int, str]]:
        model = self.model
        can = f"motion == 1 && {self.holds(model.ignition)}"
        if model.car.job.vehicle.immobilizer.kind != "none":
            can += f" && {self.holds(model.immobilizer)}"
        yield can, "motion = 2;", 0, "catch"
        yield "motion == 2", "motion = 3;", 0, "stall"
        yield "motion == 3", "motion = 0;", 0, "coast"
        if model.car.imitates:
            mode = word(MODE)
            yield f"{mode} == {MODE_START}", f"{mode} = {MODE_RUN};", 0, "given up"
            off = f"if :: {mode} != {OFF} && key > {KEY_OFF} -> key = {KEY_OFF} :: else fi; "
            yield f"{mode} != {OWN} && !{word(BUTTON)}", f"{off}{mode} = {OWN};", 0, BY_HAND
        if model.comes_and_goes:
            turns = word(TURNS)
            yield f"motion == {RUNNING} && !{turns}", f"{turns} = 1;", 0, "go"
            yield f"motion == {RUNNING} && {turns}", f"{turns} = 0;", 0, "rest"
        elif model.car.job.vehicle.engine.idle_stop and not is_hybrid(model.car.job.vehicle):
            yield "motion == 2", "motion = 4;", 0, "rest"
            yield "motion == 4", "motion = 2;", 0, "go"

    def _press(self, table: list[int]) -> str:
        cases: Mapping[int, list[int]] = {
            to: [k for k, v in enumerate(table) if v == to and v != k] for to in set(table)
        }
        said = [f":: {member(k, 'press')} -> press = {to}" for to, k in cases.items() if k]
        return "if " + " ".join(said) + " :: else fi;" if said else ""


def _pairs(name: str) -> list[tuple[int, int]]:
    if name == "gear":
        return [(a, b) for a in range(3) for b in range(3) if a != b]
    return [(0, 1), (1, 0)]
