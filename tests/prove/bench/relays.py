"""Relays, diodes, motors and other ways that current finds."""

from __future__ import annotations

from prove.bench import Bench, case


def _second_ignition(b: Bench, coil: str, earth: str, contact: str = "87") -> None:
    """The second ignition by a relay, its coil between two terminals."""
    b.without("fx")
    b.settings["fx_does"] = "off"
    b.part(K1="rel")
    b.join(
        f"k86: {coil} - K1.86",
        f"k85: K1.85 - {earth}",
        "k30: vehicle.aux - K1.30",
        f"k87: K1.{contact} - vehicle.i2",
    )


@case("as-under-the-key")
def held_in_crank_by_the_running_signal(b: Bench) -> None:
    """The second ignition is live in run alone; the running signal lasts through the crank."""
    _second_ignition(b, "vehicle.aux", "unit.rs")


@case("start-ends", "car-unchanged")
def coil_on_a_lead_that_meets_the_key(b: Bench) -> None:
    """The accessory lead is joined to the car's wire, so the key works the relay too."""
    _second_ignition(b, "unit.ac", "ground.column")


@case()
def coil_on_a_lead_of_its_own(b: Bench) -> None:
    b.lead("ac2", way="out", does=["accessory"], active="battery", fed_by="f1", limit_A=2)
    b.lead("ac2", switch="transistor", suppressed=True)
    _second_ignition(b, "unit.ac2", "ground.column")


@case()
def coil_behind_a_diode(b: Bench) -> None:
    coil_on_a_lead_of_its_own(b)
    b.part(D5="d1")
    b.join("k86: D5.cathode - K1.86", "k86a: unit.ac2 - D5.anode")


@case("as-under-the-key")
def coil_behind_a_diode_turned_round(b: Bench) -> None:
    coil_on_a_lead_of_its_own(b)
    b.part(D5="d1")
    b.join("k86: D5.anode - K1.86", "k86a: unit.ac2 - D5.cathode")


@case("as-under-the-key")
def coil_behind_a_kilohm(b: Bench) -> None:
    coil_on_a_lead_of_its_own(b)
    b.part(R5="r1k")
    b.join("k86: R5.a - K1.86", "k86a: unit.ac2 - R5.b")


@case()
def coil_behind_forty_seven_ohms(b: Bench) -> None:
    """8.3 V of 12.6 pull it in; while cranking it is off."""
    coil_on_a_lead_of_its_own(b)
    b.part(R5="r47")
    b.join("k86: R5.a - K1.86", "k86a: unit.ac2 - R5.b")


@case("as-under-the-key")
def relay_that_wants_more_than_a_cranking_battery(b: Bench) -> None:
    """Begun under the key while it cranked the relay is not in; 9.0 V do not pull it in."""
    b.circuit("i3", function="ignition", live=["run", "start"], load_A=3)
    b.part(K1="weak")
    b.join(
        "k86: vehicle.aux - K1.86",
        "k85: K1.85 - unit.rs",
        "k30: vehicle.aux - K1.30",
        "k87: K1.87 - vehicle.i3",
    )


@case("brake-ends")
def coil_earthed_by_the_stop_lamps(b: Bench) -> None:
    """With the pedal pressed the coil is fed from its other end."""
    _second_ignition(b, "unit.ac", "vehicle.stop")


@case("car-unchanged")
def coil_fed_by_a_parking_lamp(b: Bench) -> None:
    _second_ignition(b, "vehicle.pl", "ground.column")


@case("start-ends")
def ignition_on_the_resting_contact(b: Bench) -> None:
    _second_ignition(b, "unit.ac", "ground.column", contact="87a")


@case("start-ends", "brake-ends")
def relay_that_holds_itself_through_a_diode(b: Bench) -> None:
    coil_on_a_lead_of_its_own(b)
    b.part(D5="d1")
    b.join("h1: K1.87 - D5.anode", "h2: D5.cathode - K1.86")


