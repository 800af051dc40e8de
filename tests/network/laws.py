"""What must hold after every solve: charge at every node, power in total, the law of every part."""

from __future__ import annotations

import numpy as np

from startwright.network.elements import Network
from startwright.network.solve import Solution

THERMAL_V = 0.025852
LEAST_OHM = 1e-8


def assert_laws(
    network: Network,
    closed: np.ndarray,
    held_V: np.ndarray,
    solution: Solution,
    leak_S: float = 0.0,
    leak_to_V: np.ndarray | float | None = None,
) -> None:
    """Fail unless charge, power and every element's own law hold in every state."""
    closed = np.asarray(closed, dtype=bool)
    states, nodes = closed.shape[0], len(network.names)
    held_V = np.broadcast_to(np.asarray(held_V, dtype=float), (states, len(network.held)))
    if leak_to_V is None:
        leak_to_V = held_V.max(axis=1, initial=0.0) / 2.0
    to = np.broadcast_to(np.asarray(leak_to_V, dtype=float), (states,))
    volts, floats = solution.node_V, solution.floating
    held = list(network.held)
    assert np.array_equal(volts[:, held], held_V)
    assert not floats[:, held].any()
    if leak_S == 0.0:
        assert np.array_equal(np.isnan(volts), floats)
    else:
        assert not np.isnan(volts).any()
    filled = np.where(np.isnan(volts), to[:, None], volts)

    ends = [(r.a, r.b) for r in network.resistors]
    ends += [(k.a, k.b) for k in network.contacts]
    ends += [(d.anode, d.cathode) for d in network.diodes]
    amps = np.concatenate([solution.resistor_A, solution.contact_A, solution.diode_A], axis=1)
    assert np.isfinite(amps).all()
    out_of = np.zeros((states, nodes))
    size = np.zeros((states, nodes))
    power = np.zeros(states)
    moved = np.zeros(states)
    for e, (a, b) in enumerate(ends):
        out_of[:, a] += amps[:, e]
        out_of[:, b] -= amps[:, e]
        size[:, a] += np.abs(amps[:, e])
        size[:, b] += np.abs(amps[:, e])
        watts = amps[:, e] * (filled[:, a] - filled[:, b])
        power += watts
        moved += np.abs(watts)
    free = [n for n in range(nodes) if n not in network.held]
    leaked = leak_S * (filled[:, free] - to[:, None])
    out_of[:, free] += leaked

    # The last digit of a voltage, over the stiffest conductance there is, is what a sum may miss.
    stiffest = max(
        [1.0 / max(r.ohm, LEAST_OHM) for r in network.resistors]
        + [1.0 / max(k.ohm, LEAST_OHM) for k in network.contacts]
        + [1.0]
    )
    digit = 1e-15 * (np.abs(filled).max() + 1.0) * stiffest
    slack = 1e-9 * size + 1e-11 + digit
    wrong = np.abs(out_of[:, free]) > slack[:, free]
    assert not wrong.any(), (
        f"charge is not conserved: state, free node {np.argwhere(wrong)[0]}, "
        f"{np.abs(out_of[:, free]).max()} A"
    )
    given = (-out_of[:, held] * filled[:, held]).sum(axis=1)
    spent = power + (leaked * filled[:, free]).sum(axis=1)
    assert np.all(np.abs(given + spent) <= 1e-9 * moved + 1e-9 + digit * nodes * 20.0)

    for e, r in enumerate(network.resistors):
        drop = filled[:, r.a] - filled[:, r.b]
        assert np.allclose(
            solution.resistor_A[:, e] * max(r.ohm, LEAST_OHM), drop, rtol=1e-9, atol=1e-10
        )
    for e, k in enumerate(network.contacts):
        assert np.all(solution.contact_A[~closed[:, e], e] == 0.0)
        drop = (filled[:, k.a] - filled[:, k.b])[closed[:, e]]
        amp = solution.contact_A[closed[:, e], e]
        assert np.allclose(amp * max(k.ohm, LEAST_OHM), drop, rtol=1e-9, atol=1e-10)
    for e, d in enumerate(network.diodes):
        amp = solution.diode_A[:, e]
        across = filled[:, d.anode] - filled[:, d.cathode]
        junction = across - amp * d.series_ohm
        law = d.saturation_A * np.expm1(junction / (d.emission * THERMAL_V)) + 1e-12 * junction
        # In the steep part the junction voltage is told from the current, not the other way round.
        slope = (amp + d.saturation_A) / (d.emission * THERMAL_V) + 1e-12
        rounding = 1e-14 * (np.abs(filled).max() + np.abs(amp) * d.series_ohm + 1.0)
        assert np.all(np.abs(law - amp) <= 1e-6 * np.abs(amp) + 1e-11 + np.abs(slope) * rounding)
