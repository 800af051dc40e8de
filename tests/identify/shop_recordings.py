"""The recordings of the invented shop, made again from what they came from.

Each wire is a node between resistances and contacts in the network of `fleet`, on a rail with a
battery, a starter and an alternator; then bounce, hum, noise and the steps of a scope. The same
seeds give the same files: ``python tests/identify/shop_recordings.py FOLDER`` writes them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from identify.fleet import (
    PAIRED,
    Array,
    Node,
    Script,
    bounced,
    data,
    delayed,
    power,
    shaft_pulses,
)
from startwright.records.recordings import TimedAction

KEYS = {"insert": 1, "remove": 0, "off": 1, "accessory": 2, "run": 3, "start": 4}
Wire = Callable[[Script, Node], object]
NOTE_SPREAD_s = 0.15


def script(seed: int, rate_hz: float, end_s: float, done: Sequence[tuple[float, str]]) -> Script:
    """What truly happened, from its list of actions; noted early or late by a tenth or two."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, end_s, 1.0 / rate_hz)
    key = np.zeros(len(t), dtype=int)
    hands = {name: np.zeros(len(t), dtype=bool) for name in PAIRED}
    engine = np.zeros(len(t), dtype=bool)
    starter = np.zeros(len(t), dtype=bool)
    for at, action in done:
        noun, verb = action.split()
        later = t >= at
        if noun == "key":
            key[later] = KEYS[verb]
            starter[later] = verb == "start"
        elif noun == "engine":
            engine[later] = verb == "starts"
        else:
            hands["drive" if noun == "shift" else noun][later] = verb == PAIRED[noun][0]
    true = [TimedAction(at, action) for at, action in done]
    noted = sorted(max(0.0, round(at + NOTE_SPREAD_s * rng.standard_normal(), 1)) for at, _ in done)
    told = [TimedAction(at, a.action) for at, a in zip(noted, true, strict=True)]
    s = Script(t, rng, key, starter, engine, hands, told, true)
    power(s)
    return s


def fed(live: Callable[[Script], Array], load_ohm: float) -> Wire:
    """A feed through a contact and its harness, with its load on it."""

    def build(s: Script, node: Node) -> None:
        node.rail(0.03, bounced(s, live(s)))
        node.ground(load_ohm)

    return build


def pulled(to_ground: Callable[[Script], Array], up_ohm: float = 4700.0) -> Wire:
    """A body computer's pull-up that a switch takes to ground."""

    def build(s: Script, node: Node) -> None:
        node.rail(up_ohm)
        node.ground(0.4, bounced(s, to_ground(s)))

    return build


def coil(s: Script, node: Node) -> None:
    """A waste-spark coil's negative: two pulses a revolution, fed in run and start."""
    node.rail(0.8, s.key >= 3)
    node.ground(0.1, shaft_pulses(s, 2.0, 0.3))
    node.ground(5000.0)


def made(s: Script, wires: dict[str, Wire], step_V: float, noise_V: float) -> dict[str, Array]:
    """The volts of every wire as a logger of that step and noise writes them."""
    columns = {}
    for name, build in wires.items():
        node = Node(s, 1e7)
        build(s, node)
        volts = node.solve() + s.rng.normal(0.0, noise_V, len(s.t))
        columns[name] = np.round(np.clip(volts, -5.0, 25.0) / step_V) * step_V
    return columns


CYCLE = [
    (1.5, "key insert"), (3.2, "key accessory"), (5.0, "key run"), (7.6, "brake press"),
    (8.8, "key start"), (9.75, "engine starts"), (9.9, "key run"), (12.1, "brake release"),
    (14.3, "parking_light on"), (16.0, "parking_light off"), (17.8, "hood open"),
    (19.4, "hood close"), (21.6, "key off"), (22.0, "engine stops"), (24.1, "key remove"),
    (25.2, "brake press"), (26.4, "brake release"),
]  # fmt: skip


def key_cycle() -> tuple[Script, dict[str, Array]]:
    """Nine wires of the Pindle at the ignition switch, pedal and kick panel, with notes."""
    s = script(41, 125.0, 28.0, CYCLE)
    wires: dict[str, Wire] = {
        "A1": fed(lambda s: np.ones(len(s.t), dtype=bool), 40.0),
        "A2": fed(lambda s: s.key >= 3, 1.2),
        "A3": fed(lambda s: s.key == 3, 1.6),
        "A4": fed(lambda s: (s.key == 2) | (s.key == 3), 2.1),
        "A5": fed(lambda s: s.key == 4, 1.3),
        "B2": fed(lambda s: s.hand("brake"), 3.5),
        "C4": pulled(lambda s: s.hand("hood")),
        "C9": fed(lambda s: s.hand("parking_light"), 4.0),
        "C17": data,
    }
    return s, made(s, wires, 0.02, 0.02)


def without_notes() -> tuple[Script, dict[str, Array]]:
    """Six wires of the Quill's ignition switch; nobody wrote down what was done when."""
    done = [
        (2.0, "key insert"), (3.6, "key accessory"), (5.8, "key run"), (9.0, "key start"),
        (10.2, "engine starts"), (10.4, "key run"), (17.0, "key off"), (17.3, "engine stops"),
    ]  # fmt: skip
    s = script(57, 200.0, 20.0, done)
    wires: dict[str, Wire] = {
        "pin 1": fed(lambda s: np.ones(len(s.t), dtype=bool), 30.0),
        "pin 2": fed(lambda s: s.key >= 3, 1.0),
        "pin 3": fed(lambda s: (s.key == 2) | (s.key == 3), 1.7),
        "pin 4": fed(lambda s: s.key == 4, 1.2),
        "pin 5": fed(lambda s: s.key == 3, 1.4),
        "pin 8": fed(lambda s: delayed(s, s.key == 4, 0.15), 4.0),
    }
    return s, made(s, wires, 0.05, 0.03)


