"""A document of many pages: sections with bookmarks, a list of contents, tables that lose nothing.

Unlike a report, which shortens what does not fit, a record is set whole: every cell is broken into
as many lines as it needs, and the head of a table stands again on every page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Literal, NamedTuple

import msgspec

from counter.reports.blocks import Column
from counter.reports.pen import (
    A4,
    BODY,
    FOOT,
    INK,
    LETTER,
    MARGIN,
    SMALL,
    SOFT,
    WASH,
    Align,
    Pen,
    writing,
)
from labels.pdf import write_whole

LEAD = 10.2  # from one line of a cell to the next
PAD = 3.4  # between the rows of a table
GAP = 6.0  # between its columns
SIZES = {0: 17.0, 1: 13.0, 2: 9.5}


class Heading(msgspec.Struct, frozen=True):
    """A title with a bookmark; ``level`` 1 begins a page, 2 does not."""

    title: str
    level: Literal[1, 2] = 1


class Text(msgspec.Struct, frozen=True):
    """A paragraph."""

    text: str
    bold: bool = False


class Grid(msgspec.Struct, frozen=True):
    """A table. ``empty`` is said where there are no rows: a record that nothing was written."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = "Nothing was written down."


Block = Heading | Text | Grid


class Document(msgspec.Struct, frozen=True):
    """``running`` stands at the foot of every page; ``contents`` lists the headings in front."""

    title: str
    intro: tuple[str, ...]
    blocks: tuple[Block, ...]
    running: str
    contents: bool = True


class _Mark(NamedTuple):
    x: float
    base: float
    text: str
    size: float
    bold: bool = False
    colour: str = INK
    align: Align = "left"
    goes_to: str = ""


class _Rule(NamedTuple):
    y: float
    colour: str


class _Wash(NamedTuple):
    y: float
    height: float


class _Stop(NamedTuple):
    """A bookmark."""

    key: str
    title: str
    level: int


class _Pages:
    """Where everything goes, before anything is drawn."""

    def __init__(self, pen: Pen) -> None:
        self.pen = pen
        self.pages: list[list[_Mark | _Rule | _Wash | _Stop]] = [[]]
        self.y = MARGIN

    @property
    def fresh(self) -> bool:
        return not self.pages[-1]

    def put(self, mark: _Mark | _Rule | _Wash | _Stop) -> None:
        self.pages[-1].append(mark)

    def turn(self) -> None:
        self.pages.append([])
        self.y = MARGIN

    def need(self, height: float) -> bool:
        """Turn the page where so much does not fit; whether it was turned."""
        if self.y + height <= self.pen.bottom or self.fresh:
            return False
        self.turn()
        return True

    def lines(
        self, text: str, size: float, *, bold: bool = False, colour: str = INK, lead: float = 0.0
    ) -> None:
        for line in broken(self.pen, text, self.pen.width, size, bold):
            self.need(lead or size * 1.3)
            self.put(_Mark(MARGIN, self.y + size, line, size, bold, colour))
            self.y += lead or size * 1.3


