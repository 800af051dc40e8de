"""The same two stages as in `ports.switch` and `newton.settle`, compiled.

Stage two runs through the states one after another. Newton's method then works on `LANES` of them
side by side, so that the processor can add and multiply several at once; as soon as one settles,
the next state takes its lane.

An extra: where numba is not installed, or not worth its start-up, `ports` works without it. Nothing
here is imported until a batch is large enough. Sources as in `ports`, `newton`, `junction`.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LANES = 64
"""States side by side: with fewer the processor waits, with more its nearest cache runs over."""


@njit(cache=True, error_model="numpy")
def run(
    base: Floats,
    joints: Ints,
    joint_S: Floats,
    starts: Ints,
    closed: NDArray[np.uint8],
    resume: Ints,
    known_V: Floats,
    ends: Ints,
    law: Floats,
    load_line_rounds: int,
    leaks_S: Floats,
    step_V: float,
    columns: Floats,
    amps: Floats,
    done: Bools,
) -> None:
    """Fill `columns`, `amps`, `done` for states sorted so that like beginnings follow each other.

    Parameters
    ----------
    base : (ports, columns), as in `ports.Reduced`
    joints : (joints, 3) contact, row, column with row < column; `joint_S` their conductances
    starts : (steps + 2,) where the joints of each step begin, and of the last decision
    closed : (S, contacts)
    resume : (S,) first step whose contacts differ from the state before; steps + 1 if none does
    known_V : (S, held + 1)
    ends : (diodes, 2) columns, counted from the first node that a diode touches
    leaks_S : (rounds,) leak of the junctions in each, the first being what it is
    law : (4, diodes) saturation_A, slope_V, critical_V, series_ohm
    columns : (S, columns), amps : (S, diodes), done : (S,)

    Source: as of `ports.switch` and `newton.settle`.
    """
    ports, width = base.shape
    steps = len(starts) - 2
    nodes = ports - steps
    known = width - ports
    states = len(closed)
    lanes = min(LANES, states)
    stack = np.empty((steps + 2, ports, width))
    stack[0] = base
    level = np.zeros((steps + 2, ports), dtype=np.int64)
    shares = np.zeros((steps, width))
    back = np.empty((lanes, steps, width))
    block = np.zeros((nodes, nodes + 2, lanes))
    work = np.empty((nodes, nodes + 2, lanes))
    spare = np.empty((2 + nodes, lanes))
    volts = np.zeros((nodes + known, lanes))
    junction = np.zeros((5, len(ends), lanes))
    state = np.full(lanes, -1)
    turn = np.zeros(lanes, dtype=np.int64)
    lowest = np.zeros(lanes)
    taken = 0
    settled = 0
    while settled < states:
        for t in range(lanes):
            if state[t] >= 0 or taken == states:
                continue
            _enter(stack, level, shares, joints, joint_S, starts, closed[taken], resume[taken])
            _lay(stack, level[-1], steps, known_V[taken], block, volts, t)
            back[t] = shares
            state[t] = taken
            turn[t] = 0
            lowest[t] = known_V[taken].min() - known_V[taken].max()
            junction[0, :, t] = 0.0
            taken += 1
        work[:] = block
        _companions(junction, ends, law, leaks_S, turn, state, volts, work)
        _star_mesh(work, spare, volts)
        for t in range(lanes):
            s = state[t]
            if s < 0:
                continue
            over = _next(
                junction, ends, law, leaks_S, step_V, load_line_rounds, turn[t], lowest[t], volts, t
            )
            turn[t] += 1
            if over or turn[t] == len(leaks_S):
                done[s] = over
                for d in range(len(ends)):
                    amps[s, d] = junction[4, d, t]
                for j in range(nodes + known):
                    columns[s, steps + j] = volts[j, t]
                _lead_back(back[t], columns[s])
                state[t] = -1
                settled += 1


@njit(cache=True, error_model="numpy", fastmath={"contract", "reassoc"})
def _enter(
    stack: Floats,
    level: Ints,
    shares: Floats,
    joints: Ints,
    joint_S: Floats,
    starts: Ints,
    closed: NDArray[np.uint8],
    resume: int,
) -> None:
    """Stage two for one state, from the first step that differs from the state before.

    A row that a step leaves as it was is not copied: `level` says where it was written last.
    Entries below the diagonal are unused. What is added up is never negative.
    """
    ports, width = stack.shape[1], stack.shape[2]
    steps = len(shares)
    for k in range(resume, steps + 1):
        now = level[k + 1]
        now[:] = level[k]
        for q in range(starts[k], starts[k + 1]):
            if closed[joints[q, 0]]:
                i = joints[q, 1]
                if now[i] != k + 1:
                    for j in range(i + 1, width):
                        stack[k + 1, i, j] = stack[now[i], i, j]
                    now[i] = k + 1
                stack[k + 1, i, joints[q, 2]] += joint_S[q]
        if k == steps:
            return
        gone = stack[now[k], k]
        total = 0.0
        for j in range(k + 1, width):
            total += gone[j]
        part = 1.0 / total if total > 0.0 else 0.0
        for j in range(k + 1, width):
            shares[k, j] = gone[j] * part
        for i in range(k + 1, ports):
            share = shares[k, i]
            if share > 0.0:
                old = stack[now[i], i]
                new = stack[k + 1, i]
                for j in range(i + 1, width):
                    new[j] = old[j] + share * gone[j]
                now[i] = k + 1


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def _lay(
    stack: Floats, level: Ints, steps: int, known_V: Floats, block: Floats, volts: Floats, t: int
) -> None:
    """The rows that are left, into lane `t`: conductances, to known volts, and amps fed in."""
    nodes = len(block)
    for i in range(nodes):
        row = stack[level[steps + i], steps + i]
        for j in range(i + 1, nodes):
            block[i, j, t] = row[steps + j]
        tied = 0.0
        fed = 0.0
        for j in range(len(known_V)):
            tied += row[steps + nodes + j]
            fed += row[steps + nodes + j] * known_V[j]
        block[i, nodes, t] = tied
        block[i, nodes + 1, t] = fed
    for j in range(len(known_V)):
        volts[nodes + j, t] = known_V[j]


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def _companions(
    junction: Floats,
    ends: Ints,
    law: Floats,
    leaks_S: Floats,
    turn: Ints,
    state: Ints,
    volts: Floats,
    work: Floats,
) -> None:
    """`Junctions.companion` of every diode in every lane, and its place in `work`."""
    nodes, lanes = work.shape[0], work.shape[2]
    for d in range(len(ends)):
        old, slope, source = junction[0, d], junction[1, d], junction[2, d]
        saturation_A, ohm = law[0, d], law[3, d]
        per_V = 1.0 / law[1, d]
        for t in range(lanes):
            if state[t] >= 0:
                v = old[t]
                x = v * per_V
                e = saturation_A * math.exp(min(x, 300.0)) if x > -45.0 else 0.0
                leak_S = leaks_S[turn[t]]
                g_law = e * per_V + leak_S
                share = 1.0 / (1.0 + g_law * ohm)
                slope[t] = g_law * share
                source[t] = (e - saturation_A + leak_S * v - g_law * v) * share
        a, b = ends[d]
        if a == b:
            continue
        first, second = min(a, b), max(a, b)
        if first >= nodes:
            continue
        if a < nodes:
            for t in range(lanes):
                work[a, nodes + 1, t] -= source[t]
        if b < nodes:
            for t in range(lanes):
                work[b, nodes + 1, t] += source[t]
        if second < nodes:
            for t in range(lanes):
                work[first, second, t] += slope[t]
        else:
            for t in range(lanes):
                work[first, nodes, t] += slope[t]
                work[first, nodes + 1, t] += slope[t] * volts[second, t]


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def _star_mesh(work: Floats, spare: Floats, volts: Floats) -> None:
    """`newton.star_mesh` in every lane; `work` and `spare` are used up."""
    nodes, lanes = work.shape[0], work.shape[2]
    total, share = spare[0], spare[1]
    for i in range(nodes):
        part = spare[2 + i]
        for t in range(lanes):
            total[t] = work[i, nodes, t]
        for j in range(i + 1, nodes):
            for t in range(lanes):
                total[t] += work[i, j, t]
        for t in range(lanes):
            part[t] = 1.0 / total[t] if total[t] > 0.0 else 0.0
        for j in range(i + 1, nodes):
            for t in range(lanes):
                share[t] = work[i, j, t] * part[t]
            for m in range(j + 1, nodes + 2):
                for t in range(lanes):
                    work[j, m, t] += share[t] * work[i, m, t]
    for i in range(nodes - 1, -1, -1):
        for j in range(i + 1, nodes):
            for t in range(lanes):
                work[i, nodes + 1, t] += work[i, j, t] * volts[j, t]
        for t in range(lanes):
            volts[i, t] = work[i, nodes + 1, t] * spare[2 + i, t]


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def _next(
    junction: Floats,
    ends: Ints,
    law: Floats,
    leaks_S: Floats,
    step_V: float,
    load_line_rounds: int,
    turn: int,
    lowest: float,
    volts: Floats,
    t: int,
) -> bool:
    """Whether lane `t` has settled; where the next tangents are laid."""
    leak_S = leaks_S[turn]
    over: bool = leak_S == leaks_S[0]
    for d in range(len(ends)):
        saturation_A, slope_V, critical_V = law[0, d], law[1, d], law[2, d]
        old = junction[0, d, t]
        across = volts[ends[d, 0], t] - volts[ends[d, 1], t]
        linear = junction[1, d, t] * across + junction[2, d, t]
        wanted = across - law[3, d] * linear
        if over and abs(wanted - old) > step_V + 1e-9 * abs(wanted):
            over = False
        if over:  # The law itself is asked only while all stand still.
            x = wanted / slope_V
            e = saturation_A * math.exp(min(x, 300.0)) if x > -45.0 else 0.0
            exact = e - saturation_A + leak_S * wanted
            over = abs(exact - linear) <= 1e-12 + 1e-8 * abs(exact)
        if turn == 0:
            new = min(wanted, critical_V)
        else:
            new = _limited(wanted, old, slope_V, critical_V)
            if turn < load_line_rounds and abs(wanted - old) > 0.3 * slope_V:
                ohm = (junction[3, d, t] - wanted) / (linear - junction[4, d, t])
                if ohm > 0.0 and ohm < math.inf:
                    new = min(new, _met(wanted + ohm * linear, ohm, law, d, leak_S))
        junction[0, d, t] = max(new, lowest)
        junction[3, d, t] = wanted
        junction[4, d, t] = linear
    return over


@njit(cache=True, error_model="numpy", fastmath={"contract", "reassoc"})
def _lead_back(shares: Floats, columns: Floats) -> None:
    """The volts of the nodes that stage two took away, last first."""
    steps, width = shares.shape
    for k in range(steps - 1, -1, -1):
        out = 0.0
        for j in range(k + 1, width):
            out += shares[k, j] * columns[j]
        columns[k] = out


@njit(cache=True, error_model="numpy")
def _limited(new: float, old: float, slope_V: float, critical_V: float) -> float:
    """`Junctions.limited` for one."""
    scaled = (new - old) / slope_V
    if new > critical_V and abs(scaled) > 2.0:
        if old > 0.0:
            return old + slope_V * math.log1p(scaled) if scaled > -1.0 else critical_V
        return slope_V * math.log(new / slope_V)
    return new


@njit(cache=True, error_model="numpy")
def _met(open_V: float, ohm: float, law: Floats, d: int, leak_S: float) -> float:
    """Where the load line meets the law, as in `newton._on_load_line`."""
    v = open_V
    if open_V > 0.0:
        v = min(open_V, law[1, d] * math.log1p(open_V / (ohm * law[0, d])))
    for _ in range(2):
        x = v / law[1, d]
        if x <= -45.0:
            break
        e = law[0, d] * math.exp(min(x, 300.0))
        i = e - law[0, d] + leak_S * v
        v -= (v + ohm * i - open_V) / (1.0 + ohm * (e / law[1, d] + leak_S))
    return v
