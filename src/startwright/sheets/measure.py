"""How large everything is drawn: on a screen, and on paper where the tables stand beside it."""

from __future__ import annotations

from dataclasses import dataclass

from startwright.sheets.text import width_px


@dataclass(frozen=True)
class Measure:
    """Sizes in pixels.

    `row` is the height of one end of a run; `pitch` goes from lane to lane in a bundle; a leg is
    drawn `per_m` long for each metre, but no shorter than `leg_least` and no longer than
    `leg_most`. `full` writes size and length at each run, the work at each lead and the
    plug at each flag. `letter` narrows the estimate of text where the font is known.
    """

    row: int = 34
    part_head: int = 24
    band_head: int = 40
    item_gap: int = 12
    band_gap: int = 18
    unit_row: int = 28
    pitch: int = 9
    margin: int = 20
    id_room: int = 40
    per_m: float = 110
    leg_least: float = 36
    leg_most: float = 200
    trunk: float = 64
    title: float = 15.0
    name: float = 12.5
    small: float = 11.0
    full: bool = True
    letter: float = 1.0

    def wide(self, text: str, size_px: float, *, bold: bool = False) -> float:
        """How wide a text is at most, in pixels."""
        return width_px(text, size_px, bold=bold) * self.letter


SCREEN = Measure()
PAPER = Measure(
    row=23,
    part_head=22,
    band_head=32,
    item_gap=7,
    band_gap=6,
    unit_row=23,
    pitch=8,
    margin=4,
    id_room=28,
    per_m=44,
    leg_least=18,
    leg_most=56,
    trunk=28,
    title=15.0,
    name=13.0,
    small=12.5,
    full=False,
    letter=0.86,
)
"""For the printed sheet, whose font is Source Sans Pro."""