@case("start-ends", "no-crank-into-running")
def starter_relay_that_holds_itself(b: Bench) -> None:
    b.without("st2")
    b.part(K1="rel")
    b.join(
        "k86: unit.st - K1.86",
        "k85: K1.85 - ground.column",
        "k30: vehicle.aux - K1.30",
        "k87: K1.87 - vehicle.s2",
        "hold: K1.87 - K1.86",
    )


@case("start-ends")
def two_relays_that_hold_each_other(b: Bench) -> None:
    b.without("st2")
    b.part(K1="rel", K2="rel", D5="d1")
    b.join(
        "k86: unit.st - K1.86",
        "k85: K1.85 - ground.column",
        "k30: vehicle.aux - K1.30",
        "k87: K1.87 - K2.86",
        "m85: K2.85 - ground.column",
        "m30: vehicle.aux - K2.30",
        "m87: K2.87 - D5.anode",
        "hold: D5.cathode - K1.86",
        "out: K2.87 - vehicle.s2",
    )


@case()
def starter_through_a_relay_that_the_lever_holds(b: Bench) -> None:
    b.circuit("s2", interlock="none")
    b.without("st2")
    b.part(K1="rel")
    b.join(
        "k86: vehicle.sel - K1.86",
        "k85: K1.85 - ground.column",
        "k30: unit.st - K1.30",
        "k87: K1.87 - vehicle.s2",
    )


@case()
def starter_through_a_lever_switch(b: Bench) -> None:
    b.part(S1="pn-open")
    b.without("st2")
    b.circuit("s2", leave_dead=True)
    b.join("st: unit.st - S1.a", "st1: S1.b - vehicle.s1")


def _lever_relay(b: Bench, feed: str, contact: str) -> None:
    b.part(K1="rel")
    b.join(
        f"pi: K1.{contact} - unit.pi",
        "k86: vehicle.sel - K1.86",
        "k85: K1.85 - ground.column",
        f"k30: {feed} - K1.30",
    )


@case()
def lever_told_by_a_relay(b: Bench) -> None:
    _lever_relay(b, "vehicle.aux", "87")


@case("crank-only-when-safe", "can-start")
def lever_told_by_the_resting_contact(b: Bench) -> None:
    _lever_relay(b, "vehicle.aux", "87a")


@case("can-start")
def lever_told_only_while_the_ignition_is_on(b: Bench) -> None:
    _lever_relay(b, "vehicle.i2", "87")


@case("leaving-park-ends")
def lever_relay_that_holds_itself(b: Bench) -> None:
    _lever_relay(b, "vehicle.aux", "87")
    b.part(D5="d1")
    b.join("k86: D5.cathode - K1.86", "k86a: vehicle.sel - D5.anode", "hold: K1.87 - K1.86")


@case()
def hood_told_by_a_coil_that_the_hood_switch_grounds(b: Bench) -> None:
    b.lead("hi", active="ground", pull="up", on_V=3, off_V=6)
    b.part(K1="weak")
    b.join(
        "hi: K1.87a - unit.hi",
        "k86: vehicle.aux - K1.86",
        "k85: K1.85 - vehicle.bonnet",
        "k30: K1.30 - ground.wing",
    )


@case()
def feed_of_the_unit_through_a_relay_that_is_always_in(b: Bench) -> None:
    b.part(K1="rel")
    b.join(
        "f1: K1.87 - unit.f1",
        "k30: vehicle.main - K1.30",
        "k86: vehicle.aux - K1.86",
        "k85: K1.85 - ground.column",
    )


@case("can-start")
def feed_of_the_unit_through_the_key(b: Bench) -> None:
    b.join("f1: vehicle.a1 - unit.f1")


@case("can-start")
def ground_of_the_unit_through_the_stop_lamps(b: Bench) -> None:
    b.join("g: unit.g - vehicle.stop")


# ---- lock motors that rest at ground ------------------------------------------------------------


