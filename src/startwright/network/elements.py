"""Elements of a direct-current network: resistors, contacts, diodes between numbered nodes.

A `Network` knows no record and no trade word. Some nodes are *held* at given voltages; every other
node floats until an element ties it down. A contact is closed or open by the value of one control
variable. The same network is solved for many contact states at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Resistor:
    """A linear resistance between nodes `a` and `b` (wire, load, coil, pull-up); `ohm` > 0."""

    name: str
    a: int
    b: int
    ohm: float


@dataclass(frozen=True)
class Contact:
    """A contact between `a` and `b`, of `ohm` when closed, open otherwise.

    `control` names the control variable; `closed[value]` says for each of its values whether the
    contact is closed.
    """

    name: str
    a: int
    b: int
    control: str
    closed: tuple[bool, ...]
    ohm: float = 0.005


@dataclass(frozen=True)
class Diode:
    """A Shockley diode from `anode` to `cathode` with series resistance.

    i = saturation_A * (exp(v_junction / (emission * thermal_V)) - 1), thermal_V = 0.025852 V
    (27 C).
    """

    name: str
    anode: int
    cathode: int
    saturation_A: float = 1e-9
    emission: float = 1.8
    series_ohm: float = 0.02


@dataclass(frozen=True)
class Network:
    """Nodes 0..n-1, of which `held` are at voltages given with each solve.

    Parameters
    ----------
    names : tuple of str
        Name of every node; its index is the node's number.
    held : tuple of int
        The nodes whose voltage is given.
    """

    names: tuple[str, ...]
    held: tuple[int, ...]
    resistors: tuple[Resistor, ...] = ()
    contacts: tuple[Contact, ...] = ()
    diodes: tuple[Diode, ...] = ()

    def __hash__(self) -> int:
        """The same for equal networks; worked once."""
        if "_hash" not in self.__dict__:
            parts = self.names, self.held, self.resistors, self.contacts, self.diodes
            self.__dict__["_hash"] = hash(parts)
        return int(self.__dict__["_hash"])

    def controls(self) -> dict[str, int]:
        """Every control variable of the contacts and how many values it has."""
        out: dict[str, int] = {}
        for contact in self.contacts:
            arity = out.setdefault(contact.control, len(contact.closed))
            if arity != len(contact.closed):
                raise ValueError(f"control {contact.control!r} has two arities")
        return out

    def node(self, name: str) -> int:
        """The number of the node of that name; `ValueError` where there is none."""
        return self.names.index(name)


@dataclass
class Builder:
    """Collects elements by node name; runs of zero ohm may be merged with `join`."""

    _index: dict[str, int] = field(default_factory=dict)
    _parent: list[int] = field(default_factory=list)
    _names: list[str] = field(default_factory=list)
    _held: set[int] = field(default_factory=set)
    resistors: list[Resistor] = field(default_factory=list)
    contacts: list[Contact] = field(default_factory=list)
    diodes: list[Diode] = field(default_factory=list)

    def node(self, name: str) -> int:
        """The node of that name, made if it is new."""
        if name not in self._index:
            self._index[name] = len(self._names)
            self._parent.append(len(self._names))
            self._names.append(name)
        return self._index[name]

    def copy(self) -> Builder:
        """The same elements, to be changed by themselves."""
        return Builder(
            dict(self._index),
            list(self._parent),
            list(self._names),
            set(self._held),
            list(self.resistors),
            list(self.contacts),
            list(self.diodes),
        )

    def has(self, name: str) -> bool:
        """Whether a node of that name was made."""
        return name in self._index

    def _root(self, n: int) -> int:
        while self._parent[n] != n:
            self._parent[n] = self._parent[self._parent[n]]
            n = self._parent[n]
        return n

    def join(self, a: str, b: str) -> None:
        """Make two names one node."""
        ra, rb = self._root(self.node(a)), self._root(self.node(b))
        if ra != rb:
            self._parent[max(ra, rb)] = min(ra, rb)

    def same(self, a: str, b: str) -> bool:
        """Whether two names are one node."""
        return self._root(self.node(a)) == self._root(self.node(b))

    def hold(self, name: str) -> None:
        """Hold the node at a voltage given with each solve."""
        self._held.add(self.node(name))

    def resistor(self, name: str, a: str, b: str, ohm: float) -> None:
        """Add a resistor."""
        self.resistors.append(Resistor(name, self.node(a), self.node(b), max(ohm, 1e-6)))

    def join_by(self, name: str, a: int, b: int, ohm: float) -> None:
        """Add a resistor between two nodes by number."""
        self.resistors.append(Resistor(name, a, b, max(ohm, 1e-6)))

    def contact(
        self, name: str, a: str, b: str, control: str, closed: Iterable[bool], ohm: float = 0.005
    ) -> None:
        """Add a contact."""
        self.contacts.append(Contact(name, self.node(a), self.node(b), control, tuple(closed), ohm))

    def diode(self, name: str, anode: str, cathode: str, **ratings: float) -> None:
        """Add a diode."""
        self.diodes.append(Diode(name, self.node(anode), self.node(cathode), **ratings))

    def build(self) -> tuple[Network, Mapping[str, int]]:
        """The network with joined nodes merged, and the node number of every name given."""
        roots: dict[int, int] = {}
        names: list[str] = []
        for n, name in enumerate(self._names):
            if self._root(n) == n:
                roots[n] = len(names)
                names.append(name)
        number = {name: roots[self._root(n)] for name, n in self._index.items()}
        at = [roots[self._root(n)] for n in range(len(self._names))]
        held = tuple(sorted({at[n] for n in self._held}))
        return (
            Network(
                tuple(names),
                held,
                tuple(Resistor(r.name, at[r.a], at[r.b], r.ohm) for r in self.resistors),
                tuple(
                    Contact(c.name, at[c.a], at[c.b], c.control, c.closed, c.ohm)
                    for c in self.contacts
                ),
                tuple(
                    Diode(
                        d.name, at[d.anode], at[d.cathode], d.saturation_A, d.emission, d.series_ohm
                    )
                    for d in self.diodes
                ),
            ),
            number,
        )