def logic() -> tuple[Script, dict[str, Array]]:
    """The Sarrow's body computer by a logic probe: high above 6 V, low below, with notes."""
    done = [
        (1.0, "driver_door open"), (3.0, "driver_door close"), (4.6, "lock press"),
        (5.1, "lock release"), (7.0, "unlock press"), (7.5, "unlock release"),
        (9.4, "key insert"), (10.8, "key run"), (13.0, "hood open"), (14.6, "hood close"),
        (16.4, "lock press"), (16.9, "lock release"), (18.2, "unlock press"),
        (18.8, "unlock release"), (20.5, "key off"), (22.0, "key remove"),
    ]  # fmt: skip
    s = script(73, 1000.0, 24.0, done)
    wires: dict[str, Wire] = {
        "pin_8": pulled(lambda s: s.hand("lock"), 2200.0),
        "pin_9": pulled(lambda s: s.hand("unlock"), 2200.0),
        "pin_17": pulled(lambda s: s.hand("hood")),
        "pin_20": pulled(lambda s: s.hand("driver_door")),
        "pin_31": coil,
        "pin_2": data,
    }
    return s, {k: (v > 6.0).astype(float) for k, v in made(s, wires, 0.02, 0.02).items()}


PLACES = {
    "pindle-key-cycle": {
        **{
            f"A{n}": ("steering column", "ignition switch, black 6-way", str(n), colour)
            for n, colour in enumerate(("RD/YE", "BU/WH", "GY", "VT/GN", "WH/RD"), 1)
        },
        "B2": ("brake pedal", "brake switch, 2-way", "2", "GN/RD"),
        "C4": ("driver's kick panel", "body computer, natural 20-way", "4", "PK/BK"),
        "C9": ("driver's kick panel", "body computer, natural 20-way", "9", "BN/GY"),
        "C17": ("driver's kick panel", "body computer, natural 20-way", "17", "OG/BN"),
    },
    "quill-without-notes": {
        f"pin {pin}": ("steering column", "ignition switch, white 8-way", pin, colour)
        for pin, colour in (
            ("1", "BK/RD"), ("2", "GN/PK"), ("3", "BU/SR"), ("4", "BN/YE"), ("5", "GY/RD"),
            ("8", "BN/VT"),
        )
    },
    "sarrow-logic": {
        f"pin_{pin}": ("driver's kick panel", "body computer, black 40-way", pin, colour)
        for pin, colour in (
            ("8", "WH/BN"), ("9", "WH/OG"), ("17", "PK/GN"), ("20", "GY/BU"), ("31", "OG/WH"),
            ("2", "GN/YE"),
        )
    },
}  # fmt: skip
"""Place, plug, pin and colour of every wire, as in the vehicle records where they have it."""


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A small table; cells with a comma in quotes."""
    quoted = [[f'"{cell}"' if "," in cell else cell for cell in row] for row in rows]
    return "\n".join(",".join(row) for row in [list(head), *quoted]) + "\n"


def csv_text(s: Script, columns: dict[str, Array]) -> str:
    rows = [
        [f"{at:.4f}".rstrip("0").rstrip("."), *(f"{v:.2f}" for v in row)]
        for at, row in zip(s.t, zip(*columns.values(), strict=True), strict=True)
    ]
    return table(["time_s", *columns], rows)


def vcd_text(s: Script, columns: dict[str, Array]) -> str:
    """A value change dump (IEEE 1364-2005, clause 18) in ticks of a millisecond."""
    marks = {name: chr(33 + k) for k, name in enumerate(columns)}
    lines = ["$timescale 1 ms $end", "$scope module probe $end"]
    lines += [f"$var wire 1 {marks[name]} {name} $end" for name in columns]
    lines += ["$upscope $end", "$enddefinitions $end"]
    before: dict[str, float] = {}
    for k, at in enumerate(s.t):
        changed = [n for n, v in columns.items() if before.get(n) != v[k]]
        if changed:
            lines.append(f"#{round(at * 1000)}")
            lines += [f"{int(columns[n][k])}{marks[n]}" for n in changed]
            before.update({n: columns[n][k] for n in changed})
    lines.append(f"#{round(float(s.t[-1]) * 1000)}")
    return "\n".join(lines) + "\n"


def files() -> dict[str, str]:
    """Every file of the shop's ``recordings/`` by its name."""
    found = {}
    made_by = {
        "pindle-key-cycle": (key_cycle, csv_text, "csv"),
        "quill-without-notes": (without_notes, csv_text, "csv"),
        "sarrow-logic": (logic, vcd_text, "vcd"),
    }
    for name, (make, text, kind) in made_by.items():
        s, columns = make()
        found[f"{name}.{kind}"] = text(s, columns)
        found[f"{name}-wires.csv"] = table(
            ("wire", "place", "plug", "pin", "colour"),
            [(wire, *place) for wire, place in PLACES[name].items()],
        )
        if name != "quill-without-notes":
            noted = [(f"{a.time_s:g}", a.action) for a in s.noted]
            found[f"{name}-actions.csv"] = table(("time_s", "action"), noted)
    return found


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    for name, text in files().items():
        (folder / name).write_text(text, encoding="utf-8")
        print(f"{name}: {len(text) / 1000:.0f} kB")