def broken(pen: Pen, text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """``text`` in lines of ``width`` points; a word that is too long is cut, never shortened."""
    lines = [""]
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if pen.measure(joined, size, bold=bold) <= width:
            lines[-1] = joined
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and pen.measure(lines[-1] + letter, size, bold=bold) > width:
                lines.append("")
            lines[-1] += letter
    return lines


def draw_document(
    document: Document, *, paper: Literal["letter", "a4"], language: str,
    second: Path | None = None, progress: Callable[[int, int], None] | None = None,
) -> bytes:  # fmt: skip
    """The document as PDF. Same document, same bytes. ``progress`` is told of the pages drawn."""
    page_mm = LETTER if paper == "letter" else A4
    with writing(page_mm, document.title, language, second) as (pen, buffer):
        body = _set_body(pen, document)
        stops = [
            (stop, number)
            for number, page in enumerate(body.pages)
            for stop in page
            if isinstance(stop, _Stop)
        ]
        pages = body.pages
        if document.contents:
            front = len(_set_front(pen, document, stops, 0).pages)
            pages = _set_front(pen, document, stops, front).pages + pages
            if stops:
                pen.canvas.showOutline()
        for number, page in enumerate(pages, 1):
            _draw_page(pen, page, document.running, f"{number} of {len(pages)}")
            if progress:
                progress(number, len(pages))
    return buffer.getvalue()


def write_document(
    path: Path, document: Document, *, paper: Literal["letter", "a4"], language: str,
    second: Path | None = None, progress: Callable[[int, int], None] | None = None,
) -> None:  # fmt: skip
    """Write the PDF: the whole file or none. Raises NotWritten when the disk refuses."""
    data = draw_document(document, paper=paper, language=language, second=second, progress=progress)
    write_whole(path, data)


def _set_front(
    pen: Pen, document: Document, stops: Sequence[tuple[_Stop, int]], before: int
) -> _Pages:
    front = _Pages(pen)
    _set_title(front, document)
    front.y += LEAD
    front.lines("Contents", SIZES[1], bold=True)
    front.y += PAD
    for stop, page in stops:
        front.need(LEAD * 1.3)
        size = BODY + 1 if stop.level == 1 else BODY
        indent = 0.0 if stop.level == 1 else 14.0
        base = front.y + size
        front.put(_Mark(MARGIN + indent, base, stop.title, size, goes_to=stop.key))
        number = str(page + before + 1)
        front.put(_Mark(MARGIN + pen.width, base, number, size, False, SOFT, "right"))
        front.y += LEAD * 1.4
    return front


def _set_title(pages: _Pages, document: Document) -> None:
    pages.lines(document.title, SIZES[0], bold=True)
    pages.y += PAD
    for sentence in document.intro:
        pages.lines(sentence, BODY + 0.5, lead=LEAD + 1)
        pages.y += PAD


def _set_body(pen: Pen, document: Document) -> _Pages:
    pages = _Pages(pen)
    if not document.contents:
        _set_title(pages, document)
        pages.y += LEAD
    for number, block in enumerate(document.blocks):
        if isinstance(block, Heading):
            _set_heading(pages, block, f"section-{number}", document.contents)
        elif isinstance(block, Text):
            pages.lines(block.text, BODY, bold=block.bold, lead=LEAD)
            pages.y += PAD * 1.5
        else:
            _set_grid(pages, block)
    return pages


def _set_heading(pages: _Pages, heading: Heading, key: str, turns: bool) -> None:
    if heading.level == 1 and turns and not pages.fresh:
        pages.turn()
    pages.need(SIZES[heading.level] * 2 + 5 * LEAD)
    if not pages.fresh:
        pages.y += LEAD * 0.6
    pages.put(_Stop(key, heading.title, heading.level))
    pages.lines(heading.title, SIZES[heading.level], bold=True)
    pages.y += PAD


def _set_grid(pages: _Pages, grid: Grid) -> None:
    if not grid.rows:
        pages.lines(grid.empty, BODY, colour=SOFT, lead=LEAD)
        pages.y += LEAD
        return
    pen = pages.pen
    whole = sum(c.share for c in grid.columns)
    rooms = [c.share / whole * pen.width for c in grid.columns]
    titles = [c.title for c in grid.columns]
    _set_row(pages, grid.columns, rooms, titles, head=True)
    for row in grid.rows:
        height = _height(pen, rooms, row)
        if pages.need(height):
            _set_row(pages, grid.columns, rooms, titles, head=True)
        _set_row(pages, grid.columns, rooms, row, head=False)
    pages.y += LEAD


def _cells(pen: Pen, rooms: Sequence[float], row: Sequence[str], size: float) -> list[list[str]]:
    return [broken(pen, text, room - GAP, size) for text, room in zip(row, rooms, strict=True)]


def _height(pen: Pen, rooms: Sequence[float], row: Sequence[str]) -> float:
    return max(len(cell) for cell in _cells(pen, rooms, row, BODY)) * LEAD + PAD


def _set_row(
    pages: _Pages, columns: Sequence[Column], rooms: Sequence[float], row: Sequence[str], head: bool
) -> None:
    size = SMALL if head else BODY
    cells = _cells(pages.pen, rooms, row, size)
    height = max(len(cell) for cell in cells) * LEAD + PAD
    if head:
        pages.put(_Wash(pages.y, height))
    x = MARGIN
    for cell, room, column in zip(cells, rooms, columns, strict=True):
        at = x + (room - GAP if column.align == "right" else 2.0)
        for n, line in enumerate(cell):
            base = pages.y + n * LEAD + BODY + 0.8
            pages.put(_Mark(at, base, line, size, False, SOFT if head else INK, column.align))
        x += room
    pages.y += height
    if not head:
        pages.put(_Rule(pages.y - 0.4, WASH))


def _draw_page(
    pen: Pen, page: Sequence[_Mark | _Rule | _Wash | _Stop], running: str, number: str
) -> None:
    canvas = pen.canvas
    for mark in page:
        if isinstance(mark, _Stop):
            canvas.bookmarkPage(mark.key)
            canvas.addOutlineEntry(mark.title, mark.key, mark.level - 1, closed=False)
        elif isinstance(mark, _Rule):
            pen.rule(MARGIN, mark.y, pen.width, mark.colour)
        elif isinstance(mark, _Wash):
            pen.box(MARGIN, mark.y, pen.width, mark.height, WASH)
        else:
            pen.text(
                mark.x, mark.base, mark.text, mark.size,
                bold=mark.bold, colour=mark.colour, align=mark.align,
            )  # fmt: skip
            if mark.goes_to:
                low = pen.page_height - mark.base - 3
                box = (MARGIN, low, MARGIN + pen.width, low + mark.size + 4)
                canvas.linkRect("", mark.goes_to, box, thickness=0)
    foot = pen.page_height - FOOT
    room = pen.width - 60
    pen.text(MARGIN, foot, running, SMALL, colour=SOFT, most=room)
    pen.text(MARGIN + pen.width, foot, number, SMALL, colour=SOFT, align="right")
    pen.next_page()
