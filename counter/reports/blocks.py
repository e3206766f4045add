"""What a paper is made of, as plain values: a document is a list of blocks from top to bottom."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, Literal, Protocol

import msgspec

from counter.reports.pen import ACCENT, BODY, INK, SMALL, SOFT, TITLE, Pen
from counter.trade.closing import grouped
from labels.say import NOTHING, Said, figure, join, say

HEAD = 18.0
"""From the top of a titled block to what it says."""
_SEAL_SIZE, GAP = 86.0, 17.0
SEAL_MEANS = say(
    "Compare it with `counter check --seal`. It stands for the figures of this day and for all that"
    " was written before. The books alone prove nothing against somebody who can write the folder:"
    " this sheet does, where it is kept out of his reach."
)


class Column(msgspec.Struct, frozen=True):
    """``share`` of the width; figures stand at the right of it, words at the left. ``of`` gives
    what stands in it of each thing that is a row."""

    title: Said
    share: float
    align: Literal["left", "right"] = "left"
    of: Callable[[Any], object] = str


def words(title: str, share: float, of: Callable[[Any], object]) -> Column:
    return Column(say(title), share, "left", of)


def figures(title: str, share: float, of: Callable[[Any], object]) -> Column:
    return Column(say(title), share, "right", of)


def untitled(share: float, align: Literal["left", "right"] = "left") -> Column:
    """A column without a head."""
    return Column(NOTHING, share, align)


class Heading(msgspec.Struct, frozen=True):
    """A title with a bookmark; ``level`` 1 begins a page where there are contents, 2 does not."""

    title: Said
    level: Literal[1, 2] = 1


class Text(msgspec.Struct, frozen=True):
    """A paragraph, and the room below it."""

    text: Said
    bold: bool = False
    below: float = 6.0


class Table(msgspec.Struct, frozen=True):
    """Rows of text under a title. Nothing is shortened: what is longer than its column goes on in
    lines below. A row that begins with ``*`` is a total, set in bold. ``empty`` is said where there
    are no rows."""

    title: Said
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    aside: Said = NOTHING
    empty: Said = NOTHING
    heads: bool = True


def table(
    title: Said,
    things: Iterable[object],
    *columns: Column,
    all_of: tuple[str, ...] = (),
    aside: Said = NOTHING,
    empty: Said = NOTHING,
) -> Table:
    """A row a thing; then, where there is any, what all of them come to."""
    rows = [tuple(in_cell(column.of(thing)) for column in columns) for thing in things]
    rows += [all_of] if rows and all_of else []
    return Table(title, columns, tuple(rows), aside, empty)


def in_cell(value: object) -> str:
    return value if isinstance(value, str) else figure(value)


class Drawn(Protocol):
    """A block that is drawn with a pen, from its top left corner."""

    def height(self, pen: Pen, width: float, /) -> float: ...

    def draw(self, pen: Pen, width: float, /) -> None: ...


class Band(msgspec.Struct, frozen=True):
    """Two stacks of blocks side by side, each half of the width."""

    left: tuple[Text | Table | Drawn, ...]
    right: tuple[Text | Table | Drawn, ...]


Block = Heading | Text | Table | Band | Drawn


class Document(msgspec.Struct, frozen=True):
    """``who`` and ``kind`` stand above the title, ``foot`` at the foot of every page; ``contents``
    lists the headings in front."""

    title: Said
    who: str
    kind: Said
    blocks: tuple[Block, ...]
    foot: Said
    where: str = ""
    intro: tuple[Said, ...] = ()
    contents: bool = False


def draw_title(pen: Pen, width: float, title: Said, aside: Said = NOTHING) -> None:
    """A block's title over a thin line, with a quiet word at its right."""
    used = pen.text(0, TITLE, title, TITLE, bold=True)
    size = pen.fit(aside, SMALL, width - used - 10)
    pen.text(width, TITLE, aside, size, colour=SOFT, align="right")
    pen.line(0, TITLE + 4.2, width, TITLE + 4.2, INK, 0.7)


class Head(msgspec.Struct, frozen=True):
    """The head of the first page: who, what, and the day or days in large type."""

    document: Document

    def height(self, _pen: Pen, _width: float) -> float:
        return 44.0

    def draw(self, pen: Pen, width: float) -> None:
        of = self.document
        pen.box(0, -6, 26, 3, ACCENT)
        size = pen.fit(join("  ", (of.who, of.where)), BODY, width - pen.measure(of.kind) - 20)
        used = pen.text(0, 12, of.who, size, bold=True)
        pen.text(used + 6, 12, of.where, size, colour=SOFT)
        pen.text(width, 12, of.kind, BODY, colour=SOFT, align="right")
        pen.text(0, 42, of.title, pen.fit(of.title, 23.0, width), bold=True)


class Figures(msgspec.Struct, frozen=True):
    """The figures of the day in large type: (value, what it is, a quiet word)."""

    rows: tuple[tuple[str, Said, Said], ...]

    def height(self, _pen: Pen, _width: float) -> float:
        return 43.0

    def draw(self, pen: Pen, width: float) -> None:
        step = (width + GAP) / len(self.rows)
        for i, (value, what, word) in enumerate(self.rows):
            pen.text(i * step, 8, what, pen.fit(what, SMALL, step - GAP), colour=SOFT)
            pen.text(i * step, 26, value, pen.fit(value, 17.0, step - GAP), bold=True)
            pen.text(i * step, 37, word, pen.fit(word, SMALL, step - GAP), colour=SOFT)


class Seal(msgspec.Struct, frozen=True):
    """The seal of a closed day, to be compared by eye or by camera: its text in groups, and a QR
    symbol (ISO/IEC 18004, four modules of quiet zone) with shop, day and seal."""

    shop: str
    day: str
    seal: str

    def height(self, _pen: Pen, _width: float) -> float:
        return HEAD + _SEAL_SIZE + 4

    def draw(self, pen: Pen, width: float) -> None:
        import segno  # by who draws a seal: it brings what reads web pages along

        draw_title(pen, width, say("Seal"))
        matrix = segno.make(f"{self.shop}, {self.day}: {self.seal}", error="m", micro=False).matrix
        module, left = _SEAL_SIZE / (len(matrix) + 8), width - _SEAL_SIZE
        pen.boxes(
            (left + j * module, HEAD + i * module, module, module)
            for i, row in enumerate(matrix, 4)
            for j, dark in enumerate(row, 4)
            if dark
        )
        groups = grouped(self.seal).split()
        for i in range(0, len(groups), 4):
            pen.text(0, HEAD + 18 + 4.5 * i, " ".join(groups[i : i + 4]), 15.0, bold=True)
        pen.words(190, HEAD + 12, SEAL_MEANS, width - _SEAL_SIZE - 200)
