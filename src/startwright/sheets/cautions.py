"""What can hurt someone, said where the hand is about to go. Local codes come first."""

from __future__ import annotations

from typing import TypedDict

from startwright.car.hybrid import is_hybrid
from startwright.records import Circuit, WholeJob
from startwright.sheets.labels import circuit_name


class Caution(TypedDict):
    """A caution on the sheet: its kind decides the colour of its edge."""

    kind: str
    head: str
    says: str


LAW: Caution = {
    "kind": "law",
    "head": "Local codes and licensed practice come first",
    "says": "Where the law, the vehicle's maker or an insurer asks for a licensed or certified "
    "person, that person does the work. What they say goes before this sheet.",
}
BATTERY_OFF: Caution = {
    "kind": "battery",
    "head": "Battery ground off before the first wire is bared",
    "says": "Key out of the car, doors closed, lamps out. Take the ground clamp off and tie it "
    "back. Wait as long as the vehicle's maker says for the airbags to discharge (ten minutes "
    "where nothing is said: common practice, no source). Fuses of the new feeds stay out.",
}
BATTERY_ON: Caution = {
    "kind": "battery",
    "head": "Before the battery goes back on",
    "says": "Every joint insulated, no tool or cut end in the footwell, unused leads of the unit "
    "insulated one by one. Clamp on, nobody leaning over the battery: it may gas and spark. Then "
    "the fuses, the smallest first.",
}
STEERING: Caution = {
    "kind": "column",
    "head": "The steering column moves",
    "says": "It tilts, slides and turns. Tie every run to what moves with it or clear of it, "
    "turn the wheel from stop to stop and work the tilt before the cover goes on. No run near the "
    "pedals or the knee bolster.",
}
PEDALS: Caution = {
    "kind": "column",
    "head": "Pedals move here",
    "says": "Tie runs clear of every pedal's way and of the brake rod; press each pedal to the "
    "floor and look.",
}
ENGINE_BAY: Caution = {
    "kind": "engine",
    "head": "Hot, turning and sharp",
    "says": "Engine cold, key out. Through the bulkhead only by a grommet, clear of exhaust, fan, "
    "belts and the hood's hinge.",
}
MEASURING: Caution = {
    "kind": "engine",
    "head": "In some of these checks the engine turns or runs",
    "says": "In park, parking brake set, wheels chocked, hands and clothes clear of the engine "
    "bay, nobody before or behind the car. Never indoors without the exhaust led outside: carbon "
    "monoxide gives no warning.",
}
ENGINE_TURNS = (
    "The engine turns now: in park, parking brake set, wheels chocked, hands clear, exhaust led "
    "outside."
)
"""One line at the very check, after `MEASURING` said it in full."""
BEFORE_TRYING: Caution = {
    "kind": "engine",
    "head": "From here on the car can start by itself",
    "says": "Outdoors, or with the exhaust led outside: carbon monoxide gives no warning. Wheels "
    "chocked, parking brake set, one person in the driver's seat with a foot ready on the brake, "
    "nobody before or behind the car. For the lines with the lever out of park the key stays with "
    "that person.",
}


def at_place(job: WholeJob, place: str) -> list[Caution]:
    """The cautions of one place: airbag, high voltage and data wires there, and what moves."""
    out: list[Caution] = []
    for function, kind, head, says in (
        (
            "srs",
            "airbag",
            "Airbag: leave it alone",
            "Yellow plugs and sleeves here. Do not unplug, probe, move or join: ",
        ),
        (
            "high_voltage",
            "high_voltage",
            "High voltage: leave it alone",
            "Orange cables here can kill. Only a person qualified for high-voltage vehicles goes "
            "near: ",
        ),
        (
            "data",
            "data",
            "Data wires: no lamp, no load, no join",
            "Only a declared pin of an interface may meet them: ",
        ),
    ):
        found = [c for c in job.vehicle.of(function) if (c.place or "") == place]
        if found:
            listed = "; ".join(map(_seen, found))
            out.append({"kind": kind, "head": head, "says": f"{says}{listed}."})
    if is_hybrid(job.vehicle) and not job.vehicle.of("high_voltage"):
        out.append(
            {
                "kind": "high_voltage",
                "head": "Hybrid: high voltage in this car",
                "says": "Orange cables can kill. None is on record at this place; look before "
                "you reach, and leave any to a person qualified for high-voltage vehicles.",
            }
        )
    low = place.lower()
    if "column" in low or "steering" in low:
        out.append(STEERING)
    if "pedal" in low:
        out.append(PEDALS)
    if any(word in low for word in ("engine", "bulkhead", "hood")):
        out.append(ENGINE_BAY)
    return out


def _seen(circuit: Circuit) -> str:
    """How a wire that is left alone looks, and where it is."""
    pin = f"pin {circuit.pin}" if circuit.pin else ""
    words = (circuit.plug or "", pin, circuit.colour or "colour not known")
    return ", ".join(word for word in words if word)


def engine_turns(do: list[str]) -> bool:
    """Whether a check lets the engine turn or run."""
    return any(step in ("key start", "engine starts", "command start") for step in do)


def of_circuit(job: WholeJob, id: str) -> str:
    """A circuit's name for a caution or step."""
    return circuit_name(job.vehicle.circuit(id))
