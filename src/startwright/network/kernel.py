"""The same two stages as in `ports.switch` and `newton.settle`, compiled, one state after another.

An extra: where numba is not installed, or not worth its start-up, `ports` works without it. Nothing
here is imported until a batch is large enough. Sources as in `ports`, `newton`, `junction`.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@njit(cache=True, error_model="numpy", fastmath={"contract"})
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
    done: NDArray[np.bool_],
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
    ends : (diodes, 2) columns among all
    leaks_S : (rounds,) leak of the junctions in each, the first being what it is
    law : (4, diodes) saturation_A, slope_V, critical_V, series_ohm
    columns : (S, columns), amps : (S, diodes), done : (S,)

    Source: as of `ports.switch` and `newton.settle`.
    """
    ports, width = base.shape
    steps = len(starts) - 2
    below = ports - steps
    diodes = len(ends)
    stack = np.empty((steps + 2, ports, width))
    stack[0] = base
    weights = np.zeros((steps, width))
    tied = np.empty(below)
    fed = np.empty(below)
    tied_now = np.empty(below)
    fed_now = np.empty(below)
    total = np.empty(below)
    work = np.empty((below, below))
    rounds = len(leaks_S)
    old = np.empty(diodes)
    slope = np.empty(diodes)
    source = np.empty(diodes)
    last_v = np.empty(diodes)
    last_i = np.empty(diodes)
    for s in range(closed.shape[0]):
        for k in range(resume[s], steps + 1):
            here = stack[k + 1]
            for i in range(k, ports):
                for j in range(i + 1, width):
                    here[i, j] = stack[k, i, j]
            for q in range(starts[k], starts[k + 1]):
                if closed[s, joints[q, 0]]:
                    here[joints[q, 1], joints[q, 2]] += joint_S[q]
            if k == steps:
                break
            out = 0.0
            for j in range(k + 1, width):
                out += here[k, j]
            for j in range(k + 1, width):
                weights[k, j] = here[k, j] / out if out > 0.0 else 0.0
            for i in range(k + 1, ports):
                share = weights[k, i]
                if share > 0.0:
                    for j in range(i + 1, width):
                        here[i, j] += share * here[k, j]
        for i in range(below):
            tied[i] = 0.0
            fed[i] = 0.0
            for j in range(ports, width):
                one = stack[steps + 1, steps + i, j]
                tied[i] += one
                fed[i] += one * known_V[s, j - ports]
        volts = columns[s]
        for j in range(ports, width):
            volts[j] = known_V[s, j - ports]
        for d in range(diodes):
            old[d] = 0.0
        lowest = known_V[s].min() - known_V[s].max()
        done[s] = False
        for turn in range(rounds):
            leak_S = leaks_S[turn]
            for i in range(below):
                tied_now[i] = tied[i]
                fed_now[i] = fed[i]
                for j in range(i + 1, below):
                    work[i, j] = stack[steps + 1, steps + i, steps + j]
            for d in range(diodes):
                v = old[d]
                x = v / law[1, d]
                e = law[0, d] * math.exp(min(x, 300.0)) if x > -45.0 else 0.0
                i_law = e - law[0, d] + leak_S * v
                g_law = e / law[1, d] + leak_S
                share = 1.0 / (1.0 + g_law * law[3, d])
                slope[d] = g_law * share
                source[d] = (i_law - g_law * v) * share
                a, b = ends[d, 0] - steps, ends[d, 1] - steps
                if a == b:
                    continue
                if a < below:
                    fed_now[a] -= source[d]
                if b < below:
                    fed_now[b] += source[d]
                if a < below and b < below:
                    work[min(a, b), max(a, b)] += slope[d]
                elif a < below:
                    tied_now[a] += slope[d]
                    fed_now[a] += slope[d] * volts[b + steps]
                elif b < below:
                    tied_now[b] += slope[d]
                    fed_now[b] += slope[d] * volts[a + steps]
            for i in range(below):
                out = tied_now[i]
                for j in range(i + 1, below):
                    out += work[i, j]
                total[i] = out
                if out > 0.0:
                    for j in range(i + 1, below):
                        share = work[i, j] / out
                        if share > 0.0:
                            tied_now[j] += share * tied_now[i]
                            fed_now[j] += share * fed_now[i]
                            for m in range(j + 1, below):
                                work[j, m] += share * work[i, m]
            for i in range(below - 1, -1, -1):
                out = fed_now[i]
                for j in range(i + 1, below):
                    out += work[i, j] * volts[steps + j]
                volts[steps + i] = out / total[i] if total[i] > 0.0 else 0.0
            over = leak_S == leaks_S[0]
            for d in range(diodes):
                across = volts[ends[d, 0]] - volts[ends[d, 1]]
                linear = slope[d] * across + source[d]
                wanted = across - law[3, d] * linear
                amps[s, d] = linear
                x = wanted / law[1, d]
                e = law[0, d] * math.exp(min(x, 300.0)) if x > -45.0 else 0.0
                exact = e - law[0, d] + leak_S * wanted
                if abs(wanted - old[d]) > step_V + 1e-9 * abs(wanted) or abs(
                    exact - linear
                ) > 1e-12 + 1e-8 * abs(exact):
                    over = False
                if turn == 0:
                    new = min(wanted, law[2, d])
                else:
                    new = _limited(wanted, old[d], law[1, d], law[2, d])
                    if turn < load_line_rounds and abs(wanted - old[d]) > 0.3 * law[1, d]:
                        ohm = (last_v[d] - wanted) / (linear - last_i[d])
                        if ohm > 0.0 and ohm < math.inf:
                            new = min(new, _met(wanted + ohm * linear, ohm, law, d, leak_S))
                last_v[d] = wanted
                last_i[d] = linear
                old[d] = max(new, lowest)
            if over:
                done[s] = True
                break
        for k in range(steps - 1, -1, -1):
            out = 0.0
            for j in range(k + 1, width):
                out += weights[k, j] * volts[j]
            volts[k] = out


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
