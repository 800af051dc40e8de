"""A whole sized wiring against ngspice: the same volts, so the same amps and drops."""

from __future__ import annotations

import numpy as np
import pytest
from outside import spice
from size.small import PARTS, job, wiring

from startwright.car.build import wire_up
from startwright.network.solve import closed_by
from startwright.size.amps import solve_all
from startwright.size.built import as_built
from startwright.size.states import held_V

pytestmark = pytest.mark.skipif(spice.PROGRAM is None, reason="ngspice is not installed")

RELAY = [
    {"id": "coil", "from": "F1.b", "to": "K1.86", "size_mm2": 0.75, "length_m": 0.4},
    {"id": "sig", "from": "K1.85", "to": "unit.sig", "size_mm2": 0.5, "length_m": 0.4},
    {"id": "k30", "from": "F1.b", "to": "K1.30", "size_mm2": 2.5, "length_m": 0.4},
    {"id": "k87", "from": "K1.87", "to": "vehicle.ign", "size_mm2": 2.5, "length_m": 0.6},
]
STATES = [
    "key out",
    "key run",
    "step settle, key out",
    "step crank, key out",
    "step run, key run",
    "step run, key out, everything on",
    "command lock, step run",
]


@pytest.fixture(scope="module")
def solved():
    built_of = wiring(more=RELAY, parts=[*PARTS, {"id": "K1", "of": "relay"}], drop=("ign",))
    built, _ = as_built(job(), built_of)
    return solve_all(wire_up(job(), built_of, hold=False), built)


@pytest.mark.parametrize("says", STATES)
def test_same_volts_as_ngspice(solved, says, tmp_path):
    s = solved.states.says.index(says)
    network = solved.network
    closed = closed_by(network, solved.states.controls)[s]
    floating = solved.answer.floating[s]
    netlist = spice.lines(
        network,
        closed,
        held_V(solved.car, network, 14.4),
        leave_out=floating,
        options=spice.TOLERANCES[1],
    )
    theirs = spice.batch(netlist, network, tmp_path)
    ours = solved.answer.node_V[s]
    firm = ~floating & np.isfinite(theirs)
    assert firm.sum() > 8
    assert ours[firm] == pytest.approx(theirs[firm], rel=1e-5, abs=1e-5)
    amps = {r.name: (theirs[r.a] - theirs[r.b]) / r.ohm for r in network.resistors}
    for run in ("feed", "k87", "lights"):
        if not floating[next(r.a for r in network.resistors if r.name == f"run.{run}")]:
            assert solved.amps[f"run.{run}"][s] == pytest.approx(amps[f"run.{run}"], abs=5e-3)
