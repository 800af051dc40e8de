"""Islands: nothing lost, and each answers alone as it does in the whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from network.laws import assert_laws
from network.nets import HELD_V, random_network, random_states

from startwright.network.elements import Builder, Resistor
from startwright.network.islands import islands
from startwright.network.solve import solve


def test_two_circuits_on_one_rail_are_two_islands() -> None:
    b = Builder()
    b.hold("battery")
    b.hold("ground")
    for side in ("left", "right"):
        b.contact(f"{side} switch", "battery", f"{side} fed", side, [False, True])
        b.resistor(f"{side} lamp", f"{side} fed", "ground", 6.0)
    b.resistor("clock", "battery", "ground", 1000.0)
    b.node("spare")
    net, _ = b.build()
    found = islands(net)
    assert [i.network.names for i in found] == [
        ("battery", "ground", "left fed"),
        ("battery", "ground", "right fed"),
        ("spare",),
        ("battery", "ground"),
    ]
    assert found[1].contacts == (1,)
    assert found[1].resistors == (1,)
    assert found[1].network.contacts[0].name == "right switch"
    assert found[2].held == ()
    assert found[3].resistors == (2,)


@pytest.mark.parametrize("seed", range(8))
def test_islands_answer_as_the_whole_does(seed: int) -> None:
    rng = np.random.default_rng(seed)
    net = random_network(rng, 25, 5, 3, held=5, loose=0.5)
    closed = random_states(rng, net, 12)
    whole = solve(net, closed, HELD_V)
    assert_laws(net, closed, HELD_V, whole)
    found = islands(net)
    free = [n for i in found for n in i.nodes if n not in net.held]
    assert sorted(free) == [n for n in range(25) if n not in net.held]
    for kind in ("resistors", "contacts", "diodes"):
        every = [e for i in found for e in getattr(i, kind)]
        assert sorted(every) == list(range(len(getattr(net, kind))))
    for island in found:
        got = solve(island.network, closed[:, island.contacts], HELD_V[list(island.held)])
        assert_laws(island.network, closed[:, island.contacts], HELD_V[list(island.held)], got)
        np.testing.assert_allclose(got.node_V, whole.node_V[:, island.nodes], rtol=1e-7, atol=1e-7)
        np.testing.assert_array_equal(got.floating, whole.floating[:, island.nodes])
        for kind, amps in (
            ("resistors", "resistor_A"),
            ("contacts", "contact_A"),
            ("diodes", "diode_A"),
        ):
            np.testing.assert_allclose(
                getattr(got, amps),
                getattr(whole, amps)[:, list(getattr(island, kind))],
                rtol=1e-6,
                atol=1e-7,
            )


@pytest.mark.parametrize("seed", range(12))
def test_islands_taken_over_from_a_like_network_are_those_of_the_network(seed: int) -> None:
    """With an element changed, taken out or put in; what is taken over is the same object."""
    rng = np.random.default_rng(seed)
    net = random_network(rng, 25, 5, 3, held=5, loose=0.7)
    before = islands(net)
    k = int(rng.integers(len(net.resistors)))
    one = net.resistors[k]
    rest = net.resistors[:k] + net.resistors[k + 1 :]
    a, b = (int(n) for n in rng.choice(25, 2, replace=False))
    for resistors in (
        rest,
        (*net.resistors[:k], replace(one, ohm=one.ohm * 2), *net.resistors[k + 1 :]),
        (*net.resistors, Resistor("fault", a, b, 1e-3)),
    ):
        changed = replace(net, resistors=resistors)
        found = islands(changed, (net, before))
        assert found == islands(changed)
        old = {id(i.network) for i in before}
        assert any(id(i.network) in old for i in found)
