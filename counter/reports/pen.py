"""A pen for what is drawn and not set: one face in two weights, one accent, a few plain shapes.

Places are in points from the top left of the block that is drawn.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Any, Literal

from labels.errors import NoGlyph
from labels.fonts import Face, Faces, register

INK, SOFT, HAIR, WHITE = "#1b2036", "#5b6075", "#c9cad3", "#ffffff"
ACCENT, MIDDLE, PALE, WASH = "#2b3a86", "#8f9ac9", "#d6dbee", "#eef0f8"

BODY, SMALL, TITLE = 8.0, 6.8, 9.0
STEP = 11.2
"""From one line of body text to the next."""

Align = Literal["left", "right", "middle"]
STAND_IN = "?"
_BLANKS = re.compile(r"[^\S\xa0]+")


class Pen:
    """Draws in the faces of one document, where :meth:`on` says. ``shown`` says a text in the
    language of the paper: here, and nowhere before, is it looked up."""

    def __init__(
        self, faces: Faces, canvas: Any = None, top: float = 0.0, shown: Callable[[str], str] = str
    ) -> None:
        self.faces, self.canvas, self.top, self.shown = faces, canvas, top, shown

    def on(self, canvas: Any, top: float) -> Pen:
        """The same pen over a canvas, ``top`` points above the lower edge of what is drawn."""
        return Pen(self.faces, canvas, top, self.shown)

    def stretches(self, text: str, bold: bool = False) -> tuple[tuple[Face, str], ...]:
        """``text`` as it is read, in stretches of one face each."""
        return stretches(self.faces, self.shown(text), bold)

    def text(
        self,
        x: float,
        base: float,
        text: str,
        size: float = BODY,
        *,
        bold: bool = False,
        colour: str = INK,
        align: Align = "left",
    ) -> float:
        """Write one line with its baseline at ``base``; its width."""
        width = self.measure(text, size, bold=bold)
        at = x - width * {"left": 0.0, "right": 1.0, "middle": 0.5}[align]
        self.canvas.setFillColor(colour_of(colour))
        for face, part in self.stretches(text, bold):
            self.canvas.setFont(register(face), size)
            self.canvas.drawString(at, self.top - base, part)
            at += face.width(part, size)
        return width

    def measure(self, text: str, size: float = BODY, *, bold: bool = False) -> float:
        """Width of a line in points."""
        return sum(face.width(part, size) for face, part in self.stretches(text, bold))

    def words(self, x: float, base: float, text: str, width: float) -> None:
        """Write as many lines of body text as it takes."""
        from reportlab.lib.utils import simpleSplit

        face = register(self.faces.regular)
        for i, line in enumerate(simpleSplit(self.shown(text), face, BODY, width)):
            self.text(x, base + i * STEP, line)

    def fit(self, text: str, size: float, room: float) -> float:
        """The size, ``size`` at most, at which a bold line is no wider than ``room``."""
        return min(size, size * room / (self.measure(text, size, bold=True) or 1.0))

    def whole(self, text: str, size: float, room: float) -> float:
        """The size at which no word is torn in ``room``: ``size`` where all fit, and where that
        would be too small to read."""
        longest = max(map(self.measure, self.shown(text).split()), default=0.0) or 1.0
        fits = 0.99 * BODY * room / longest
        return fits if 0.6 * size < fits < size else size

    def line(
        self, x: float, y: float, to_x: float, to_y: float, colour: str = INK, weight: float = 0.5
    ) -> None:
        self.path([(x, y), (to_x, to_y)], colour, weight)

    def path(
        self, points: list[tuple[float, float]], colour: str = ACCENT, weight: float = 1.1
    ) -> None:
        """A line through points."""
        path = self.canvas.beginPath()
        for i, (x, y) in enumerate(points):
            (path.lineTo if i else path.moveTo)(x, self.top - y)
        self.canvas.setStrokeColor(colour_of(colour))
        self.canvas.setLineWidth(weight)
        self.canvas.setLineJoin(1)
        self.canvas.drawPath(path, stroke=1, fill=0)

    def box(self, x: float, y: float, width: float, height: float, fill: str = INK) -> None:
        """A filled rectangle, its upper left corner at (x, y)."""
        self.boxes([(x, y, width, height)], fill)

    def boxes(self, boxes: Iterable[tuple[float, float, float, float]], fill: str = INK) -> None:
        path = self.canvas.beginPath()
        for x, y, width, height in boxes:
            path.rect(x, self.top - y - height, width, height)
        self.canvas.setFillColor(colour_of(fill))
        self.canvas.drawPath(path, stroke=0, fill=1)

    def bar(self, x: float, y: float, width: float, height: float) -> None:
        self.box(x, y, width, height, ACCENT)

    def hollow(self, x: float, y: float, width: float, height: float) -> None:
        """An outline within the rectangle, a hair thick."""
        self.canvas.setStrokeColor(colour_of(INK))
        self.canvas.setLineWidth(0.6)
        inner = (max(0.0, width - 0.6), height - 0.6)
        self.canvas.rect(x + 0.3, self.top - y - height + 0.3, *inner, stroke=1, fill=0)

    def hatch(self, x: float, y: float, width: float, height: float) -> None:
        """A rectangle of slanted lines, told from a filled one also without colour."""
        canvas, low = self.canvas, self.top - y - height
        canvas.saveState()
        path = canvas.beginPath()
        path.rect(x, low, width, height)
        canvas.clipPath(path, stroke=0, fill=0)
        canvas.setStrokeColor(colour_of(INK))
        canvas.setLineWidth(0.55)
        lines = canvas.beginPath()
        step = 2.1
        for i in range(int((width + height) / step) + 2):
            lines.moveTo(x + i * step - height, low)
            lines.lineTo(x + i * step, low + height)
        canvas.drawPath(lines, stroke=1, fill=0)
        canvas.restoreState()

    def dot(self, x: float, y: float, _says: str = "", _usual: bool = True) -> None:
        self.canvas.setFillColor(colour_of(ACCENT))
        self.canvas.circle(x, self.top - y, 1.3, stroke=0, fill=1)


@lru_cache
def colour_of(name: str) -> Any:
    from reportlab.lib.colors import HexColor

    return HexColor(name)


@lru_cache(maxsize=8192)
def stretches(faces: Faces, text: str, bold: bool) -> tuple[tuple[Face, str], ...]:
    """``text`` in stretches of one face each; a letter that no face has is written as ?."""
    text = unicodedata.normalize("NFC", _BLANKS.sub(" ", text).strip(" "))
    try:
        return tuple(faces.split(text, bold=bold, statement="report"))
    except NoGlyph:
        return tuple(
            faces.split(
                "".join(_known(faces, c, bold) for c in text), bold=bold, statement="report"
            )
        )


def _known(faces: Faces, letter: str, bold: bool) -> str:
    try:
        faces.split(letter, bold=bold, statement="report")
    except NoGlyph:
        return STAND_IN
    return letter
