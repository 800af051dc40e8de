"""Where wires change their level and stay there, and which of them change together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from startwright.identify.blocks import F64, Blocks

SMALLEST_STEP_V = 0.6
SMALLEST_STEP_OF_A_FEED_V = 2.0
TOGETHER_s = 0.07
MOST_EDGES_PER_WIRE = 36


@dataclass(frozen=True)
class Edge:
    """One wire's change of level: when, and from what to what."""

    time_s: float
    wire: int
    before_V: float
    after_V: float


@dataclass(frozen=True)
class Cluster:
    """Edges of several wires at one moment."""

    time_s: float
    edges: tuple[Edge, ...]

    @property
    def wires(self) -> frozenset[int]:
        """The wires that changed."""
        return frozenset(e.wire for e in self.edges)


def find_edges(blocks: Blocks, rail_V: F64) -> list[list[Edge]]:
    """Lasting changes of level, per wire.

    A change is counted where the middle of a few blocks after differs from the middle of those
    before in volts and, so that sag and charging are not edges, as a share of the rail as well.
    A wire that changes more often than a hand could is no witness: its list comes back empty.
    """
    count = 3 if blocks.step_s <= 0.03 else 1
    median = blocks.median.astype(np.float64)
    n, wires = median.shape
    found: list[list[Edge]] = [[] for _ in range(wires)]
    if n < 2 * count + 1:
        return found
    windows = np.lib.stride_tricks.sliding_window_view(median, count, axis=0)
    smooth = np.median(windows, axis=-1)  # (n - count + 1, W), covers blocks i .. i+count-1
    share = np.lib.stride_tricks.sliding_window_view(
        median / np.maximum(rail_V, 5.0)[:, None], count, axis=0
    )
    part = np.median(share, axis=-1) * 12.5
    # at boundary b (between blocks b-1 and b): before = blocks b-count..b-1, after = b..b+count-1
    step = smooth[count:] - smooth[:-count]
    part_step = part[count:] - part[:-count]
    size = np.minimum(np.abs(step), np.abs(part_step))
    limit = np.maximum(SMALLEST_STEP_V, 6.0 * blocks.noise_V.astype(np.float64))
    for wire in range(wires):
        # compressions swing a feed by less than a sixth of the rail: no change of its own
        high = np.minimum(smooth[count:, wire], smooth[:-count, wire]) > 6.0
        over = size[:, wire] > np.where(high, SMALLEST_STEP_OF_A_FEED_V, limit[wire])
        if not over.any():
            continue
        index = np.flatnonzero(over)
        groups = np.split(index, np.flatnonzero(np.diff(index) > 1) + 1)
        edges: list[Edge] = []
        for group in groups:
            for i in _peaks(group, step[:, wire], size[:, wire], count):
                at = i + count
                edges.append(
                    Edge(
                        float((blocks.time_s[at - 1] + blocks.time_s[at]) / 2),
                        wire,
                        float(smooth[i, wire]),
                        float(smooth[at, wire]),
                    )
                )
        if len(edges) <= MOST_EDGES_PER_WIRE and not _flashes(edges):
            found[wire] = edges
    return found


def _flashes(edges: list[Edge]) -> bool:
    """Whether most of the edges follow each other as evenly as a flasher's do."""
    if len(edges) < 8:
        return False
    gaps = np.diff([e.time_s for e in edges])
    usual = float(np.median(gaps))
    even = np.abs(gaps - usual) < 0.35 * usual
    return bool(usual < 1.0 and even.mean() > 0.6)


def _peaks(
    group: np.ndarray[tuple[int], np.dtype[np.intp]],
    step: F64,
    size: F64,
    count: int,
) -> list[int]:
    """The middle of each run of one direction within a group of neighbouring boundaries."""
    signs = np.sign(step[group])
    peaks: list[int] = []
    start = 0
    for k in range(1, len(group) + 1):
        if k == len(group) or signs[k] != signs[start]:
            run = group[start:k]
            top = size[run].max()
            plateau = run[size[run] > 0.9 * top]
            peaks.append(int(plateau[len(plateau) // 2]))
            start = k
    return peaks


def cluster(edges: list[list[Edge]]) -> list[Cluster]:
    """Edges grouped by moment, in the order of time."""
    flat = sorted((e for wire in edges for e in wire), key=lambda e: e.time_s)
    clusters: list[Cluster] = []
    group: list[Edge] = []
    for edge in flat:
        if group and (
            edge.time_s - group[-1].time_s > TOGETHER_s or edge.time_s - group[0].time_s > 0.15
        ):
            clusters.append(_closed(group))
            group = []
        group.append(edge)
    if group:
        clusters.append(_closed(group))
    return clusters


def _closed(group: list[Edge]) -> Cluster:
    return Cluster(float(np.median([e.time_s for e in group])), tuple(group))
