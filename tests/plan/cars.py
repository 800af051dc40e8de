"""Vehicles, units and shelves made up at random, and small ones made by hand, for the planner."""

from __future__ import annotations

import copy
import random
from typing import Any

from startwright.records import WholeJob

ALWAYS = ["out", "off", "accessory", "run", "start"]
RELAY = {
    "id": "relay", "kind": "relay", "coil_ohm": 85, "contact_A": 40, "pull_in_V": 7.0,
    "drop_out_V": 1.5, "suppressed": True, "price": 4.2, "count": 9,
}  # fmt: skip
DIODE = {"id": "diode-6", "kind": "diode", "forward_A": 6, "reverse_V": 400, "price": 0.6,
         "count": 20}  # fmt: skip
HOOD = {"id": "hood-pin", "kind": "switch", "operated_by": "hood", "contact_at_rest": "open",
        "price": 2.9, "count": 2}  # fmt: skip


def fuse(rating: float, count: int = 6) -> dict[str, Any]:
    name = f"fuse-{rating:g}".replace(".", "_")
    return {"id": name, "kind": "fuse", "rating_A": rating, "price": 1.6, "count": count}


def ohm(value: float) -> dict[str, Any]:
    return {"id": f"ohm-{value:g}", "kind": "resistor", "ohm": value, "watt": 0.5, "price": 0.1,
            "count": 4}  # fmt: skip


def stock(*parts: dict[str, Any]) -> dict[str, Any]:
    return {"format": "startwright/stock/1", "id": "shelf", "parts": list(parts)}


def full_stock(**counts: int) -> dict[str, Any]:
    parts = [
        RELAY,
        DIODE,
        HOOD,
        ohm(360),
        ohm(1300),
        *(fuse(a) for a in (1, 3, 5, 7.5, 10, 15, 20, 25, 30)),
    ]
    return stock(*({**p, "count": counts.get(str(p["id"]).replace("-", "_"), p["count"])}
                   for p in parts))  # fmt: skip


def key_fed(id: str, function: str, live: list[str], **more: Any) -> dict[str, Any]:
    return {"id": id, "function": function, "live": live, "place": "column", **more}


def hand(id: str, function: str, active: str, load_A: float, **more: Any) -> dict[str, Any]:
    return {"id": id, "function": function, "rest": "open", "active": active, "load_A": load_A,
            "place": "kick panel", **more}  # fmt: skip


def vehicle(*more: dict[str, Any], drop: tuple[str, ...] = (), **keys: Any) -> dict[str, Any]:
    """A plain car; `more` circuits replace those of the same id or come after them."""
    circuits = {
        c["id"]: c
        for c in (
            key_fed("batt_1", "battery", ALWAYS, fuse_A=40, size_mm2=4.0),
            key_fed("batt_2", "battery", ALWAYS, fuse_A=40, size_mm2=4.0),
            key_fed("ign_1", "ignition", ["run", "start"], load_A=10.0, size_mm2=2.5),
            key_fed("acc_1", "accessory", ["accessory", "run"], load_A=8.0, size_mm2=2.5),
            key_fed("starter_1", "starter", ["start"], load_A=10.0, interlock="downstream",
                    size_mm2=2.5),
            hand("brake", "brake", "battery", 4.0),
            hand("hood", "hood", "ground", 0.02),
            hand("park", "park_neutral", "ground", 0.05),
            {"id": "tach", "function": "tach", "pulses_per_rev": 2, "place": "kick panel"},
            hand("lamps", "parking_light", "battery", 3.0),
            hand("horn", "horn", "ground", 0.3),
            hand("lock", "lock", "ground", 0.2, style="pulse", pulse_s=0.6),
            hand("unlock", "unlock", "ground", 0.2, style="pulse", pulse_s=0.6),
        )
    }  # fmt: skip
    circuits |= {c["id"]: c for c in more}
    return {
        "format": "startwright/vehicle/1",
        "id": "car",
        "gearbox": "automatic",
        "immobilizer": {"kind": "none"},
        "circuits": [c for id, c in circuits.items() if id not in drop],
        "places": [{"from": "column", "to": "kick panel", "length_m": 0.7}],
        **keys,
    }


def power(
    id: str, *does: str, feed: str = "feed_1", limit_A: Any = 25, **more: Any
) -> dict[str, Any]:
    lead = {"id": id, "way": "out", "does": list(does), "active": "battery", "fed_by": feed,
            "limit_A": limit_A, "switch": "relay", **more}  # fmt: skip
    return lead | ({"chosen_by": f"{id}_does"} if len(does) > 1 else {})


