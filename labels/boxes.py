"""Boxes of text and bars, stacked and set side by side. Points, counted from the top left.

A box knows its size; what is in it moves with it. Only ``layout`` turns the result over into the
coordinates of PDF.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from labels.fonts import Face


class Mark(NamedTuple):
    """A stretch of text: ``x``, ``y`` of its baseline's left end."""

    statement: str
    text: str
    x: float
    y: float
    size: float
    face: Face


class Spot(NamedTuple):
    """Where a symbol stands: the left edge of its first bar and the top of its bars.

    ``which`` counts the symbols of the facts; ``bar_height`` is that of the shorter bars.
    """

    which: int
    x: float
    y: float
    dots: int
    bar_height: float


class Frame(NamedTuple):
    """Where the logo stands."""

    x: float
    y: float
    width: float
    height: float


class Box(NamedTuple):
    """``widest`` is the statement that makes it as wide as it is."""

    width: float
    height: float
    marks: tuple[Mark, ...] = ()
    spots: tuple[Spot, ...] = ()
    frame: Frame | None = None
    widest: str = ""

    def moved(self, x: float, y: float) -> Box:
        """The same box with everything in it ``x`` to the right and ``y`` further down."""
        if not x and not y:
            return self
        return self._replace(
            marks=tuple(mark._replace(x=mark.x + x, y=mark.y + y) for mark in self.marks),
            spots=tuple(spot._replace(x=spot.x + x, y=spot.y + y) for spot in self.spots),
            frame=self.frame._replace(x=self.frame.x + x, y=self.frame.y + y)
            if self.frame
            else None,
        )


NOTHING = Box(0.0, 0.0)


def _merged(width: float, height: float, boxes: Sequence[Box], widest: str) -> Box:
    return Box(
        width,
        height,
        tuple(mark for box in boxes for mark in box.marks),
        tuple(spot for box in boxes for spot in box.spots),
        next((box.frame for box in boxes if box.frame), None),
        widest,
    )


def stack(boxes: Sequence[Box], gap: float) -> Box:
    """One below the other, left edges in line, ``gap`` between. Empty boxes take no room."""
    kept = [box for box in boxes if box.height]
    if not kept:
        return NOTHING
    placed, y = [], 0.0
    for box in kept:
        placed.append(box.moved(0, y))
        y += box.height + gap
    widest = max(kept, key=lambda box: box.width)
    return _merged(widest.width, y - gap, placed, widest.widest)


def beside(left: Box, right: Box, width: float, gap: float, *, foot: bool = True) -> Box:
    """Side by side in ``width``, the right one at the right edge, feet (or heads) in line.

    Where both together are too wide the box says so by being wider than ``width``.
    """
    if not left.height or not right.height:
        return left if left.height else right
    height = max(left.height, right.height)
    whole = max(width, left.width + gap + right.width)
    lower = (height - left.height, height - right.height) if foot else (0.0, 0.0)
    placed = [left.moved(0, lower[0]), right.moved(whole - right.width, lower[1])]
    needed = left.width + gap + right.width
    widest = max((left, right), key=lambda box: box.width).widest
    return _merged(needed, height, placed, widest)
