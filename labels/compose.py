"""Statements and symbols as boxes, in the sizes of one style.

One scale: ``base`` is the size of the small text, everything else follows from it or from the
least height the law sets for a statement.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from labels.boxes import NOTHING, Box, Frame, Mark, Spot, stack
from labels.fonts import MM, Faces
from labels.placed import GUARD_MODULES
from labels.rules.statement import Statement
from labels.sizes import bar_heights_mm, dots_per_mm, module_dots
from labels.symbols import Symbol
from labels.wrap import Atom, atoms_of, wrap, wrap_evenly, wrap_without_widow

READABLE_MM = 1.2  # x-height where no law sets a height: common practice, no source
LEADING = 1.2
_ROOMY = 0.35  # of ``Style.space``: below it, a date keeps to one line
_SPACE = 0.25  # em, between the words of a date and the day
_HRI_LEAST = 6.0  # points; GS1 asks only that the line can be read
_DIGITS_MOST = 11.5  # points, of the digits below an EAN or UPC symbol
_HALF_DIGIT = 0.45 * 7  # modules, of the seven a digit stands below
_EAN_KINDS = ("ean-13", "ean-8", "upc-a")


class Style(NamedTuple):
    """How generously a label is set. Sizes in points; ``name``, ``day`` and ``net`` are multiples
    of ``base``; ``dots`` is how many printer dots a module shall have, between the fewest it may
    have and those of the target width; ``tall`` from 0 to 1 is how far bars grow from least to
    target height; ``columns`` allows two of them."""

    base: float
    name: float = 1.8
    day: float = 1.4
    net: float = 1.15
    margin: float = 8.5
    space: float = 0.5
    dots: float = math.inf
    tall: float = 0.0
    columns: bool = False

    def with_(self, field: str, value: float) -> Style:
        """The same with one of its numbers changed."""
        return Style(**{**self._asdict(), field: value})

    @property
    def gap(self) -> float:
        """Between paragraphs."""
        return self.base * self.space

    @property
    def gutter(self) -> float:
        """Between columns."""
        return self.base * (1.2 + self.space)


class Composer:
    """Makes boxes for one set of statements and symbols; keeps what does not depend on style."""

    def __init__(
        self,
        statements: list[Statement],
        symbols: tuple[Symbol, ...],
        faces: Faces,
        dpi: int,
        lowest_bars: float | None = None,
    ) -> None:
        self.statements = {s.key: s for s in statements if s.present}
        self.symbols = symbols
        self.faces = faces
        self.dot = MM / dots_per_mm(dpi)  # points
        self.dpi = dpi
        self.lowest_bars = lowest_bars  # mm, if they may be lower than the standard asks
        self._set: dict[tuple[int, float, float], Box] = {}
        self._atoms = {s.key: self._cut(s) for s in statements if s.present}
        self.least = {key: self._least_size(s) for key, s in self.statements.items()}
        self._dots = [
            tuple(module_dots(symbol, dpi, smallest=smallest) for smallest in (True, False))
            for symbol in symbols
        ]
        self.hri = [self._cut_line(symbol) for symbol in symbols]

    def _cut(self, statement: Statement) -> tuple[list[Atom], list[Atom]]:
        small = [run for run in statement.runs if not run.big]
        big = [run for run in statement.runs if run.big]
        return (
            atoms_of(small, self.faces, statement.key),
            atoms_of(big, self.faces, statement.key),
        )

    def _cut_line(self, symbol: Symbol) -> list[Atom]:
        """The human-readable line, cut before each bracket, or anywhere in a web address."""
        parts = re.findall(r"\([0-9]+\)[^(]*|[^(]+", symbol.text) or [symbol.text]
        if len(parts) == 1 and symbol.kind == "qr":
            parts = list(symbol.text)
        cut = []
        for part in parts:
            [(face, text)] = self.faces.split(part, bold=False, statement="symbol")
            cut.append(Atom(((face, text),), face.width(text, 1), 0.0, None))
        return cut

    def _least_size(self, statement: Statement) -> float:
        """The smallest size at which every letter of a statement is as high as the law asks."""
        glyph, least = statement.glyph, statement.least_mm
        if not least:
            glyph, least = "x", READABLE_MM
        faces = {
            face for atoms in self._atoms[statement.key] for a in atoms for face, _ in a.pieces
        }
        return max(face.size_for(glyph, least) for face in faces)

    @property
    def most_dots(self) -> int:
        """Printer dots of a module at the target width, of the symbol that has most."""
        return max((wanted for _, wanted in self._dots), default=0)

    @property
    def least_base(self) -> float:
        """The least size of the small text: that of the most demanding small statement."""
        return max((size for key, size in self.least.items() if self._is_small(key)), default=6.0)

    def _is_small(self, key: str) -> bool:
        return key not in ("name", "net-quantity", "second-name", "e-mark")

    def size(self, key: str, style: Style) -> float:
        """Font size of a statement; of a date, that of its words."""
        if key == "name":  # the most prominent of all (21 CFR 101.3(d))
            return max(self.least[key], style.base * style.name, 1.1 * self._net_size(style))
        if key == "second-name":
            name = self.size("name", style) if self.has("name") else 0.0
            return max(self.least[key], style.base, 0.62 * name)
        if key == "e-mark":  # on the line of the quantity, and as large
            return max(self.least[key], self._net_size(style))
        if key == "net-quantity" and not self._atoms[key][1]:
            return self._net_size(style)
        least = 0.0 if key == "net-quantity" else self.least[key]
        return max(least, style.base * (style.net if key == "price" else 1.0))

    def big_size(self, key: str, style: Style) -> float:
        """Font size of what stands out in a statement: the day of a date, the figures of a mass."""
        if key == "net-quantity":
            return self._net_size(style)
        return max(self.least[key], style.base * style.day)

    def _net_size(self, style: Style) -> float:
        least = self.least.get("net-quantity")
        return 0.0 if least is None else max(least, style.base * style.net)

    def has(self, key: str) -> bool:
        return key in self.statements

    def paragraph(self, key: str, width: float, style: Style) -> Box:
        """A statement, wrapped to ``width``; its big part on lines of its own."""
        if key not in self.statements:
            return NOTHING
        words, big = self._atoms[key]
        size = self.size(key, style)
        if not big:
            return self._lines(key, words, width, size)
        large = self.big_size(key, style)
        if style.space < _ROOMY:
            line = self._on_one_line(key, words, big, (size, large))
            if line.width <= width:
                return line
        return stack(
            [self._lines(key, words, width, size), self._lines(key, big, width, large)], 0.0
        )

    def _on_one_line(
        self, key: str, words: list[Atom], big: list[Atom], sizes: tuple[float, float]
    ) -> Box:
        """Words and what stands out behind them, on one baseline."""
        left, right = (
            self._lines(key, atoms, math.inf, size)
            for atoms, size in zip((words, big), sizes, strict=True)
        )
        fall = right.marks[0].y - left.marks[0].y
        gap = _SPACE * sizes[1]
        boxes = [left.moved(0, max(0.0, fall)), right.moved(left.width + gap, max(0.0, -fall))]
        marks = tuple(mark for box in boxes for mark in box.marks)
        height = max(left.height + max(0.0, fall), right.height + max(0.0, -fall))
        return Box(left.width + gap + right.width, height, marks, widest=key)

    def _lines(self, key: str, atoms: list[Atom], width: float, size: float) -> Box:
        known = (id(atoms), width, size)  # the atoms of a statement live as long as this composer
        if known not in self._set:
            self._set[known] = lines(key, atoms, width, size, evenly=key == "name")
        return self._set[known]

    def frame(self, ratio: float, style: Style, width: float) -> Box:
        """A logo, ``ratio`` wide for a height of 1: as high as the name, at most 30 % wide."""
        height = min(style.base * style.name * 1.5, 0.3 * width / ratio)
        return Box(height * ratio, height, frame=Frame(0, 0, height * ratio, height), widest="logo")

    def symbol(
        self, which: int, style: Style, hang: tuple[float, float], *, digit_hangs: bool = False
    ) -> Box:
        """A symbol and its line. ``hang`` is the light room beside the box, left and right, in
        which the quiet zones may lie, so that bars and text share their edge. Digits outside
        the bars stay in the box, unless the left one hangs there too."""
        symbol = self.symbols[which]
        fewest, wanted = self._dots[which]
        dots = int(max(fewest, min(style.dots, wanted)))
        module = dots * self.dot
        outside = outside_digits(symbol)
        kept = (0.0 if digit_hangs else outside[0], outside[1])
        inset = tuple(
            max(digit * module, quiet * module - room)
            for digit, quiet, room in zip(kept, symbol.quiet, hang, strict=True)
        )
        bars = symbol.modules * module
        width = bars + sum(inset) + self.dot  # a dot for the step onto the grid
        if symbol.kind == "qr":
            rim = symbol.quiet[0] * module
            return self._with_line(which, style, Spot(which, inset[0], rim, dots, bars), width)
        least, target = bar_heights_mm(symbol, module / MM)
        least = min(least, self.lowest_bars or least)
        height = (least + style.tall * (target - least)) * MM
        height = -(-height // self.dot) * self.dot
        return self._with_line(which, style, Spot(which, inset[0], 0.0, dots, height), width)

    def _with_line(self, which: int, style: Style, spot: Spot, width: float) -> Box:
        symbol, module = self.symbols[which], spot.dots * self.dot
        bottom = spot.y + spot.bar_height + 2 * self.dot
        if symbol.kind == "qr":
            bottom += symbol.quiet[0] * module
        if symbol.kind in _EAN_KINDS:
            return self._digits(symbol, style, spot, width, bottom)
        room = symbol.modules * module
        widest = max((atom.width for atom in self.hri[which]), default=1.0)
        whole = sum(atom.width for atom in self.hri[which])
        size = max(_HRI_LEAST, min(style.base, room / min(whole, max(widest, whole / 2))))
        lines = wrap(self.hri[which], max(room / size, widest))
        marks, y = [], bottom
        for line in lines:
            for face, text, offset in line.pieces:
                middle = max(0.0, (room - line.width * size) / 2) if len(lines) == 1 else 0.0
                at = spot.x + middle + offset * size
                marks.append(Mark("symbol", text, at, y + face.ascent * size, size, face))
            y += LEADING * size
            width = max(width, spot.x + line.width * size)
        return Box(width, y, tuple(marks), (spot,), widest="symbol")

    def _digits(self, symbol: Symbol, style: Style, spot: Spot, width: float, bottom: float) -> Box:
        """The digits of EAN and UPC, each below its own bars (ISO/IEC 15420)."""
        face, module = self.faces.regular, spot.dots * self.dot
        widest = 2 * _HALF_DIGIT * module / face.width("0", 1)
        size = min(_DIGITS_MOST, style.base * style.name, widest)
        baseline = bottom + 0.70 * size
        marks = []
        for text, at in digit_places(symbol):
            x = spot.x + at * module - face.width(text, size) / 2
            marks.append(Mark("symbol", text, x, baseline, size, face))
        height = max(baseline + 0.05 * size, spot.bar_height + GUARD_MODULES * module)
        height += self.dot  # for the step onto the grid: what stands below keeps its distance
        return Box(width, height, tuple(marks), (spot,), widest="symbol")


def digit_places(symbol: Symbol) -> list[tuple[str, float]]:
    """Each digit of an EAN or UPC line with the middle of its place, in modules from the first bar.

    A digit is seven modules wide; three guard modules begin the symbol and five part its halves.
    """
    groups = symbol.text.split()
    middle = symbol.modules / 2
    places: list[tuple[str, float]] = []
    if symbol.kind == "ean-13":
        places.append((groups[0], -5.5))
        halves = groups[1:]
    elif symbol.kind == "upc-a":
        places.append((groups[0], -5.5))
        halves = groups[1:3]
    else:
        halves = groups
    skip = 7 if symbol.kind == "upc-a" else 0  # its first and last digit stand outside
    for half, start in zip(halves, (3 + skip, middle + 2.5), strict=True):
        places += [(digit, start + 7 * place + 3.5) for place, digit in enumerate(half)]
    if symbol.kind == "upc-a":
        places.append((groups[3], symbol.modules + 5.5))
    return places


def outside_digits(symbol: Symbol) -> tuple[float, float]:
    """How many modules the digits of EAN and UPC reach beyond the bars, left and right."""
    if symbol.kind not in _EAN_KINDS:
        return 0.0, 0.0
    middles = [at for _, at in digit_places(symbol)]
    left, right = _HALF_DIGIT - min(middles), max(middles) + _HALF_DIGIT - symbol.modules
    return max(0.0, left), max(0.0, right)


def lines(key: str, atoms: list[Atom], width: float, size: float, *, evenly: bool = False) -> Box:
    """A paragraph in one size. A box wider than ``width`` holds a word that is."""
    set_lines = (wrap_evenly if evenly else wrap_without_widow)(atoms, width / size)
    marks, y, widest = [], 0.0, 0.0
    for line in set_lines:
        ascent = max(face.ascent for face, _, _ in line.pieces)
        descent = max(face.descent for face, _, _ in line.pieces)
        height = max(ascent + descent, LEADING)
        baseline = y + size * (ascent + (height - ascent - descent) / 2)
        first, text, _ = line.pieces[0]
        inset = first.overhang(text[0]) * size
        marks += [
            Mark(key, text, inset + offset * size, baseline, size, face)
            for face, text, offset in line.pieces
        ]
        y += height * size
        widest = max(widest, inset + line.width * size)
    return Box(widest, y, tuple(marks), widest=key)
