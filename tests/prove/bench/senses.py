"""Inputs: levels, pulls, thresholds, diodes and switches between them and the car."""

from __future__ import annotations

from prove.bench import Bench, case


@case()
def as_it_stands(b: Bench) -> None:
    """The second ignition, live in run alone, hangs on an output that is set to accessory."""


@case()
def volts(b: Bench) -> None:
    b.without("ti")
    b.settings["hears"] = "volts"


@case()
def charge_lamp(b: Bench) -> None:
    b.without("ti")
    b.settings["hears"] = "charge_lamp"
    b.join("ci: vehicle.gen - unit.ci")


@case()
def charge_lamp_that_opens(b: Bench) -> None:
    charge_lamp(b)
    b.circuit("gen", active="open", load_A=None)
    b.lead("ci", pull="up", on_V=6, off_V=3)


@case("no-crank-into-running")
def charge_lamp_chosen_and_not_joined(b: Bench) -> None:
    charge_lamp(b)
    b.without("ci")


@case("can-start")
def charge_lamp_input_on_the_accessory(b: Bench) -> None:
    charge_lamp(b)
    b.join("ci: vehicle.a1 - unit.ci")


@case("no-crank-into-running")
def goes_by_time(b: Bench) -> None:
    b.without("ti")
    b.settings["hears"] = "timed"


@case()
def brake_by_the_lamps_bulb(b: Bench) -> None:
    """Ground through a cold bulb would do; the pull is down, the switch gives battery."""
    b.lead("bi", pull="none")


@case()
def brake_switch_that_opens(b: Bench) -> None:
    b.lead("bi", active="ground", pull="down", on_V=3, off_V=6)
    b.join("bi: vehicle.pedal - unit.bi")


@case("brake-ends")
def brake_switch_that_opens_pulled_up(b: Bench) -> None:
    """Open or closed the wire stands at battery."""
    brake_switch_that_opens(b)
    b.lead("bi", pull="up")


@case("hood-ends", "crank-only-when-safe")
def hood_switch_that_opens_pulled_down(b: Bench) -> None:
    b.lead("hi", pull="down")


@case()
def lever_behind_a_diode(b: Bench) -> None:
    b.part(D9="d1")
    b.join("pi: vehicle.sel - D9.anode", "pi2: D9.cathode - unit.pi")


@case("can-start")
def lever_behind_a_diode_turned_round(b: Bench) -> None:
    b.part(D9="d1")
    b.join("pi: vehicle.sel - D9.cathode", "pi2: D9.anode - unit.pi")


@case()
def hood_behind_a_diode(b: Bench) -> None:
    b.part(D9="d1")
    b.join("hi: vehicle.bonnet - D9.cathode", "hi2: D9.anode - unit.hi")


@case("can-start", "hood-ends")
def hood_switch_from_the_shelf_of_the_wrong_rest(b: Bench) -> None:
    b.part(S1="hs-open")
    b.join("hi: unit.hi - S1.a", "h2: S1.b - ground.wing")


@case()
def hood_switch_from_the_shelf(b: Bench) -> None:
    b.part(S1="hs-closed")
    b.join("hi: unit.hi - S1.a", "h2: S1.b - ground.wing")


@case()
def brake_switch_from_the_shelf(b: Bench) -> None:
    b.part(S1="bs-open")
    b.join("bi: unit.bi - S1.a", "b2: S1.b - vehicle.aux")


@case("brake-ends")
def brake_switch_from_the_shelf_to_the_wrong_rail(b: Bench) -> None:
    b.part(S1="bs-open")
    b.join("bi: unit.bi - S1.a", "b2: S1.b - ground.pedal")


@case("leaving-park-ends")
def lever_switch_that_tells_neutral_where_the_car_tells_park(b: Bench) -> None:
    b.part(S1="pn-open")
    b.join("pi: unit.pi - S1.a", "p2: S1.b - vehicle.aux")


@case("leaving-park-ends")
def a_second_lever_input_that_tells_neutral(b: Bench) -> None:
    b.part(S1="pn-open")
    b.lead("pi2", way="in", senses="park_neutral", active="battery", pull="down")
    b.join("p1: unit.pi2 - S1.a", "p2: S1.b - vehicle.aux")


@case("leaving-park-ends", "crank-only-when-safe")
def lever_input_on_the_battery(b: Bench) -> None:
    b.join("pi: unit.pi - vehicle.aux")


@case("leaving-park-ends")
def lever_input_on_the_accessory(b: Bench) -> None:
    b.join("pi: vehicle.a1 - unit.pi")


@case("leaving-park-ends", "can-start")
def lever_input_on_the_units_own_output(b: Bench) -> None:
    """Once it feeds the accessory it believes in park for ever; but it never begins."""
    b.join("pi: unit.ac - unit.pi")


@case("brake-ends")
def brake_not_seen_while_cranking(b: Bench) -> None:
    """At 9.0 V the pressed pedal stays below 9.5 V."""
    b.lead("bi", on_V=9.5)


@case("brake-ends")
def brake_not_seen_while_cranking_a_low_battery(b: Bench) -> None:
    b.lead("bi", on_V=7.6)


@case()
def brake_just_seen_while_cranking_a_low_battery(b: Bench) -> None:
    b.lead("bi", on_V=7.4)


@case("can-start")
def lever_lost_while_cranking(b: Bench) -> None:
    b.lead("pi", on_V=10, off_V=9.2)


@case()
def lever_held_while_cranking(b: Bench) -> None:
    b.lead("pi", on_V=10, off_V=7)


@case("hood-ends")
def hood_input_on_the_stop_lamps(b: Bench) -> None:
    b.join("hi: vehicle.stop - unit.hi")


@case("can-start")
def brake_input_on_an_ignition(b: Bench) -> None:
    b.join("bi: vehicle.i2 - unit.bi")


@case("can-start")
def brake_input_on_the_running_signal(b: Bench) -> None:
    """The unit ends what it begins."""
    b.lead("bi", active="ground", pull="up", on_V=3, off_V=6)
    b.join("bi: unit.rs - unit.bi")


@case("hood-ends")
def armed_output_on_the_hood_wire(b: Bench) -> None:
    b.join("x: unit.ar - vehicle.bonnet")


@case()
def armed_output_on_the_service_input(b: Bench) -> None:
    """Armed it starts no more; that is a nuisance, no danger."""
    b.join("x: unit.ar - unit.si")


@case()
def service_switch(b: Bench) -> None:
    b.part(S1="sv")
    b.join("s1: unit.si - S1.a", "s2: S1.b - ground.column")


@case()
def ignition_seen_by_an_input_of_its_own(b: Bench) -> None:
    """The one ignition lead left hangs behind a diode and sees nothing."""
    b.part(D7="d20")
    b.settings["fx_does"] = "accessory"
    b.join("fx: unit.fx - D7.anode", "fx2: D7.cathode - vehicle.i2", "ii: vehicle.i2 - unit.ii")
