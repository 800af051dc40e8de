"""The ways of solving many states agree: numpy, compiled, and the plain dense matrix."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from network import dense
from network.laws import assert_laws
from network.nets import HELD_V, random_network, random_states

from startwright.network import paths, states
from startwright.network.solve import solve

LANES = getattr(states.kernel(), "LANES", 0)

needs_numba = pytest.mark.skipif(states.kernel() is None, reason="numba is not installed")


@needs_numba
@pytest.mark.parametrize("seed", range(25))
def test_the_kernel_answers_as_numpy_does(seed: int) -> None:
    rng = np.random.default_rng(seed)
    size = int(rng.integers(6, 50))
    net = random_network(
        rng, size, seed % 12, (seed * 5) % 9, held=5, zero_wires=seed % 3, loose=0.3
    )
    closed = random_states(rng, net, 60)
    held = HELD_V * rng.choice([1.0, 0.9, 1.1], (60, 1))
    for leak in (0.0, 1e-7):
        plain = solve(net, closed, held, leak_S=leak, compiled=False)
        quick = solve(net, closed, held, leak_S=leak, compiled=True)
        assert_laws(net, closed, held, quick, leak_S=leak)
        np.testing.assert_allclose(quick.node_V, plain.node_V, rtol=1e-9, atol=1e-9)
        np.testing.assert_allclose(quick.diode_A, plain.diode_A, rtol=1e-7, atol=1e-9)
        np.testing.assert_array_equal(quick.shorted, plain.shorted)


@needs_numba
@pytest.mark.parametrize("seed", range(4))
def test_a_state_that_takes_a_settled_ones_lane_starts_afresh(seed: int) -> None:
    """More states than lanes, in a number that leaves some lanes empty at the end."""
    rng = np.random.default_rng(400 + seed)
    net = random_network(rng, 30, 11, 7, held=4, loose=0.1)
    closed = np.unique(random_states(rng, net, 400), axis=0)
    assert len(closed) > 3 * LANES
    held = HELD_V[:4] * rng.choice([1.0, 0.6, 1.1], (len(closed), 1))
    plain = solve(net, closed, held, compiled=False)
    quick = solve(net, closed, held, compiled=True)
    np.testing.assert_allclose(quick.node_V, plain.node_V, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(quick.diode_A, plain.diode_A, rtol=1e-7, atol=1e-9)
    few = rng.permutation(len(closed))[:5]
    alone = solve(net, closed[few], held[few], compiled=True)
    np.testing.assert_allclose(alone.node_V, quick.node_V[few], rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_a_dense_matrix_gives_the_same_where_it_keeps_its_digits(seed: int) -> None:
    rng = np.random.default_rng(200 + seed)
    net = random_network(rng, 40, 10, 5, held=5, loose=0.0)
    closed = random_states(rng, net, 30)
    held = np.repeat(HELD_V[None], 30, axis=0)
    to = np.full(30, 6.0)
    got = solve(net, closed, held)
    volts, amps, done = dense.node_volts(net, closed, held, 0.0, to, paths.floating(net, closed))
    assert done.all()
    np.testing.assert_allclose(got.node_V, volts, rtol=1e-5, atol=1e-5)
    np.testing.assert_allclose(got.diode_A, amps, rtol=1e-3, atol=1e-5)


def test_a_state_answers_the_same_in_any_company() -> None:
    rng = np.random.default_rng(5)
    net = random_network(rng, 30, 9, 4, held=3, loose=0.1)
    closed = random_states(rng, net, 80)
    whole = solve(net, closed, HELD_V[:3])
    for s in range(0, 80, 7):
        alone = solve(net, closed[s : s + 1], HELD_V[:3])
        np.testing.assert_allclose(alone.node_V[0], whole.node_V[s], rtol=1e-12, atol=1e-12)


def test_memory_is_bounded_by_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(6)
    net = random_network(rng, 20, 8, 3, held=3, loose=0.1)
    closed = random_states(rng, net, 150)
    whole = solve(net, closed, HELD_V[:3])
    sizes = []

    def counted(*given, **options):  # type: ignore[no-untyped-def]
        sizes.append(len(given[1]))
        return original(*given, **options)

    original = states.node_volts
    monkeypatch.setattr("startwright.network.states.node_volts", counted)
    monkeypatch.setattr("startwright.network.solve.CHUNK_BYTES", 8 * 20 * 20 * 10)
    parts = solve(net, closed, HELD_V[:3])
    assert max(sizes) == 10
    np.testing.assert_array_equal(parts.node_V, whole.node_V)


def test_without_numba_all_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(8)
    net = random_network(rng, 20, 8, 3, held=3, loose=0.1)
    closed = random_states(rng, net, 20)
    want = solve(net, closed, HELD_V[:3])
    monkeypatch.setattr(states, "kernel", lambda: None)
    got = solve(net, closed, HELD_V[:3], compiled=True)
    np.testing.assert_array_equal(got.node_V, want.node_V)


def test_large_batches_take_the_kernel_and_small_ones_do_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rng = np.random.default_rng(9)
    net = random_network(rng, 20, 8, 3, held=3, loose=0.1)
    closed = np.unique(random_states(rng, net, 60), axis=0)
    taken = []
    original = states.node_volts

    def watched(*given, **options):  # type: ignore[no-untyped-def]
        taken.append(given[5])
        return original(*given[:5])

    monkeypatch.setattr(states, "node_volts", watched)
    monkeypatch.setattr(states, "kernel", lambda: object())
    monkeypatch.setattr(states, "COMPILED_STATES", len(closed))
    solve(net, closed, HELD_V[:3])
    solve(net, closed[1:], HELD_V[:3])
    assert taken == [True, False]


def test_importing_the_solver_imports_no_numba() -> None:
    said = subprocess.run(
        [
            sys.executable,
            "-c",
            "import startwright.network.solve, sys; print('numba' in sys.modules)",
        ],
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.strip() == "False"


def test_what_goes_in_circles_among_blocking_diodes_is_brought_home() -> None:
    # Found by a long random search: with SPICE's limit alone, Newton's method runs round for ever.
    rng = np.random.default_rng(10362)
    size, contacts, diodes = (int(rng.integers(*r)) for r in ((6, 60), (0, 16), (0, 25)))
    wires = int(rng.integers(0, 4))
    net = random_network(
        rng,
        size,
        contacts,
        diodes,
        held=5,
        zero_wires=wires,
        loose=rng.choice([0, 0.1, 0.3, 0.6, 0.9]),
    )
    closed = random_states(rng, net, 60)
    got = solve(net, closed, HELD_V)
    assert_laws(net, closed, HELD_V, got)


def test_easing_alone_brings_every_state_home(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(12)
    net = random_network(rng, 30, 8, 8, held=5, loose=0.2)
    closed = random_states(rng, net, 40)
    want = solve(net, closed, HELD_V)
    monkeypatch.setattr("startwright.network.newton.EASED_FROM", 0)
    monkeypatch.setattr("startwright.network.newton.EASED_TO", 80)
    got = solve(net, closed, HELD_V)
    assert_laws(net, closed, HELD_V, got)
    np.testing.assert_allclose(got.node_V, want.node_V, rtol=1e-7, atol=1e-7)
