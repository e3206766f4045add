"""A placed label: every text, bar and picture with its place. Plain values, nothing is drawn.

Lengths are points from the lower left corner of the blank, as PDF counts them.
"""

from __future__ import annotations

from typing import NamedTuple

import msgspec

from labels.blanks import Blank
from labels.fonts import Face
from labels.rules.statement import Statement
from labels.symbols import Symbol

GUARD_MODULES = 5  # that the guard bars of EAN and UPC reach below the others, ISO/IEC 15420


class Text(NamedTuple):
    """One line, or a stretch of one, in one face. ``y`` is the baseline."""

    statement: str
    text: str
    x: float
    y: float
    size: float
    face: Face

    @property
    def width(self) -> float:
        return self.face.width(self.text, self.size)


class Rectangle(NamedTuple):
    """Filled with black: a bar, a module, a rule."""

    x: float
    y: float
    width: float
    height: float


class PlacedSymbol(NamedTuple):
    """A symbol on the dot grid of the printer. ``dots`` are those of one module; the box is that
    of the symbol with its quiet zones, without the human-readable line."""

    symbol: Symbol
    dots: int
    x: float
    y: float
    width: float
    height: float
    bars: tuple[Rectangle, ...]


class Picture(NamedTuple):
    """A logo and its box."""

    path: str
    x: float
    y: float
    width: float
    height: float


class Label(msgspec.Struct, frozen=True, kw_only=True):
    """What will stand on one blank. ``statements`` are those it was made from, in the order of the
    rule set, the absent ones with their reasons."""

    blank: Blank
    market: str
    language: str
    title: str
    statements: tuple[Statement, ...]
    texts: tuple[Text, ...]
    symbols: tuple[PlacedSymbol, ...] = ()
    picture: Picture | None = None

    def size_of(self, key: str) -> float | None:
        """The least font size in points in which a statement is set, or None if it is absent."""
        sizes = [text.size for text in self.texts if text.statement == key]
        return min(sizes) if sizes else None
