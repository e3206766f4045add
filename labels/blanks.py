"""Blank labels: on a roll, one behind the other, or on a sheet, in columns and rows.

Named by their measures only, width by height in millimetres; a sheet by paper, columns by rows
and the label. A shop adds its own.
"""

from __future__ import annotations

from typing import Annotated

import msgspec
from msgspec import Meta

from labels.errors import BadValue
from labels.say import NOTHING, Said, figure, say, term
from labels.sizes import dots_per_mm

PAPERS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
_SLACK = 0.01  # mm; measures in inches do not always end in tenths


class Blank(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The geometry of a blank, in millimetres, and the resolution of its printer. Raises BadValue
    for what cannot be."""

    name: Annotated[str, Meta(description="Its name")]
    width: Annotated[float, Meta(description="Width of a label")]
    height: Annotated[float, Meta(description="Height of a label")]
    dpi: Annotated[int, Meta(description="Dots per inch of the printer")] = 203
    columns: Annotated[int, Meta(description="Labels side by side")] = 1
    rows: Annotated[int, Meta(description="Labels one below the other")] = 1
    pitch_x: Annotated[float, Meta(description="Corner to next corner; 0: no gap")] = 0.0
    pitch_y: Annotated[float, Meta(description="Corner to next corner below; 0: no gap")] = 0.0
    left: Annotated[float, Meta(description="Margin at the left")] = 0.0
    top: Annotated[float, Meta(description="Margin at the top")] = 0.0
    page: Annotated[
        tuple[float, float] | None,
        Meta(description="Size of the sheet; none on a roll, where a page is one label"),
    ] = None
    corner: Annotated[float, Meta(description="Rounding of the corners")] = 0.0
    keep_clear: Annotated[float, Meta(description="Rim that stays clear")] = 1.5

    def __post_init__(self) -> None:
        tried, do = say("use blank '{blank}'", blank=self.name), NOTHING
        dots_per_mm(self.dpi)
        if not (5 <= self.width <= 420 and 5 <= self.height <= 600):
            width, height = figure(f"{self.width:g}"), figure(f"{self.height:g}")
            why = say("{width} x {height} mm is no size of a label", width=width, height=height)
            do = say("Give width and height in millimetres")
        elif not (1 <= self.columns <= 40 and 1 <= self.rows <= 80):
            why = say(
                "{columns} columns and {rows} rows are not to be had",
                columns=self.columns,
                rows=self.rows,
            )
        elif not 0 <= self.keep_clear <= min(self.width, self.height) / 3:
            rim = figure(f"{self.keep_clear:g}")
            why = say("a rim of {rim} mm leaves nothing to print on", rim=rim)
        else:
            return self._check_page(tried)
        raise BadValue(tried, why, do)

    def _check_page(self, tried: Said) -> None:
        if self.page is None:
            if self.columns * self.rows > 1 or self.left or self.top:
                why = say("several labels a page need the size of the page")
                raise BadValue(tried, why, say("Give page = [width, height]"))
            return
        for what, count, size, pitch, margin, whole in (
            (term("columns"), self.columns, self.width, self.step_x, self.left, self.page[0]),
            (term("rows"), self.rows, self.height, self.step_y, self.top, self.page[1]),
        ):
            if pitch < size - _SLACK or margin < 0:
                raise BadValue(tried, say("its {rows} lie over one another", rows=what))
            needed = margin + (count - 1) * pitch + size
            if needed > whole + _SLACK:
                why = say(
                    "its {n} {rows} take {needed} mm of the {there} mm there are",
                    n=count,
                    rows=what,
                    needed=figure(f"{needed:.1f}"),
                    there=figure(f"{whole:.1f}"),
                )
                raise BadValue(tried, why, say("Check the margins, the labels and their gaps"))

    @property
    def step_x(self) -> float:
        return self.pitch_x or self.width

    @property
    def step_y(self) -> float:
        return self.pitch_y or self.height

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    @property
    def page_mm(self) -> tuple[float, float]:
        return self.page or (self.width, self.height)

    def corner_of(self, position: int) -> tuple[float, float]:
        """Left and top edge in mm of a position, counted from 1, row by row."""
        row, column = divmod(position - 1, self.columns)
        return self.left + column * self.step_x, self.top + row * self.step_y


def _roll(width: float, height: float, dpi: int = 203, corner: float = 1.5) -> Blank:
    name = f"roll-{width:g}x{height:g}"
    return Blank(name=name, width=width, height=height, dpi=dpi, corner=corner)


def _sheet(
    paper: str,
    grid: tuple[int, int],
    label: tuple[float, float],
    gap_x: float = 0,
    gap_y: float = 0,
) -> Blank:
    """A sheet with its labels in the middle: what is left over is equal margins."""
    (columns, rows), (width, height), (page_width, page_height) = grid, label, PAPERS[paper]
    across, down = columns * width + (columns - 1) * gap_x, rows * height + (rows - 1) * gap_y
    return Blank(
        name=f"sheet-{paper}-{columns}x{rows}-{width:g}x{height:g}",
        width=width,
        height=height,
        dpi=600,
        columns=columns,
        rows=rows,
        pitch_x=width + gap_x,
        pitch_y=height + gap_y,
        left=(page_width - across) / 2,
        top=(page_height - down) / 2,
        page=PAPERS[paper],
        keep_clear=2.0,
    )


BLANKS = {
    blank.name: blank
    for blank in (
        _roll(40, 25),
        _roll(50, 30),
        _roll(60, 40),
        _roll(60, 80),
        _roll(80, 60),
        _roll(100, 60),
        _roll(100, 75),
        _roll(100, 100),
        _roll(100, 150),
        _roll(150, 100),
        _roll(105, 148, dpi=300),
        _sheet("letter", (2, 3), (101.6, 84.67), gap_x=4.76),
        _sheet("letter", (2, 4), (101.6, 63.5), gap_x=4.76),
        _sheet("letter", (2, 5), (101.6, 50.8), gap_x=4.76),
        _sheet("letter", (3, 10), (66.675, 25.4), gap_x=3.175),
        _sheet("a4", (2, 4), (99.1, 67.7), gap_x=2.5),
        _sheet("a4", (2, 7), (99.1, 38.1), gap_x=2.5),
        _sheet("a4", (3, 7), (63.5, 38.1), gap_x=2.54),
        _sheet("a4", (2, 2), (105, 148.5)),
    )
}


def blank_named(name: str, dpi: int | None = None) -> Blank:
    """The blank of that name, for a printer of ``dpi`` if it is not the usual one.

    Raises BadValue, naming those there are.

    >>> blank_named("roll-60x80", 300).dpi
    300
    """
    if name not in BLANKS:
        do = say("Use one of {names}, or describe your own", names=", ".join(BLANKS))
        raise BadValue(say("use blank '{blank}'", blank=name), say("it is not known"), do)
    blank = BLANKS[name]
    return msgspec.structs.replace(blank, dpi=dpi) if dpi else blank
