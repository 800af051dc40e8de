"""A plain Python breadth-first search of a model, as a careful Python programmer would write it.

The text is generated from the same data as the Promela export: tables as constants, the reaction
worked step by step, choices by their guards. It does all its own work. What follows a change is
remembered by what it depends on: the state without the button, the outputs that the button drives
as far as they feed back, and the event; the changes that are possible, likewise. It watches no
rules. For cars with a key whose relays do not depend on one another.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from startwright.prove.choices import key_moves, may_end_coasting
from startwright.prove.model import POWER_OF, RUNS_IN, Model
from startwright.prove.promela_text import word
from startwright.prove.tables import Table, arity
from startwright.records.words import KEY_POSITIONS


class Peer:
    """The search of one model; `search` may be called again and then knows its reactions."""

    def __init__(self, model: Model) -> None:
        if model.car.imitates or any(
            v.startswith("coil.") and v != f"coil.{c}"
            for c, t in model.coils.items()
            for v in t.over
        ):
            raise ValueError("an imitated button, or relays that depend on one another")
        self.model = model
        self.known: dict[str, Any] = {}
        self._expressions: dict[tuple[int, int], str] = {}
        self.variables = [v for v in model.variables if v.name != "press"]
        text = "\n".join([*self._react(), *self._changes(), SEARCH])
        self._constants()
        exec(compile(text, "<plain search>", "exec"), self.known)

    def search(self) -> int:
        """How many states there are."""
        return int(self.known["search"]())

    # ---- expressions ----------------------------------------------------------------------

    def value(self, variable: str) -> str:
        """What stands for a variable of a table."""
        if variable.startswith("coil_o."):
            raise ValueError("what the unit sees with its outputs open depends on a relay")
        if variable.startswith("out."):
            name = f"O_{word(variable[4:])}"
            self.known[name] = self.model.outs[variable[4:]].astype(int).ravel().tolist()
            return f"{name}[start*{len(self.model.presses)}+press]"
        return {"power": "POWER[motion]", "engine": "RUNS[motion]"}.get(variable, word(variable))

    def look(self, table: Table) -> str:
        """What the table holds now."""
        if table.constant:
            return str(int(table.data.flat[0]))
        name = f"T{len(self.known)}"
        self.known[name] = table.data.astype(int).ravel().tolist()
        index = ""
        for v in table.over:
            said = self.value(v)
            index = f"({index})*{arity(v)}+{said}" if index else said
        return f"{name}[{index}]"

    # ---- the reaction ---------------------------------------------------------------------

    def _unpacked(self) -> Iterator[str]:
        yield "    rest = core"
        for v in self.variables[:0:-1]:
            yield f"    rest, {word(v.name)} = divmod(rest, {v.size})"
        yield f"    {word(self.variables[0].name)} = rest"

    def _packed(self) -> str:
        text = word(self.variables[0].name)
        for v in self.variables[1:]:
            text = f"({text})*{v.size}+{word(v.name)}"
        return text

    def _react(self) -> Iterator[str]:
        model = self.model
        kept = [word(v.name) for v in model.variables if v.name not in model.surroundings]
        yield "def react(core, press, event):"
        yield from self._unpacked()
        yield "    for _ in range(8):"
        yield f"        old = ({', '.join(kept)})"
        for line in (*self._settle(), *self._read(), *self._unit(), *self._settle()):
            yield f"        {line}"
        for line in (*self._follow(), *self._settle(), *self._read()):
            yield f"        {line}"
        yield "        event = 0"
        yield f"        if old == ({', '.join(kept)}): break"
        yield f"    return {self._packed()}, press"

    def _settle(self) -> Iterator[str]:
        for coil, table in self.model.coils.items():
            name = word(f"coil.{coil}")
            yield f"for _again in range({2 * len(self.model.coils) + 2}):"
            yield f"    to = {self.look(table)}"
            yield f"    if to == 2 or to == {name}: break"
            yield f"    {name} = to"

    def _read(self) -> Iterator[str]:
        for lead, (_, table) in self.model.inputs.items():
            yield f"to = {self.look(table)}"
            yield f"if to != 2: {word(f'in.{lead}')} = to"

    def _unit(self) -> Iterator[str]:
        model, unit = self.model, self.model.unit
        sensed: dict[str, str] = {}
        for lead, (inp, _) in model.inputs.items():
            name = word(f"in.{lead}")
            sensed[inp.senses] = f"{sensed[inp.senses]} | {name}" if inp.senses in sensed else name
        runs = "(motion == 2 or motion == 4)"
        if model.hears_tach:
            sensed["tach"] = runs
        guards = [
            f"({sensed.get(g.input, '0')}) == {int(g.reads == 'active')}"
            for g in unit.record.guards
        ]
        engine = "0"
        if unit.signal == "charge_lamp":
            engine = f"{sensed.get('charge_lamp', '0')} or motion == 4"
        elif unit.signal in ("tach", "volts") and not model.car.tach_lost:
            engine = runs
        service = "service" if model.service_inside else sensed.get("service", "0")
        reads = [
            " and ".join(guards) or "1",
            engine,
            sensed.get("wait_to_start", "0"),
            f"{self.look(model.ignition_seen)} or {sensed.get('ignition', '0')}",
            service,
        ]
        packed = " + ".join(f"({1 << k} if {r} else 0)" for k, r in enumerate(reads))
        yield f"start = MOVES[start][event][{packed}]"
        alive = self.look(model.alive)
        if alive != "1":
            yield f"if not {alive}: start = press = 0"

    def _follow(self) -> Iterator[str]:
        turns, ignition = self.look(self.model.turns), self.look(self.model.ignition)
        yield f"if motion == 0: motion = 1 if {turns} else 0"
        yield f"elif motion == 1: motion = 1 if {turns} else 0"
        yield f"elif motion == 2: motion = 2 if {ignition} else 3"
        yield f"elif motion == 4: motion = 4 if {ignition} else 0"

    # ---- choices --------------------------------------------------------------------------

    def _changes(self) -> Iterator[str]:
        """The choices that are no buttons: where a state leads before anything reacts."""
        model, unit = self.model, self.model.unit
        stride, strides = 1, {}
        for v in reversed(self.variables):
            strides[v.name] = stride
            stride *= v.size
        mechanical = any(c.interlock == "mechanical" for c in model.car.job.vehicle.of("starter"))
        yield "def changes(core, press):"
        yield from self._unpacked()
        yield "    out = []"
        for name in model.surroundings:
            size = arity(name)
            pairs = key_moves(model) if name == "key" else _all_pairs(size)
            for old, new in pairs:
                when = f"{word(name)} == {old}"
                if mechanical and name == "key" and KEY_POSITIONS[new] == "start":
                    when += " and gear < 2"
                if mechanical and name == "gear" and new == 2:
                    when += f" and key != {KEY_POSITIONS.index('start')}"
                yield f"    if {when}: out.append((core + {(new - old) * strides[name]}, 0))"
        motion = strides["motion"]
        can = f"motion == 1 and {self.look(model.ignition)}"
        if model.car.job.vehicle.immobilizer.kind != "none":
            can += f" and {self.look(model.immobilizer)}"
        engine = [(can, 1), ("motion == 2", 1), ("motion == 3", -3)]
        if model.car.job.vehicle.engine.idle_stop:
            engine += [("motion == 2", 2), ("motion == 4", -2)]
        for when, by in engine:
            yield f"    if {when}: out.append((core + {by * motion}, 0))"
        yield "    if (SHORT if motion == 3 else ENDS)[start]: out.append((core, 3))"
        yield "    return out"
        self.known["ENDS"] = [unit.time_s(s) is not None for s in model.starts]
        self.known["SHORT"] = [may_end_coasting(unit, s) for s in model.starts]

    def _constants(self) -> None:
        model, unit = self.model, self.model.unit
        self.known |= {
            "POWER": POWER_OF.tolist(),
            "RUNS": RUNS_IN.tolist(),
            "MOVES": model.moves.tolist(),
            "PRESSES": len(model.presses),
        }
        events = {"start": 1, "stop": 2}
        buttons = [
            (events.get(c, 0), [model.press_code[unit.press(p, c)] for p in model.presses])
            for c in ("start", "stop", *unit.buttons)
        ]
        for again in (True, False):
            after = [
                model.press_code[unit.pulse_over(p, again)] if p.command else -1
                for p in model.presses
            ]
            buttons.append((0, after))
        window = [model.press_code[unit.window_over(p)] if p.again else -1 for p in model.presses]
        self.known["BUTTONS"] = [*buttons, (0, window)]
        fed = sorted({v[4:] for t in model.feedback for v in t.over if v.startswith("out.")})
        seen: dict[str, int] = {}
        self.known["ALIKE"] = [
            seen.setdefault(str([model.outs[o][:, p].tolist() for o in fed]), len(seen))
            for p in range(len(model.presses))
        ]
        self.known["KINDS"] = len(seen)


SEARCH = """
REACTED = {}
CHANGES = {}

