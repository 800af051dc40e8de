"""The shapes that a laid-out loom is made of. All numbers are pixels, y grows downwards."""

from __future__ import annotations

from dataclasses import dataclass, field

from startwright.sheets.ends import Web
from startwright.sheets.measure import Measure
from startwright.sheets.text import width_px

Point = tuple[float, float]


@dataclass(frozen=True)
class Box:
    """A rectangle; x and y of its upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The x of the right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """The y of the lower edge."""
        return self.y + self.height

    @property
    def middle(self) -> float:
        """The y half-way down."""
        return self.y + self.height / 2


@dataclass(frozen=True)
class Label:
    """A line of text: where its baseline starts (or ends), how large, what it belongs to."""

    text: str
    x: float
    y: float
    size: float
    bold: bool = False
    muted: bool = False
    anchor: str = "start"
    of: str = ""
    letter: float = 1.0

    @property
    def box(self) -> Box:
        """The room it takes, by an upper estimate of its width."""
        width = width_px(self.text, self.size, bold=self.bold) * self.letter
        x = {"start": self.x, "end": self.x - width, "middle": self.x - width / 2}[self.anchor]
        return Box(x, self.y - 0.78 * self.size, width, self.size)


@dataclass(frozen=True)
class Sleeve:
    """A leg of the harness: the room its lanes take, its length, whether it is drawn shortened."""

    place: str
    box: Box
    length_m: float | None
    shortened: bool
    runs: tuple[str, ...]


@dataclass
class Loom:
    """Everything that is to be drawn.

    `runs` gives the corner points of each run, from its `from` to its `to`; `rules` are the thin
    lines under the names of the places (x from, x to, y); `scale` is half a metre.
    """

    web: Web
    size: Measure
    width: float = 0.0
    height: float = 0.0
    unit: Box = field(default_factory=lambda: Box(0, 0, 0, 0))
    leads: dict[str, Box] = field(default_factory=dict)
    parts: dict[str, Box] = field(default_factory=dict)
    pins: dict[tuple[str, str], Box] = field(default_factory=dict)
    flags: dict[str, Box] = field(default_factory=dict)
    sleeves: list[Sleeve] = field(default_factory=list)
    scale: Box = field(default_factory=lambda: Box(0, 0, 0, 0))
    rules: list[tuple[float, float, float]] = field(default_factory=list)
    runs: dict[str, list[Point]] = field(default_factory=dict)
    labels: list[Label] = field(default_factory=list)