def small(id: str, *does: str, **more: Any) -> dict[str, Any]:
    lead = {"id": id, "way": "out", "does": list(does), "active": "ground", "limit_A": 0.5,
            "switch": "transistor", **more}  # fmt: skip
    return lead | ({"chosen_by": f"{id}_does"} if len(does) > 1 else {})


def sense(id: str, senses: str, active: str = "ground", **more: Any) -> dict[str, Any]:
    return {"id": id, "way": "in", "senses": senses, "active": active, **more}


def unit(*more: dict[str, Any], drop: tuple[str, ...] = (), **keys: Any) -> dict[str, Any]:
    """A small unit; `more` leads replace those of the same id or come after them."""
    leads = {
        d["id"]: d
        for d in (
            {"id": "feed_1", "way": "feed", "limit_A": 30, "fuse_A": 30},
            {"id": "feed_2", "way": "feed", "limit_A": 30, "fuse_A": 30},
            {"id": "gnd", "way": "ground"},
            power("ign", "ignition"),
            power("acc", "accessory", feed="feed_2"),
            power("start", "starter"),
            power("lamps", "parking_light", feed="feed_2", limit_A=10),
            small("horn", "horn"),
            small("lock", "lock"),
            small("unlock", "unlock"),
            small("run_sig", "running_signal", suppressed=True),
            sense("brake_in", "brake", "battery"),
            sense("hood_in", "hood"),
            sense("park_in", "park_neutral"),
            {"id": "tach_in", "way": "in", "senses": "tach"},
        )
    }
    leads |= {d["id"]: d for d in more}
    kept = [d for id, d in leads.items() if id not in drop]
    settings = [
        {"id": d["chosen_by"], "values": {"off": None, **dict.fromkeys(d["does"])},
         "default": "off"}
        for d in kept if d.get("chosen_by")
    ]  # fmt: skip
    settings += [
        {"id": d["active_by"], "values": ["battery", "ground"], "default": "battery"}
        for d in kept if d.get("active_by")
    ]  # fmt: skip
    return {
        "format": "startwright/unit/1",
        "id": "unit",
        "logic_from": "feed_1",
        "leads": kept,
        "settings": settings,
        "engine_signal": {"by": "engine_sense", "choices": ["tach", "volts", "timed"]},
        **keys,
    }


LIT = ["parking_light"]
PRESSES = [
    {"step": "acknowledge", "drives": LIT, "like": "off", "for_s": 1},
    {"step": "foot", "drives": [*LIT, "brake"], "like": "off", "for_s": 0.5},
    {"step": "push", "drives": [*LIT, "brake", "start_button", "running_signal"], "like": "start",
     "until": "engine_running", "at_most_s": 6, "on_timeout": "end"},
    {"step": "run", "drives": [*LIT, "running_signal"], "like": "run", "at_most_s": 1200},
]  # fmt: skip
"""The steps of a unit that imitates foot and press."""


