"""What was worked out of networks, kept together with the nodes it was read from.

A fault changes the few islands that it touches. Whatever was read from other nodes alone is the
same in the faulty car, and is taken over; which nodes that are is written down while it is worked
out, so nobody has to say it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, Generic, Protocol, TypeVar, overload

T = TypeVar("T")
Read = tuple[str, int]


class Readable(Protocol):
    """A network that tells what a node's values rest on."""

    def rests_on(self, node: int) -> object:
        """The same object for two nodes whose values are the same."""


class Kept:
    """The values of one model by key.

    Parameters
    ----------
    like : Kept, optional
        Those of a model of the same car and wiring, to be taken over where nothing differs.
    grown : bool
        Whether the wiring has parts more than the other's; its own islands are then its own.

    Attributes
    ----------
    networks : dict of str to callable
        The networks that nodes are read from, by name.
    within : dict of str to str
        For a network that lacks elements of another the other: what is the same there is here.
    solves : dict
        Islands solved so far by what they consist of, and what else follows from its key alone.
    """

    def __init__(self, like: Kept | None = None, *, grown: bool = False) -> None:
        self._like = like
        self._values: dict[Hashable, tuple[Any, frozenset[Read]]] = {}
        self._open: list[set[Read]] = []
        self._own: dict[Hashable, Any] = {}
        self._sames: dict[Read, bool] = {}
        self.networks: dict[str, Callable[[], Readable]] = {}
        self.within: dict[str, str] = {}
        self.solves: dict[Hashable, Any] = {} if like is None else like.solves
        if grown:
            self.solves = dict(self.solves)

    def read(self, network: str, node: int) -> None:
        """Write down that a node is read."""
        if self._open:
            self._open[-1].add((network, node))

    def known(self, key: Hashable) -> tuple[Any, frozenset[Read]] | None:
        """What is known of a key, where nobody writes down what is read."""
        return None if self._open else self._values.get(key)

    def of(self, key: Hashable, make: Callable[[], T]) -> T:
        """The value of a key: worked out before, taken over, or made now."""
        if key not in self._values:
            self._values[key] = self._taken_over(key) or self._made(make)
        value, reads = self._values[key]
        if self._open:
            self._open[-1] |= reads
        return value  # type: ignore[no-any-return]

    def own(self, key: Hashable, make: Callable[[], T]) -> T:
        """What belongs to this model alone, made once."""
        if key not in self._own:
            self._own[key] = make()
        return self._own[key]  # type: ignore[no-any-return]

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What follows from the key alone, in every model of the same wiring."""
        if key not in self.solves:
            self.solves[key] = make()
        return self.solves[key]  # type: ignore[no-any-return]

    def _made(self, make: Callable[[], Any]) -> tuple[Any, frozenset[Read]]:
        self._open.append(set())
        try:
            value = make()
        finally:
            reads = self._open.pop()
        return value, frozenset(reads)

    def _taken_over(self, key: Hashable) -> tuple[Any, frozenset[Read]] | None:
        known = None if self._like is None else self._like._values.get(key)
        if known is None:
            return None
        for read in known[1]:
            if not self._same(read):
                return None
        return known

    def _same(self, read: Read) -> bool:
        same = self._sames.get(read)
        if same is None:
            same = self._sames[read] = self._compared(*read)
        return same

    def _compared(self, network: str, node: int) -> bool:
        assert self._like is not None
        wider = self.within.get(network)
        if wider is not None and self._same((wider, node)):
            return True
        if network not in self.networks or network not in self._like.networks:
            return False
        one, other = self.networks[network](), self._like.networks[network]()
        here, there = one.rests_on(node), other.rests_on(node)
        return here is there or (isinstance(here, str) and here == there)


class kept(Generic[T]):
    """A property of something with a `kept`: worked out once, with the nodes it was read from."""

    def __init__(self, make: Callable[[Any], T]) -> None:
        self._make = make
        self.__doc__ = make.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, one: None, owner: type) -> kept[T]: ...
    @overload
    def __get__(self, one: object, owner: type) -> T: ...
    def __get__(self, one: Any, owner: type) -> kept[T] | T:
        if one is None:
            return self
        if self._name in one.__dict__:
            return one.__dict__[self._name]  # type: ignore[no-any-return]
        values: Kept = one.kept
        known = values.known(self._name)
        if known is not None:
            return known[0]  # type: ignore[no-any-return]
        return values.of(self._name, lambda: self._make(one))

    def __set__(self, one: Any, value: T) -> None:
        one.__dict__[self._name] = value
