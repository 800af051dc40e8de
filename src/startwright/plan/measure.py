"""What to measure before each circuit is joined, with the value to expect and the caution."""

from __future__ import annotations

from startwright.records.vehicle import Circuit
from startwright.records.wiring import Check

_ACT = {
    "brake": ("brake release", "brake press"),
    "clutch": ("clutch release", "clutch press"),
    "hood": ("hood close", "hood open"),
    "door": ("door close", "door open"),
    "driver_door": ("driver_door close", "driver_door open"),
    "trunk": ("trunk close", "trunk open"),
    "park_neutral": ("shift drive", "shift park"),
    "parking_brake": ("parking_brake release", "parking_brake set"),
    "parking_light": ("parking_light off", "parking_light on"),
    "horn": ("horn release", "horn press"),
    "lock": ("lock release", "lock press"),
    "unlock": ("unlock release", "unlock press"),
    "driver_unlock": ("unlock release", "unlock press"),
    "seat_heater": ("seat_heater off", "seat_heater on"),
    "rear_defogger": ("rear_defogger off", "rear_defogger on"),
    "charge_lamp": ("engine stops", "engine starts"),
    "start_button": ("start_button release", "start_button press"),
    "tach": ("engine stops", "engine starts"),
}
_CAUTION = {
    "starter": "The engine will turn: park, parking brake on, wheels chocked, hood clear of hands, "
    "nobody before the car. Wait until you hear it stop.",
    "battery": "Live at all times and fused for far more than a wire's worth: the battery's ground "
    "off before you bare it, the fuse out until everything else is done.",
    "ignition": "A spark here can damage modules: use a digital meter, no test lamp.",
    "immobilizer": "No lamp, no load: a digital meter alone. The airbag's yellow plug is near: "
    "leave it.",
    "data": "Only the interface's own pin may touch this wire; never a lamp or a meter's ohms.",
    "tach": "Engine running: no loose clothing, the exhaust led outside.",
    "start_button": "Pressed with the brake the engine turns: park, parking brake on, wheels "
    "chocked, hood clear of hands, nobody before the car, no foot on the brake.",
    "charge_lamp": "Engine running: no loose clothing, the exhaust led outside.",
}


def check_of(
    circuit: Circuit, number: int, before: str | None, key_ohm: float | None = None
) -> list[Check]:
    """The checks of one circuit before the run `before` is joined to it.

    Parameters
    ----------
    circuit : Circuit
        As on record; the check makes sure of it with a meter.
    number : int
        Number of the first check.
    before : str or None
        Id of the run.
    key_ohm : float, optional
        The key's resistance, where this is the line on which the car measures it.
    """
    probe = f"vehicle.{circuit.id}"
    caution = _CAUTION.get(circuit.function)
    steps = _key_steps(circuit) if circuit.key_fed else _hand_steps(circuit)
    if key_ohm is not None:
        steps = [
            (["key remove"], "open, plug apart"),
            (["key insert"], f"{key_ohm:g} ohm towards the lock, plug apart"),
        ]
    return [
        Check(id=f"c{number + k}", do=do, probe=probe, expect=expect, before=before,
              caution=caution)
        for k, (do, expect) in enumerate(steps)
    ]  # fmt: skip


def _volts(level: str) -> str:
    return "battery voltage (12 V and more)" if level == "battery" else "below 0.5 V"


def _key_steps(circuit: Circuit) -> list[tuple[list[str], str]]:
    live = set(circuit.live or ())
    if len(live) == 5:
        return [(["key remove"], "battery voltage, and it stays at every key position")]
    out: list[tuple[list[str], str]] = []
    for position in ("off", "accessory", "run", "start"):
        on = position in live
        said = (
            _volts(circuit.active_level)
            if on
            else "dead: " + _volts("ground" if circuit.active_level == "battery" else "battery")
        )
        if position == "start" and "run" in live:
            said = (
                "battery voltage, and it does not gap between run and start"
                if on
                else "drops out while the starter turns"
            )
        out.append(([f"key {position}"], said))
    return out


def _hand_steps(circuit: Circuit) -> list[tuple[list[str], str]]:
    if circuit.function == "tach":
        return [
            (["key run"], "no pulses"),
            (["engine starts"], "pulses that quicken with the engine (1 to 6 V on an AC range)"),
        ]
    if circuit.function == "data":
        return [([], "the plug, pin and colour on record; compare, do not probe")]
    if circuit.function == "immobilizer":
        return [(["key insert"], "the plug, pin and colour on record; compare, do not load")]
    if circuit.function == "battery":
        return [(["key remove"], "battery voltage, and it stays at every key position")]
    rest, act = _ACT.get(circuit.function, (f"{circuit.function} off", f"{circuit.function} on"))
    if circuit.style == "ladder" and circuit.steps_ohm is not None:
        steps = circuit.steps_ohm.model_dump(exclude_none=True)
        return [
            ([f"{name} press" if name != "rest" else rest], f"{ohm:g} ohm to ground, plug apart")
            for name, ohm in steps.items()
        ]
    active = circuit.active_level
    quiet = circuit.rest if circuit.rest in ("battery", "ground") else None
    at_rest = _volts(quiet) if quiet else "neither (it hangs on its load)" if active else "open"
    if quiet is None and circuit.load_A:
        at_rest = _volts("ground" if active == "battery" else "battery")
    return [([rest], at_rest), ([act], _volts(active) if active != "open" else "open")]
