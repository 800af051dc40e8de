"""The islands of a network: what is left in one piece once the held nodes are taken away.

A held node keeps its voltage whatever is joined to it, so nothing passes through it: each island
can be solved and tabulated by itself, and what a held node gives is the sum over its islands. This
is the substitution theorem for voltage sources (C. A. Desoer, E. S. Kuh, Basic Circuit Theory,
McGraw-Hill, 1969, chapter 16; clause from memory).

An island need not touch the highest held node of the whole: who lets its nodes leak gives
`leak_to_V` with the solve.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from startwright.network.elements import Contact, Diode, Network, Resistor


@dataclass(frozen=True)
class Island:
    """A part of a network that shares only held nodes with the rest.

    Attributes
    ----------
    network : Network
        Its own nodes and the held nodes it touches, numbered anew, in the order of the whole.
    nodes : tuple of int
        For each of its nodes the number in the whole.
    resistors, contacts, diodes : tuple of int
        For each of its elements the place in the whole network's tuple.
    held : tuple of int
        For each of its held nodes the place in the whole network's `held` (its column of `held_V`).
    """

    network: Network
    nodes: tuple[int, ...]
    resistors: tuple[int, ...]
    contacts: tuple[int, ...]
    diodes: tuple[int, ...]
    held: tuple[int, ...]


def islands(network: Network, like: tuple[Network, list[Island]] | None = None) -> list[Island]:
    """The islands of the network, every contact counted as joining, in the order of their nodes.

    Every element and every node that is not held is in exactly one island. An element between two
    held nodes is an island of its own, as is a node that nothing touches.

    Parameters
    ----------
    network : Network
    like : (Network, list of Island), optional
        A network that differs in a few elements, and its islands: those that are the same here
        come with the same `network` object.

    Source: Desoer, Kuh 1969, chapter 16.
    """
    group = list(range(len(network.names)))
    held = set(network.held)

    def root(n: int) -> int:
        while group[n] != n:
            group[n] = group[group[n]]
            n = group[n]
        return n

    ends: list[tuple[str, int, int, int]] = []
    ends += [("resistors", e, r.a, r.b) for e, r in enumerate(network.resistors)]
    ends += [("contacts", e, c.a, c.b) for e, c in enumerate(network.contacts)]
    ends += [("diodes", e, d.anode, d.cathode) for e, d in enumerate(network.diodes)]
    for _, _, a, b in ends:
        if a not in held and b not in held:
            ra, rb = root(a), root(b)
            group[max(ra, rb)] = min(ra, rb)

    parts: dict[object, dict[str, list[int]]] = {}
    for n in range(len(network.names)):
        if n not in held:
            part = parts.setdefault(root(n), {"nodes": []})
            part["nodes"].append(n)
    for kind, e, a, b in ends:
        free = next((n for n in (a, b) if n not in held), None)
        key = root(free) if free is not None else (kind, e)
        part = parts.setdefault(key, {"nodes": []})
        part.setdefault(kind, []).append(e)
        part["nodes"] += [n for n in (a, b) if n in held]
    other, known = like or (network, [])
    comparable = other.held == network.held and other.names == network.names
    by_nodes = {i.nodes: i for i in known} if comparable else {}
    out = []
    for part in parts.values():
        nodes = tuple(sorted(set(part["nodes"])))
        same = by_nodes.get(nodes)
        if same is not None and _alike(network, part, other, same):
            out.append(_placed(same, part))
        else:
            out.append(_cut(network, nodes, part))
    return out


def _alike(network: Network, part: dict[str, list[int]], other: Network, island: Island) -> bool:
    """Whether a part has the elements of an island of another network, between the same nodes."""
    for kind in ("resistors", "contacts", "diodes"):
        here, there = getattr(network, kind), getattr(other, kind)
        ours, theirs = part.get(kind, ()), getattr(island, kind)
        if [here[e] for e in ours] != [there[e] for e in theirs]:
            return False
    return True


def _placed(island: Island, part: dict[str, list[int]]) -> Island:
    """An island with the places of its elements in another network."""
    resistors, contacts, diodes = (
        tuple(part.get(k, ())) for k in ("resistors", "contacts", "diodes")
    )
    if (resistors, contacts, diodes) == (island.resistors, island.contacts, island.diodes):
        return island
    return replace(island, resistors=resistors, contacts=contacts, diodes=diodes)


def _cut(network: Network, nodes: tuple[int, ...], part: dict[str, list[int]]) -> Island:
    at = {n: i for i, n in enumerate(nodes)}
    columns = tuple(h for h, n in enumerate(network.held) if n in at)
    resistors = tuple(part.get("resistors", ()))
    contacts = tuple(part.get("contacts", ()))
    diodes = tuple(part.get("diodes", ()))
    return Island(
        Network(
            tuple(network.names[n] for n in nodes),
            tuple(at[network.held[h]] for h in columns),
            tuple(_moved(at, (network.resistors[e] for e in resistors))),
            tuple(_switched(at, (network.contacts[e] for e in contacts))),
            tuple(_turned(at, (network.diodes[e] for e in diodes))),
        ),
        nodes,
        resistors,
        contacts,
        diodes,
        columns,
    )


def _moved(at: dict[int, int], elements: Iterable[Resistor]) -> Iterable[Resistor]:
    return (Resistor(r.name, at[r.a], at[r.b], r.ohm) for r in elements)


def _switched(at: dict[int, int], elements: Iterable[Contact]) -> Iterable[Contact]:
    return (Contact(c.name, at[c.a], at[c.b], c.control, c.closed, c.ohm) for c in elements)


def _turned(at: dict[int, int], elements: Iterable[Diode]) -> Iterable[Diode]:
    return (replace(d, anode=at[d.anode], cathode=at[d.cathode]) for d in elements)
