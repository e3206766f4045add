"""Paper and pen: one page format, one grid, two weights of one face, one accent.

Places are in points from the top left of the page, since reports are read and built downwards.
Same input, same bytes: nothing here asks for the time.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from labels.errors import NoGlyph
from labels.fonts import FONT_LOCK, MM, Face, Faces, house_faces, register

LETTER, A4 = (215.9, 279.4), (210.0, 297.0)
MARGIN = 14 * MM
GUTTER = 6 * MM
FOOT = 9 * MM

INK, SOFT, HAIR = "#1b2036", "#5b6075", "#c9cad3"
ACCENT, MIDDLE, PALE, WASH = "#2b3a86", "#8f9ac9", "#d6dbee", "#eef0f8"

BODY, SMALL, TITLE = 8.0, 6.8, 9.0
STEP = 11.2
"""From one line of body text to the next."""

Align = Literal["left", "right", "middle"]
STAND_IN = "?"


class Pen:
    """Draws on the pages of one document. Make it with :func:`writing`."""

    def __init__(self, canvas: Any, page_mm: tuple[float, float], faces: Faces) -> None:
        self.canvas, self.faces = canvas, faces
        self.page_width, self.page_height = (side * MM for side in page_mm)
        self.stood_in = False

    @property
    def width(self) -> float:
        """Width between the margins."""
        return self.page_width - 2 * MARGIN

    @property
    def bottom(self) -> float:
        """Where the body of a page ends, from the top."""
        return self.page_height - MARGIN - FOOT

    def text(
        self, x: float, base: float, text: str, size: float = BODY, *, bold: bool = False,
        colour: str = INK, align: Align = "left", most: float | None = None,
    ) -> float:  # fmt: skip
        """Write one line with its baseline at ``base``; shortened with … beyond ``most`` points.

        Returns its width. A letter no face has is written as ? and remembered.
        """
        stretches, stood_in = _stretches(self.faces, text, bold)
        self.stood_in = self.stood_in or stood_in
        if most is not None and _width(stretches, size) > most:
            stretches = _shorten(self.faces, text, bold, size, most)
        width = _width(stretches, size)
        at = x - width * {"left": 0.0, "right": 1.0, "middle": 0.5}[align]
        self.canvas.setFillColor(colour)
        for face, part in stretches:
            self.canvas.setFont(register(face), size)
            self.canvas.drawString(at, self.page_height - base, part)
            at += face.width(part, size)
        return width

    def measure(self, text: str, size: float = BODY, *, bold: bool = False) -> float:
        """Width of a line in points."""
        return _width(_stretches(self.faces, text, bold)[0], size)

    def wrap(self, text: str, width: float, size: float = BODY) -> list[str]:
        """Lines of words that fit ``width``; a word that alone does not fit is shortened later.

        Words tied by a no-break space stay together.
        """
        lines: list[str] = []
        for word in text.replace("\n", " ").split(" "):
            if lines and self.measure(f"{lines[-1]} {word}", size) <= width:
                lines[-1] += f" {word}"
            else:
                lines.append(word)
        return lines or [""]

    def rule(
        self, x: float, y: float, width: float, colour: str = HAIR, weight: float = 0.5
    ) -> None:
        self.line(x, y, x + width, y, colour, weight)

    def line(
        self, x: float, y: float, to_x: float, to_y: float, colour: str = INK, weight: float = 0.5
    ) -> None:
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineWidth(weight)
        self.canvas.line(x, self.page_height - y, to_x, self.page_height - to_y)

    def box(self, x: float, y: float, width: float, height: float, fill: str) -> None:
        """A filled rectangle, its upper left corner at (x, y)."""
        self.canvas.setFillColor(fill)
        self.canvas.rect(x, self.page_height - y - height, width, height, stroke=0, fill=1)

    def hollow(self, x: float, y: float, width: float, height: float, colour: str = INK) -> None:
        """An outline within the rectangle, a hair thick."""
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineWidth(0.6)
        self.canvas.rect(
            x + 0.3, self.page_height - y - height + 0.3, max(0.0, width - 0.6), height - 0.6,
            stroke=1, fill=0,
        )  # fmt: skip

    def hatch(self, x: float, y: float, width: float, height: float, colour: str = INK) -> None:
        """A rectangle of slanted lines, told from a filled one also without colour."""
        canvas, low = self.canvas, self.page_height - y - height
        canvas.saveState()
        path = canvas.beginPath()
        path.rect(x, low, width, height)
        canvas.clipPath(path, stroke=0, fill=0)
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(0.55)
        lines = canvas.beginPath()
        step = 2.1
        for i in range(int((width + height) / step) + 2):
            lines.moveTo(x + i * step - height, low)
            lines.lineTo(x + i * step, low + height)
        canvas.drawPath(lines, stroke=1, fill=0)
        canvas.restoreState()

    def dot(self, x: float, y: float, radius: float, colour: str = ACCENT) -> None:
        self.canvas.setFillColor(colour)
        self.canvas.circle(x, self.page_height - y, radius, stroke=0, fill=1)

    def path(
        self, points: list[tuple[float, float]], colour: str = ACCENT, weight: float = 1.1
    ) -> None:
        """A line through points."""
        if len(points) < 2:
            return
        path = self.canvas.beginPath()
        path.moveTo(points[0][0], self.page_height - points[0][1])
        for x, y in points[1:]:
            path.lineTo(x, self.page_height - y)
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineWidth(weight)
        self.canvas.setLineJoin(1)
        self.canvas.drawPath(path, stroke=1, fill=0)

    def next_page(self) -> None:
        self.canvas.showPage()


@contextmanager
def writing(
    page_mm: tuple[float, float], title: str, language: str, second: Path | None = None
) -> Iterator[tuple[Pen, io.BytesIO]]:
    """A pen over a new document, and the buffer that holds it once the block has ended.

    ``second`` is the shop's own TrueType face for what the house face cannot write.
    """
    from reportlab.pdfgen.canvas import Canvas

    faces = house_faces(second)
    buffer = io.BytesIO()
    with FONT_LOCK:
        canvas = Canvas(
            buffer,
            pagesize=(page_mm[0] * MM, page_mm[1] * MM),
            invariant=1,
            pageCompression=1,
            initialFontName=register(faces.regular),
            lang=language,
        )
        canvas.setTitle(title)
        canvas.setAuthor("tofu-counter")
        canvas.setCreator("tofu-counter")
        yield Pen(canvas, page_mm, faces), buffer
        canvas.save()


@lru_cache(maxsize=8192)
def _stretches(faces: Faces, text: str, bold: bool) -> tuple[tuple[tuple[Face, str], ...], bool]:
    """``text`` in stretches of one face each, and whether a letter had to be stood in for."""
    text = unicodedata.normalize("NFC", " ".join(text.split()))
    try:
        return tuple(faces.split(text, bold=bold, statement="report")), False
    except NoGlyph:
        pass
    letters = []
    for letter in text:
        try:
            faces.split(letter, bold=bold, statement="report")
        except NoGlyph:
            letter = STAND_IN
        letters.append(letter)
    return tuple(faces.split("".join(letters), bold=bold, statement="report")), True


def _width(stretches: tuple[tuple[Face, str], ...], size: float) -> float:
    return sum(face.width(part, size) for face, part in stretches)


def _shorten(
    faces: Faces, text: str, bold: bool, size: float, most: float
) -> tuple[tuple[Face, str], ...]:
    while text:
        text = text[:-1].rstrip()
        stretches, _ = _stretches(faces, f"{text}…", bold)
        if _width(stretches, size) <= most:
            return stretches
    return ()