def button_car(*more: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """A car that is started by a button."""
    button = hand("button", "start_button", "ground", 0.02)
    return vehicle(button, *more, start="push_button", **keys)


def button_unit(*more: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """A unit that imitates foot and press, and ends a start by a press."""
    keys = {"sequence": PRESSES, "tries": 1,
            "ending": {"drives": ["start_button"], "pulse_s": 0.5}, **keys}  # fmt: skip
    return unit(
        small("button", "start_button", suppressed=True),
        small("foot", "brake", suppressed=True),
        sense("ign_in", "ignition", "battery"),
        *more,
        drop=("ign", "acc", "start"),
        **keys,
    )


def pump(id: str, rest: str, active: str, pulse_s: float = 3.0, **more: Any) -> dict[str, Any]:
    """A lock or unlock wire of a vacuum pump."""
    return {"id": id, "function": id, "style": "vacuum", "rest": rest, "active": active,
            "load_A": 0.3, "pulse_s": pulse_s, "place": "kick panel", **more}  # fmt: skip


def commands(lock_s: float = 0.8, unlock_s: float = 0.8) -> dict[str, Any]:
    """Lock and unlock commands of these lengths."""
    return {"lock": [{"drives": ["lock"], "pulse_s": lock_s}, {"drives": LIT, "pulse_s": 0.3}],
            "unlock": [{"drives": ["unlock"], "pulse_s": unlock_s}],
            "lock_again": [{"drives": ["horn"], "pulse_s": 0.05}],
            "trunk": [{"drives": ["trunk_release"], "pulse_s": 0.8}],
            "panic": [{"drives": ["horn", *LIT], "pulse_s": 0.5, "repeat_s": 30}]}  # fmt: skip


def key_lines(count: int) -> list[dict[str, Any]]:
    """The line on which the car measures a key's resistor, and its way back."""
    return [{"id": f"key_{k}", "function": "immobilizer", "number": k, "place": "column"}
            for k in range(1, count + 1)]  # fmt: skip


def interface(serves: str, *fits: str, **needs: str) -> dict[str, Any]:
    """An interface for a kind of key."""
    needs = needs or {"power": "battery", "earth": "ground", "wake": "running_signal"}
    return {"id": f"for-{serves.replace('_', '-')}", "kind": "interface", "serves": [serves],
            "needs": needs, "pins": needs, "model_fit": list(fits), "price": 30,
            "count": 1}  # fmt: skip


def shelf_with(*more: dict[str, Any], **counts: int) -> dict[str, Any]:
    """The full shelf and more parts."""
    shelf = full_stock(**counts)
    shelf["parts"] += more
    return shelf


def job(
    car: dict[str, Any] | None = None,
    box: dict[str, Any] | None = None,
    shelf: dict[str, Any] | None = None,
    wants: tuple[str, ...] = ("remote_start",),
    **keys: Any,
) -> WholeJob:
    return WholeJob.model_validate(
        {
            "format": "startwright/job/1",
            "id": "job",
            "vehicle": car or vehicle(),
            "unit": box or unit(),
            "stock": shelf or full_stock(),
            "wants": list(wants),
            **keys,
        }
    )


# -- at random ------------------------------------------------------------------------------------


def random_job(seed: int) -> WholeJob:
    """A car, a unit and a shelf by chance; many have a plan, some have none."""
    r = random.Random(seed)
    car = _random_car(r)
    box = _random_unit(r)
    shelf = full_stock(
        relay=r.choice([1, 3, 9, 9, 9, 9]),
        diode_6=r.choice([1, 20, 20]),
        hood_pin=r.choice([0, 2, 2, 2, 2, 2]),
        fuse_15=r.choice([0, 6]),
        fuse_3=r.choice([0, 6]),
    )
    circuits = {c["id"]: c for c in car["circuits"]}
    leads = {d["id"] for d in box["leads"]}
    may = ["light_flash", "horn_chirp", "panic", "lock_unlock"]
    if "trunk" in circuits and "trunk" in leads:
        may.append("trunk_release")
    if circuits.get("unlock", {}).get("presses", 1) > 1:
        may.append("driver_first_unlock")
    if "armed" in leads:
        may += ["starter_cut", "armed_output"]
    wants = ["remote_start", *(w for w in may if r.random() < 0.35)]
    return job(car, box, shelf, tuple(wants))


def _random_car(r: random.Random) -> dict[str, Any]:
    loads = [4.0, 8.0, 12.0, 18.0]
    more: list[dict[str, Any]] = [
        key_fed("ign_1", "ignition", ["run", "start"], load_A=r.choice(loads)),
        key_fed("acc_1", "accessory", ["accessory", "run"], load_A=r.choice(loads)),
        key_fed("starter_1", "starter", ["start"], load_A=r.choice(loads),
                interlock=r.choice(["downstream", "mechanical", "none"])),
    ]  # fmt: skip
    if r.random() < 0.5:
        more.append(
            key_fed("ign_2", "ignition", r.choice([["run"], ["run", "start"]]),
                    load_A=r.choice(loads), may_hold_in_crank=r.random() < 0.2,
                    leave_dead=r.random() < 0.1)
        )  # fmt: skip
    if r.random() < 0.3:
        more.append(
            key_fed("acc_2", "accessory", r.choice([["accessory", "run"], ["run"]]),
                    load_A=r.choice(loads))
        )  # fmt: skip
    if r.random() < 0.3:
        more.append(
            key_fed("starter_2", "starter", ["start"], load_A=3.0,
                    interlock=r.choice(["downstream"] * 3 + ["upstream", "none"]))
        )  # fmt: skip
    if r.random() < 0.3:
        more.append(
            key_fed("key_in", "key_sense", ["off", "accessory", "run", "start"], load_A=0.1)
        )
    drop: list[str] = []
    more.append(hand("brake", "brake", r.choice(["battery", "battery", "ground"]), 4.0))
    more.append(hand("park", "park_neutral", "battery" if r.random() < 0.1 else "ground", 0.05,
                     **({"tells": "park"} if r.random() < 0.3 else {})))  # fmt: skip
    if r.random() < 0.4:
        drop.append("hood")
    else:
        more.append(hand("hood", "hood", r.choice(["ground", "battery"]), 0.02))
    level = r.choice(["battery", "ground"])
    amps = 3.0 if level == "battery" else 0.2
    if r.random() < 0.4:
        drop.append("lamps")
        more += [hand(f"lamps_{side}", "parking_light", level, amps, side=side)
                 for side in ("left", "right")]  # fmt: skip
    else:
        more.append(hand("lamps", "parking_light", level, amps))
    more.append(hand("horn", "horn", *r.choice([("ground", 0.3), ("battery", 4.0)])))
    style = r.choice(["pulse", "pulse", "reversing", "ladder"])
    if style == "reversing":
        more += [{"id": f, "function": f, "style": "reversing", "rest": "ground",
                  "active": "battery", "load_A": 8.0, "place": "kick panel"}
                 for f in ("lock", "unlock")]  # fmt: skip
    elif style == "pulse":
        active, rest = r.choice([("ground", "battery"), ("battery", "ground")])
        more += [hand(f, f, active, 0.2, style="pulse", pulse_s=0.6) | {"rest": rest}
                 for f in ("lock", "unlock")]  # fmt: skip
        more[-1]["presses"] = r.choice([1, 2])
    else:
        drop += ["lock", "unlock"]
        more.append({"id": "lock_line", "function": "lock", "also": ["unlock"], "style": "ladder",
                     "steps_ohm": {"rest": 4700, "lock": 330, "unlock": 1000},
                     "place": "kick panel"})  # fmt: skip
    if r.random() < 0.5:
        more.append(hand("trunk", "trunk_release", r.choice(["ground", "battery"]), 0.3,
                         known={"how": r.choice(["told", "measured"])}))  # fmt: skip
    return vehicle(*more, drop=tuple(drop))


def _random_unit(r: random.Random) -> dict[str, Any]:
    more: list[dict[str, Any]] = [
        sense("hood_in", "hood", r.choice(["ground", "ground", "battery"])),
        sense("brake_in", "brake", r.choice(["battery", "battery", "ground"])),
    ]
    if r.random() < 0.5:
        more.append(power("flex", "ignition", "accessory", "starter", feed="feed_2", limit_A=20))
    if r.random() < 0.3:
        more.append(small("sig", "running_signal", "ignition_signal", "starter_signal",
                          suppressed=r.random() < 0.5))  # fmt: skip
    if r.random() < 0.3:
        more.append(small("start_sig", "starter_signal", suppressed=True))
    if r.random() < 0.4:
        more.append(
            power("lamps", "parking_light", feed="feed_2", active_by="lamps_level",
                  limit_A={"battery": 10, "ground": 0.5}) | {"active": None}
        )  # fmt: skip
    if r.random() < 0.5:
        more.append(small("trunk", "trunk_release", suppressed=r.random() < 0.5))
    if r.random() < 0.6:
        more.append(small("armed", "armed_signal", suppressed=True))
    drop = [d for d in ("tach_in",) if r.random() < 0.2]
    return unit(*more, drop=tuple(drop))


def wide_job(seed: int) -> WholeJob:
    """A random job with the rarer cars in it: buttons, pumps, keys that are measured or answered.

    The circuits, units and shelves of `random_job`, changed by chance.
    """
    r = random.Random(seed * 7919 + 1)
    plain = random_job(seed)
    car, box, shelf = (
        record.model_dump(by_alias=True, exclude_none=True, exclude_unset=True, mode="json")
        for record in (plain.vehicle, plain.unit, plain.stock)
    )
    if r.random() < 0.8:
        shelf = full_stock()
    for c in car["circuits"]:
        if c.get("interlock") == "upstream" and r.random() < 0.7:
            c["leave_dead"] = True
    _wide_locks(r, car, box)
    _wide_key(r, car, shelf)
    if r.random() < 0.5:
        car["start"] = "push_button"
        _wide_button(r, car, box)
    if r.random() < 0.2:
        car["circuits"].append(hand("brake_2", "brake", r.choice(["ground", "battery"]), 0.3))
    if r.random() < 0.15:
        box["engine_signal"] = {"by": "engine_sense", "choices": ["charge_lamp", "volts"]}
        box["leads"].append(sense("charge_in", "charge_lamp", "battery"))
        car["circuits"].append(hand("charge", "charge_lamp", r.choice(["battery", "ground"]), 0.2))
    if r.random() < 0.2:
        box["leads"] = [{k: v for k, v in d.items() if k != "fuse_A"} for d in box["leads"]]
    wants = list(plain.wants)
    if "lock_unlock" not in wants and any(c.get("style") == "vacuum" for c in car["circuits"]):
        wants += ["lock_unlock"] * (r.random() < 0.8)
    return job(car, box, shelf, tuple(wants))


def _wide_locks(r: random.Random, car: dict[str, Any], box: dict[str, Any]) -> None:
    circuits = car["circuits"]
    if r.random() < 0.25:
        gone = ("lock", "unlock", "lock_line")
        circuits[:] = [c for c in circuits if c["id"] not in gone]
        levels = ("ground", "battery")
        for f in ("lock", "unlock"):
            circuits.append(pump(f, *r.sample(levels, 2), pulse_s=r.choice([0.5, 0.7, 2.5, 4.0])))
    if r.random() < 0.5:
        box["commands"] = commands(*(r.choice([0.5, 0.8, 3.0, 4.5]) for _ in range(2)))
        if r.random() < 0.8:
            box["commands"]["unlock_again"] = [{"drives": ["unlock"], "pulse_s": 0.8}]
    if r.random() < 0.4:
        box.setdefault("commands", commands())
        box.setdefault("settings", []).append(
            {"id": "lock_time", "values": {"min": 0.8, "max": 4.8, "step": 0.4, "unit": "s"},
             "default": 0.8, "sets": f"commands.{r.choice(['lock', 'unlock'])}.pulse_s"}
        )  # fmt: skip


def _wide_key(r: random.Random, car: dict[str, Any], shelf: dict[str, Any]) -> None:
    kind = r.choice(["none", "none", "resistor_key", "resistor_key", "transponder", "smart_key"])
    if kind == "none":
        return
    car["immobilizer"] = {"kind": kind}
    if kind == "resistor_key":
        if r.random() < 0.9:
            car["immobilizer"]["key_ohm"] = r.choice([402, 700, 1130, 1700, 3010, 11_800])
        car["circuits"] += key_lines(r.choice([0, 1, 1, 2, 2]))
        shelf["parts"] += [ohm(v) for v in r.sample([390, 680, 1000, 1200, 3300], 2)]
    if r.random() < 0.85:
        needs = r.choice(
            [
                {},
                {"power": "battery", "earth": "ground"},
                {"power": "battery", "earth": "ground", "wake": "running_signal battery"},
                {"power": "battery", "earth": "ground", "wake": "ignition_signal"},
                {"power": "battery", "earth": "ground", "on": "ignition"},
                {"power": "battery", "earth": "ground", "wake": "running_signal",
                 "on": "ignition"},
            ]
        )  # fmt: skip
        shelf["parts"].append(
            interface(kind, *r.choice([(), (), (), ("car",), ("other",)]), **needs)
        )


def _wide_button(r: random.Random, car: dict[str, Any], box: dict[str, Any]) -> None:
    car["circuits"].append(
        hand("button", "start_button", r.choice(["ground", "ground", "battery"]), 0.02)
    )
    if r.random() < 0.25:
        return
    signal = r.choice(["running_signal", "running_signal", "ignition_signal"])
    hides = r.random() < 0.4
    steps = copy.deepcopy(PRESSES)
    for k, step in enumerate(steps):
        if signal != "running_signal" or r.random() < 0.1:
            step["drives"] = [d for d in step["drives"] if d != "running_signal"]
            step["drives"] += [signal] * (k > 1)
        if hides and "brake" in step["drives"]:
            step["drives"].append("starter_signal")
    if r.random() < 0.2:
        del steps[1]
    box["sequence"] = steps
    box["tries"] = r.choice([1, 1, 1, 2])
    if r.random() < 0.93:
        box["ending"] = {"drives": ["start_button", *(["starter_signal"] if hides else [])],
                         "pulse_s": 0.5}  # fmt: skip
    foot = r.choice([small("foot", "brake", suppressed=True), small("foot", "brake"),
                     power("foot", "brake", feed="feed_2", limit_A=8)])  # fmt: skip
    box["leads"] += [
        small("button", "start_button", suppressed=r.random() < 0.8), foot,
        sense("ign_in", "ignition", r.choice(["battery", "battery", "ground"])),
    ]  # fmt: skip
    if hides:
        box["leads"].append(small("hide", "starter_signal", suppressed=True))
