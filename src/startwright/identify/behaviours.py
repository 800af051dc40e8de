"""What each function does in each state of the car: the hypotheses that are weighed.

A `Behaviour` says for each stretch whether the wire should stand at its active level (1), at rest
(0), be cut off (`patterns.DEAD`), or either (0.5), and which kinds of source those levels may be.
Behaviours without a function are look-alikes that a fitter must not take for one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from startwright.identify import lamps, patterns
from startwright.identify.blocks import F64
from startwright.identify.lamps import Factor
from startwright.identify.patterns import Pattern, all_of, any_of, hand, keyed
from startwright.identify.segments import UNKNOWN, Table
from startwright.records.words import ActiveLevel

SWITCHED: dict[str, float] = {"ground": 0.45, "open": 0.40, "low": 0.05, "mid1": 0.10}
"""Rest of a wire that is fed when active: pulled down by its load, or nothing on it."""

FED: dict[str, float] = {"ground": 0.70, "open": 0.17, "low": 0.05, "mid1": 0.05, "five": 0.03}
"""Rest of a key-fed circuit: its loads pull it down."""

GROUNDED: dict[str, float] = {
    "pulled": 0.48, "five": 0.22, "open": 0.08, "mid1": 0.14, "strobe": 0.08,
}  # fmt: skip
"""Rest of a wire that is grounded when active: pulled up to the rail, to 5 V, or by pulses."""


@dataclass(frozen=True)
class Behaviour:
    """One hypothesis about a wire.

    Parameters
    ----------
    name : str
        For the evidence (``ignition, out while cranking``).
    function : str or None
        None for a look-alike.
    active : ActiveLevel or None
        The level when operated.
    prior : float
        Relative share among the wires that a fitter clips on to.
    pattern : callable
        Truth value of "active" per stretch.
    on, rest : dict
        Kinds of source (`likelihood.KINDS`) and their shares, when active and at rest.
    needs : tuple of str
        What must have been worked for this to be decided at all.
    """

    name: str
    function: str | None
    active: ActiveLevel | None
    prior: float
    pattern: Pattern
    on: dict[str, float]
    rest: dict[str, float]
    needs: tuple[str, ...] = ()
    coasts: bool = False
    """Whether it falls slowly when it is let go of."""
    factor: Factor | None = None
    """How likely the seconds are that the pattern implies."""


def _both(
    function: str,
    prior: float,
    pattern: Pattern,
    battery_share: float,
    *,
    needs: tuple[str, ...] = (),
    name: str | None = None,
    lookalike: bool = False,
) -> list[Behaviour]:
    """The behaviour with the wire fed when active, and with it grounded."""
    said = name or function.replace("_", " ")
    of = None if lookalike else function
    return [
        Behaviour(f"{said}, fed", of, "battery", prior * battery_share, pattern,
                  {"battery": 0.97, "five": 0.03}, SWITCHED, needs),
        Behaviour(f"{said}, grounded", of, "ground", prior * (1 - battery_share), pattern,
                  {"ground": 0.93, "low": 0.07}, GROUNDED, needs),
    ]  # fmt: skip


ON = {"battery": 1.0}


def behaviours(diesel: bool | None = None) -> list[Behaviour]:
    """Every hypothesis of level and pattern; pulses, data and unlike things are weighed apart.

    Priors are relative shares of the wires that a fitter clips on to at a steering column, a kick
    panel and a body computer (common practice, no source).
    """
    return [*_key_fed(), *_lookalikes(), *_by_seconds(diesel), *_worked()]


def _key_fed() -> list[Behaviour]:
    """Feeds and grounds, by key position."""
    key_accessory, key_run = ("key_accessory",), ("key_run",)
    return [
        Behaviour("battery", "battery", "battery", 0.300, patterns.always, ON, {"open": 1.0}),
        Behaviour("ground", "ground", "ground", 0.024, patterns.always, {"ground": 1.0},
                  {"open": 1.0}),
        Behaviour("accessory, out while cranking", "accessory", "battery", 0.060,
                  keyed("accessory", "run"), ON, FED, key_accessory),
        Behaviour("accessory, held while cranking", "accessory", "battery", 0.012,
                  keyed("accessory", "run", "start"), ON, FED, key_accessory),
        Behaviour("accessory, retained", "accessory", "battery", 0.012,
                  patterns.retained, ON, FED, key_accessory),
        Behaviour("accessory, retained until a door opens", "accessory", "battery", 0.010,
                  patterns.retained_first, ON, FED, key_accessory),
        Behaviour("ignition", "ignition", "battery", 0.110, keyed("run", "start"), ON, FED,
                  key_run),
        Behaviour("ignition, out while cranking", "ignition", "battery", 0.060, keyed("run"), ON,
                  FED, key_run),
        Behaviour("starter", "starter", "battery", 0.070, patterns.starter, ON, FED,
                  ("key_start",)),
        Behaviour("starter, at the motor", "starter", "battery", 0.008, patterns.cranking_only, ON,
                  FED, ("key_start",)),
    ]  # fmt: skip


def _held_after(table: Table) -> F64:
    """A relay or window feed that stays on for a while after the key is off: surely at first."""
    live = table.key_in("run", "start")
    held = patterns.after(live, np.zeros(len(table))) == 1
    first = held & ~np.concatenate([[False], held[:-1]])
    return np.where(first, 1.0, np.where(held, UNKNOWN, live))


def _lookalikes() -> list[Behaviour]:
    """What nobody may use, though it moves as something that one may."""
    run = ("run", "start")
    found = [
        Behaviour("dimmed illumination", None, None, 0.040, patterns.lights,
                  {"pwm": 0.7, "mid1": 0.3}, SWITCHED),
        Behaviour("flasher", None, None, 0.010, patterns.lights, {"flash": 1.0}, SWITCHED),
        Behaviour("fed while the engine runs", None, None, 0.012, lamps.running, ON, FED),
        Behaviour("fed in run and a while after", None, None, 0.016, _held_after, ON, FED),
        Behaviour("fed out of park", None, None, 0.020,
                  lambda t: all_of(t.key_in(*run), t.hand("drive")), ON, FED),
        Behaviour("fed in run with the brake", None, None, 0.0065,
                  lambda t: all_of(t.key_in(*run), t.hand("brake")), ON, FED),
        Behaviour("nothing on it", None, None, 0.040, patterns.always, {"open": 1.0},
                  {"ground": 1.0}),
    ]  # fmt: skip
    for positions, prior in ((("run",), 0.008), (("accessory", "run"), 0.003), (run, 0.003)):
        found.append(
            Behaviour("motor that coasts down", None, None, prior, keyed(*positions), ON, FED,
                      coasts=True)
        )  # fmt: skip
    return found


def _by_seconds(diesel: bool | None) -> list[Behaviour]:
    """Lamps and relays that are on for some seconds, or with the engine.

    Seconds are common practice, no source: a pump primes for 0.8 to 4, lamps are tested for 1.5 to
    6, a glow lamp burns for 0.7 to 20 by the engine's warmth.
    """
    glow = {True: 15.0, False: 0.05, None: 1.0}[diesel]
    lit = {"ground": 0.92, "low": 0.08}
    pulled = {"pulled": 0.85, "battery": 0.05, "open": 0.1}
    lamp_prior, test_prior, pump_prior = 0.004 * glow, 0.006, 0.008
    found = [
        Behaviour("charging", "charge_lamp", "battery", 0.014, lamps.charging, ON,
                  {"lit": 1.0}, ("key_start",), factor=lamps.seen(lamps.charging)),
        Behaviour("oil pressure or another lamp out with the engine", None, None, 0.012,
                  lamps.pressure, {"battery": 0.5, "pulled": 0.5}, {"ground": 0.98, "low": 0.02}),
    ]  # fmt: skip
    dates: list[tuple[Pattern, Factor, Factor, Factor]] = [
        (lamps.lit_for(k), lamps.gone_after(k, lamps.by_orders(0.7, 20.0)),
         lamps.gone_after(k, lamps.between(1.5, 6.0)), lamps.gone_after(k, lamps.between(0.8, 4.0)))
        for k in (1, 2, 3, 4)
    ]  # fmt: skip
    dates.append(
        (lamps.lit_until_cranking, lamps.lasting(lamps.surviving_by_orders(0.7, 20.0)),
         lamps.lasting(lamps.surviving(1.5, 6.0)), lamps.lasting(lamps.surviving(0.8, 4.0)))
    )  # fmt: skip
    for pattern, glowing, tested, priming in dates:
        wire, with_engine = lamps.lamp(pattern), lamps.pump(pattern)
        found += [
            Behaviour("glow lamp", "wait_to_start", "ground", lamp_prior, wire, lit, pulled,
                      ("key_run",), factor=glowing),
            Behaviour("lamp test", None, None, test_prior, wire, lit, pulled, factor=tested),
            Behaviour("glow signal, fed", "wait_to_start", "battery", 0.25 * lamp_prior, pattern,
                      ON, SWITCHED, ("key_run",), factor=glowing),
            Behaviour("pump or heater relay, fed", None, None, pump_prior, with_engine, ON, FED,
                      factor=priming),
            Behaviour("pump or heater relay, grounded", None, None, 0.5 * pump_prior,
                      lamps.lamp(with_engine), {"ground": 1.0}, pulled, factor=priming),
        ]  # fmt: skip
    return found


def _flashed(*pressed: str) -> Pattern:
    """Lights that the car flashes every time that it is locked or unlocked."""
    return lambda t: any_of(patterns.lights(t), *(t.hand(name) for name in pressed))


def _worked() -> list[Behaviour]:
    """What answers to a hand."""
    found: list[Behaviour] = [
        Behaviour("parking light, pulsed", "parking_light", "battery", 0.006, patterns.lights,
                  {"pwm": 1.0}, SWITCHED, ("parking_light",)),
    ]  # fmt: skip
    found += _both("key_sense", 0.035, keyed("off", "accessory", "run", "start"), 0.55,
                   needs=("key_out",))  # fmt: skip
    found += _both("brake", 0.065, hand("brake"), 0.88, needs=("brake_key_off",))
    found += _both("hood", 0.032, hand("hood"), 0.12, needs=("hood",))
    found += _both("driver_door", 0.040, hand("driver_door"), 0.12, needs=("driver_door",))
    found += _both("door", 0.0015, hand("driver_door"), 0.12, needs=("driver_door",))
    found += _both("door", 0.012, hand("door"), 0.12, needs=("door",), name="other door")
    found += _both("trunk", 0.032, hand("trunk"), 0.15, needs=("trunk",))
    found += _both("trunk_release", 0.004, patterns.release, 0.6, needs=("command_trunk",))
    found += _both("dome_light", 0.005, patterns.dome, 0.45, needs=("driver_door",))
    found += _both("dome_light", 0.001, patterns.dome_unlocked, 0.45, needs=("driver_door",),
                   name="dome light, on at unlock")  # fmt: skip
    found += _both("dome_light", 0.008, patterns.dome_fading, 0.45, needs=("driver_door",),
                   name="dome light, fading")  # fmt: skip
    found += _both("park_neutral", 0.018, patterns.park, 0.15, needs=("drive",))
    found += _both("park_neutral", 0.010, patterns.park_when_live, 0.35, needs=("drive",),
                   name="park or neutral, live in run")  # fmt: skip
    found += _both("park_neutral", 0.004, patterns.park_gated, 0.95, needs=("drive",),
                   name="park or neutral, fed in run")  # fmt: skip
    found += _both("parking_light", 0.050, patterns.lights, 0.72, needs=("parking_light",))
    found += _both("parking_light", 0.0005, patterns.lights_flashing, 0.72,
                   needs=("parking_light",), name="parking light, flashing")  # fmt: skip
    for pressed in (("lock",), ("unlock",), ("lock", "unlock")):
        found += _both("parking_light", 0.0012, _flashed(*pressed), 0.72, needs=("parking_light",),
                       name=f"parking light, flashed by {' and '.join(pressed)}")  # fmt: skip
    found += _both("horn", 0.032, patterns.horn, 0.22, needs=("horn",))
    found += _both(
        "horn", 0.0015, patterns.horn_chirping, 0.22, needs=("horn",), name="horn, chirping"
    )
    found += _both(
        "lock", 0.050, patterns.with_commands("lock", "lock", "start"), 0.5, needs=("lock",)
    )
    found += _both(
        "unlock", 0.050, patterns.with_commands("unlock", "unlock"), 0.5, needs=("unlock",)
    )
    found += _both("unlock", 0.006, patterns.second_unlock, 0.5, needs=("unlock",),
                   name="unlock, second press")  # fmt: skip
    found += _both("driver_unlock", 0.0015, patterns.driver_unlock, 0.5, needs=("unlock",))
    found += _both("alarm_arm", 0.0007, hand("lock"), 0.1, needs=("lock",))
    found += _both("alarm_disarm", 0.0007, hand("unlock"), 0.1, needs=("unlock",))
    found += _both(
        "seat_heater", 0.010, patterns.comfort("seat_heater"), 0.6, needs=("seat_heater",)
    )
    found += _both("rear_defogger", 0.014, patterns.comfort("rear_defogger"), 0.7,
                   needs=("rear_defogger",))  # fmt: skip
    found += _both("clutch", 0.005, hand("clutch"), 0.35, needs=("clutch",))
    found += _both("parking_brake", 0.006, hand("parking_brake"), 0.08, needs=("parking_brake",))
    found += _both("start_button", 0.003, hand("start_button"), 0.1, needs=("start_button",))
    return found
