"""ngspice as the independent judge: one process for each netlist, or within this process.

Floating is left to SPICE's own means; wires of no ohms are one node, as a drawing would have it.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np

from startwright.network.elements import Network

# ngspice 39 takes Boltzmann's constant over the electron's charge from CODATA 2014. At this
# temperature its thermal voltage is the 0.025852 V of our diodes; TNOM keeps their saturation.
BOLTZMANN_V_PER_K = 1.38064852e-23 / 1.6021766208e-19
TEMPERATURE_C = 0.025852 / BOLTZMANN_V_PER_K - 273.15

TIGHT = "reltol=1e-10 abstol=1e-16 vntol=1e-13 gmin=1e-12 itl1=2000 itl6=100"

# ngspice cannot reach the tightest tolerance on every network (its matrix loses digits where a wire
# of a milliohm meets a blocking diode): the next is tried; the last is a hundredth of 0.1 %.
TOLERANCES = (
    TIGHT,
    "reltol=1e-8 abstol=1e-14 vntol=1e-11 gmin=1e-12 itl1=2000 itl6=100",
    "reltol=1e-6 abstol=1e-12 vntol=1e-9 gmin=1e-12 itl1=2000 itl6=100",
    "reltol=1e-5 abstol=1e-12 vntol=1e-7 gmin=1e-12 itl1=2000 itl6=100",
)
OPEN_OHM = 1e16

LIBRARY = ctypes.util.find_library("ngspice") or "libngspice.so.0"
PROGRAM = shutil.which("ngspice")


class SpiceError(RuntimeError):
    """ngspice gave no operating point; its own words are the message."""


def merged(network: Network) -> list[int]:
    """For each node the node that stands for it where wires of no ohms are drawn as one node."""
    group = list(range(len(network.names)))

    def root(n: int) -> int:
        while group[n] != n:
            n = group[n]
        return n

    for r in network.resistors:
        if r.ohm == 0.0:
            group[root(r.a)] = root(r.b)
    return [root(n) for n in group]


def lines(
    network: Network,
    closed: np.ndarray,
    held_V: np.ndarray,
    *,
    leak_S: float = 0.0,
    leak_to_V: float = 0.0,
    leave_out: np.ndarray | None = None,
    switched: bool = False,
    options: str = TIGHT,
) -> list[str]:
    """The netlist of one contact state; `switched` keeps open contacts in, as very large ohms."""
    at = merged(network)
    out = ["* network", f".options {options} temp={TEMPERATURE_C!r} tnom={TEMPERATURE_C!r}"]
    absent = np.zeros(len(at), dtype=bool) if leave_out is None else leave_out
    for n, volts in zip(network.held, held_V, strict=True):
        out.append(f"Vh{n} n{at[n]} 0 {float(volts)!r}")
    for i, r in enumerate(network.resistors):
        if at[r.a] != at[r.b] and not absent[r.a]:
            out.append(f"Rr{i} n{at[r.a]} n{at[r.b]} {r.ohm!r}")
    for i, k in enumerate(network.contacts):
        if at[k.a] != at[k.b] and (closed[i] or switched) and not absent[k.a]:
            out.append(f"Rk{i} n{at[k.a]} n{at[k.b]} {k.ohm if closed[i] else OPEN_OHM!r}")
    for i, d in enumerate(network.diodes):
        if at[d.anode] != at[d.cathode] and not absent[d.anode]:
            out.append(f"Dd{i} n{at[d.anode]} n{at[d.cathode]} m{i}")
            out.append(f".model m{i} D(IS={d.saturation_A!r} N={d.emission!r} RS={d.series_ohm!r})")
    if leak_S:
        out.append(f"Vleak leakto 0 {float(leak_to_V)!r}")
        out += [
            f"Rleak{n} n{at[n]} leakto {1.0 / leak_S!r}"
            for n in range(len(at))
            if n not in network.held
        ]
    return out


def batch(netlist: list[str], network: Network, where: Path) -> np.ndarray:
    """Node voltages of the netlist from a process of its own (`ngspice -b`)."""
    assert PROGRAM is not None
    file = where / "network.cir"
    control = [".control", "set numdgt=15", "op", "print all", ".endc", ".end"]
    file.write_text("\n".join([*netlist, *control]) + "\n")
    done = subprocess.run(
        [PROGRAM, "-b", str(file)], capture_output=True, text=True, timeout=60, check=False
    )
    said = done.stdout + done.stderr
    found = {m[1]: float(m[2]) for m in re.finditer(r"^n(\d+) = (\S+)$", done.stdout, re.M)}
    if not found or "singular" in said or "failed" in said.lower():
        raise SpiceError(said)
    at = merged(network)
    return np.array([found.get(str(at[n]), np.nan) for n in range(len(at))])


class _Vector(ctypes.Structure):
    _fields_ = (
        ("name", ctypes.c_char_p),
        ("type", ctypes.c_int),
        ("flags", ctypes.c_short),
        ("real", ctypes.POINTER(ctypes.c_double)),
        ("complex", ctypes.c_void_p),
        ("length", ctypes.c_int),
    )


class InProcess:
    """libngspice in this process: load a netlist once, alter it, read operating points.

    There is one simulator in a process: use `InProcess.only()`.
    """

    _only: InProcess | None = None

    @classmethod
    def only(cls) -> InProcess:
        """The one simulator of this process."""
        if cls._only is None:
            cls._only = cls()
        return cls._only

    def __init__(self) -> None:
        self.said: list[str] = []
        self.lib = ctypes.CDLL(LIBRARY)
        text = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
        leave = ctypes.CFUNCTYPE(
            ctypes.c_int,
            ctypes.c_int,
            ctypes.c_bool,
            ctypes.c_bool,
            ctypes.c_int,
            ctypes.c_void_p,
        )
        self._say = text(lambda line, _id, _user: self._note(line))
        self._stat = text(lambda _line, _id, _user: 0)
        self._leave = leave(lambda *_: 0)
        self.lib.ngGet_Vec_Info.restype = ctypes.POINTER(_Vector)
        self.lib.ngSpice_Init(self._say, self._stat, self._leave, None, None, None, None)

    def _note(self, line: bytes) -> int:
        self.said.append(line.decode(errors="replace"))
        del self.said[:-200]
        return 0

    def command(self, text: str) -> None:
        """One command of ngspice."""
        if self.lib.ngSpice_Command(text.encode()):
            raise SpiceError("\n".join(self.said[-20:]))

    def load(self, netlist: list[str]) -> None:
        """Take this netlist in place of the one before."""
        if getattr(self, "loaded", False):
            self.command("destroy all")
            self.command("remcirc")
        array = (ctypes.c_char_p * (len(netlist) + 2))()
        array[: len(netlist)] = [line.encode() for line in netlist]
        array[len(netlist)] = b".end"
        if self.lib.ngSpice_Circ(array):
            raise SpiceError("\n".join(self.said[-20:]))
        self.loaded = True

    def operate(self) -> None:
        """Find the operating point; only the newest is kept."""
        del self.said[:]
        self.command("op")
        if any("singular" in line or "failed" in line.lower() for line in self.said):
            raise SpiceError("\n".join(self.said))

    def forget(self) -> None:
        """Drop the operating points read so far."""
        self.command("destroy all")

    def read(self, name: str) -> float:
        """One value of the newest operating point."""
        found = self.lib.ngGet_Vec_Info(name.encode())
        if not found:
            raise SpiceError(f"no vector {name}: " + "\n".join(self.said[-20:]))
        return float(found.contents.real[0])

    def volts(self, network: Network, leave_out: np.ndarray | None = None) -> np.ndarray:
        """Node voltages of the newest operating point."""
        at = merged(network)
        absent = np.zeros(len(at), dtype=bool) if leave_out is None else leave_out
        return np.array([np.nan if absent[n] else self.read(f"n{at[n]}") for n in range(len(at))])