def _motors(b: Bench) -> None:
    b.without("lo", "un", "lo2", "un2")
    b.circuit("sw", also=None, style="reversing", steps_ohm=None, load_A=6)
    b.circuit("usw", function="unlock", style="reversing", load_A=6)
    b.cuts += ["sw", "usw"]
    for name, wire, lead in (("KL", "sw", "lo"), ("KU", "usw", "un")):
        b.parts[name] = "rel"
        b.join(
            f"{name}30: {name}.30 - vehicle.{wire}.load",
            f"{name}87a: {name}.87a - vehicle.{wire}.source",
            f"{name}87: vehicle.main - {name}.87",
            f"{name}86: vehicle.main - {name}.86",
            f"{name}85: {name}.85 - unit.{lead}",
        )
    b.parts.pop("RL")
    b.parts.pop("RU")


@case()
def lock_motors_by_two_relays(b: Bench) -> None:
    _motors(b)


@case("no-short")
def lock_motor_with_its_pins_exchanged(b: Bench) -> None:
    """30 and 87a exchanged: at rest nothing differs, at work battery meets the resting switch."""
    _motors(b)
    b.join("KL30: KL.87a - vehicle.sw.load", "KL87a: KL.30 - vehicle.sw.source")


@case("locks-on-command")
def lock_motors_with_their_coils_exchanged(b: Bench) -> None:
    _motors(b)
    b.join("KL85: KL.85 - unit.un", "KU85: KU.85 - unit.lo")


@case("within-limits")
def lock_motors_behind_a_small_fuse(b: Bench) -> None:
    _motors(b)
    b.part(F7="f5")
    b.join("f7: vehicle.main - F7.a", "KL87: F7.b - KL.87", "KU87: F7.b - KU.87")


@case("within-limits")
def lock_motor_on_a_small_contact(b: Bench) -> None:
    _motors(b)
    b.part(KL="small")


@case("no-short")
def lock_motors_straight_on_leads(b: Bench) -> None:
    _motors(b)
    b.cuts.clear()
    for run in [r for r in b.runs if r.startswith(("KL", "KU"))]:
        b.without(run)
    b.parts.pop("KL")
    b.parts.pop("KU")
    b.lead("lo", active="battery", limit_A=10)
    b.lead("un", active="battery", limit_A=10)
    b.join("lo: unit.lo - vehicle.sw", "un: unit.un - vehicle.usw")


# ---- wires of the car joined --------------------------------------------------------------------


@case("car-unchanged")
def parking_lamps_twisted(b: Bench) -> None:
    b.join("x: vehicle.pl - vehicle.pr")


@case("car-unchanged", "flashes")
def one_lamp_diode_turned(b: Bench) -> None:
    b.join("li_l: D1.anode - vehicle.pl", "li_a: unit.li - D1.cathode")


@case("within-limits")
def lamp_diode_too_small(b: Bench) -> None:
    b.part(D1="d1")


@case("car-unchanged")
def door_wires_joined(b: Bench) -> None:
    b.join("x: vehicle.ddoor - vehicle.dome")


@case("car-unchanged")
def door_wires_joined_by_a_diode(b: Bench) -> None:
    b.part(D5="d1")
    b.join("x: vehicle.dome - D5.anode", "y: D5.cathode - vehicle.ddoor")


@case("car-unchanged")
def parking_brake_grounded(b: Bench) -> None:
    b.join("x: vehicle.pb - ground.tunnel")


@case("car-unchanged")
def dome_light_worked_by_the_accessory(b: Bench) -> None:
    b.part(K1="rel")
    b.join(
        "k86: vehicle.a1 - K1.86",
        "k85: K1.85 - ground.roof",
        "k30: K1.30 - ground.roof",
        "k87: K1.87 - vehicle.dome",
    )


@case("car-unchanged", "no-short")
def seat_heater_wire_on_the_accessory(b: Bench) -> None:
    b.join("x: vehicle.a1 - vehicle.seat")


@case("car-unchanged")
def key_sense_on_the_accessory_lead(b: Bench) -> None:
    b.join("x: unit.ac - vehicle.ks")


@case("hands-off")
def airbag_wire_on_a_diode(b: Bench) -> None:
    b.part(D5="d1")
    b.join("x: vehicle.bag - D5.anode")
