"""Blocks that know their height, and the flow that sets them on pages.

A report is a list of bands from top to bottom. A band is one block over the whole width, or two
stacks of blocks side by side. What does not fit goes to the next page; only tables are parted.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import msgspec
import segno

from counter.reports.pen import (
    BODY,
    GUTTER,
    HAIR,
    INK,
    MARGIN,
    SMALL,
    SOFT,
    STEP,
    TITLE,
    Align,
    Pen,
)
from counter.trade.closing import grouped

GAP = 13.0
"""Between one block and the next below it."""
HEAD = 18.0
"""From the top of a block to the baseline of its first line, its title above."""
_SEAL_SIZE = 86.0
SEAL_MEANS = (
    "Compare it with `counter check --seal`. It stands for the figures of this day and for all that"
    " was written before. The books alone prove nothing against somebody who can write the folder:"
    " this sheet does, where it is kept out of his reach."
)


class Block(Protocol):
    """A part of a report. Places in points, ``top`` from the top of the page."""

    def height(self, pen: Pen, width: float, /) -> float: ...

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None: ...


class Column(msgspec.Struct, frozen=True):
    """``share`` of the width; figures stand at the right of it, words at the left."""

    title: str
    share: float
    align: Align = "left"


def draw_title(pen: Pen, x: float, top: float, width: float, title: str, aside: str = "") -> None:
    """A block's title over a thin line, with a quiet word at its right."""
    used = pen.text(x, top + TITLE, title, TITLE, bold=True)
    if aside:
        room = width - used - 12
        pen.text(
            x + width, top + TITLE, aside, SMALL, colour=SOFT, align="right", most=max(room, 0)
        )
    pen.rule(x, top + TITLE + 4.2, width, INK, 0.7)