def search():
    reacted, changed, presses, kinds = REACTED, CHANGES, PRESSES, KINDS
    alike, buttons = ALIKE, BUTTONS
    core, press = react(0, 0, 0)
    first = core * presses + press
    seen = {first}
    frontier = [first]
    while frontier:
        following = []
        for state in frontier:
            core, press = divmod(state, presses)
            kind = alike[press]
            every = changed.get(core * kinds + kind)
            if every is None:
                every = changed[core * kinds + kind] = changes(core, press)
            for before, event in every:
                key = (before * kinds + kind) * 4 + event
                end = reacted.get(key)
                if end is None:
                    end, after = react(before, press, event)
                    end = reacted[key] = end if after == press else ~end
                end = end * presses + press if end >= 0 else ~end * presses
                if end not in seen:
                    seen.add(end)
                    following.append(end)
            for event, to in buttons:
                now = to[press]
                if now >= 0:
                    key = (core * kinds + alike[now]) * 4 + event
                    end = reacted.get(key)
                    if end is None:
                        end, after = react(core, now, event)
                        end = reacted[key] = end if after == now else ~end
                    end = end * presses + now if end >= 0 else ~end * presses
                    if end not in seen:
                        seen.add(end)
                        following.append(end)
        frontier = following
    return len(seen)
"""


def _all_pairs(size: int) -> list[tuple[int, int]]:
    return [(a, b) for a in range(size) for b in range(size) if a != b]
