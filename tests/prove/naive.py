"""A second, naive reading of the world: plain dictionaries, one state at a time, every surrounding.

It shares the tables of the network (which ngspice judges) and the unit's own machine with the real
explorer, and nothing else: the reaction, the choices and the search are written again, from the
description of the world.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

from startwright.car.build import Car
from startwright.car.control_unit import Press, Reads, Start
from startwright.prove.tables import Tabulated
from startwright.records.words import KEY_POSITIONS

State = tuple[tuple[str, Any], ...]
RAIL = {"rest": (12.6, 11.8), "crank": (9.0, 7.5), "run": (14.4, 14.4)}
SIZE = {"key": 5, "gear": 3}


class Naive:
    def __init__(self, car: Car) -> None:
        self.car, self.unit, self.vehicle = car, car.unit, car.job.vehicle
        self.hybrid = "hybrid" in (self.vehicle.powertrain, self.vehicle.engine.fuel)
        self.names = [n for n in car.network.controls() if "." not in n and n != "engine"]
        self.names = sorted({*self.names, "key", "gear", "hood", "brake", "battery", "service"})
        self.inputs = [i for i in car.inputs if i.how == "level" and i.senses in self.asked_of()]
        self.unsettled = False
        self.table = cache(Tabulated(car.network, car.held_at).volts)

    def asked_of(self) -> set[str]:
        """What the unit acts on."""
        record, more = self.unit.record, set()
        if any("wait_over" in (s.until, s.or_until) for s in self.unit.steps):
            more.add("wait_to_start")
        if "service" in record.refuses:
            more.add("service")
        if "ignition_on" in record.refuses:
            more.add("ignition")
        if self.unit.signal == "charge_lamp":
            more.add("charge_lamp")
        return {g.input for g in record.guards} | more

    def value_of(self, s: dict[str, Any]) -> Callable[[str], int]:
        power = {"turning": 1, "running": 2}.get(s["motion"], 0)
        on = self.unit.driven(self.unit.drives(s["start"]) | self.unit.pulsed(s["press"]))

        def value(name: str) -> int:
            if name.startswith("out."):
                return int(name[4:] in on)
            if name.startswith("coil."):
                return int(s[name[5:]])
            return {"power": power, "engine": int(power == 2)}.get(name, s.get(name, 0))

        return value

    def volts(self, s: dict[str, Any]) -> Callable[[int], float]:
        value = self.value_of(s)

        def at(node: int) -> float:
            table = self.table(node)
            return float(table.data[tuple(value(n) for n in table.over)])

        return at

    def rail(self, s: dict[str, Any]) -> float:
        power = {"turning": "crank", "running": "run"}.get(s["motion"], "rest")
        return RAIL[power][s["battery"]]

    def settle(self, s: dict[str, Any]) -> Iterator[dict[str, Any]]:
        """All that can come of it, whatever relay moves first; what recurs where none rests."""
        onward: dict[State, list[State]] = {}
        todo = [s]
        while todo:
            at = todo.pop()
            key = tuple(sorted(at.items()))
            if key in onward:
                continue
            volts = self.volts(at)
            onward[key] = []
            for c in self.car.coils:
                across = abs(volts(c.a) - volts(c.b))
                to = 1 if across >= c.pull_in_V else 0 if across <= c.drop_out_V else at[c.part]
                if to != at[c.part]:
                    todo.append({**at, c.part: to})
                    onward[key].append(tuple(sorted(todo[-1].items())))
        ends = [k for k, follow in onward.items() if not follow]
        if len(onward) > 1:
            reach = {k: self.from_(k, onward) for k in onward}
            ends = [k for k in onward if all(k in reach[other] for other in reach[k])]
            again = any(k in reach[f] for k in onward for f in onward[k])
            self.unsettled |= len(ends) > 1 or again
        yield from map(dict, ends)

    def from_(self, place: State, onward: dict[State, list[State]]) -> set[State]:
        found, todo = {place}, [place]
        while todo:
            new = set(onward[todo.pop()]) - found
            found |= new
            todo += new
        return found

    def read(self, s: dict[str, Any]) -> dict[str, Any]:
        volts = self.volts(s)
        out = dict(s)
        for i in self.inputs:
            v = volts(i.node) if i.active == "battery" else -volts(i.node)
            on, off = (i.on_V, i.off_V) if i.active == "battery" else (-i.on_V, -i.off_V)
            loose = not i.pulled and abs(abs(v) / self.rail(s) - 0.5) < 0.01
            out[i.lead] = s[i.lead] if loose else 1 if v >= on else 0 if v <= off else s[i.lead]
        return out

    def reads(self, s: dict[str, Any]) -> Reads:
        by: dict[str, int] = {}
        for i in self.inputs:
            by[i.senses] = by.get(i.senses, 0) | s[i.lead]
        ok = all(by.get(g.input, 0) == (g.reads == "active") for g in self.unit.record.guards)
        ends = list(self.settle({**s, "start": Start(), "press": Press()}))
        volts, rail = self.volts(ends[0]), self.rail(s)
        leads = [d for d in self.unit.out_leads if self.unit.does(d) == "ignition"]
        seen = any(
            volts(self.car.number[f"unit.{d.id}"]) > 0.6 * rail
            for d in leads
            if d.id in self.unit.wired
        )
        hears = self.unit.signal in ("tach", "volts") and s["motion"] in ("running", "resting")
        if self.unit.signal == "charge_lamp":
            hears = bool(by.get("charge_lamp")) or s["motion"] == "resting"
        hears &= bool(s.get("car.turns", 1))
        hears &= not self.car.tach_lost
        if self.unit.signal == "tach" and self.car.tach_from:
            hears &= any(self.box_lives(n, s) for n in self.car.tach_from)
        sensed = any(d.senses == "service" for d in self.unit.record.leads)
        service = by.get("service", 0) if sensed else s["service"]
        on = seen or bool(by.get("ignition"))
        return Reads(ok, hears, bool(by.get("wait_to_start")), on, bool(service))

    def lives(self, s: dict[str, Any]) -> bool:
        """Fed, and joined to ground through wires and closed contacts alone."""
        if self.car.alive is not None:
            return self.car.alive
        record = self.unit.record
        feed = self.car.number[f"unit.{record.logic_from}"]
        leads = [d.id for d in record.leads if d.way == "ground" and d.id in self.unit.wired]
        if not leads or self.volts(s)(feed) <= 0.6 * self.rail(s):
            return False
        net, held = self.car.network, self.car.held_at
        on = self.value_of(s)
        pairs = [(c.a, c.b) for c in net.contacts if c.closed[on(c.control)]]
        pairs += [(r.a, r.b) for r in net.resistors if r.name.startswith("run.")]
        inside = [r for r in net.resistors if r.name.startswith("unit.") and r.ohm < 0.5]
        pairs += [(r.a, r.b) for r in inside]
        pairs += [(r.a, r.b) for r in net.resistors if r.name.endswith(".fuse")]
        seen, todo = set(), [self.car.number[f"unit.{leads[0]}"]]
        while todo:
            node = todo.pop()
            if held.get(node) == "ground":
                return True
            if node in seen or node in held:
                continue
            seen.add(node)
            todo += [b if a == node else a for a, b in pairs if node in (a, b)]
        return False

    def ignition(self, s: dict[str, Any]) -> bool:
        volts, rail = self.volts(s), self.rail(s)
        need = [c for c in self.vehicle.of("ignition") if {"run", "start"} <= set(c.live or ())]
        return all(volts(self.car.load_node(c)) >= 0.6 * rail for c in need)

    def follow(self, s: dict[str, Any]) -> dict[str, Any]:
        volts, rail = self.volts(s), self.rail(s)
        turns = any(volts(m.hot) - volts(m.cold) > 0.6 * rail for m in self.car.motors)
        if self.hybrid and not self.car.motors:
            turns = self.asked(s) and s["gear"] < 2
        to = s["motion"]
        if to in ("stopped", "turning"):
            to = "turning" if turns else "stopped"
        elif to in ("running", "resting") and not self.ignition(s):
            to = "coasting" if to == "running" else "stopped"
        return {**s, "motion": to}

    def react(self, s: dict[str, Any], event: str) -> set[State]:
        todo, ends = [(s, event, 0)], set()
        done: set[tuple[State, int]] = set()
        while todo:
            now, what, turn = todo.pop()
            if (tuple(sorted(now.items())), turn) in done:
                continue
            done.add((tuple(sorted(now.items())), turn))
            for a in self.settle(now):
                a = self.read(a)
                if self.lives(a):
                    a["start"] = self.unit.move(a["start"], self.reads(a), what)
                else:
                    a |= {"start": Start(), "press": Press()}
                for b in self.settle(a):
                    for c in self.settle(self.follow(b)):
                        c = self.read(c)
                        if c == now or turn == 7:
                            ends.add(tuple(sorted(c.items())))
                        else:
                            todo.append((c, "none", turn + 1))
        return ends

    def choices(self, s: dict[str, Any]) -> Iterator[tuple[dict[str, Any], str]]:
        for command in ("start", "stop", *self.unit.buttons):
            event = command if command in ("start", "stop") else "none"
            yield {**s, "press": self.unit.press(s["press"], command)}, event
        key = s["key"]
        for to in (key - 1, key + 1):
            if 0 <= to < len(KEY_POSITIONS):
                yield {**s, "key": to}, "none"
        for n in self.names:
            if n != "key":
                for to in range(SIZE.get(n, 2)):
                    if to != s[n]:
                        yield {**s, n: to}, "none"
        key_fits = self.vehicle.immobilizer.kind == "none" or key or self.bypassed(s)
        if s["motion"] == "turning" and self.ignition(s) and key_fits:
            yield {**s, "motion": "running"}, "none"
        if s["motion"] == "running":
            yield {**s, "motion": "coasting"}, "none"
            if "car.turns" in s:
                yield {**s, "car.turns": 1 - s["car.turns"]}, "none"
        if self.vehicle.engine.idle_stop and not self.hybrid:
            other = {"running": "resting", "resting": "running"}.get(s["motion"])
            if other:
                yield {**s, "motion": other}, "none"
        if s["motion"] == "coasting":
            yield {**s, "motion": "stopped"}, "none"
        time = self.unit.time_s(s["start"])
        lost = s["motion"] == "coasting" and s["start"].mode != "pause"
        if time is not None and not (lost and time >= 1.0):
            yield s, "time"
        if s["press"].command:
            for again in (True, False):
                yield {**s, "press": self.unit.pulse_over(s["press"], again)}, "none"
        if s["press"].again:
            yield {**s, "press": self.unit.window_over(s["press"])}, "none"

    def asked(self, s: dict[str, Any]) -> bool:
        """A hybrid without a starter circuit: its button is pressed with the brake."""
        return self.vehicle.start == "push_button" and KEY_POSITIONS[s["key"]] == "start"

    def bypassed(self, s: dict[str, Any]) -> bool:
        return any(fit.complete and self.box_lives(fit.part, s) for fit in self.car.interfaces)

    def box_lives(self, part: str, s: dict[str, Any]) -> bool:
        """Every supply and signal pin of an interface at its level."""
        volts, rail = self.volts(s), self.rail(s)
        (fit,) = (f for f in self.car.interfaces if f.part == part)
        good = True
        for p in fit.pins:
            share = volts(self.car.number[p.terminal]) / rail
            if p.kind in ("battery", "signal", "ground"):
                good &= share > 0.6 if p.level == "battery" else share < 0.4
        return good

    def first(self) -> dict[str, Any]:
        first = dict.fromkeys(self.names, 0) | {
            "motion": "stopped",
            "start": Start(),
            "press": Press(),
        }
        if self.hybrid and self.unit.signal == "tach":
            first["car.turns"] = 0
        return first | {c.part: 0 for c in self.car.coils} | {i.lead: 0 for i in self.inputs}

    def reachable(self) -> set[State]:
        todo = list(self.react(self.first(), "none"))
        found = set(todo)
        while todo:
            at = dict(todo.pop())
            for pre, event in self.choices(at):
                new = self.react(pre, event) - found
                found |= new
                todo += new
        return found
