"""What can come of relays that want to move at once, whatever the order in which they move."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

Coils = tuple[int, ...]
"""Where every coil stands."""
Outcomes = tuple[tuple[Coils, ...], bool, bool]
"""Where coils can end, whether that depends on their order, whether they may cycle."""


def outcomes(onward: Mapping[Coils, Sequence[Coils]]) -> Outcomes:
    """Every way the coils can end, whether that depends on their order, whether they may cycle.

    Where relays chatter without end, the ends are all that comes again and again, with every other
    relay settled.

    Parameters
    ----------
    onward : mapping
        For each place that can be met the places one relay's move away.

    Returns
    -------
    ends : tuple
        In rising order.
    raced, cycles : bool

    Source: strongly connected components by R. Tarjan, Depth-first search and linear graph
    algorithms, SIAM J. Comput. 1 (1972).
    """
    of: dict[Coils, int] = {}
    groups: list[list[Coils]] = []
    low: dict[Coils, int] = {}
    order: dict[Coils, int] = {}
    open_: list[Coils] = []
    for root in onward:
        if root in order:
            continue
        stack = [(root, iter(onward[root]))]
        order[root] = low[root] = len(order)
        open_.append(root)
        while stack:
            place, left = stack[-1]
            for follow in left:
                if follow not in order:
                    order[follow] = low[follow] = len(order)
                    open_.append(follow)
                    stack.append((follow, iter(onward[follow])))
                    break
                if follow not in of:
                    low[place] = min(low[place], order[follow])
            else:
                stack.pop()
                if stack:
                    above = stack[-1][0]
                    low[above] = min(low[above], low[place])
                if low[place] == order[place]:
                    group: list[Coils] = []
                    while place not in of:
                        group.append(open_.pop())
                        of[group[-1]] = len(groups)
                    groups.append(group)
    last = [g for n, g in enumerate(groups) if all(of[f] == n for p in g for f in onward[p])]
    ends = tuple(sorted(place for group in last for place in group))
    return ends, len(last) > 1, any(len(group) > 1 for group in groups)