class Table(msgspec.Struct, frozen=True):
    """Rows of text under a title. A row that begins with ``*`` is a total, set in bold; long words
    of the columns ``wraps`` go on in lines below."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    aside: str = ""
    wraps: tuple[int, ...] = ()
    empty: str = ""
    heads: bool = True

    @property
    def top_height(self) -> float:
        return HEAD + (STEP if self.heads else 2.0)

    def height(self, pen: Pen, width: float) -> float:
        if not self.rows:
            return HEAD + STEP
        return self.top_height + sum(self.row_height(pen, row, width) for row in self.rows)

    def row_height(self, pen: Pen, row: tuple[str, ...], width: float) -> float:
        lines = (len(pen.wrap(row[i], self._room(i, width))) for i in self.wraps)
        return STEP * max(lines, default=1)

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None:
        draw_title(pen, x, top, width, self.title, self.aside)
        y = top + HEAD
        if not self.rows:
            pen.text(x, y + BODY, self.empty, BODY, colour=SOFT)
            return
        if self.heads:
            for i, column in enumerate(self.columns):
                self._cell(pen, x, y + SMALL + 0.6, width, i, column.title, SMALL, SOFT, False)
            y += STEP
        else:
            y += 2.0
        for row in self.rows:
            total = row[0].startswith("*")
            cells = (row[0].removeprefix("*"), *row[1:])
            if total:
                pen.rule(x, y + 0.9, width, HAIR)
            for i, cell in enumerate(cells):
                texts = pen.wrap(cell, self._room(i, width)) if i in self.wraps else [cell]
                for n, text in enumerate(texts):
                    base = y + BODY + 1.2 + n * STEP
                    self._cell(pen, x, base, width, i, text, BODY, INK, total)
            y += self.row_height(pen, cells, width)

    def part(self, pen: Pen, width: float, room: float) -> tuple[Table, Table] | None:
        """The rows that fit ``room`` and those that do not; None where not three of them fit."""
        used, count = self.top_height, 0
        for row in self.rows:
            used += self.row_height(pen, row, width)
            if used > room:
                break
            count += 1
        if count < 3 or count == len(self.rows):
            return None
        first = msgspec.structs.replace(self, rows=self.rows[:count])
        rest = msgspec.structs.replace(
            self,
            rows=self.rows[count:],
            title=f"{self.title.removesuffix(', continued')}, continued",
        )
        return first, rest

    def _left(self, i: int, width: float) -> float:
        whole = sum(c.share for c in self.columns)
        return sum(c.share for c in self.columns[:i]) / whole * width

    def _room(self, i: int, width: float) -> float:
        last = i == len(self.columns) - 1
        return self._left(i + 1, width) - self._left(i, width) - (0.0 if last else 5.0)

    def _cell(
        self, pen: Pen, x: float, base: float, width: float, i: int, text: str, size: float,
        colour: str, bold: bool,
    ) -> None:  # fmt: skip
        left, room, align = self._left(i, width), self._room(i, width), self.columns[i].align
        at = x + left + (room if align == "right" else 0.0)
        pen.text(at, base, text, size, bold=bold, colour=colour, align=align, most=room)


class Lines(msgspec.Struct, frozen=True):
    """A title and sentences under it, each a paragraph."""

    title: str
    texts: tuple[str, ...]
    aside: str = ""

    def height(self, pen: Pen, width: float) -> float:
        return HEAD + 2 + sum(STEP * len(pen.wrap(text, width)) for text in self.texts)

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None:
        draw_title(pen, x, top, width, self.title, self.aside)
        base = top + HEAD + 2 + BODY
        for line in (part for text in self.texts for part in pen.wrap(text, width)):
            pen.text(x, base, line, BODY, most=width)
            base += STEP


class Seal(msgspec.Struct, frozen=True):
    """The seal of a closed day, to be compared by eye or by camera: its text in groups, and a QR
    symbol (ISO/IEC 18004, four modules of quiet zone) with shop, day and seal."""

    shop: str
    day: str
    seal: str

    def height(self, _pen: Pen, _width: float) -> float:
        return HEAD + _SEAL_SIZE + 4

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None:
        draw_title(pen, x, top, width, "Seal")
        matrix = segno.make(f"{self.shop}, {self.day}: {self.seal}", error="m", micro=False).matrix
        module, top = _SEAL_SIZE / (len(matrix) + 8), top + HEAD
        left = x + width - _SEAL_SIZE
        for i, row in enumerate(matrix, 4):
            for j, dark in enumerate(row, 4):
                if dark:
                    pen.box(left + j * module, top + i * module, module, module, INK)
        groups = grouped(self.seal).split()
        for i in range(0, len(groups), 4):
            pen.text(x, top + 18 + 4.5 * i, " ".join(groups[i : i + 4]), 15.0, bold=True)
        room = width - _SEAL_SIZE - 200
        base = top + 12
        for line in pen.wrap(SEAL_MEANS, room):
            pen.text(x + 190, base, line, BODY)
            base += STEP


class Figures(msgspec.Struct, frozen=True):
    """The figures of the day in large type: (value, what it is, a quiet word)."""

    rows: tuple[tuple[str, str, str], ...]

    def height(self, _pen: Pen, _width: float) -> float:
        return 43.0

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None:
        step = (width + GUTTER) / len(self.rows)
        for i, (value, what, word) in enumerate(self.rows):
            at = x + i * step
            room = step - GUTTER
            pen.text(at, top + 8, what, SMALL, colour=SOFT, most=room)
            size = 17.0
            while size > 9 and pen.measure(value, size, bold=True) > room:
                size -= 0.5
            pen.text(at, top + 26, value, size, bold=True)
            pen.text(at, top + 37, word, SMALL, colour=SOFT, most=room)


class Band(msgspec.Struct, frozen=True):
    """Blocks over the whole width (``right`` empty), or two stacks side by side.

    ``share`` is the left stack's part of the width, on a grid of twelve.
    """

    left: tuple[Block, ...]
    right: tuple[Block, ...] = ()
    share: int = 6

    def widths(self, whole: float) -> tuple[float, float]:
        left = (whole + GUTTER) * self.share / 12 - GUTTER
        return left, whole - left - GUTTER


def stack_height(pen: Pen, blocks: Sequence[Block], width: float) -> float:
    heights = [block.height(pen, width) for block in blocks]
    return sum(heights) + GAP * max(0, len(heights) - 1)


class Flow:
    """Sets bands on pages, one below the other."""

    def __init__(self, pen: Pen, top: float, next_top: float) -> None:
        self.pen, self.y, self.next_top = pen, top, next_top
        self.pages = 1
        self.foot: list[str] = []

    def add(self, band: Band) -> None:
        pen = self.pen
        if not band.right:
            for block in band.left:
                self._single(block)
            return
        widths = band.widths(pen.width)
        tall = max(
            stack_height(pen, stack, width)
            for stack, width in zip((band.left, band.right), widths, strict=True)
        )
        if self.y + tall > pen.bottom and tall > pen.bottom - self.next_top:
            for block in (*band.left, *band.right):
                self._single(block)
            return
        if self.y + tall > pen.bottom:
            self.turn()
        x = MARGIN
        for stack, width in zip((band.left, band.right), widths, strict=True):
            y = self.y
            for block in stack:
                block.draw(pen, x, y, width)
                y += block.height(pen, width) + GAP
            x += width + GUTTER
        self.y += tall + GAP

    def _single(self, block: Block) -> None:
        pen = self.pen
        height = block.height(pen, pen.width)
        while self.y + height > pen.bottom:
            parts = (
                block.part(pen, pen.width, pen.bottom - self.y)
                if isinstance(block, Table)
                else None
            )
            if parts is not None:
                parts[0].draw(pen, MARGIN, self.y, pen.width)
                block = parts[1]
                height = block.height(pen, pen.width)
            elif self.y <= self.next_top:
                break  # a block higher than a page is drawn as far as it goes
            self.turn()
        block.draw(pen, MARGIN, self.y, pen.width)
        self.y += height + GAP

    def turn(self) -> None:
        """To the next page, the foot of this one written."""
        self.write_foot()
        self.pen.next_page()
        self.pages += 1
        self.y = self.next_top
        self.write_head()

    def write_head(self) -> None:
        """What stands at the head of every page but the first."""

    def write_foot(self) -> None:
        pen = self.pen
        base = pen.page_height - MARGIN + 2
        pen.rule(MARGIN, base - 10, pen.width, HAIR)
        note = f"{self.pages}"
        pen.text(MARGIN + pen.width, base, note, SMALL, colour=SOFT, align="right")
        pen.text(MARGIN, base, "  ·  ".join(self.foot), SMALL, colour=SOFT, most=pen.width - 40)
