"""The naive reading of a push-button car: its start control written again from the description."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from prove.naive import Naive

from startwright.car.build import Car
from startwright.car.control_unit import Reads
from startwright.records.words import KEY_POSITIONS

MODES = ("own", "accessory", "run", "start", "off")


class NaiveButton(Naive):
    def __init__(self, car: Car) -> None:
        super().__init__(car)
        self.names = [n for n in self.names if n != "start_button"]
        asked = {g.input for g in self.unit.record.guards} | {"ignition"}
        self.inputs = [i for i in car.inputs if i.how == "level" and i.senses in asked]

    def volts(self, s: dict[str, Any]) -> Any:
        return super().volts({**s, "car.mode": MODES.index(s["mode"])})

    def active(self, s: dict[str, Any], function: str) -> bool:
        share = {
            c.id: self.volts(s)(self.car.load_node(c)) / self.rail(s)
            for c in self.vehicle.of(function)
        }
        return any(
            share[c.id] >= 0.6 if c.active == "battery" else share[c.id] <= 0.4
            for c in self.vehicle.of(function)
        )

    def reads(self, s: dict[str, Any]) -> Reads:
        on = any(s[i.lead] for i in self.inputs if i.senses == "ignition")
        return super().reads(s)._replace(ignition=on)

    def follow(self, s: dict[str, Any]) -> dict[str, Any]:
        out = super().follow(s)
        line = self.active(s, "start_button")
        if line and not s["line"]:
            out["mode"] = self.after_press(s, out["motion"] == "running")
        if out["mode"] == "start" and out["motion"] == "running":
            out["mode"] = "run"
        out["line"] = line
        return out

    def asked(self, s: dict[str, Any]) -> bool:
        now = KEY_POSITIONS[s["key"]] if s["mode"] == "own" else s["mode"]
        return bool(now == "start")

    def after_press(self, s: dict[str, Any], engine: bool) -> str:
        mode = s["mode"]
        now = ("out", "off", "accessory", "run", "start")[s["key"]] if mode == "own" else mode
        foot = self.active(s, "brake") and s["gear"] < 2
        if now == "start" or (now == "run" and (engine or not foot)):
            return "off" if s["key"] > 1 and mode != "off" else "own"
        fits = self.vehicle.immobilizer.kind == "none" or s["key"] > 0 or self.bypassed(s)
        if not fits:
            return str(mode)
        return "start" if foot else {"accessory": "run"}.get(now, "accessory")

    def choices(self, s: dict[str, Any]) -> Iterator[tuple[dict[str, Any], str]]:
        key = s["key"]
        for to, event in super().choices(s):
            if to["key"] == key:
                yield to, event
        by_hand = {0: (1,), 1: (0, 2, 4), 2: (3, 4), 3: (1, 4), 4: (3,)}[key]
        for new in by_hand:
            if (new < 4 or s["brake"]) and (s["mode"] == "own" or max(new, key) < 2):
                yield {**s, "key": new}, "none"
        if s["mode"] == "start":
            yield {**s, "mode": "run"}, "none"
        if s["mode"] != "own" and not s["line"]:
            yield {**s, "mode": "own", "key": key if s["mode"] == "off" else min(key, 1)}, "none"

    def first(self) -> dict[str, Any]:
        return super().first() | {"mode": "own", "line": False}
