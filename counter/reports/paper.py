"""Blocks on pages, by reportlab's page engine. Same document, same bytes.

Imported by who makes a paper and nobody else: the engine takes its time to load.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from itertools import pairwise, zip_longest
from pathlib import Path
from typing import Any, Literal
from xml.sax.saxutils import escape, quoteattr

from reportlab import platypus
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, PageTemplate, Paragraph

from counter.languages import language_of
from counter.reports import blocks
from counter.reports.pen import BODY, HAIR, INK, SMALL, SOFT, STEP, WASH, Pen, colour_of
from labels.fonts import FONT_LOCK, MM, Faces, house_faces, register
from labels.say import Said, say

LETTER, A4 = (215.9, 279.4), (210.0, 297.0)
MARGIN, GUTTER = 14 * MM, 6 * MM
GAP = 13.0
"""Between one block and the next below it."""
BOTTOM, FOOT, HEAD = MARGIN + 12, 32.5, 26.0
"""Where the body of a page ends, and the foot below it, from the lower edge of the page; and how
high the head is of every page but the first."""
LEAST = 4 * STEP  # of a table that is parted, before the page is turned
PAD, APART = 5.0, 6.0  # right of a cell; and left of words that stand behind figures
SIDES = {"left": 0, "right": 2}  # as the engine numbers them
Progress = Callable[[int, int], None]
Cells = tuple[bool, list[Any]]  # of a row: whether it is a total, and what stands in it


class Setter:
    """Makes flowables of blocks in some faces, for a ``page`` (width, height) in points."""

    def __init__(
        self, faces: Faces, page: tuple[float, float], shown: Callable[[str], str] = str
    ) -> None:
        self.faces, self.page, self.pen = faces, page, Pen(faces, shown=shown)
        self.width, self.height = page[0] - 2 * MARGIN, page[1] - MARGIN - BOTTOM - HEAD
        self.names = [register(face) for face in (faces.regular, faces.bold)]

    def style(self, size: float = BODY, *, bold: bool = False, **more: Any) -> ParagraphStyle:
        more = {"leading": size * 1.28, "textColor": INK, "spaceAfter": 4} | more
        return ParagraphStyle("", fontName=self.names[bold], fontSize=size, **more)

    def around(self, left: float, right: float, top: float, bottom: float) -> list[tuple[Any, ...]]:
        """The style of a table whose cells have so much room around them."""
        sides = {"LEFT": left, "RIGHT": right, "TOP": top, "BOTTOM": bottom}
        pads = [(f"{side}PADDING", (0, 0), (-1, -1), room) for side, room in sides.items()]
        face = ("FONT", (0, 0), (-1, -1), self.names[0], BODY, STEP - 1)  # else one not embedded
        return [("VALIGN", (0, 0), (-1, -1), "TOP"), face, *pads]

    def markup(self, text: str, bold: bool = False) -> str:
        """``text`` for a paragraph, what the house face lacks in the shop's own."""
        usual = self.faces.bold if bold else self.faces.regular
        return "".join(
            escape(part)
            if face == usual
            else f"<font name={quoteattr(register(face))}>{escape(part)}</font>"
            for face, part in self.pen.stretches(text, bold)
        )

    def cell(self, text: str, room: float, align: str, bold: bool, size: float) -> Any:
        """Plain text where it fits its column on one line, else a paragraph."""
        found = self.pen.stretches(text, bold)
        usual = self.faces.bold if bold else self.faces.regular
        if (
            all(face == usual for face, _ in found)
            and self.pen.measure(text, size, bold=bold) <= room
        ):
            return "".join(part for _, part in found)
        style = self.style(
            self.pen.whole(text, size, room),
            bold=bold,
            leading=STEP - 1,
            spaceAfter=0,
            alignment=SIDES[align],
            textColor=SOFT if size == SMALL else INK,
        )
        return Paragraph(self.markup(text, bold), style)

    def story(self, document: blocks.Document) -> list[Flowable]:
        """The document as it is set: where there are contents, they come last."""
        front = [
            Part(self, blocks.Head(document)),
            *(self.part(blocks.Text(t)) for t in document.intro),
        ]
        body = list(self.body(document))
        if not document.contents:
            return front + body
        turn = [platypus.NextPageTemplate("first"), platypus.PageBreak()]
        lines = [ContentsLine(self, *f.mark) for f in body if hasattr(f, "mark")]
        return [*body, *turn, *front, self.title(say("Contents"), 1), *lines]

    def body(self, document: blocks.Document) -> Iterator[Flowable]:
        for number, block in enumerate(document.blocks):
            if isinstance(block, blocks.Heading):
                turns = document.contents and block.level == 1
                yield platypus.PageBreakIfNotEmpty() if turns else platypus.CondPageBreak(90)
                found = self.title(block.title, block.level)
                found.mark = (block.level - 1, block.title, f"section-{number}")
                yield found
            elif isinstance(block, blocks.Band):
                yield from self.band(block)
            else:
                yield self.part(block)

    def part(self, block: blocks.Text | blocks.Table | blocks.Drawn) -> Flowable:
        if isinstance(block, blocks.Text):
            style = self.style(bold=block.bold, spaceAfter=block.below)
            return Paragraph(self.markup(block.text, block.bold), style)
        return Rows(self, block) if isinstance(block, blocks.Table) else Part(self, block)

    def title(self, title: Said, level: int) -> Any:
        style = self.style(13 if level == 1 else 9.5, bold=True, spaceBefore=6)
        return Paragraph(self.markup(title, True), style)

    def band(self, band: blocks.Band) -> Iterator[Flowable]:
        """Two stacks in one row; one below the other where they are higher than a page."""
        room = (self.width - GUTTER) / 2
        left, right = ([self.part(b) for b in stack] for stack in (band.left, band.right))
        row = platypus.Table([[left, "", right]], [room, GUTTER, room], spaceAfter=GAP)
        row.setStyle(self.around(0, 0, 0, 0))
        if row.wrap(self.width, self.height)[1] <= self.height:
            yield row
        else:
            yield from (self.part(b) for b in (*band.left, *band.right))


