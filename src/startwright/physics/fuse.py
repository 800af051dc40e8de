"""Blade fuses: how long they hold, when they must have opened, which one to choose."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import inf, log

from startwright.physics.wire import ampacity_A
from startwright.reference.fuses import BREAKING_A, Gate, Kind, ratings
from startwright.reference.fuses import gates as published_gates

CONTINUOUS_SHARE = 0.75
"""Largest continuous load as share of the rating at 25 °C (fuse makers' application practice)."""
OVER_AMPACITY_MOST = 1.5
"""46 CFR 111.50-3(c)(1): never above 150 % of the conductor's ampacity. Here 100 % rules."""


def gates(kind: Kind = "blade") -> tuple[Gate, ...]:
    """Give the opening-time gates of a kind of fuse.

    Parameters
    ----------
    kind : str
        ``blade`` (mini and regular) or ``maxi``.

    Returns
    -------
    tuple of Gate
        Percent of rating, earliest and latest opening time, rising in current.

    Raises
    ------
    ValueError
        For another kind.

    Source: ISO 8820-3:2015 / SAE J1284 / SAE J2077 (blade), ISO 8820-3 type E / SAE J1888 (maxi).

    >>> [(g.min_s, g.max_s) for g in gates("blade") if g.percent == 200]
    [(0.15, 5.0)]
    """
    return published_gates(kind)


def kind_of(rating_A: float) -> Kind:
    """Say which kind of fuse carries a rating: blades to 40 A, maxis above.

    Raises `ValueError` outside 1 to 100 A, the range of the standard.

    Source: ISO 8820-3:2015, scope and rating tables.

    >>> kind_of(30), kind_of(60)
    ('blade', 'maxi')
    """
    if not 1 <= rating_A <= 100:
        raise ValueError(f"blade fuses are made from 1 to 100 A, not {rating_A:g} A")
    return "blade" if rating_A <= 40 else "maxi"


def _between(p: float, points: list[tuple[float, float]]) -> float:
    """Between gates by a straight line in log time over log current; beyond by constant I²t."""
    if p >= points[-1][0]:
        return points[-1][1] * (points[-1][0] / p) ** 2
    for (p0, t0), (p1, t1) in pairwise(points):
        if p0 <= p <= p1:
            w = log(p / p0) / log(p1 / p0)
            return float(t0 * (t1 / t0) ** w)
    raise ValueError(f"{p:g} % lies below the first gate")


@lru_cache(maxsize=16384)
def opening_time_s(
    rating_A: float, current_A: float, kind: Kind | None = None
) -> tuple[float, float]:
    """Give the earliest and the latest time at which a fuse opens.

    Parameters
    ----------
    rating_A : float
        1 to 100 A.
    current_A : float
        0 to 1000 A, the breaking capacity.
    kind : str, optional
        ``blade`` or ``maxi``; by the rating where not said.

    Returns
    -------
    tuple of float
        Seconds, (earliest, latest). Up to 110 % it holds at least 100 h; below 135 % no standard
        promises that it opens, so the latest is infinite. Between gates straight in log-log, above
        600 % at constant I²t.

    Raises
    ------
    ValueError
        Outside the ranges: above 1000 A the fuse may not break the current at all.

    Source: ISO 8820-3:2015 / SAE J1284 gates; interpolation is ours.

    >>> opening_time_s(10, 20)
    (0.15, 5.0)
    """
    if not 0 <= current_A <= BREAKING_A:
        raise ValueError(
            f"{current_A:g} A is beyond what a blade fuse must be able to break "
            f"({BREAKING_A:g} A, ISO 8820-3)"
        )
    table = published_gates(kind or kind_of(rating_A))
    kind_of(rating_A)
    percent = round(100 * current_A / rating_A, 9)
    first = table[0]
    if percent <= first.percent:
        return first.min_s, inf
    earliest = _between(percent, [(g.percent, g.min_s) for g in table])
    known = [(g.percent, g.max_s) for g in table if g.max_s is not None]
    latest = inf if percent < known[0][0] else _between(percent, known)
    return earliest, latest


def holds(rating_A: float, current_A: float, seconds: float, kind: Kind | None = None) -> bool:
    """Say whether a fuse surely carries a current for a time.

    Parameters
    ----------
    rating_A : float
        1 to 100 A.
    current_A : float
        0 A and more; above the breaking capacity it does not hold.
    seconds : float
        0 and more; ``inf`` asks for 110 % at most.
    kind : str, optional
        As `opening_time_s`.

    Returns
    -------
    bool
        True where the earliest opening time is no shorter (for good: at up to 110 %).

    Raises
    ------
    ValueError
        For a rating outside the range or negative values.

    Source: ISO 8820-3:2015 / SAE J1284, minimum operating times.

    >>> holds(30, 35, 4), holds(10, 25, 4)
    (True, False)
    """
    if seconds < 0 or current_A < 0:
        raise ValueError("a time and a current are not negative")
    kind_of(rating_A)
    if current_A > BREAKING_A:
        return False
    earliest = opening_time_s(rating_A, current_A, kind)[0]
    if seconds == inf:
        return current_A <= 1.1 * rating_A
    return seconds <= earliest


def choose_fuse(
    load_A: float,
    wire_mm2: float,
    insulation_C: float = 105.0,
    ambient_C: float = 30.0,
    bundled: int = 1,
    share: float = CONTINUOUS_SHARE,
    kind: Kind | None = None,
) -> float:
    """Choose the smallest fuse that carries the load and still protects the wire.

    Parameters
    ----------
    load_A : float
        Continuous load, above 0 A.
    wire_mm2 : float
        Smallest wire behind the fuse, 0.1 to 107 mm².
    insulation_C, ambient_C, bundled
        As `startwright.physics.wire.ampacity_A`.
    share : float
        Continuous share of the rating, 0.75 by practice.
    kind : str, optional
        ``blade`` or ``maxi`` only; else blades and above them maxis.

    Returns
    -------
    float
        The rating in amperes.

    Raises
    ------
    ValueError
        Where no rating both carries the load and protects the wire; says what would.

    Source: fuse makers' application practice (75 % at 25 °C); 46 CFR 111.50-3(c)(1), of which the
    150 % are not used: the rating stays at or below the wire's ampacity.

    >>> choose_fuse(10, 1.5)
    15.0
    """
    if load_A <= 0:
        raise ValueError(f"a load is above 0 A, not {load_A:g}")
    if not 0 < share <= 1:
        raise ValueError(f"a share lies above 0 and up to 1, not {share:g}")
    most = ampacity_A(wire_mm2, insulation_C, ambient_C, bundled)
    least = load_A / share
    for fuse in ratings(kind):
        if fuse.rating_A >= least - 1e-9:
            if fuse.rating_A <= most + 1e-9:
                return fuse.rating_A
            raise ValueError(
                f"{load_A:g} A wants a fuse of at least {least:.1f} A; the next one made is "
                f"{fuse.rating_A:g} A, but {wire_mm2:g} mm² may carry {most:.1f} A: "
                "take a thicker wire"
            )
    raise ValueError(f"no blade fuse carries {load_A:g} A for good; split the load")
