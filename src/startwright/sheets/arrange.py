"""The order in which few runs cross: improved step by step from the first one, always the same."""

from __future__ import annotations

from collections.abc import Iterator

from startwright.sheets.ends import UNIT, End, Web
from startwright.sheets.measure import SCREEN, Measure
from startwright.sheets.stack import Arrangement, Heights, first_arrangement, stack

BUDGET = 3_000_000
"""Pairs of runs looked at before the search stops (about a second)."""


def lead_order(web: Web, heights: Heights) -> dict[str, list[End]]:
    """The unit's leads from top to bottom, each with its ends in the order they leave.

    A lead stands at the mean height of what it goes to; one that only goes to other leads stands
    beside them.
    """
    mean: dict[str, float] = {}
    for lead, ends in web.leads.items():
        ys = [heights.y[other] for e in ends if (other := web.other(e)) in heights.y]
        if ys:
            mean[lead] = sum(ys) / len(ys)
    middle = sum(mean.values()) / len(mean) if mean else 0.0
    at_lead = {end: lead for lead, ends in web.leads.items() for end in ends}

    def beside(end: End) -> float:
        other = web.other(end)
        return float(heights.y[other]) if other in heights.y else mean.get(at_lead[other], middle)

    for lead, ends in web.leads.items():
        if lead not in mean:
            mean[lead] = sum(map(beside, ends)) / len(ends)
    ranked = sorted(web.leads, key=lambda lead: (mean[lead], lead))
    return {lead: sorted(web.leads[lead], key=lambda e: (beside(e), e)) for lead in ranked}


def crossings(web: Web, heights: Heights) -> int:
    """How often runs must cross in this order, counted without drawing it.

    All ends stand around the rim of the tree: the unit's on the left, the others on the right
    from top to bottom. Two runs cross once where their ends alternate; a run that stays within a
    place is crossed only by what passes to a flag between its ends.
    """
    unit_rank: dict[End, int] = {}
    for ends in lead_order(web, heights).values():
        for end in ends:
            unit_rank[end] = len(unit_rank)
    from_unit: list[tuple[int, int, bool]] = []
    chords: list[tuple[int, int]] = []
    at_unit: list[tuple[int, int]] = []
    local: list[tuple[str, int, int, bool, bool]] = []
    through: list[tuple[str, int]] = []
    for id in web.runs:
        a, b = (id, 0), (id, 1)
        flag_ends = [
            e for e in (a, b) if web.owner[e] != UNIT and not web.items[web.owner[e]].is_part
        ]
        if web.is_local(a):
            sides = [not web.items[web.owner[e]].is_part for e in (a, b)]
            place = web.items[web.owner[a]].place
            local.append((place, heights.y[a], heights.y[b], sides[0], sides[1]))
            continue
        through += [(web.items[web.owner[e]].place, heights.y[e]) for e in flag_ends]
        if web.owner[a] == UNIT and web.owner[b] == UNIT:
            at_unit.append((min(unit_rank[a], unit_rank[b]), max(unit_rank[a], unit_rank[b])))
            continue
        if web.owner[a] == UNIT or web.owner[b] == UNIT:
            at, other = (a, b) if web.owner[a] == UNIT else (b, a)
            from_unit.append((unit_rank[at], heights.y[other], other in flag_ends))
        else:
            low, high = sorted((heights.y[a], heights.y[b]))
            chords.append((low, high))
    count = 0
    from_unit.sort()
    for k, (_, y, _flag) in enumerate(from_unit):
        count += sum(1 for _, other, _f in from_unit[k + 1 :] if other < y)
        count += sum(1 for low, high in chords if low < y < high)
    count += sum(low < rank < high for rank, _, _ in from_unit for low, high in at_unit)
    for same_side in (chords, at_unit):
        for k, (low, high) in enumerate(same_side):
            for low_2, high_2 in same_side[k + 1 :]:
                count += (low < low_2 < high < high_2) or (low_2 < low < high_2 < high)
    for k, (place, y1, y2, right1, right2) in enumerate(local):
        low, high = min(y1, y2), max(y1, y2)
        count += sum(1 for p, y in through if p == place and low < y < high)
        for place_2, y3, y4, right3, right4 in local[k + 1 :]:
            if place_2 == place:
                count += _alternate((y1, right1), (y2, right2), (y3, right3), (y4, right4))
    return count


def _alternate(
    a: tuple[int, bool], b: tuple[int, bool], c: tuple[int, bool], d: tuple[int, bool]
) -> bool:
    """Whether two runs in a channel have alternating ends around its rim."""

    def around(end: tuple[int, bool]) -> tuple[int, int]:
        return (1, -end[0]) if end[1] else (0, end[0])

    low, high = sorted((around(a), around(b)))
    return (low < around(c) < high) != (low < around(d) < high)


def _travel(web: Web, heights: Heights) -> int:
    """How far the runs go up and down in all, between their ends that are not at the unit."""
    total = 0
    for id in web.runs:
        ys = [heights.y[e] for e in ((id, 0), (id, 1)) if e in heights.y]
        if len(ys) == 2:
            total += abs(ys[0] - ys[1])
    return total


def _moves(order: Arrangement) -> Iterator[tuple[list[str], int, int]]:
    for lists in (order.slots, order.main, order.pins):
        for key in sorted(lists):
            row = lists[key]
            for k in range(len(row)):
                for j in range(len(row) + 1):
                    if j not in (k, k + 1):
                        yield row, k, j


def arrange(web: Web, size: Measure = SCREEN) -> Arrangement:
    """Find an order with few crossings: move one thing at a time while that helps.

    Deterministic: the same wiring always gives the same order.
    """
    order = first_arrangement(web)

    def score() -> tuple[int, int]:
        heights = stack(web, order, size=size)
        return crossings(web, heights), _travel(web, heights) + heights.bottom

    best = score()
    cost = max(1, len(web.runs) ** 2)
    spent = cost
    improved = True
    while improved and spent < BUDGET:
        improved = False
        for row, k, j in _moves(order):
            row.insert(j if j < k else j - 1, row.pop(k))
            now = score()
            spent += cost
            if now < best:
                best, improved = now, True
            else:
                row.insert(k, row.pop(j if j < k else j - 1))
            if spent >= BUDGET:
                break
    return order