class Part(Flowable):  # type: ignore[misc] # reportlab ships no types
    """A block that is drawn with a pen."""

    spaceAfter = GAP  # noqa: N815 # what the engine asks for

    def __init__(self, setter: Setter, block: blocks.Drawn) -> None:
        super().__init__()
        self.pen, self.block = setter.pen, block

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        self.width, self.height = width, self.block.height(self.pen, width)
        return width, self.height

    def draw(self) -> None:
        self.block.draw(self.pen.on(self.canv, self.height), self.width)


class Rows(Flowable):  # type: ignore[misc] # reportlab ships no types
    """A table, parted between its rows; title and heads stand again on the next page.

    Only rows that may fit a page are handed to the engine, which else looks at all of them anew on
    every page.
    """

    spaceAfter = GAP  # noqa: N815 # what the engine asks for

    def __init__(self, setter: Setter, table: blocks.Table, rows: Sequence[Cells] = ()) -> None:
        super().__init__()
        self.setter, self.table, self.rows, self.begun = setter, table, rows, bool(rows)
        self.above = blocks.HEAD if table.title else 0.0

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width, self.height = width, self.above + STEP
        if self.table.rows:
            whole = sum(c.share for c in self.table.columns)
            self.rooms = [c.share / whole * width for c in self.table.columns]
            sides = [c.align for c in self.table.columns]
            behind = [pair == ("right", "left") for pair in pairwise(["left", *sides])]
            self.leads = [APART * after for after in behind]
            self.inner = [r - PAD - lead for r, lead in zip(self.rooms, self.leads, strict=True)]
            self.rows = self.rows or [r for row in self.table.rows for r in self._cells(row)]
            some = self.rows[: int(height / STEP) + 1]
            self.grid = self._grid(some)
            self.height = self.above + self.grid.wrap(width, height)[1]
            if len(some) < len(self.rows):
                self.height = max(self.height, height + 1)
        return width, self.height

    def split(self, _width: float, height: float) -> list[Flowable]:
        used, count = 0.0, -self.table.heads
        for row in self.grid._rowHeights if self.rows else ():
            if self.above + used + row > height:
                break
            used, count = used + row, count + 1
        if count < 1 or used < LEAST:
            return []
        parts = self.rows[:count], self.rows[count:]
        first, rest = (Rows(self.setter, self.table, part) for part in parts)
        first.begun = self.begun
        return [first, rest]

    def draw(self) -> None:
        pen, table = self.setter.pen.on(self.canv, self.height), self.table
        if table.title:
            title = say("{title}, continued", title=table.title) if self.begun else table.title
            blocks.draw_title(pen, self.width, title, table.aside)
        if table.rows:
            self.grid.drawOn(self.canv, 0, 0)
        else:
            pen.text(0, self.above + BODY, table.empty, colour=SOFT)

    def _cells(self, row: Sequence[str]) -> Iterator[Cells]:
        """A row; more than one where it is so high that it must go on on the next page."""
        row = [self.setter.pen.shown(text) for text in row]
        total = row[0].startswith("*")
        cells = self._line((row[0].removeprefix("*"), *row[1:]), total, BODY)
        if sum(map(len, row)) < 300:
            yield total, cells
            return
        torn = [list(self._torn(*pair)) for pair in zip(cells, self.inner, strict=True)]
        yield from ((total, list(pieces)) for pieces in zip_longest(*torn, fillvalue=""))

    def _torn(self, cell: Any, room: float) -> Iterator[Any]:
        parts = [cell] if isinstance(cell, str) else cell.split(room, self.setter.height / 2)
        yield parts[0]
        if parts[1:]:
            yield from self._torn(parts[1], room)

    def _line(self, texts: Iterable[str], bold: bool, size: float) -> list[Any]:
        columns = zip(texts, self.inner, self.table.columns, strict=True)
        return [self.setter.cell(text, room, c.align, bold, size) for text, room, c in columns]

    def _grid(self, rows: Sequence[Cells]) -> platypus.Table:
        table, pad = self.table, 0.5 if self.table.title else 1.7
        heads = [self._line((c.title for c in table.columns), False, SMALL)] * table.heads
        n = len(heads)
        style = [
            *self.setter.around(0, PAD, pad, pad),
            ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
            ("TEXTCOLOR", (0, 0), (-1, -1), colour_of(INK)),
        ]
        for i, column in enumerate(table.columns):
            style.append(("ALIGN", (i, 0), (i, -1), column.align.upper()))
            style.append(("LEFTPADDING", (i, 0), (i, -1), self.leads[i]))
        for i, (total, _) in enumerate(rows, n):
            if total:
                style.append(("FONTNAME", (0, i), (-1, i), self.setter.names[1]))
                style.append(("LINEABOVE", (0, i), (-1, i), 0.5, colour_of(HAIR)))
            elif not table.title:
                style.append(("LINEBELOW", (0, i), (-1, i), 0.5, colour_of(WASH)))
        if n:
            style += [("FONTSIZE", (0, 0), (-1, 0), SMALL)]
            style += [("TEXTCOLOR", (0, 0), (-1, 0), colour_of(SOFT))]
            style += [("BACKGROUND", (0, 0), (-1, 0), colour_of(WASH))] * (not table.title)
        return platypus.Table([*heads, *(cells for _, cells in rows)], self.rooms, style=style)


