"""The naive reading agrees with idle-stop, wait lamp, service switch and charge lamp too."""

from __future__ import annotations

import random
from typing import Any

import pytest
from prove.test_bestiary import assert_same_states, records
from prove.test_world import TERMINALS

from startwright.car.build import wire_up
from startwright.prove.explore import explore
from startwright.prove.model import RESTING, Model
from startwright.prove.space import Space
from startwright.records.job import WholeJob
from startwright.records.wiring import Wiring

Data = dict[str, Any]
SENSED = {"wait": "wait_to_start", "service": "service", "charge": "charge_lamp"}


def idle_stop(job: Data, wiring: Data) -> None:
    job["vehicle"]["engine"] = {"idle_stop": True}


def wait_lamp(job: Data, wiring: Data) -> None:
    _sensed(job, wiring, "wait")
    job["vehicle"]["engine"] = {"ignition": "compression", "fuel": "diesel"}
    del job["unit"]["sequence"][0]["for_s"]
    job["unit"]["sequence"][0] |= {"until": "wait_over", "at_most_s": 20}


def service_switch(job: Data, wiring: Data) -> None:
    job["unit"]["leads"].append(_lead("service"))
    job["unit"]["refuses"].append("service")
    switch = {"id": "svc", "kind": "switch", "operated_by": "service", "contact_at_rest": "open"}
    job["stock"]["parts"].append(switch)
    wiring["parts"].append({"id": "S1", "of": "svc"})
    _runs(wiring, ("unit.service_in", "S1.a"), ("S1.b", "ground.body"))


def charge_lamp(job: Data, wiring: Data) -> None:
    _sensed(job, wiring, "charge")
    job["unit"]["engine_signal"] = {"by": "engine_sense", "choices": ["charge_lamp"]}
    wiring["settings"] = {"engine_sense": "charge_lamp"}
    wiring["runs"] = [r for r in wiring["runs"] if r["id"] != "r_tach"]


def idle_stop_by_charge_lamp(job: Data, wiring: Data) -> None:
    charge_lamp(job, wiring)
    idle_stop(job, wiring)


def _sensed(job: Data, wiring: Data, name: str) -> None:
    lamp = {"rest": "open", "active": "ground", "load_A": 0.1}
    job["vehicle"]["circuits"].append({"id": name, "function": SENSED[name], **lamp})
    job["unit"]["leads"].append(_lead(name))
    _runs(wiring, (f"vehicle.{name}", f"unit.{name}_in"))


def _lead(name: str) -> Data:
    return {
        "id": f"{name}_in",
        "way": "in",
        "senses": SENSED[name],
        "active": "ground",
        "pull": "up",
    }


def _runs(wiring: Data, *ends: tuple[str, str]) -> None:
    for one, other in ends:
        id = f"m_{one}_{other}".replace(".", "_").lower()
        wiring["runs"].append({"id": id, "from": one, "to": other})


MORE = [idle_stop, wait_lamp, service_switch, charge_lamp, idle_stop_by_charge_lamp]


def made(more: Any, seed: int | None = None) -> tuple[WholeJob, Wiring]:
    """The smallest car with one of these, and where seeded a relay and a few runs anywhere."""
    one, other = records("nothing-wrong")
    job, wiring = (
        r.model_dump(by_alias=True, exclude_none=True, exclude_unset=True, mode="json")
        for r in (one, other)
    )
    more(job, wiring)
    if seed is not None:
        choose = random.Random(seed)
        extra = [t for r in wiring["runs"] for t in (r["from"], r["to"]) if "_in" in t]
        wiring["runs"] = [r for r in wiring["runs"] if choose.random() < 0.9]
        wiring["parts"] += [{"id": "K1", "of": "relay"}, {"id": "D1", "of": "diode"}]
        for _ in range(choose.randint(2, 5)):
            ends = choose.sample(sorted({*TERMINALS, *extra}), 2)
            if set(ends) != {"vehicle.batt", "ground.body"}:
                _runs(wiring, (min(ends), max(ends)))
        wiring["runs"] = list({r["id"]: r for r in wiring["runs"]}.values())
    return WholeJob.model_validate(job), Wiring.model_validate(wiring)


@pytest.mark.parametrize("more", MORE)
def test_the_same_states_are_reached(more: Any) -> None:
    job, wiring = made(more)
    assert_same_states(job, wiring)
    model = Model(wire_up(job, wiring))
    columns = Space(model).unpack(explore(model).packed)
    assert (columns["motion"] == RESTING).any() == ("idle_stop" in more.__name__)
    assert columns["start"].any()
    senses = {inp.senses for inp, _ in model.inputs.values()} & set(SENSED.values())
    assert len(senses) == (more is not idle_stop)
    for lead in (n for n in columns if n in ("in.wait_in", "in.service_in", "in.charge_in")):
        assert set(columns[lead][columns["start"] > 0]) == {0, 1}


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("more", MORE)
def test_random_wirings_reach_the_same_states(more: Any, seed: int) -> None:
    assert_same_states(*made(more, seed))


def test_in_service_for_good_nothing_starts() -> None:
    def in_service(job: Data, wiring: Data) -> None:
        service_switch(job, wiring)
        _runs(wiring, ("unit.service_in", "ground.body"))

    job, wiring = made(in_service)
    assert_same_states(job, wiring)
    model = Model(wire_up(job, wiring))
    assert not Space(model).unpack(explore(model).packed)["start"].any()


def test_an_input_without_a_pull_reads_what_it_last_read() -> None:
    """Nothing holds its wire out of park, with the hood shut or the brake let go."""

    def loose(job: Data, wiring: Data) -> None:
        for lead in job["unit"]["leads"]:
            if lead.get("senses") in ("brake", "hood", "park_neutral"):
                on, off = (7, 6) if lead["active"] == "battery" else (2.0, 3.5)
                lead |= {"pull": "none", "on_V": on, "off_V": off}
        for circuit in job["vehicle"]["circuits"]:
            if circuit["function"] in ("brake", "hood", "park_neutral"):
                circuit["load_A"] = 0

    job, wiring = made(loose)
    assert_same_states(job, wiring)
    model = Model(wire_up(job, wiring))
    columns = Space(model).unpack(explore(model).packed)
    drive = columns["gear"] == 2
    assert (columns["in.lever_in"][drive] == 1).any()