class ContentsLine(Flowable):  # type: ignore[misc] # reportlab ships no types
    """A line of the contents; its number is written when all pages are set."""

    def __init__(self, setter: Setter, level: int, title: Said, key: str) -> None:
        super().__init__()
        self.pen, self.key = setter.pen, key
        self.line = (14.0 * level, BODY - 2, title, BODY + 1 - level)

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        self.width = width
        return width, 13.5

    def draw(self) -> None:
        self.pen.on(self.canv, 10).text(*self.line)
        self.canv.linkRect("", self.key, (0, -3, self.width, 11), relative=1, thickness=0)
        self.canv.entries.append((self.canv.absolutePosition(0, 4)[1], self.key))


class _Canvas(Canvas):  # type: ignore[misc] # reportlab ships no types
    """Keeps its pages until all are set: then their number is known, and contents go in front."""

    def __init__(self, pages: _Pages, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.pages, self.kept = pages, list[dict[str, Any]]()
        self.marks, self.entries = list[tuple[int, Said, str]](), list[tuple[float, str]]()

    def showPage(self) -> None:  # noqa: N802 # the engine's name
        self.kept.append(dict(self.__dict__))
        self._startPage()
        self.marks, self.entries = [], []

    def save(self) -> None:
        kept = [*self.kept[self.pages.body :], *self.kept[: self.pages.body]]
        numbers = {key: n for n, page in enumerate(kept, 1) for _, _, key in page["marks"]}
        for number, page in enumerate(kept, 1):
            self.__dict__.update(page)
            self.pages.finish(self, say("{number} of {n}", number=number, n=len(kept)), numbers)
            super().showPage()
        super().save()


class _Pages(platypus.BaseDocTemplate):  # type: ignore[misc] # reportlab ships no types
    """Pages with a head and a foot, bookmarks and numbers."""

    def __init__(
        self, setter: Setter, document: blocks.Document, progress: Progress | None, **named: Any
    ) -> None:
        self.document, self.setter, self.progress = document, setter, progress
        self.body = self.done = 0  # pages set before those that go in front; rows set
        self.total = sum(len(b.rows) for b in document.blocks if isinstance(b, blocks.Table)) or 1
        super().__init__(
            pagesize=setter.page,
            invariant=1,
            pageCompression=1,
            initialFontName=setter.names[0],
            title=setter.pen.shown(document.title),
            author="tofu-counter",
            creator="tofu-counter",
            **named,
        )
        places = {"first": (setter.height + HEAD, self._first), "more": (setter.height, self._more)}
        for name in sorted(places, reverse=document.contents):
            high, dress = places[name]
            frame = platypus.Frame(MARGIN, BOTTOM, setter.width, high, 0, 0, 0, 0)
            self.addPageTemplates(PageTemplate(name, [frame], dress, autoNextPageTemplate="more"))

    def _first(self, canvas: Any, _doc: object) -> None:
        self.body = self.page - 1
        self._foot(canvas)

    def _more(self, canvas: Any, _doc: object) -> None:
        self._foot(canvas)
        pen, right = self.setter.pen.on(canvas, self.pagesize[1]), MARGIN + self.setter.width
        used = pen.text(right, MARGIN + 8, self.document.kind, colour=SOFT, align="right")
        size = pen.fit(self.document.title, BODY, self.setter.width - used - 20)
        pen.text(MARGIN, MARGIN + 8, self.document.title, size, bold=True)

    def _foot(self, canvas: Any) -> None:
        pen = self.setter.pen.on(canvas, FOOT)
        pen.line(MARGIN, -10, MARGIN + self.setter.width, -10, HAIR)
        size = pen.fit(self.document.foot, SMALL, self.setter.width - 50)
        pen.text(MARGIN, 0, self.document.foot, size, colour=SOFT)

    def finish(self, canvas: Any, number: Said, numbers: dict[str, int]) -> None:
        """Write what is known of a page when all are set."""
        pen, right = self.setter.pen.on(canvas, 0), MARGIN + self.setter.width
        pen.text(right, -FOOT, number, SMALL, colour=SOFT, align="right")
        for y, key in canvas.entries:
            pen.text(right, -y, str(numbers[key]), colour=SOFT, align="right")
        for level, title, key in canvas.marks:
            canvas.bookmarkPage(key)
            canvas.addOutlineEntry(pen.shown(title), key, level, closed=False)
        if self.document.contents:
            canvas.showOutline()

    def afterFlowable(self, flowable: Flowable) -> None:  # noqa: N802 # the engine's name
        self.canv.marks += [flowable.mark] if hasattr(flowable, "mark") else []
        self.done += len(flowable.rows) if isinstance(flowable, Rows) else 0

    def afterPage(self) -> None:  # noqa: N802 # the engine's name
        if self.progress:
            self.progress(self.done, self.total)


def draw_document(
    document: blocks.Document,
    paper: Literal["letter", "a4"],
    locale: str,
    second: Path | None = None,
    progress: Progress | None = None,
) -> bytes:
    """The document as PDF, in the language of ``locale``. ``second`` is the shop's own face for
    what the house face lacks; ``progress`` is told how many rows of how many are set."""
    buffer, (width, height) = io.BytesIO(), LETTER if paper == "letter" else A4
    with FONT_LOCK:
        spoken = language_of(locale)
        setter = Setter(house_faces(second), (width * MM, height * MM), spoken.shown)
        pages = _Pages(setter, document, progress, filename=buffer, lang=spoken.code)
        pages.build(setter.story(document), canvasmaker=partial(_Canvas, pages))
    return buffer.getvalue()
